"""Two hundred writers are killed with SIGKILL while they write: nothing that was acknowledged is lost, and nothing doubled."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
from pathlib import Path

from subbase.journal.check import check_integrity
from subbase.journal.store import open_journal

KILLS = 200
_WRITER = """
import os, sys
from datetime import UTC, datetime
from subbase.journal.bodies import NoteMade
from subbase.journal.events import Entry, new_key
from subbase.journal.store import open_journal

place, job = sys.argv[1:]
sys.stdin.readline()
while True:
    child = os.fork()
    if child == 0:
        break
    os.write(1, f"child {child}\\n".encode())
    os.waitpid(child, 0)
    if not sys.stdin.readline():
        os._exit(0)
with open_journal(place) as journal:
    while True:
        entries = [Entry(key=new_key(), made_at=datetime.now(UTC), body=NoteMade(text="x" * 900)) for _ in range(3)]
        results = journal.append(job, entries)
        # One write to the pipe: it is there whole, or not at all.
        os.write(1, ("kept " + " ".join(f"{r.key}={r.sequence}" for r in results) + "\\n").encode())
"""
"""A parent that has loaded everything forks one writer after another, so that 200 of them take seconds and not minutes."""


def test_200_kills_under_write_load_lose_nothing(tmp_path: Path) -> None:
    """After each kill, at a random moment, the next writer goes on; in the end every acknowledged event is there once."""
    place = tmp_path / "journal.sqlite"
    with open_journal(place) as journal:
        job = journal.create_job("House")
    chance = random.Random(7)
    acknowledged: dict[str, int] = {}
    killed = 0
    with subprocess.Popen(
        [sys.executable, "-c", _WRITER, place, job],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        cwd=Path(__file__).parents[2],
    ) as parent:
        assert parent.stdin is not None
        assert parent.stdout is not None
        for _ in range(KILLS):
            parent.stdin.write(b"go\n")
            parent.stdin.flush()
            wanted, child = chance.randint(0, 4), 0
            for line in parent.stdout:
                acknowledged |= _kept(line)
                if line.startswith(b"child "):
                    child = int(line.split()[1])
                wanted -= line.startswith(b"kept ")
                if wanted < 0 and child:
                    break
            # A random moment within the next write: so many turns of the processor, not so much time.
            for _ in range(chance.randint(0, 60_000)):
                pass
            _kill(child)
            killed += 1
        parent.stdin.close()
        for line in parent.stdout:
            acknowledged |= _kept(line)
    assert killed == KILLS
    with open_journal(place) as journal:
        events = journal.events(job)
        assert check_integrity(journal).damage == ()
    there = {event.key: event.sequence for event in events}
    assert len(there) == len(events)
    assert len(acknowledged) > 2 * KILLS
    assert {name: there.get(name) for name in acknowledged} == acknowledged
    # What is there beyond that was on its way when its writer died: whole batches of three, never a part of one.
    assert (len(events) - 1) % 3 == 0


def _kept(line: bytes) -> dict[str, int]:
    if not line.startswith(b"kept "):
        return {}
    pairs = (word.split("=") for word in line.decode().split()[1:])
    return {name: int(sequence) for name, sequence in pairs}


def _kill(pid: int) -> None:
    # 0 and -1 would mean this process and its whole family.
    assert pid > 1, "the writers' parent has ended"
    os.kill(pid, signal.SIGKILL)
