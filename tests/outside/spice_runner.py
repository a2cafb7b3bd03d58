"""Runs decks through ngspice: as a program, or loaded into this process when there are very many."""

from __future__ import annotations

import ctypes
import json
import re
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path

import pytest

NODE_COMMENT = re.compile(r"^\* node (\S+) is (\".*\")$", re.MULTILINE)
PRINTED = re.compile(r"^v\((\S+)\) = (\S+),(\S+)$", re.MULTILINE)


def node_voltages(deck: str) -> dict[str, complex]:
    """Return the voltage of every node [V rms] under its own name, as the program ``ngspice -b`` finds it."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail("ngspice is not installed, so nothing was checked against it: install the package 'ngspice'.")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "deck.cir"
        path.write_text(deck, encoding="utf-8")
        run = subprocess.run([program, "-b", str(path)], capture_output=True, text=True, check=False, timeout=60)
    found = {name: complex(float(re_v), float(im_v)) for name, re_v, im_v in PRINTED.findall(run.stdout)}
    node_of = _node_of(deck)
    missing = sorted(node_of.keys() - found.keys())
    if run.returncode or missing:
        pytest.fail(f"ngspice printed nothing for {missing}; it said:\n{run.stdout}\n{run.stderr}")
    return {node: found[name] for name, node in node_of.items()}


class SpiceLibrary:
    """``libngspice`` in this process; it holds one deck at a time, and a process has only one of it."""

    def __init__(self) -> None:
        self.said: list[str] = []
        try:
            self._library = ctypes.CDLL("libngspice.so.0")
        except OSError:
            pytest.fail("libngspice is missing, so nothing was checked against it: install the package 'libngspice0'.")
        self._library.ngGet_Vec_Info.restype = ctypes.POINTER(_VectorInfo)
        self._library.ngGet_Vec_Info.argtypes = [ctypes.c_char_p]
        self._library.ngSpice_Command.argtypes = [ctypes.c_char_p]
        # The library keeps these pointers, so they must live as long as it does.
        self._callbacks = (_SEND_CHAR(self._hear), _CONTROLLED_EXIT(self._refuse_to_exit))
        send, leave = self._callbacks
        self._library.ngSpice_Init(send, None, leave, None, None, None, None)
        self._node_of: dict[str, str] = {}
        self._circuits = 0

    def load(self, deck: str) -> None:
        """Take a deck in place of the one before."""
        if self._circuits:
            self.command("remcirc")
        self._circuits = 1
        self._node_of = _node_of(deck)
        body = re.sub(r"^\.control$.*?^\.endc$\n", "", deck, flags=re.MULTILINE | re.DOTALL)
        lines = [line.encode() for line in body.splitlines()]
        failed = self._library.ngSpice_Circ((ctypes.c_char_p * (len(lines) + 1))(*lines, None))
        if failed:
            raise RuntimeError(f"ngspice refused the deck: {self.said[-5:]}")

    def command(self, text: str) -> None:
        """Give one command, such as ``alter r1_x = 5``."""
        if self._library.ngSpice_Command(text.encode()):
            raise RuntimeError(f"ngspice refused {text!r}: {self.said[-5:]}")

    def run(self) -> None:
        """Find the phasors of the deck as it now is; results of the run before are forgotten."""
        self.command("destroy all")
        self.command("run")

    def node_voltages(self) -> dict[str, complex]:
        """Return the voltage of every node [V rms] under its own name, of the last run."""
        return {node: self._voltage(name) for name, node in self._node_of.items()}

    def _voltage(self, name: str) -> complex:
        vector = self._library.ngGet_Vec_Info(name.encode())
        if not vector or vector.contents.v_length != 1:
            raise RuntimeError(f"ngspice has no voltage for {name}: {self.said[-5:]}")
        value = vector.contents.v_compdata[0]
        return complex(value.re, value.im)

    def _hear(self, text: bytes, _instance: int, _user: object) -> int:
        self.said.append(text.decode(errors="replace"))
        del self.said[:-100]
        return 0

    def _refuse_to_exit(self, status: int, *_rest: object) -> int:
        self.said.append(f"ngspice wanted to exit with {status}")
        return 0


@cache
def spice_library() -> SpiceLibrary:
    """Return this process's library, loaded once."""
    return SpiceLibrary()


class _Complex(ctypes.Structure):
    _fields_ = (("re", ctypes.c_double), ("im", ctypes.c_double))


class _VectorInfo(ctypes.Structure):
    """``vector_info`` of ngspice's sharedspice.h."""

    _fields_ = (
        ("v_name", ctypes.c_char_p),
        ("v_type", ctypes.c_int),
        ("v_flags", ctypes.c_short),
        ("v_realdata", ctypes.POINTER(ctypes.c_double)),
        ("v_compdata", ctypes.POINTER(_Complex)),
        ("v_length", ctypes.c_int),
    )


_SEND_CHAR = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
_CONTROLLED_EXIT = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p
)


def _node_of(deck: str) -> dict[str, str]:
    """Return the node that each name in a deck stands for, from the deck's comments."""
    return {name: json.loads(node) for name, node in NODE_COMMENT.findall(deck)}
