"""Fields that an event got later: what was kept before stays as it was, byte for byte."""

from __future__ import annotations

import json
from typing import Any

import pytest

from subbase.journal.bodies import StepDone, StepReopened, TestAnswered, body_json, read_body
from subbase.journal.fold import fold
from tests.journal_entries import event

BEFORE: tuple[dict[str, Any], ...] = (
    {"kind": "step_done", "note": "", "step": "move/1", "survey": ""},
    {"kind": "step_reopened", "note": "slipped", "step": "move/1"},
    {
        "between": ["hall.R", "hall.C"], "call": "", "check": "", "high": 30.0, "kind": "reading_taken", "low": None, "note": "",
        "survey": "", "unit": "V", "value": 26.4,
    },
)  # fmt: skip


@pytest.mark.parametrize("body", BEFORE, ids=lambda body: str(body["kind"]))
def test_an_entry_of_before_is_kept_as_the_same_bytes(body: dict[str, Any]) -> None:
    """An entry without the later fields is written without them, so that sending it again changes nothing."""
    told = json.dumps(body, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()
    assert body_json(read_body(body)) == told


def test_later_fields_that_say_something_are_kept() -> None:
    """What was said in a later field comes back."""
    body = StepDone(step="look/gas", did="not so", note="It smells.", mark="ab12")
    assert read_body(json.loads(body_json(body))) == body


@pytest.mark.parametrize("did", ["not so", "skipped"])
def test_the_last_word_on_a_step_counts(did: Any) -> None:
    """What came of a step is what was said of it last: not so, left out, or to be done again."""
    first = event(1, StepDone(step="a"))
    for last in (StepDone(step="a", did=did), StepReopened(step="a")):
        assert fold([first]).steps["a"].body == first.body
        assert fold([first, event(2, last)]).steps["a"].body == last


def test_answers_of_a_diagnosis_come_together_in_order() -> None:
    """Every answer is kept, the same test answered twice too."""
    first = TestAnswered(entry={"display": "dark", "control": "hall"})
    second = TestAnswered(entry={"display": "on", "control": "hall"})
    state = fold([event(1, first), event(2, second)])
    assert [record.body for record in state.answers] == [first, second]
