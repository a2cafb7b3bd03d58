"""Accounts, tokens and the record are the same on SQLite and on PostgreSQL; a real server is started for it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from subbase.errors import InputError
from subbase.journal import accounts as who
from subbase.journal import second_factor as codes
from subbase.journal import tokens as scripts
from subbase.journal.backup import backup, copy_journal
from subbase.journal.database import run
from subbase.journal.store import Journal, open_journal
from subbase.journal.trouble import JournalTrouble
from tests.agreement.postgres_server import Server, postgres_server
from tests.journal_sample import code_of

PASSWORD = "seven dry conductors"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """One server for all tests of this file."""
    with postgres_server() as running:
        yield running


@pytest.fixture(params=["sqlite", "postgresql"])
def journal(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Journal]:
    """An empty journal."""
    if request.param == "sqlite":
        place = str(tmp_path / "journal.sqlite")
    else:
        running: Server = request.getfixturevalue("server")
        place = running.new_database()
    with open_journal(place) as opened:
        yield opened


def test_a_line_of_the_record_stays_as_it_was_written(journal: Journal) -> None:
    """Neither changing nor deleting reaches it, not even by hand in the database."""
    who.record(journal, "Ann", "saw plan", job="job-0001")
    for sql in ("UPDATE audit SET who = 'Bo'", "DELETE FROM audit"):
        with pytest.raises(JournalTrouble), journal.database.write() as connection:
            run(connection, sql)
        assert [(seen.who, seen.what) for seen in who.recorded(journal)] == [("Ann", "saw plan")]


def test_the_record_is_read_on_from_a_line(journal: Journal) -> None:
    """Lines before a line are given, the newest first, of all jobs or of one."""
    for at in range(6):
        who.record(journal, "Ann", f"line {at}", job="job-even" if at % 2 == 0 else "job-odd0")
    newest = who.recorded(journal, most=2)
    assert [seen.what for seen in newest] == ["line 5", "line 4"]
    assert [seen.what for seen in who.recorded(journal, most=2, before=newest[-1].number)] == ["line 3", "line 2"]
    assert [seen.what for seen in who.recorded(journal, job="job-even", before=newest[-1].number)] == [
        "line 2",
        "line 0",
    ]


def test_a_code_and_a_spare_code_open_once(journal: Journal, tmp_path: Path) -> None:
    """Turning the code on, its one use, spare codes and turning it off go alike, and a backup asks for the same code."""
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    codes.begin_codes(journal, ann.id)
    assert codes.turn_codes_on(journal, ann.id, "000 00") == ()
    spare = codes.turn_codes_on(journal, ann.id, code_of(journal, ann.id))
    assert len(spare) == codes.SPARE_CODES
    known = who.check_password(journal, "Ann", PASSWORD)
    assert known is not None
    assert known.codes
    backup(journal, tmp_path / "backup.sqlite")
    with open_journal(tmp_path / "backup.sqlite") as copy:
        for one in (journal, copy):
            for code in (code_of(journal, ann.id, later_s=30), spare[0]):
                assert codes.is_code(one, ann.id, code) == known
                assert codes.is_code(one, ann.id, code) is None
    with journal.database.read() as connection:
        assert spare[1].replace("-", "") not in str(run(connection, "SELECT * FROM spare_codes").all())
    codes.turn_codes_off(journal, ann.id)
    assert codes.is_code(journal, ann.id, spare[1]) is None
    assert who.check_password(journal, "Ann", PASSWORD) == ann


def test_a_token_acts_for_its_account_until_it_ends(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Taken back, out of time, or of a closed account it is nothing; only its hash is stored."""
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    token = scripts.make_token(journal, ann.id, "night run", days=7)
    assert scripts.account_of_token(journal, token) == ann
    (line,) = scripts.tokens(journal, ann.id)
    assert (line.name, line.used_at is None) == ("night run", False)
    with journal.database.read() as connection:
        assert token not in str(run(connection, "SELECT * FROM tokens").all())
    scripts.end_token(journal, "another", line.id)
    assert scripts.account_of_token(journal, token) is not None
    who.set_active(journal, ann.id, False)
    assert scripts.account_of_token(journal, token) is None
    who.set_active(journal, ann.id, True)
    token = scripts.make_token(journal, ann.id, "night run")
    with journal.database.write() as connection:
        run(connection, "UPDATE tokens SET ends_at = '2020'")
    assert scripts.account_of_token(journal, token) is None
    monkeypatch.setattr(scripts, "MOST_TOKENS", 1)
    with pytest.raises(InputError, match="already"):
        scripts.make_token(journal, ann.id, "another")


def test_a_first_password_runs_out(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """It opens the account for some days, marked as one to be changed; a password of one's own does not run out."""
    made = who.add_account(journal, "Ann", "office", PASSWORD, first=True)
    found = who.check_password(journal, "Ann", PASSWORD)
    assert found == made
    assert made.first
    monkeypatch.setattr(who, "FIRST_LASTS", timedelta(days=-1))
    who.set_password(journal, made.id, PASSWORD, first=True)
    assert who.check_password(journal, "Ann", PASSWORD) is None
    who.set_password(journal, made.id, PASSWORD)
    again = who.check_password(journal, "Ann", PASSWORD)
    assert again is not None
    assert not again.first


def test_a_job_is_given_with_its_beginning(journal: Journal) -> None:
    """Who begins a job has it in the same moment; who begins one that is there already gets nothing."""
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    bo = who.add_account(journal, "Bo", "installer", PASSWORD)
    job = journal.create_job("House", given_to=ann.id)
    journal.create_job("House", job=job, given_to=bo.id)
    assert [item.name for item in who.who_sees(journal, job)] == ["Ann"]
    assert not who.may_see(journal, bo, job)


def test_the_server_s_secret_stays_and_is_not_copied(journal: Journal, tmp_path: Path) -> None:
    """It is the same each time; a journal that is copied into another one leaves it behind."""
    secret = scripts.server_secret(journal)
    assert len(secret) == 32
    assert scripts.server_secret(journal) == secret
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    token = scripts.make_token(journal, ann.id, "night run")
    who.record(journal, "Ann", "saw plan")
    with open_journal(tmp_path / "other.sqlite") as other:
        copy_journal(journal, other)
        assert scripts.account_of_token(other, token) == ann
        assert len(who.recorded(other)) == 1
        assert scripts.server_secret(other) != secret
    backup(journal, tmp_path / "backup.sqlite")
    assert (tmp_path / "backup.sqlite").exists()
