"""The cheapest day under time-of-use prices: a worked value, and what holds for any day."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.closed_form import OneNode
from subbase.comfort.schedule import (
    NoSchedule,
    PricedDay,
    cheapest_day,
    cheapest_on_off_day,
    held_day,
    hourly_setpoints_c,
)

HOUSE = OneNode(loss_w_k=300.0, time_constant_s=9 * 3.6e6 / 300.0, heat_w=12e3)
STEPS = 96
START_H = np.arange(STEPS) / 4.0
END_H = START_H + 0.25
PRICE = np.where((START_H >= 16) & (START_H < 21), 0.45, np.where(START_H < 6, 0.12, 0.22))
# 20 °C at every quarter hour from 06:00 to 22:00, both included.
LOWEST_C = np.where((END_H >= 6) & (END_H <= 22), 20.0, 17.0)
DAY = PricedDay(900.0, np.full(STEPS, -5.0), PRICE, np.full(STEPS, 3.0), LOWEST_C, np.full(STEPS, 22.0))


@pytest.mark.outside(
    source="Linear programme of one day: UA 0.3 kW/K, C 9 kWh/K, -5 °C, 12 kW, COP 3, prices 0.45/0.12/0.22 per kWh.",
    how="solved apart from this code; the level day by hand: 0.3 x 25 x 24 = 180 kWh",
)
def test_the_cheapest_day_and_the_level_one() -> None:
    """Cost of both days to the digits given, and the limits are kept."""
    level = held_day(HOUSE, DAY, 20.0, 20.0)
    assert level.heat_kwh == pytest.approx(180.0, abs=1e-6)
    assert level.cost == pytest.approx(14.5750, abs=5e-5)
    best = cheapest_day(HOUSE, DAY, 20.0)
    assert best.cost == pytest.approx(12.8784, abs=5e-5)
    assert best.short_k.max() < 1e-6
    assert best.indoor_c.max() < 22.0 + 1e-6
    assert best.indoor_c[-1] > 20.0 - 1e-6


@pytest.mark.outside(
    source="Mixed-integer programme of the same day with equipment that runs or rests in each quarter hour.",
    how="solved apart from this code, near 13.15",
)
def test_equipment_that_only_runs_or_rests_comes_close() -> None:
    """On and off cost near 13.15: more than any share at all, less than the level day, within the limits."""
    best, level = cheapest_day(HOUSE, DAY, 20.0), held_day(HOUSE, DAY, 20.0, 20.0)
    found = cheapest_on_off_day(HOUSE, DAY, 20.0)
    assert set(found.share) == {0.0, 1.0}
    assert found.cost == pytest.approx(13.15, abs=0.02)
    assert best.cost < found.cost < level.cost
    assert found.short_k.max() < 1e-6
    assert found.indoor_c.max() < 22.0 + 1e-6
    with pytest.raises(NoSchedule, match="No way to switch"):
        cheapest_on_off_day(replace(HOUSE, heat_w=2e3), DAY, 20.0)


def test_a_whole_year_is_one_programme() -> None:
    """8,760 hours with a winter and dear evenings: limits kept in every hour, and no dearer than the level year."""
    hours = np.arange(8760)
    outdoor_c = 8.0 - 12.0 * np.cos(2.0 * np.pi * hours / 8760.0) + 4.0 * np.sin(2.0 * np.pi * (hours % 24 - 9) / 24.0)
    clock = hours % 24
    price = np.where((clock >= 16) & (clock < 21), 0.45, np.where(clock < 6, 0.12, 0.22))
    lowest_c = np.where((clock >= 6) & (clock < 22), 20.0, 17.0)
    year = PricedDay(3600.0, outdoor_c, price, np.full(8760, 3.0), lowest_c, np.full(8760, 60.0))
    best, level = cheapest_day(HOUSE, year, 20.0), held_day(HOUSE, year, 20.0, 20.0)
    assert best.short_k.max() < 1e-6
    assert best.cost < 0.93 * level.cost


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(0.02, 1.0), min_size=24, max_size=24),
    st.floats(-15.0, 12.0),
    st.floats(20.0, 22.0),
    st.floats(10.0, 60.0),
)
def test_no_level_day_is_cheaper(prices: list[float], outdoor_c: float, level_c: float, time_constant_h: float) -> None:
    """Holding any allowed temperature from its own start costs at least as much as the cheapest day from there."""
    house = replace(HOUSE, time_constant_s=time_constant_h * 3600.0)
    day = PricedDay(
        3600.0, np.full(24, outdoor_c), np.array(prices), np.full(24, 2.5), np.full(24, 20.0), np.full(24, 22.0)
    )
    level = held_day(house, day, level_c, level_c)
    best = cheapest_day(house, day, level_c)
    assert best.cost <= level.cost + 1e-6
    assert best.short_k.max() < 1e-6
    assert best.indoor_c[-1] >= level_c - 1e-6
    assert ((best.share >= 0.0) & (best.share <= 1.0)).all()


def test_a_flat_price_leaves_nothing_to_shift() -> None:
    """With one price and one limit, the level day at the limit is the cheapest."""
    day = replace(DAY, price_per_kwh=np.full(STEPS, 0.2), lowest_c=np.full(STEPS, 20.0))
    assert cheapest_day(HOUSE, day, 20.0).cost == pytest.approx(held_day(HOUSE, day, 20.0, 20.0).cost, rel=1e-6)


def test_hourly_setpoints_keep_most_of_the_saving() -> None:
    """An ordinary control that follows the hours costs less than the level day, and nobody is colder than half a kelvin."""
    best = cheapest_day(HOUSE, DAY, 20.0)
    followed = held_day(HOUSE, DAY, np.repeat(hourly_setpoints_c(DAY, best), 4), 20.0)
    level = held_day(HOUSE, DAY, 20.0, 20.0)
    assert best.cost - 1e-6 <= followed.cost + 1e-6
    assert followed.cost < level.cost - 0.5 * (level.cost - best.cost)
    assert followed.short_k.max() < 0.5


def test_the_lower_limit_yields_to_a_cold_snap_and_says_by_how_much() -> None:
    """Where full load cannot hold the limit the day is told short, not refused."""
    outdoor_c = np.full(STEPS, -5.0)
    outdoor_c[30:60] = -60.0
    best = cheapest_day(replace(HOUSE, heat_w=14e3), replace(DAY, outdoor_c=outdoor_c), 20.0)
    assert best.short_k.max() > 0.1


def test_what_cannot_be_is_refused_in_words() -> None:
    """A heat wave over the upper limit, equipment that never recovers, and steps that make no hours."""
    with pytest.raises(NoSchedule, match="upper limit"):
        cheapest_day(HOUSE, replace(DAY, outdoor_c=np.full(STEPS, 45.0)), 20.0)
    with pytest.raises(NoSchedule, match="ends the day at 20 °C"):
        cheapest_day(replace(HOUSE, heat_w=2e3), DAY, 20.0)
    best = cheapest_day(HOUSE, DAY, 20.0)
    with pytest.raises(ValueError, match="whole hours"):
        hourly_setpoints_c(replace(DAY, step_s=700.0), best)
