"""The plan's page: a question is answered where it is asked."""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.web_jobs import Visitor, visiting


@pytest.fixture
def visitor(tmp_path: Path) -> Iterator[Visitor]:
    """Somebody at a house whose heat pump is one of two kinds."""
    with visiting(tmp_path, "08-changeover-not-known") as found:
        yield found


def test_a_tap_on_an_answer_gives_the_plan(visitor: Visitor) -> None:
    """The kind that is chosen settles the terminal that only it has; the survey says both, and the house is planned."""
    page = html.unescape(visitor.get("plan").text)
    assert "Answer first: What kind of equipment is outdoor?" in page
    assert "Heat pump, one stage, changeover energised in heating" in page
    key = str(uuid.uuid4())
    fields = {"field": "equipment.outdoor.kind", "index": "1", "key": key}
    assert "Planned: " in visitor.post("plan/answer", fields).text
    text = visitor.state.survey.text
    assert re.search(r"kind: heat-pump-1-b", text)
    assert "to: outdoor.B" in text
    entries = len(visitor.state.history)
    assert "Planned: " in visitor.post("plan/answer", fields).text
    assert len(visitor.state.history) == entries


@pytest.mark.parametrize("index", ["2", "-1", "x", ""])
def test_an_answer_that_was_not_offered_is_refused(visitor: Visitor, index: str) -> None:
    """Nothing is kept of it, and the page says so."""
    entries = len(visitor.state.history)
    fields = {"field": "equipment.outdoor.kind", "index": index}
    answer = visitor.post("plan/answer", fields)
    assert answer.status_code == 422
    assert "not open any more" in answer.text
    assert len(visitor.state.history) == entries
