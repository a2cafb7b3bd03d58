"""Reach ranges against the published standard, and what a place inside and outside them is told."""

from __future__ import annotations

import pytest

from subbase.siting.finding import INCH_M
from subbase.siting.reach import highest_sideways_m, reach_findings
from subbase.survey.rooms import Candidate, Room

ADA = "2010 ADA Standards for Accessible Design 308.2.1, 308.3.1, 308.3.2"


def weights(height_in: float, reach: str, furniture: dict[str, object] | None = None) -> set[str]:
    """Return the weights of what is said of reach at a height on a bare wall, or over furniture."""
    room = Room.model_validate({"size": (4, 4), "furniture": [furniture] if furniture else []})
    candidate = Candidate(wall="top", along_m=2.0, height_m=height_in * INCH_M)
    return {f.weight for f in reach_findings(room, candidate, height_in * INCH_M, reach, "us")}


@pytest.mark.outside(source=ADA, how="48 in at most and 15 in at least, unobstructed, forward and sideways; read")
def test_unobstructed_reach_ends_at_48_and_15_inches() -> None:
    """48 in and 15 in are within reach, an inch beyond either is ruled out where a person who sits must reach it."""
    assert weights(48, "accessible") == set()
    assert "rules out" not in weights(15, "accessible")
    assert "rules out" in weights(49, "accessible")
    assert "rules out" in weights(14, "accessible")
    assert weights(54, "usual") == set()
    assert weights(54, "unknown") == {"against"}


@pytest.mark.outside(
    source=ADA,
    how="sideways: 48 in to 10 in deep, 46 in to 24 in deep over at most 34 in; read (46, 24, 34 in a manual of the earlier edition)",
)
def test_sideways_over_an_obstruction() -> None:
    """Sideways the limit is 46 in over something 10 to 24 in deep and at most 34 in high, and none beyond."""
    found = [highest_sideways_m(d * INCH_M, h * INCH_M) for d, h in ((10, 60), (11, 34), (24, 34), (24, 35), (25, 30))]
    assert [h and round(h / INCH_M) for h in found] == [48, 46, 46, None, None]
    sofa = {"at": (1.5, 4 - 20 * INCH_M), "size": (1.0, 20 * INCH_M), "height": 30 * INCH_M, "what": "sideboard"}
    assert "rules out" in weights(48, "accessible", sofa)
    assert "rules out" not in weights(46, "accessible", sofa)
