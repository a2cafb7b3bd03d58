"""The app on a disk that takes its time: a real server, whose writes to the journal wait as long as a test wants."""

from __future__ import annotations

import atexit
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import Any, Literal

import httpx2

from subbase.journal.events import new_key
from subbase.journal.store import open_journal
from tests.web_jobs import put_job

ROOT = Path(__file__).parents[1]
PATIENCE_S = 60.0
"""After which a test is given up; nothing of what is tested takes seconds."""
_SERVE = """
import sys, threading
import subbase.journal.database as database
from subbase.cli.main import main

database.BUSY_S = float(sys.argv[1])
main(["serve", *sys.argv[2:]])
"""
Call = Literal["sync", "write"]


@cache
def shim() -> Path:
    """Return the library that stands between a program and its disk, made by the C compiler of this machine."""
    folder = Path(mkdtemp(prefix="slow-disk-"))
    atexit.register(shutil.rmtree, folder)
    made = folder / "slow_disk.so"
    source = Path(__file__).with_name("slow_disk.c")
    subprocess.run(["gcc", "-shared", "-fPIC", "-O1", "-Wall", "-o", made, source, "-ldl"], check=True)
    return made


@dataclass
class SlowDisk:
    """A server, and the gate of its disk."""

    url: str
    gate: Path
    process: subprocess.Popen[bytes]

    def shut(self, call: Call = "sync") -> None:
        """Let no such call through from now on."""
        (self.gate / "waits").unlink(missing_ok=True)
        (self.gate / call).touch()

    def open(self) -> None:
        """Let all through."""
        for call in ("sync", "write"):
            (self.gate / call).unlink(missing_ok=True)

    def wait_until_one_waits(self) -> None:
        """Return once the server stands before the gate."""
        _until((self.gate / "waits").exists)

    def first_answers(self, sent: Sequence[Sent], count: int) -> list[Sent]:
        """Return the first so many that were answered."""
        _until(lambda: sum(not each.is_alive() for each in sent) >= count)
        return [each for each in sent if not each.is_alive()]

    def client(self) -> httpx2.Client:
        """Return somebody who asks, as a program does."""
        return httpx2.Client(base_url=self.url, timeout=PATIENCE_S)

    def kill(self) -> None:
        """End the server as a power cut does."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()


class Sent(threading.Thread):
    """One note on its way to the journal; it has an answer once the server has given one."""

    def __init__(self, disk: SlowDisk, job: str, text: str, key: str = "") -> None:
        super().__init__(daemon=True)
        self.key = key or new_key()
        self.answer: httpx2.Response | None = None
        body = {"kind": "note_made", "text": text}
        self._told: dict[str, Any] = {"entries": [{"key": self.key, "made_at": "2026-03-05T12:00:00Z", "body": body}]}
        self._disk, self._path = disk, f"/api/v1/jobs/{job}/entries"
        self.start()

    def run(self) -> None:
        """Send it and take the answer; a server that is killed gives none."""
        with self._disk.client() as client:
            try:
                self.answer = client.post(self._path, json=self._told)
            except httpx2.TransportError:
                self.answer = None

    def over(self) -> httpx2.Response | None:
        """Return the answer when it is there."""
        self.join(PATIENCE_S)
        assert not self.is_alive(), "no answer came"
        return self.answer

    @property
    def result(self) -> str:
        """Return what became of it: kept, already, refused, or the number of an answer that is none."""
        answer = self.over()
        if answer is None:
            return "no answer"
        return str(answer.json()["results"][0]["result"]) if answer.status_code == 200 else str(answer.status_code)


@contextmanager
def slow_disk(folder: Path, *, busy_s: float = PATIENCE_S, serve: tuple[str, ...] = ()) -> Iterator[SlowDisk]:
    """Serve the journal ``folder/disk/jobs.db``; the gate is open at first.

    Parameters
    ----------
    busy_s
        How long a writer waits for another there.
    """
    disk, gate = folder / "disk", folder / "gate"
    disk.mkdir(exist_ok=True)
    gate.mkdir(exist_ok=True)
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    words = ["--journal", str(disk / "jobs.db"), "--port", str(port), *serve]
    told = {"LD_PRELOAD": str(shim()), "SLOW_DISK_FOLDER": f"{disk}/", "SLOW_DISK_GATE": str(gate)}
    process = subprocess.Popen(
        [sys.executable, "-c", _SERVE, str(busy_s), *words], cwd=ROOT, env=os.environ | told, stdout=subprocess.DEVNULL
    )
    found = SlowDisk(f"http://127.0.0.1:{port}", gate, process)
    try:
        _until(lambda: _answers(port) or process.poll() is not None)
        assert process.poll() is None, "the server did not start"
        yield found
    finally:
        found.open()
        process.terminate()
        process.wait(PATIENCE_S)


def new_job(folder: Path) -> str:
    """Put a job into the journal on the disk of a folder."""
    (folder / "disk").mkdir(exist_ok=True)
    with open_journal(folder / "disk" / "jobs.db") as journal:
        return put_job(journal)


def _answers(port: int) -> bool:
    with socket.socket() as asked:
        return asked.connect_ex(("127.0.0.1", port)) == 0


def _until(true: Any) -> None:
    """Look again and again; the event is never set, its limit only gives the processor to others meanwhile."""
    never = threading.Event()
    for _turn in range(int(PATIENCE_S / 0.01)):
        if true():
            return
        never.wait(0.01)
    raise AssertionError("it did not come to that")
