"""The browser's Python from the package registries: fetched once, by name and version, held against its checksum."""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from subbase.errors import Fault, InputError
from subbase.words import _

PATIENCE_S = 600.0
"""For one package; a slow line takes minutes for seven megabytes."""
Run = Callable[[list[str], Path], None]
"""Runs a command in a folder."""


@dataclass(frozen=True, slots=True)
class Runtime:
    """Where what was fetched lies."""

    python: Path
    """The npm package, as it was packed."""
    core: Path
    """The wheel of what pydantic is built on."""


def pins() -> dict[str, dict[str, str]]:
    """Return what is fetched: part -> its name, version, file name and checksum."""
    text = resources.files("subbase.web.pocket").joinpath("runtime.toml").read_text("utf-8")
    found: dict[str, dict[str, str]] = tomllib.loads(text)
    return found


def default_place() -> Path:
    """Return the folder where what was fetched is kept for next time."""
    base = os.environ.get("XDG_CACHE_HOME", "")
    return (Path(base) if base else Path.home() / ".cache") / "subbase" / "pocket"


def fetch(place: Path, *, run: Run | None = None) -> Runtime:
    """Return the runtime, fetching into a folder what is not there yet.

    Raises
    ------
    InputError
        When npm or pip is missing or fails, or what came has another checksum than it must have.
    OSError
        When the folder cannot be written.
    """
    made = pins()
    place.mkdir(parents=True, exist_ok=True)
    python, core = made["python"], made["core"]
    npm = ["npm", "pack", "--silent", f"{python['name']}@{python['version']}"]
    pip = [
        sys.executable, "-m", "pip", "download", "--quiet", "--disable-pip-version-check", "--no-deps", "--dest", ".",
        "--only-binary", ":all:", "--platform", core["platform"], "--python-version", core["python"], "--abi", core["abi"],
        f"{core['name']}=={core['version']}",
    ]  # fmt: skip
    return Runtime(_one(python, npm, place, run or _run), _one(core, pip, place, run or _run))


def _one(pin: dict[str, str], command: list[str], place: Path, run: Run) -> Path:
    kept = place / pin["file"]
    if kept.is_file() and _fits(kept, pin):
        return kept
    with tempfile.TemporaryDirectory(dir=place) as folder:
        run(command, Path(folder))
        came = Path(folder) / pin["file"]
        if not came.is_file():
            raise _fault(_("The registry gave no file {file}.").format(file=pin["file"]))
        if not _fits(came, pin):
            message = _("What the registry gave for {name} {version} does not have the checksum that it must have.")
            raise _fault(message.format(name=pin["name"], version=pin["version"]))
        os.replace(came, kept)
    return kept


def _fits(file: Path, pin: dict[str, str]) -> bool:
    kind = "sha512" if "sha512" in pin else "sha256"
    return hashlib.new(kind, file.read_bytes()).hexdigest() == pin[kind]


def _run(command: list[str], folder: Path) -> None:
    if shutil.which(command[0]) is None:
        raise _fault(
            _("{program} is needed to fetch the browser's Python, and it is not here.").format(program=command[0])
        )
    try:
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=PATIENCE_S, check=False)
    except subprocess.TimeoutExpired:
        raise _fault(_("The registry did not answer in time. Try again later.")) from None
    if done.returncode != 0:
        said = (done.stderr.strip().splitlines() or [""])[-1][:300]
        raise _fault(_("{program} could not fetch it: {said}").format(program=Path(command[0]).name, said=said))


def _fault(message: str) -> InputError:
    return InputError((Fault(message),))


__all__ = ["Runtime", "default_place", "fetch", "pins"]
