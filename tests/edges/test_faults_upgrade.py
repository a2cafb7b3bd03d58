"""Files that older versions wrote: each is brought up to this one, folds to the same job, and is sound."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from importlib import resources
from pathlib import Path

import pytest
from click.testing import CliRunner

from subbase.cli import main
from subbase.journal import accounts as who
from subbase.journal.bodies import KINDS
from subbase.journal.bundle import import_bundle, read_bundle
from subbase.journal.check import check_integrity
from subbase.journal.fold import JobState
from subbase.journal.store import open_journal
from tests.journal_sample import JOB, PASSWORD, fill

OLD = Path(__file__).parent / "old_journals"
JOURNALS = sorted(path.name for path in OLD.glob("*.sqlite"))
NEWEST = f"version-{len(JOURNALS)}"


def told(state: JobState) -> tuple[object, ...]:
    """Return what a job says that every version could say."""
    shown = tuple((record.body.photo, record.body.width) for record in state.photos)
    read = tuple((record.body.between, record.body.value) for record in state.readings)
    return state.survey.text, read, shown


def test_every_format_that_there_was_has_its_sample() -> None:
    """One file for each migration, this version's own among them: the next version cannot forget it."""
    migrations = [
        item.name
        for item in (resources.files("subbase.journal") / "migrations").iterdir()
        if item.name.endswith(".sql")
    ]
    assert [f"version-{number}.sqlite" for number in range(1, len(migrations) + 1)] == JOURNALS
    for number, name in enumerate(JOURNALS, start=1):
        with closing(sqlite3.connect(f"file:{OLD / name}?mode=ro&immutable=1", uri=True)) as plain:
            assert plain.execute("SELECT max(number) FROM journal_format").fetchone() == (number,)


def test_the_newest_sample_holds_every_kind_of_event() -> None:
    """A kind that is added later is missing here until the sample is made anew."""
    with closing(sqlite3.connect(f"file:{OLD / NEWEST}.sqlite?mode=ro&immutable=1", uri=True)) as plain:
        kinds = {kind for (kind,) in plain.execute("SELECT DISTINCT kind FROM events")}
    assert kinds >= set(KINDS) - {"note_made"}
    assert "of_a_later_version" in kinds


@pytest.mark.parametrize("name", JOURNALS)
def test_every_version_folds_to_the_same_job(tmp_path: Path, name: str) -> None:
    """Survey, readings and photos of the sample are the same whichever version kept it, before and after a second opening."""
    place, newest = tmp_path / name, tmp_path / "newest.sqlite"
    shutil.copy(OLD / name, place)
    shutil.copy(OLD / f"{NEWEST}.sqlite", newest)
    with open_journal(newest) as journal:
        wanted = told(journal.state(JOB))
    for _opening in range(2):
        with open_journal(place) as journal:
            (line,) = journal.jobs().jobs
            assert told(journal.state(line.id)) == wanted
            assert check_integrity(journal).sound


def test_the_newest_sample_says_what_is_written_today(tmp_path: Path) -> None:
    """The same job made now gives the same state, record for record."""
    place = tmp_path / "kept.sqlite"
    shutil.copy(OLD / f"{NEWEST}.sqlite", place)
    with open_journal(place) as kept, open_journal(tmp_path / "now.sqlite") as now:
        fill(now, kept.state(JOB).name)
        one, other = kept.state(JOB), now.state(JOB)
        assert told(one) == told(other)
        for part in (
            "plan",
            "controls",
            "steps",
            "answers",
            "verdicts",
            "people",
            "settings",
            "handovers",
            "unrecognised",
        ):
            first, second = getattr(one, part), getattr(other, part)
            assert _bodies(first) == _bodies(second), part
        assert one.handovers == ()  # undone
        assert len(one.photos) == 1  # the other was removed
        (bo,) = who.accounts(kept)
        assert who.check_password(kept, "Bo", PASSWORD) == bo
        assert who.may_see(kept, bo, JOB)
        assert [seen.what for seen in who.recorded(kept)] == ["opened the job"]


def _bodies(part: object) -> object:
    if isinstance(part, tuple):
        return tuple(record.body for record in part)
    if hasattr(part, "items"):
        return {name: record.body for name, record in part.items()}
    return getattr(part, "body", None)


@pytest.mark.parametrize("name", sorted(path.stem for path in OLD.glob("*.job")))
def test_a_job_file_of_before_is_taken_in_whole(tmp_path: Path, name: str) -> None:
    """What an older version exported comes in with every event and photo, and folds to the same."""
    data = (OLD / f"{name}.job").read_bytes()
    shutil.copy(OLD / f"{name}.sqlite", tmp_path / "kept.sqlite")
    with open_journal(tmp_path / "kept.sqlite") as kept, open_journal(tmp_path / "new.sqlite") as new:
        import_bundle(new, read_bundle(data, "old.job"))
        assert new.events(JOB) == kept.events(JOB)
        assert told(new.state(JOB)) == told(kept.state(JOB))
        assert check_integrity(new).sound


@pytest.mark.parametrize("name", JOURNALS)
def test_the_check_and_the_backup_take_an_older_file(tmp_path: Path, name: str) -> None:
    """The two commands that somebody runs before an upgrade work on what is there before it."""
    place = tmp_path / name
    shutil.copy(OLD / name, place)
    for words in (("check",), ("backup", str(tmp_path / "backup.sqlite")), ("list",)):
        result = CliRunner().invoke(main, ["job", *words, "--journal", str(place)])
        assert result.exit_code == 0, result.output
