"""The app under load: 20 busy users read pages while 10,000 jobs are in the file; locust asks, uvicorn answers.

locust (locust.io, MIT) is a public load tool. It is no dependency of the project: it is put into a virtual environment of its
own beside the temporary files, once. Server and users share this machine, so the times are those of both.
"""

from __future__ import annotations

import csv
import os
import re
import subprocess
import sys
import tempfile
import time
import venv
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from bench.report import Result, Row
from subbase.journal.bodies import Named, NoteMade, SurveyEdited
from subbase.journal.events import Entry, new_key
from subbase.journal.job_rows import keep_entries, make_job
from subbase.journal.store import Journal, open_journal

LOCUST = "locust==2.47.0"
JOBS, USERS, SECONDS = 10_000, 20, 60
PORT = 8071
LOOKED_AT = 24
"""Jobs that are open on somebody's desk; the others lie in the list."""
STAGES = ("survey", "plan", "work", "check", "hand-over", "history")
MOST_P95_MS = 100.0
EXAMPLES = Path(__file__).parents[1] / "examples"
USERS_FILE = Path(__file__).with_name("load_users.py")


def run(docs: Path) -> Result:  # noqa: ARG001
    """Fill a journal, start the app, let the users read, and return how long pages took."""
    with tempfile.TemporaryDirectory(prefix="subbase-load-") as folder:
        place = Path(folder, "jobs.db")
        open_jobs = fill(place, JOBS)
        with serving(place) as address:
            open_them(address, open_jobs)
            rows = read_pages(folder, address, open_jobs, SECONDS, users=USERS)
    total = rows["Aggregated"]
    names = sorted((name for name in rows if name != "Aggregated"), key=lambda name: name != "list of jobs")
    p95 = float(total["95%"])
    verdict = "met" if p95 < MOST_P95_MS else "missed"
    notes = [
        f"{USERS} users, each reading a page, thinking for 0.5 to 1.5 s, and reading the next, for {SECONDS} s: "
        f"{float(total['Requests/s']):.1f} pages a second, {int(total['Failure Count'])} failures.",
        f"95 % of all pages came within {p95:.0f} ms (to be under {MOST_P95_MS:.0f} ms: {verdict}), 99 % within "
        f"{float(total['99%']):.0f} ms. By page, 95 %: "
        + ", ".join(f"{name} {float(rows[name]['95%']):.0f} ms" for name in names)
        + ".",
        f"{JOBS:,} jobs are in the file, {LOOKED_AT} of them are read in turn; {LOCUST.replace('==', ' ')} and the app share the machine.",
    ]
    shown = [Row(name, 1, _median_s(rows[name]), int(rows[name]["Request Count"])) for name in names]
    return Result(title="Pages under load", unit="pages", rows=shown, notes=notes)


def _median_s(row: dict[str, str]) -> float:
    return max(float(row["Median Response Time"]), 0.1) / 1e3


def fill(place: Path, count: int) -> list[str]:
    """Write jobs with surveys and a few entries each into a new journal; return the last ones, which people have open."""
    texts = [path.read_text("utf-8") for path in sorted(EXAMPLES.glob("*.yaml")) if "stop" not in path.stem]
    made: list[str] = []
    with open_journal(place) as journal:
        for at in range(0, count, 500):
            made += _some(journal, range(at, min(count, at + 500)), texts)
    return made[-LOOKED_AT:]


def _some(journal: Journal, numbers: range, texts: list[str]) -> list[str]:
    begun = datetime(2026, 1, 1, tzinfo=UTC)
    made = []
    with journal.database.write() as connection:
        for number in numbers:
            job, at = new_key(), begun + timedelta(minutes=number)
            make_job(connection, job, at.isoformat(timespec="microseconds"))
            bodies: list[Named | SurveyEdited | NoteMade] = [
                Named(name=f"House {number}, Row {number % 97}"),
                SurveyEdited(text=_named(texts[number % len(texts)], number)),
                *(NoteMade(text=f"Note {note} of house {number}") for note in range(number % 7)),
            ]
            keep_entries(connection, job, [Entry(key=new_key(), made_at=at, body=body) for body in bodies])
            made.append(job)
    return made


def _named(text: str, number: int) -> str:
    """Return a survey under a name of its own, so that no two houses share what is remembered of one."""
    return re.sub(r"^name: .*$", f"name: House {number}", text, count=1, flags=re.MULTILINE)


@contextmanager
def serving(place: Path) -> Iterator[str]:
    """Yield the address of the app over a journal, in a process of its own."""
    command = [sys.executable, "-m", "subbase.cli", "serve", "--journal", str(place), "--port", str(PORT)]
    address = f"http://127.0.0.1:{PORT}"
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as server:
        try:
            _await(address)
            yield address
        finally:
            server.terminate()


def _await(address: str) -> None:
    for _try in range(150):
        try:
            with urlopen(address, timeout=5):
                return
        except (URLError, ConnectionError):
            time.sleep(0.2)
    raise RuntimeError(f"The app does not answer at {address}.")


def open_them(address: str, jobs: list[str]) -> None:
    """Open every page of some jobs once; the first time each is worked out, which takes seconds and is said so meanwhile."""
    for job in jobs:
        for stage in STAGES:
            for _try in range(600):
                with urlopen(f"{address}/jobs/{job}/{stage}", timeout=60) as answer:
                    if answer.status == 200:
                        break
                time.sleep(0.1)


def read_pages(folder: str, address: str, jobs: list[str], seconds: int, *, users: int) -> dict[str, dict[str, str]]:
    """Let locust's users read for a while; return its table, name of the page -> column -> value."""
    out = Path(folder, "load")
    command = [
        str(_locust()), "-f", str(USERS_FILE), "--headless", "-H", address, "-u", str(users), "-r", str(users),
        "-t", f"{seconds}s", "--csv", str(out), "--only-summary", "--reset-stats",
    ]  # fmt: skip
    environment = {**os.environ, "SUBBASE_LOAD_JOBS": ",".join(jobs)}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, check=False)
    found = Path(f"{out}_stats.csv")
    if not found.exists():
        raise RuntimeError(f"locust gave no figures:\n{done.stderr[-2000:]}")
    with found.open(newline="", encoding="utf-8") as file:
        return {row["Name"]: row for row in csv.DictReader(file)}


def _locust() -> Path:
    """Return locust's command, in an environment of its own that is made when it is missing."""
    folder = Path(tempfile.gettempdir(), "subbase-" + LOCUST.replace("==", "-"))
    command = folder / "bin" / "locust"
    if not command.exists():
        venv.create(folder, with_pip=True)
        subprocess.run([folder / "bin" / "python", "-m", "pip", "install", "--quiet", LOCUST], check=True)
    return command


if __name__ == "__main__":
    from bench.report import section

    print(section([run(Path())]))
