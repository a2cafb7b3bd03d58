"""What a setback saves over a fleet: by climate, never more than the cold allows, and nothing where nothing is known."""

from __future__ import annotations

from subbase.fleet.chunks import Tally
from subbase.fleet.outcome import Outcome
from subbase.fleet.savings import BACK_C, CLIMATES, HELD_C, savings_of


def tally(climate: str, outcome: int = 0) -> Tally:
    """Return a tally of one climate."""
    return Tally("day", "area", climate, outcome, "{}")


def test_the_share_saved_falls_with_the_cold_and_stays_under_what_is_lowered() -> None:
    """In the colder place a setback of the same depth saves a smaller share, more heat in all, and never the whole drop."""
    outcomes = {0: Outcome("planned"), 1: Outcome("stopped")}
    found = savings_of({tally("3"): 5, tally("7"): 2, tally(""): 9, tally("7", 1): 4}, outcomes)
    mild, cold = found
    assert [(item.climate, item.homes) for item in found] == [("3", 5), ("7", 2)], "stopped homes save nothing"
    for item in found:
        assert 0.0 < item.low <= item.middle <= item.high < 0.5
    assert mild.middle > cold.middle
    assert mild.heat_kwh < cold.heat_kwh
    # A third of the day lowered at most this far cannot save more than a third of that share of the year's mean drop.
    winter_c, summer_c, __ = CLIMATES["7"]
    mean_drop_k = HELD_C - (winter_c + summer_c) / 2
    assert cold.high < (HELD_C - BACK_C) / mean_drop_k / 3


def test_a_list_without_climates_claims_nothing() -> None:
    """Where no home has a climate there is no saving to tell."""
    assert savings_of({tally(""): 5}, {0: Outcome("planned")}) == ()
