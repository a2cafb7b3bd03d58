"""A job is erased for good: by the office alone, and only after its name was typed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from subbase.cli.main import main
from subbase.journal import accounts as who
from subbase.journal.store import open_journal
from subbase.journal.trouble import NoSuchJob
from tests.web_callers import firm
from tests.web_jobs import put_job, visiting

NAME = "01-no-common-spare-blue"


def test_the_office_erases_a_job_whose_name_it_types(tmp_path: Path) -> None:
    """Another name erases nothing; the right one everything, and the record keeps who did it and not the job's name."""
    with firm(tmp_path) as people:
        job = put_job(people.journal)
        ann, here = people.signed_in("ann"), f"/jobs/{job}/erase"
        assert here in ann.get(f"/jobs/{job}/history").text
        refused = ann.post(here, {"name": "Lilac Court 4"}, page=here)
        assert (refused.status_code, "Nothing was erased" in refused.text) == (422, True)
        assert people.journal.job(job).events == 2
        assert ann.post(here, {"name": f"  {NAME.upper()} "}, page=here).headers["location"] == "/"
        assert ann.get(here).status_code == 404
        lines = who.recorded(people.journal, job=job)
        assert (lines[0].who, lines[0].what) == ("ann", "erased job")
        assert not any(NAME in line.what for line in lines)
        with pytest.raises(NoSuchJob):
            people.journal.state(job)


def test_an_installer_cannot_erase_even_their_own_job(tmp_path: Path) -> None:
    """The page is not there for an installer, nor is a link to it."""
    with firm(tmp_path) as people:
        job = put_job(people.journal)
        who.give_job(people.journal, job, people.people["bo"].id)
        bo, here = people.signed_in("bo"), f"/jobs/{job}/erase"
        assert here not in bo.get(f"/jobs/{job}/history").text
        assert bo.get(here).status_code == 404
        assert bo.post(here, {"name": NAME}).status_code == 404
        assert people.journal.job(job).events == 2


def test_whoever_has_the_app_alone_may_erase(tmp_path: Path) -> None:
    """Without accounts the page says what goes and what stays."""
    with visiting(tmp_path, NAME) as alone:
        told = alone.get("erase").text
        assert "2 entries, 0 photos" in told
        assert "Backups" in told
        alone.post("erase", {"name": NAME})
        with pytest.raises(NoSuchJob):
            alone.journal.state(alone.job)


def test_the_command_asks_for_the_name(tmp_path: Path) -> None:
    """``subbase job erase`` takes the name as an option or asks for it; another name is a fault with exit code 2."""
    place = str(tmp_path / "jobs.db")
    with open_journal(place) as journal:
        jobs = [put_job(journal), put_job(journal)]
    runner, ask = CliRunner(), ["job", "erase", jobs[0], "--journal", place]
    wrong = runner.invoke(main, ask, input="Lilac\n")
    assert (wrong.exit_code, "Nothing was erased" in wrong.output) == (2, True)
    assert runner.invoke(main, ask, input=f"{NAME}\n").exit_code == 0
    done = runner.invoke(main, ["job", "erase", jobs[1], "--journal", place, "--name", NAME, "--json"])
    assert json.loads(done.stdout) == {"format": 1, "job": jobs[1], "events": 2}
    again = runner.invoke(main, ["job", "erase", jobs[1], "--journal", place, "--name", NAME])
    assert (again.exit_code, "Traceback" in again.output) == (2, False)
    with open_journal(place) as journal:
        assert journal.jobs().total == 0
        assert [line.what for line in who.recorded(journal)] == ["erased job", "erased job"]
