"""``subbase people``: accounts from the command line."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner, Result

from subbase.cli import main
from subbase.journal import accounts as who
from subbase.journal.store import open_journal

PASSWORD = "seven dry conductors"


def _run(place: Path, *arguments: str, typed: str = "") -> Result:
    return CliRunner().invoke(main, ["people", *arguments, "--journal", str(place)], input=typed)


def test_the_first_account_is_made_from_the_command_line(tmp_path: Path) -> None:
    """The password is read from what is piped in, is nowhere printed, and opens the account."""
    place = tmp_path / "jobs.db"
    made = _run(place, "add", "ann", "--role", "office", typed=PASSWORD + "\n")
    assert made.exit_code == 0, made.output
    assert PASSWORD not in made.output
    with open_journal(place) as journal:
        found = who.check_password(journal, "ann", PASSWORD)
    assert found is not None
    assert (found.role, found.first) == ("office", False)
    assert _run(place, "list").output == "ann  office  open\n"


def test_a_first_password_is_told_once(tmp_path: Path) -> None:
    """It is printed when it is made, and has to be changed when it is used."""
    place = tmp_path / "jobs.db"
    told = json.loads(_run(place, "add", "bo", "--first", "--json").output)
    with open_journal(place) as journal:
        found = who.check_password(journal, "bo", told["first_password"])
        assert found is not None
        assert found.first
    again = json.loads(_run(place, "reset", "bo", "--first", "--json").output)
    assert again["first_password"] != told["first_password"]
    assert "bo  installer  first password" in _run(place, "list").output


def test_an_account_is_closed_and_opened_again(tmp_path: Path) -> None:
    """A closed account lets nobody in; opened again, the same password does."""
    place = tmp_path / "jobs.db"
    _run(place, "add", "bo", typed=PASSWORD + "\n")
    assert "closed" in _run(place, "close", "bo").output
    with open_journal(place) as journal:
        assert who.check_password(journal, "bo", PASSWORD) is None
        assert json.loads(_run(place, "close", "bo", "--open-again", "--json").output)["active"] is True
        assert who.check_password(journal, "bo", PASSWORD) is not None


def test_what_is_wrong_is_one_sentence(tmp_path: Path) -> None:
    """A bad password, a taken or unknown name, a journal that is not there: exit code 2 and what is wrong."""
    place = tmp_path / "jobs.db"
    for arguments, typed, says in (
        (("list",), "", "no journal at"),
        (("add", "bo"), "short\n", "12 to 128 characters"),
        (("add", "bo"), "", "12 to 128 characters"),
        (("reset", "bo", "--first"), "", "no account named"),
    ):
        result = _run(place, *arguments, typed=typed)
        assert result.exit_code == 2, result.output
        assert says in result.output
        assert "Traceback" not in result.output
    _run(place, "add", "bo", typed=PASSWORD + "\n")
    assert "already an account" in _run(place, "add", "bo", typed=PASSWORD + "\n").output
