"""A disk that takes its time, or hangs: what is acknowledged is on it, who only reads is answered, nothing is doubled or lost."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from subbase.journal import accounts as who
from subbase.journal.bodies import NoteMade
from subbase.journal.check import check_integrity
from subbase.journal.database import MOST_WAITING
from subbase.journal.store import Journal, open_journal
from tests.journal_entries import entry
from tests.slow_disk import Call, Sent, SlowDisk, new_job, slow_disk
from tests.web_callers import Firm, firm
from tests.web_jobs import put_job

PAGES = ("survey", "plan", "work", "check", "history", "hand-over")


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the disk of most tests here is."""
    return tmp_path_factory.mktemp("slow")


@pytest.fixture(scope="module")
def disk(folder: Path) -> Iterator[SlowDisk]:
    """The app on such a disk; a writer there waits for another as long as a test takes."""
    with slow_disk(folder) as found:
        yield found


@pytest.fixture
def job(disk: SlowDisk, folder: Path) -> str:
    """A job of that app."""
    disk.open()
    return new_job(folder)


def notes(disk: SlowDisk, job: str) -> list[str]:
    """Return the notes that the app gives."""
    with disk.client() as client:
        return [event["body"]["text"] for event in client.get(f"/api/v1/jobs/{job}/state").json()["notes"]]


def sound(folder: Path, job: str) -> list[str]:
    """Return the notes as they are on the disk, where all is as it was written."""
    with open_journal(folder / "disk" / "jobs.db") as journal:
        assert check_integrity(journal).sound
        return [event.body.text for event in journal.events(job) if isinstance(event.body, NoteMade)]


@pytest.mark.parametrize("call", ["sync", "write"])
def test_nothing_is_acknowledged_before_it_is_on_the_disk_and_readers_do_not_wait(
    disk: SlowDisk, folder: Path, job: str, call: Call
) -> None:
    """While the disk holds a write up there is no answer and nobody sees the note; every page is answered; then it is kept."""
    disk.shut(call)
    sent = Sent(disk, job, "held up")
    disk.wait_until_one_waits()
    with disk.client() as client:
        for page in PAGES:
            assert client.get(f"/jobs/{job}/{page}").status_code in (200, 202), page
    assert notes(disk, job) == []
    assert sent.is_alive()
    disk.open()
    assert sent.result == "kept"
    assert notes(disk, job) == sound(folder, job) == ["held up"]


def test_those_who_write_meanwhile_get_through_one_after_the_other(disk: SlowDisk, job: str) -> None:
    """Several notes sent while the disk hangs are all kept once it goes on, each once, and sending again changes nothing."""
    disk.shut()
    sent = [Sent(disk, job, "first")]
    disk.wait_until_one_waits()
    sent += [Sent(disk, job, f"other {number}") for number in range(5)]
    disk.open()
    assert [each.result for each in sent] == ["kept"] * 6
    assert Sent(disk, job, "first", sent[0].key).result == "already"
    told = notes(disk, job)
    assert told[0] == "first"
    assert sorted(told[1:]) == [f"other {number}" for number in range(5)]


def test_who_waits_too_long_is_told_in_one_sentence_and_sends_again(tmp_path: Path) -> None:
    """503 and that nothing was kept; the first, which the disk held up, is kept all the same; sent again all are there once."""
    job = new_job(tmp_path)
    with slow_disk(tmp_path, busy_s=0.3) as disk:
        disk.shut()
        first = Sent(disk, job, "first")
        disk.wait_until_one_waits()
        second = Sent(disk, job, "second")
        answer = second.over()
        assert answer is not None
        assert answer.status_code == 503
        assert "has been busy for 0.3 s: nothing was kept; try again." in answer.json()["detail"]
        assert first.is_alive()
        disk.open()
        assert first.result == "kept"
        again = [Sent(disk, job, "second", second.key).result, Sent(disk, job, "first", first.key).result]
        assert again == ["kept", "already"]
        assert notes(disk, job) == ["first", "second"]
    assert sound(tmp_path, job) == ["first", "second"]


def test_many_who_wait_leave_room_for_those_who_read(disk: SlowDisk, job: str) -> None:
    """Sixty phones that send at once, more than the server has threads: pages are answered; all is kept when sent again."""
    disk.shut()
    sent = [Sent(disk, job, "note 0")]
    disk.wait_until_one_waits()
    sent += [Sent(disk, job, f"note {number}") for number in range(1, 60)]
    with disk.client() as client:
        assert client.get(f"/jobs/{job}/survey").status_code == 200
    refused = disk.first_answers(sent, 60 - 1 - MOST_WAITING)
    assert {each.result for each in refused} == {"503"}
    assert notes(disk, job) == []
    disk.open()
    for number, each in enumerate(sent):
        again = Sent(disk, job, f"note {number}", each.key).result if each in refused else each.result
        assert again == "kept"
    assert sorted(notes(disk, job)) == sorted(f"note {number}" for number in range(60))


def test_a_server_that_is_killed_while_the_disk_hangs_loses_nothing(tmp_path: Path) -> None:
    """Nobody was told that it was kept; after the start it is there whole or not at all, and sent again it is there once."""
    job = new_job(tmp_path)
    with slow_disk(tmp_path) as disk:
        assert Sent(disk, job, "before").result == "kept"
        disk.shut()
        sent = Sent(disk, job, "held up")
        disk.wait_until_one_waits()
        disk.kill()
        assert sent.result == "no answer"
    assert sound(tmp_path, job) in (["before"], ["before", "held up"])
    with slow_disk(tmp_path) as disk:
        assert Sent(disk, job, "held up", sent.key).result in ("kept", "already")
        assert notes(disk, job) == ["before", "held up"]


# What reading leaves behind.


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts."""
    with firm(tmp_path) as found:
        yield found


@contextmanager
def held(journal: Journal) -> Iterator[None]:
    """Hold the journal as a writer does whose disk takes its time."""
    begun, over = threading.Event(), threading.Event()

    def hold() -> None:
        with journal.database.write():
            begun.set()
            over.wait()

    writer = threading.Thread(target=hold, daemon=True)
    writer.start()
    begun.wait()
    try:
        yield
    finally:
        over.set()
        writer.join()


def seen(journal: Journal, job: str) -> list[str]:
    """Return who saw what of a job, as it is on record."""
    return [f"{line.who} {line.what}" for line in who.recorded(journal, job=job)]


def test_a_page_waits_for_no_writer_where_people_sign_in(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """Who saw the page, and that the session was used, is written when the disk goes on; the page itself is there before."""
    monkeypatch.setattr("subbase.journal.aside.PATIENCE_S", 0.05)
    monkeypatch.setattr("subbase.journal.accounts.USE_NOTED", -who.USE_NOTED)
    browser, job = people.signed_in("ann"), put_job(people.journal)
    with held(people.journal):
        assert browser.get(f"/jobs/{job}/survey").status_code == 200
        assert seen(people.journal, job) == []
    people.journal.database.aside.settle()
    assert seen(people.journal, job) == ["ann saw survey"]


def test_a_page_is_shown_when_who_saw_it_cannot_be_written(
    people: Firm, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A journal that is busy for too long is a line in the log, and no reason to show nothing."""
    monkeypatch.setattr("subbase.journal.database.BUSY_S", 0.05)
    monkeypatch.setattr("subbase.journal.accounts.USE_NOTED", -who.USE_NOTED)
    browser, job = people.signed_in("ann"), put_job(people.journal)
    with held(people.journal):
        assert browser.get(f"/jobs/{job}/survey").status_code == 200
    assert "not written: saw survey of job" in caplog.text
    people.journal.append(job, [entry(1, NoteMade(text="goes on"))])
