"""The papers of a job, from its journal: what was read, done and photographed stands in them, at the desk as in the app."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from PIL import Image
from pypdf import PdfReader

from subbase.cli.job_command import job
from subbase.journal.bodies import NoteMade, PersonPresent, PhotoAdded, ReadingTaken, StepDone
from subbase.journal.events import Entry, new_key
from subbase.journal.photos import clean_photo
from subbase.papers.write import PAPER_NAMES
from subbase.web.sheet import check_id
from subbase.work.checks import checks_for
from tests.houses import plan_of
from tests.web_jobs import ONE, Visitor, visiting


@pytest.fixture(scope="module")
def visitor(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Visitor]:
    """Yield an app with one job on which somebody worked."""
    with visiting(tmp_path_factory.mktemp("job"), ONE) as found:
        state = found.journal.state(found.job)
        check = checks_for(plan_of(ONE)).checks[0].check
        held = io.BytesIO()
        Image.effect_noise((90, 60), 50).convert("RGB").save(held, "PNG")
        clean = clean_photo(held.getvalue())
        found.journal.put_photo(found.job, clean)
        add(found, ReadingTaken(
            between=check.between, unit=check.unit, value=None, check=check_id(check), survey=state.survey.sha256,
            low=check.low, clip=check.clip,
        ))  # fmt: skip
        add(found, StepDone(step="look/stops", survey=state.survey.sha256))
        add(
            found,
            PhotoAdded(photo=clean.hash, size=len(clean.data), width=clean.width, height=clean.height, caption="Plate"),
        )
        add(found, NoteMade(text="The dog is friendly."))
        add(found, PersonPresent(name="A. Fitter", role="installer"))
        yield found


def add(found: Visitor, body: Any) -> None:
    """Put an event into the journal."""
    found.journal.append(found.job, [Entry(key=new_key(), made_at=datetime.now(tz=UTC), actor="A. Fitter", body=body)])


def text_of(data: bytes) -> str:
    """Return a PDF's text without spaces."""
    return "".join("".join(page.extract_text() for page in PdfReader(io.BytesIO(data)).pages).split())


def assert_told(data: bytes) -> None:
    """Hold a packet against what the journal has."""
    text = text_of(data)
    for words in (
        "Readings taken",
        "OL A. Fitter",
        "Steps done",
        "Plate",
        "The dog is friendly.",
        "A. Fitter, installer",
    ):
        assert "".join(words.split()) in text, words
    assert "Check sheet: readings to take".replace(" ", "") not in text
    sizes = [image.image.size for page in PdfReader(io.BytesIO(data)).pages for image in page.images if image.image]
    assert (90, 60) in sizes


def test_the_app_gives_papers_with_the_journal_in_them(visitor: Visitor) -> None:
    """The packet of the Hand over stage tells the readings, steps, photos, notes and people of the job."""
    answer = visitor.client.get(f"/jobs/{visitor.job}/papers/packet.pdf")
    assert answer.status_code == 200
    assert_told(answer.content)
    owner = visitor.client.get(f"/jobs/{visitor.job}/papers/owner.pdf")
    assert "Stillopen" in text_of(owner.content)
    assert "owner.pdf" in visitor.client.get(f"/jobs/{visitor.job}/hand-over").text


def test_the_desk_writes_the_same_papers(visitor: Visitor, tmp_path: Path) -> None:
    """``subbase job papers`` writes every paper of the job, with the journal in the packet."""
    place = str(visitor.journal.database.place)
    result = CliRunner().invoke(job, ["papers", visitor.job, "--journal", place, "--out", str(tmp_path), "--json"])
    assert result.exit_code == 0, result.output
    assert set(json.loads(result.output)["files"]) == set(PAPER_NAMES)
    assert_told((tmp_path / "packet.pdf").read_bytes())


def test_a_job_that_is_not_there_is_said(visitor: Visitor, tmp_path: Path) -> None:
    """A wrong job is one sentence and exit code 2."""
    place = str(visitor.journal.database.place)
    result = CliRunner().invoke(job, ["papers", new_key(), "--journal", place, "--out", str(tmp_path)])
    assert result.exit_code == 2
    assert result.stderr.strip()
