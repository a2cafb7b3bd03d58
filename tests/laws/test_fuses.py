"""How melting times behave between the points of a standard, and past them."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from subbase.circuit.fuses import BLADE_FUSE_POINTS, FusePoint, melting_time


def test_more_current_never_melts_a_fuse_later() -> None:
    """Both times fall, or stay, as the current grows; the earliest is never after the latest."""
    times = [melting_time(1.0 + step / 100.0) for step in range(2000)]
    for less, more in pairwise(times):
        assert (more.earliest_s or math.inf) <= (less.earliest_s or math.inf)
        assert (more.latest_s or math.inf) <= (less.latest_s or math.inf)
    assert all((each.earliest_s or math.inf) <= (each.latest_s or math.inf) for each in times)


def test_between_two_points_times_lie_on_a_straight_line_of_logarithms() -> None:
    """At the geometric mean of two multiples a time is the geometric mean of theirs."""
    found = melting_time(math.sqrt(2.00 * 3.50))
    assert found.earliest_s == pytest.approx(math.sqrt(0.15 * 0.04))
    assert found.latest_s == pytest.approx(math.sqrt(5.0 * 0.5))


def test_between_the_first_two_points_a_fuse_may_melt_or_never() -> None:
    """At 120 % there is an earliest time but no latest."""
    found = melting_time(1.2)
    assert found.earliest_s is not None
    assert 0.75 < found.earliest_s < 360_000.0
    assert found.latest_s is None
    assert not found.surely_melts(1e9)


def test_far_over_the_last_point_heat_alone_counts() -> None:
    """At twice the last multiple the earliest time is a quarter; the latest is not promised to be shorter."""
    found = melting_time(12.0)
    assert (found.earliest_s, found.latest_s) == pytest.approx((0.005, 0.1))


def test_an_inrush_of_a_twentieth_of_a_second_passes_a_fuse_at_twice_its_rating() -> None:
    """At 200 % for 50 ms no good fuse melts; held for 5 s every one does."""
    found = melting_time(2.0)
    assert found.surely_holds(0.05)
    assert found.surely_melts(5.0)
    assert not found.surely_melts(4.9)


def test_a_fuse_under_its_first_point_surely_holds_and_never_surely_melts() -> None:
    """Without an earliest time nothing melts it; at the earliest time it no longer surely holds, at the latest it surely melts."""
    under = melting_time(1.0)
    assert (under.surely_holds(1e9), under.surely_melts(1e9)) == (True, False)
    over = melting_time(6.0)
    assert over.earliest_s is not None
    assert over.latest_s is not None
    assert over.surely_holds(0.99 * over.earliest_s)
    assert not over.surely_holds(over.earliest_s)
    assert not over.surely_melts(0.99 * over.latest_s)
    assert over.surely_melts(over.latest_s)


def test_other_points_can_be_given() -> None:
    """A time-lag fuse is the same function over other data."""
    slow = (FusePoint(1.5, 3600.0, None), FusePoint(2.1, 10.0, 120.0))
    assert melting_time(2.1, slow).latest_s == pytest.approx(120.0)
    assert [point.multiple for point in BLADE_FUSE_POINTS] == sorted(point.multiple for point in BLADE_FUSE_POINTS)


@pytest.mark.parametrize("multiple", [-0.1, math.nan])
def test_a_current_that_cannot_be_is_refused(multiple: float) -> None:
    """A negative multiple, or none, is an error that says what to give."""
    with pytest.raises(ValueError, match="give the current over the rating"):
        melting_time(multiple)
