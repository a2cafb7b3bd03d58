"""The app while its journal, its clock or its network goes wrong: what the person sees, and that nothing kept is lost."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import ExitStack, closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from subbase.journal.backup import backup
from subbase.journal.bodies import NoteMade
from subbase.journal.check import check_integrity
from subbase.journal.events import new_key
from subbase.journal.store import Journal, open_journal
from subbase.journal.trouble import JournalUnreachable
from subbase.web.app import create_app
from subbase.web.settings import Settings
from tests.agreement.postgres_server import postgres_server
from tests.journal_entries import entry
from tests.web_callers import AT_HOME, Firm, firm, form_token
from tests.web_jobs import put_job

ROOT = "/api/v1/jobs"


class Desk:
    """The app over a journal, as a program and a browser see it."""

    def __init__(self, place: Path | str) -> None:
        self.app = create_app(Settings(journal=place))
        self.client = TestClient(self.app, base_url=AT_HOME)
        self.client.headers["X-Form-Token"] = form_token(self.client)
        self.journal: Journal = self.app.state.office.journal

    def note(self, job: str, text: str, **more: Any) -> Response:
        """Send one note."""
        told = {"key": new_key(), "made_at": "2026-03-05T12:00:00Z", "body": {"kind": "note_made", "text": text}}
        return self.client.post(f"{ROOT}/{job}/entries", json={"entries": [{**told, **more}]})

    def notes(self, job: str) -> list[str]:
        """Return the notes that the app gives."""
        return [event["body"]["text"] for event in self.client.get(f"{ROOT}/{job}/state").json()["notes"]]


@pytest.fixture
def open_desk() -> Iterator[Any]:
    """Open apps, each closed in the end."""
    with ExitStack() as held:

        def opened(place: Path | str) -> Desk:
            desk = Desk(place)
            held.callback(desk.journal.close)
            return desk

        yield opened


def kept(answer: Response) -> bool:
    """Return whether a note was kept."""
    return answer.status_code == 200 and answer.json()["results"][0]["result"] in ("kept", "already")


# The journal's file.


@pytest.mark.parametrize("how", ["moved", "deleted", "replaced"])
def test_a_file_that_goes_away_takes_nothing_more_and_loses_nothing(tmp_path: Path, open_desk: Any, how: str) -> None:
    """Reading and writing stop with a sentence, no new file appears in its place, and put back it goes on as it was."""
    place = tmp_path / "jobs.db"
    desk = open_desk(place)
    job = put_job(desk.journal)
    assert kept(desk.note(job, "before"))
    away = tmp_path / "away"
    away.mkdir()
    names = sorted(path.name for path in tmp_path.glob("jobs.db*"))
    for name in names:
        (tmp_path / name).rename(away / name)
    if how == "replaced":
        open_journal(place).close()
    before = sorted(path.name for path in tmp_path.glob("jobs.db*"))
    for answer in (desk.note(job, "lost?"), desk.client.get(f"{ROOT}/{job}/state"), desk.client.get("/")):
        assert answer.status_code == 503
        assert "was moved, deleted or replaced while it was in use" in answer.text
    assert sorted(path.name for path in tmp_path.glob("jobs.db*")) == before
    if how == "deleted":
        return
    for path in tmp_path.glob("jobs.db*"):
        path.unlink()
    for name in names:
        (away / name).rename(tmp_path / name)
    assert kept(desk.note(job, "after"))
    assert desk.notes(job) == ["before", "after"]
    assert check_integrity(desk.journal).sound


def test_two_servers_over_one_file_share_it(tmp_path: Path, open_desk: Any) -> None:
    """Each sees what the other kept, at once; writing at the same time nothing is lost, doubled or out of order."""
    place = tmp_path / "jobs.db"
    one, other = open_desk(place), open_desk(place)
    job = put_job(one.journal)

    def write(desk: Desk, name: str) -> None:
        for number in range(20):
            assert kept(desk.note(job, f"{name} {number}"))

    for desk in (one, other):
        # FastAPI builds a route at its first request and silences a warning meanwhile, for all threads at once.
        assert desk.note(job, "").json()["results"][0]["result"] == "refused"
    writers = [threading.Thread(target=write, args=(desk, name)) for desk, name in ((one, "one"), (other, "other"))]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    assert one.notes(job) == other.notes(job)
    assert sorted(one.notes(job)) == sorted(f"{name} {number}" for name in ("one", "other") for number in range(20))
    numbers = [event.sequence for event in one.journal.events(job)]
    assert numbers == list(range(1, len(numbers) + 1))


def test_a_damaged_page_is_said_and_the_rest_can_be_read(tmp_path: Path, open_desk: Any) -> None:
    """Jobs on other pages are shown, the damaged one says what to do, and the last backup opens in its place."""
    place = tmp_path / "jobs.db"
    with open_journal(place) as journal:
        good = journal.create_job("Good house")
        journal.append(good, [entry(1, NoteMade(text="still here"))])
        bad = journal.create_job("Bad house")
        journal.append(bad, [entry(number, NoteMade(text=f"MARK{number} " * 20)) for number in range(2, 82)])
        backup(journal, tmp_path / "backup.db")
    data = bytearray(place.read_bytes())
    page = data.index(b"MARK40 ") // 4096 * 4096
    data[page : page + 4096] = bytes(range(256)) * 16
    place.write_bytes(data)
    desk = open_desk(place)
    assert desk.notes(good) == ["still here"]
    assert desk.client.get("/").status_code == 200
    answer = desk.client.get(f"{ROOT}/{bad}/state")
    assert answer.status_code == 503
    assert "is damaged" in answer.text
    assert "subbase job check" in answer.text
    assert not check_integrity(desk.journal).sound
    desk.journal.close()
    shutil.move(tmp_path / "backup.db", place)
    restored = open_desk(place)
    assert len(restored.notes(bad)) == 80
    assert check_integrity(restored.journal).sound


def test_an_empty_file_in_place_of_the_journal_stays_empty(tmp_path: Path) -> None:
    """A copy that failed is not taken for a new journal by those who only look."""
    place = tmp_path / "jobs.db"
    place.touch()
    with pytest.raises(JournalUnreachable, match="the file is empty"):
        open_journal(place, create=False)
    assert place.stat().st_size == 0


def test_a_full_disk_is_told_to_the_phone_which_sends_again(tmp_path: Path, open_desk: Any) -> None:
    """503 with a sentence, nothing half-kept; the same entry sent again when there is room is kept once."""
    desk = open_desk(tmp_path / "jobs.db")
    job = put_job(desk.journal)
    with desk.journal.database.write() as connection:
        pages = connection.exec_driver_sql("PRAGMA page_count").scalar_one()
        connection.exec_driver_sql(f"PRAGMA max_page_count = {pages + 2}")
    told = {"key": new_key()}
    full = desk.note(job, "x" * 9000, **told)
    while kept(full):
        told = {"key": new_key()}
        full = desk.note(job, "x" * 9000, **told)
    assert full.status_code == 503
    assert "is full. Nothing of this was kept; what was kept before is still there." in full.json()["detail"]
    before = len(desk.notes(job))
    assert check_integrity(desk.journal).sound
    with desk.journal.database.raw() as plain:
        plain.execute("PRAGMA max_page_count = 1000000")
    with desk.journal.database.write() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1000000")
    assert kept(desk.note(job, "x" * 9000, **told))
    assert kept(desk.note(job, "x" * 9000, **told))
    assert len(desk.notes(job)) == before + 1


def test_a_writer_elsewhere_that_never_ends_is_told_after_a_set_time(
    tmp_path: Path, open_desk: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page can still be read; what is sent is answered with 503, and kept when it is sent again."""
    monkeypatch.setattr("subbase.journal.database.BUSY_S", 0.2)
    place = tmp_path / "jobs.db"
    desk = open_desk(place)
    job = put_job(desk.journal)
    with closing(sqlite3.connect(place, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        told = {"key": new_key()}
        answer = desk.note(job, "x", **told)
        assert answer.status_code == 503
        assert "busy" in answer.text
        assert desk.notes(job) == []
        other.execute("ROLLBACK")
    assert kept(desk.note(job, "x", **told))


# The network.


def test_a_database_connection_that_is_cut_heals_by_itself() -> None:
    """Every connection to PostgreSQL killed in mid-use: at most one answer is 503, nothing is lost, and the next is kept."""
    with postgres_server() as server:
        desk = Desk(server.new_database())
        try:
            job = put_job(desk.journal)
            assert kept(desk.note(job, "before"))
            told = {"key": new_key()}
            with pytest.raises(JournalUnreachable, match="does not answer"):
                _cut_in_mid_use(desk.journal, server.url("postgres"))
            answers = [desk.note(job, "after", **told) for _time in range(2)]
            assert kept(answers[-1])
            assert desk.notes(job) == ["before", "after"]
            assert check_integrity(desk.journal).sound
        finally:
            desk.journal.close()


def _cut_in_mid_use(journal: Journal, url: str) -> None:
    with journal.database.write() as ours:
        _cut_others(url)
        ours.exec_driver_sql("SELECT 1")


def _cut_others(url: str) -> None:
    import psycopg

    with psycopg.connect(url, autocommit=True) as office:
        office.execute("SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE pid <> pg_backend_pid() AND datname LIKE 'test_%'")  # fmt: skip


# The clock.


@pytest.mark.parametrize("made_at", ["1970-01-01T00:00:00Z", "2099-12-31T23:59:59Z", "0001-01-02T00:00:00Z"])
def test_a_phone_whose_clock_is_wrong_orders_nothing(tmp_path: Path, open_desk: Any, made_at: str) -> None:
    """What was sent later comes later, whatever the phone says, and every page that shows the time can be read."""
    desk = open_desk(tmp_path / "jobs.db")
    job = put_job(desk.journal)
    assert kept(desk.note(job, "first"))
    assert kept(desk.note(job, "second", made_at=made_at))
    assert kept(desk.note(job, "third"))
    assert desk.notes(job) == ["first", "second", "third"]
    assert desk.client.get(f"/jobs/{job}/history").status_code == 200
    assert desk.client.get(f"/jobs/{job}/survey").status_code == 200


@pytest.mark.parametrize("made_at", ["0001-01-01T00:00:00+14:00", "9999-12-31T23:59:59-14:00"])
def test_a_time_that_is_none_is_refused_alone(tmp_path: Path, open_desk: Any, made_at: str) -> None:
    """A moment before the first or after the last day of the calendar: a reason, and the server goes on."""
    desk = open_desk(tmp_path / "jobs.db")
    job = put_job(desk.journal)
    answer = desk.note(job, "x", made_at=made_at)
    assert answer.status_code == 200
    (result,) = answer.json()["results"]
    assert result["result"] == "refused"
    assert "Expected a time that there is in UTC" in result["reason"]


class _Clock(datetime):
    """A clock that is so much ahead of the right one."""

    ahead = timedelta()

    @classmethod
    def now(cls, tz: Any = None) -> Any:
        """Return the time that this clock shows."""
        return datetime.now(tz or UTC) + cls.ahead


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts."""
    with firm(tmp_path) as found:
        yield found


@pytest.mark.parametrize("days", [-400, -1, 0])
def test_a_server_clock_that_is_put_back_signs_nobody_out(
    people: Firm, monkeypatch: pytest.MonkeyPatch, days: int
) -> None:
    """A session goes on, and so does the work; the times of what is kept do not go back."""
    browser = people.signed_in("ann")
    job = put_job(people.journal)
    monkeypatch.setattr("subbase.journal.accounts.datetime", _Clock)
    monkeypatch.setattr("subbase.journal.database.datetime", _Clock)
    monkeypatch.setattr(_Clock, "ahead", timedelta(days=days))
    assert browser.get(f"/jobs/{job}/survey").status_code == 200
    people.journal.append(job, [entry(1, NoteMade(text="after"))])
    times = [event.received_at for event in people.journal.events(job)]
    assert times == sorted(times)


def test_a_server_clock_that_jumps_forward_ends_sessions_and_nothing_else(
    people: Firm, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who was signed in signs in again; put right, the clock has lost no job."""
    browser = people.signed_in("ann")
    job = put_job(people.journal)
    monkeypatch.setattr("subbase.journal.accounts.datetime", _Clock)
    monkeypatch.setattr("subbase.journal.database.datetime", _Clock)
    monkeypatch.setattr(_Clock, "ahead", timedelta(days=400))
    answer = browser.get(f"/jobs/{job}/survey")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/sign-in?next=")
    assert browser.sign_in("ann").status_code == 303
    assert browser.get(f"/jobs/{job}/survey").status_code == 200
    monkeypatch.setattr(_Clock, "ahead", timedelta())
    assert browser.get(f"/jobs/{job}/survey").status_code == 200
    assert len(people.journal.events(job)) == 2
