"""The commands on the page about backups, run as they stand there."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from subbase.cli import main
from subbase.journal.check import check_integrity
from subbase.journal.store import open_journal
from tests.journal_entries import entry

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "how-to" / "backup-and-restore.md"
FAILING = ROOT / "docs" / "how-to" / "when-things-fail.md"
BLOCK = re.compile(r"^```sh\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def test_every_command_of_the_page_about_backups_works(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From first to last in one folder, with the journal and the job that the page names; what comes out is sound."""
    monkeypatch.chdir(tmp_path)
    job = "00000000-0000-4000-8000-000000000001"
    with open_journal(tmp_path / "jobs.db") as journal:
        journal.create_job("Lilac Court 3 (invented)", job=job)
        journal.append(job, [entry(1, {"kind": "note_made", "text": "kept"})])
    open_journal(tmp_path / "other.db").close()
    commands = [line for block in BLOCK.findall(PAGE.read_text("utf-8")) for line in block.splitlines()]
    assert len(commands) == 8
    for line in commands:
        name, *words = shlex.split(line)
        assert name == "subbase"
        result = CliRunner().invoke(main, words, input="Lilac Court 3 (invented)\n")
        assert result.exit_code == 0, f"{line}: {result.output}"
    for name in ("new.db", "other.db"):
        with open_journal(tmp_path / name) as journal:
            assert [note.body.text for note in journal.state(job).notes] == ["kept"]
            assert check_integrity(journal).sound
    with open_journal(tmp_path / "jobs.db") as journal:
        assert journal.jobs().total == 0


def test_every_test_that_the_page_about_faults_names_is_there() -> None:
    """A file that is renamed shows here."""
    named = re.findall(r"`((?:edges|agreement|browser)/[a-z_]+\*?)`", FAILING.read_text("utf-8"))
    assert len(set(named)) >= 8
    for name in named:
        assert list((ROOT / "tests").glob(f"{name}.py")), name
