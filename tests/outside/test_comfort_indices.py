"""Predicted mean vote and the part of people not content, against rows of ISO 7730."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.feeling import Room, at_home, feeling


@pytest.mark.outside(
    source="ISO 7730:2005, table D.1, rows 1, 2, 9 and 10 [from memory]", how="computed here by pythermalcomfort"
)
@pytest.mark.parametrize(
    ("room", "vote", "not_content"),
    [
        (Room(22.0, 22.0, 0.1, 60.0, 1.2, 0.5), -0.75, 17),
        (Room(27.0, 27.0, 0.1, 60.0, 1.2, 0.5), 0.77, 17),
        (Room(23.0, 21.0, 0.1, 40.0, 1.2, 1.0), 0.05, 5),
        (Room(19.0, 19.0, 0.1, 40.0, 1.2, 1.0), -0.60, 13),
    ],
)
def test_rows_of_the_table(room: Room, vote: float, not_content: int) -> None:
    """The vote to the table's two digits and a hundredth, people not content to its whole per cent."""
    found = feeling(room)
    assert found.vote == pytest.approx(vote, abs=0.015)
    assert found.not_content * 100.0 == pytest.approx(not_content, abs=0.6)


@settings(max_examples=30, deadline=None)
@given(air_c=st.floats(14.0, 30.0), summer=st.booleans())
def test_the_part_not_content_follows_from_the_vote(air_c: float, summer: bool) -> None:
    """PPD = 100 - 95 exp(-0.03353 PMV⁴ - 0.2179 PMV²), and warmer always votes warmer."""
    found, warmer = at_home(air_c, summer=summer), at_home(air_c + 1.0, summer=summer)
    expected = 1.0 - 0.95 * math.exp(-0.03353 * found.vote**4 - 0.2179 * found.vote**2)
    assert found.not_content == pytest.approx(expected, abs=1e-6)
    assert warmer.vote > found.vote
