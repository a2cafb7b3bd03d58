"""What a setback saves over a fleet: by climate, never more than the cold allows, and nothing where nothing is known."""

from __future__ import annotations

import pytest

from subbase.fleet.counts import Counts
from subbase.fleet.outcome import Outcome
from subbase.fleet.savings import BACK_C, CLIMATES, HELD_C, savings_of


def counts(*found: tuple[str, int, int], floors: tuple[float | None, ...] = (None,)) -> Counts:
    """Return counts of (climate, number of the outcome, homes), the homes' floor areas over and over as given."""
    made = Counts()
    for climate, outcome, homes in found:
        for number in range(homes):
            area_m2 = floors[number % len(floors)]
            row = {"day": "", "area": "", "climate": climate, "beside": "{}", "floor_area_m2": area_m2}
            made.add(row, outcome)
    return made


def test_the_share_saved_falls_with_the_cold_and_stays_under_what_is_lowered() -> None:
    """In the colder place a setback of the same depth saves a smaller share, more heat in all, and never the whole drop."""
    outcomes = {0: Outcome("planned"), 1: Outcome("stopped")}
    found = savings_of(counts(("3", 0, 5), ("7", 0, 2), ("", 0, 9), ("7", 1, 4)), outcomes)
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
    assert savings_of(counts(("", 0, 5)), {0: Outcome("planned")}) == ()


def test_a_fleet_saves_what_its_homes_save_and_a_larger_home_saves_more() -> None:
    """Savings add up over homes, go with known floor areas, and the mean lies between the ends of its range."""
    outcomes = {0: Outcome("planned")}
    ten, twenty, small, large, mixed = (
        savings_of(counted, outcomes)[0]
        for counted in (
            counts(("5", 0, 10)),
            counts(("5", 0, 20)),
            counts(("5", 0, 10), floors=(70.0,)),
            counts(("5", 0, 10), floors=(140.0,)),
            counts(("5", 0, 10), floors=(140.0, None)),
        )
    )
    for item in (ten, twenty, small, large, mixed):
        low, mean, high = item.saved_kwh
        assert 0.0 < low < mean < high
    assert twenty.saved_kwh == pytest.approx([2 * value for value in ten.saved_kwh])
    assert large.saved_kwh == pytest.approx([2 * value for value in small.saved_kwh])
    assert (ten.with_floor, mixed.with_floor, large.with_floor) == (0, 5, 10)
    assert mixed.saved_kwh[1] == pytest.approx((ten.saved_kwh[1] + large.saved_kwh[1]) / 2)
