"""Melting times of blade fuses at the multiples that the standard names."""

from __future__ import annotations

import pytest

from subbase.circuit.fuses import melting_time

SOURCE = (
    "ISO 8820-3 / SAE J1284, blade fuses: 110 % at least 100 h; 135 % 0.75 to 600 s; 200 % 0.15 to 5 s; "
    "350 % 0.04 to 0.5 s; 600 % 0.02 to 0.1 s."
)


@pytest.mark.outside(source=SOURCE, how="from memory")
@pytest.mark.parametrize(
    ("percent", "earliest_s", "latest_s"),
    [(135, 0.75, 600.0), (200, 0.15, 5.0), (350, 0.04, 0.5), (600, 0.02, 0.1)],
)
def test_melting_times_are_the_standard_s_at_its_own_multiples(
    percent: int, earliest_s: float, latest_s: float
) -> None:
    """At each named multiple the earliest and latest times are the published ones."""
    found = melting_time(percent / 100)
    assert (found.earliest_s, found.latest_s) == pytest.approx((earliest_s, latest_s))


@pytest.mark.outside(source=SOURCE, how="from memory")
def test_a_tenth_over_the_rating_is_carried_for_a_hundred_hours() -> None:
    """At 110 % a fuse holds for 100 h and need not melt at all; under that it never does."""
    found = melting_time(1.10)
    assert found.surely_holds(99.9 * 3600.0)
    assert not found.surely_holds(100.1 * 3600.0)
    assert found.latest_s is None
    assert melting_time(1.09).earliest_s is None
