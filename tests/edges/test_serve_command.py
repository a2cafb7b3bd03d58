"""``subbase serve``: what it refuses before it answers anybody."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from subbase.cli import main


@pytest.mark.parametrize(
    "arguments", [("--host", "0.0.0.0"), ("--host", "192.0.2.7"), ("--behind-proxy",), ("--accounts",)]
)
def test_nobody_else_is_let_in_while_there_are_no_accounts(tmp_path: Path, arguments: tuple[str, ...]) -> None:
    """An address that others can reach is refused in one sentence, and no journal is made."""
    place = tmp_path / "jobs.db"
    result = CliRunner().invoke(main, ["serve", "--journal", str(place), *arguments])
    assert result.exit_code == 2
    assert "no account yet" in result.output
    assert "subbase people add" in result.output
    assert not place.exists()


def test_a_journal_that_cannot_be_opened_is_said_in_one_sentence(tmp_path: Path) -> None:
    """A file that is no journal is refused and left as it is."""
    place = tmp_path / "letter.txt"
    place.write_text("dear all")
    result = CliRunner().invoke(main, ["serve", "--journal", str(place)])
    assert result.exit_code == 2
    assert "letter.txt" in result.output
    assert place.read_text() == "dear all"
