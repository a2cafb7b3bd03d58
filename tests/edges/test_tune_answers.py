"""Answers of five minutes: units, what comes back as it was typed, and what is kept with a job."""

from __future__ import annotations

import json
from dataclasses import fields

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.answers import BY_KEY, QUESTIONS, Answers, read_answers, restored, stored, typed
from subbase.comfort.house import Insulation
from subbase.errors import InputError

FULL = {
    "area": "1900", "storeys": "2", "built": "1985", "windows": "250", "glass_faces": "south", "inside": "medium",
    "asleep": "23:00-06:00", "away": "08:30-16:45", "heat_to": "69", "heat_asleep": "63", "capacity": "22000,31000,36000",
    "power": "2800,3250,2930", "strips": "10", "electricity": "0.15", "peak": "0.45", "efficiency": "95", "people": "4",
}  # fmt: skip


def test_every_question_is_a_field_and_every_field_a_question() -> None:
    """Declared once: names, order and stand-ins agree."""
    assert [question.key for question in QUESTIONS] == [field.name for field in fields(Answers)]
    bare = read_answers({"area": "180"}, "si")
    for question in QUESTIONS[1:]:
        assert getattr(bare, question.key) == question.default
    assert len(BY_KEY) == len(QUESTIONS)


@pytest.mark.parametrize("units", ["us", "si"])
def test_what_is_shown_is_read_again(units: str) -> None:
    """Answers typed as they are shown are the same answers, to the digits shown."""
    one = read_answers(FULL, "us")
    assert units in ("us", "si")
    again = read_answers(typed(one, "us" if units == "us" else "si"), "us" if units == "us" else "si")
    assert again.asleep == one.asleep
    assert again.area == pytest.approx(one.area, abs=0.51)
    assert again.heat_to == pytest.approx(one.heat_to, abs=0.06)
    assert again.efficiency == pytest.approx(0.95)
    assert again.capacity is not None
    assert one.capacity is not None
    assert again.capacity == pytest.approx(one.capacity, rel=5e-3)


def test_what_is_kept_comes_back() -> None:
    """Through JSON and back nothing changes; what another version kept is nothing, not an error."""
    one = read_answers(FULL, "us")
    kept = json.loads(json.dumps(stored(one)))
    assert restored(kept) == one
    assert restored({**kept, "colour": "red"}) is None
    assert restored({"storeys": 2}) is None
    assert restored({**kept, "inside": "jelly"}) is None


def test_words_become_houses_habits_and_prices() -> None:
    """The year stands in for the insulation; dear hours are in the week; days away are days away."""
    one = read_answers(FULL, "us")
    assert one.level is Insulation.ORDINARY
    assert read_answers({**FULL, "insulation": "good"}, "us").level is Insulation.GOOD
    assert one.house().window_shares[2] == max(one.house().window_shares)
    prices = one.prices().electricity_per_kwh
    assert (prices[16], prices[15], prices[24 * 6 + 17]) == (0.45, 0.15, 0.15)
    assert one.habits().away_days == (0, 1, 2, 3, 4)
    assert read_answers({**FULL, "away": "never"}, "us").habits().away_days == ()


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(st.sampled_from([question.key for question in QUESTIONS]), st.text(max_size=30), max_size=6))
def test_anything_typed_is_read_or_refused_by_its_question(given_answers: dict[str, str]) -> None:
    """Only our own refusal, and each fault names a question."""
    try:
        found = read_answers({"area": "1500", **given_answers}, "us")
    except InputError as error:
        named = {fault.where for fault in error.faults}
        assert named <= set(BY_KEY)
        return
    assert restored(stored(found)) == found
