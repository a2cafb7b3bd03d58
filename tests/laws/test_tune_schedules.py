"""Schedules from habits: what they may ask for, what the search may find, and what a bill is."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.equipment import air_conditioner, furnace, heat_pump, typical_heat_pump
from subbase.comfort.habits import ASLEEP, AWAY, HOME, Habits, Moves, Span, Wishes, by_the_clock, flat, moved
from subbase.comfort.loop import Case, Control, run_year
from subbase.comfort.optimise import Found, cheapest_week
from subbase.comfort.outcomes import ALLOWED_MORE_H, Scene, costs, outcomes
from subbase.comfort.prices import J_PER_KWH, J_PER_THERM, Prices, bill, time_of_use
from tests.comfort_cases import chicago_drive, house_plant

WISHES = Wishes()
GAS = furnace(14e3, 0.92).with_cooling(air_conditioner(9e3, 3.4))
PUMP = heat_pump(typical_heat_pump(9e3), (5e3, 5e3), auxiliary_lockout_c=2.0)
TIMES = st.integers(0, 95).map(lambda quarter: 15 * quarter)
SPANS = st.builds(Span, TIMES, TIMES)
MOVES = st.builds(
    Moves,
    asleep_k=st.floats(0.0, 12.0),
    away_k=st.floats(0.0, 12.0),
    lead_wake_h=st.floats(0.0, 4.0),
    lead_return_h=st.floats(0.0, 4.0),
    stored_k=st.floats(0.0, 2.0),
    stored_h=st.floats(0.0, 5.0),
)


def scene(price: tuple[float, ...] = (0.15,), *, pump: bool = False) -> Scene:
    """Return a house in Chicago with a furnace or a heat pump."""
    return Scene(house_plant(), PUMP if pump else GAS, chicago_drive(), Habits(), WISHES, Prices(price, 1.5), Control())


@cache
def cheapest(price: tuple[float, ...], *, pump: bool) -> Found:
    """Return what the search finds, once."""
    return cheapest_week(scene(price, pump=pump))


@settings(max_examples=60, deadline=None)
@given(asleep=SPANS, away=SPANS, days=st.sets(st.integers(0, 6)), heat=MOVES, cool=MOVES)
def test_no_schedule_asks_for_less_than_people_accept(
    asleep: Span, away: Span, days: set[int], heat: Moves, cool: Moves
) -> None:
    """Whatever the moves, setpoints never leave the wishes of those asleep, away or home, and never meet."""
    habits = Habits(asleep, away, tuple(sorted(days)))
    week = habits.week()
    dear = np.zeros(672, dtype=bool)
    dear[64:84] = True
    found = moved(habits, WISHES, heat, cool, dear)
    assert (found.heat_c >= WISHES.lowest_c(week) - 1e-9).all()
    assert (found.cool_c <= WISHES.highest_c(week) + 1e-9).all()
    assert (found.cool_c - found.heat_c >= 1.5 - 1e-9).all()


@settings(max_examples=40, deadline=None)
@given(lead=st.sampled_from([0.25, 0.5, 1.0, 2.0]), back=st.floats(1.0, 3.0))
def test_a_lead_is_as_long_as_it_says(lead: float, back: float) -> None:
    """The setpoint stands at the wish for just so long before people rise, and not a minute longer."""
    pattern = moved(Habits(), WISHES, Moves(asleep_k=back, lead_wake_h=lead), Moves())
    asleep = Habits().week() == ASLEEP
    early = asleep & (pattern.heat_c > WISHES.heat_c - 1e-9)
    assert early.sum() == 7 * round(lead * 4)


def test_a_week_says_who_is_where() -> None:
    """Nights over midnight, working days and week-ends."""
    week = Habits(Span(22 * 60 + 30, 6 * 60 + 30), Span(8 * 60, 17 * 60)).week()
    assert week[0] == ASLEEP
    assert week[4 * 7] == HOME
    assert week[4 * 12] == AWAY
    assert week[5 * 96 + 4 * 12] == HOME
    assert (week == ASLEEP).sum() == 7 * 32
    assert (week == AWAY).sum() == 5 * 36


def test_equal_days_share_their_steps() -> None:
    """The table of a plain setback has a step where it changes and one at midnight."""
    week = by_the_clock(Habits(), WISHES).week(cools=False)
    assert [step.at for step in week.steps if step.day == 0] == ["00:00", "06:30", "08:00", "17:00", "22:30"]
    assert [step.at for step in week.steps if step.day == 6] == ["00:00", "06:30", "22:30"]
    assert all(step.cool_c is None for step in week.steps)


def test_a_bill_is_what_the_year_took() -> None:
    """At one price the cost is kWh and therms times their prices; carbon is the same with factors."""
    prices = Prices((0.2,), 1.25, 0.5, 6.0)
    years = run_year(Case(house_plant(), GAS, flat(WISHES).setpoints()), chicago_drive())
    found = bill(years, 0, prices)
    assert found.electric_kwh == pytest.approx(float(years.electric_j[0]) / J_PER_KWH)
    assert found.therms == pytest.approx(float(years.fuel_j[0]) / J_PER_THERM)
    assert found.cost == pytest.approx(0.2 * found.electric_kwh + 1.25 * found.therms, rel=1e-5)
    assert found.co2_kg == pytest.approx(0.5 * found.electric_kwh + 6.0 * found.therms, rel=1e-9)
    with pytest.raises(ValueError, match="hourly=True"):
        bill(run_year(Case(house_plant(), GAS, flat(WISHES).setpoints()), chicago_drive(), hourly=False), 0, prices)


def test_dear_hours_cost_what_they_say() -> None:
    """Every hour of the year bears the price of its hour of the week."""
    prices = Prices(time_of_use(0.2, 0.5, range(16, 21))).by_hour()
    assert (prices == 0.5).sum() == 5 * (52 * 5 + 1)
    assert prices[16] == 0.5
    assert prices[24 * 5 + 16] == 0.2


@pytest.mark.parametrize("pump", [False, True])
def test_the_search_saves_and_keeps_people_comfortable(pump: bool) -> None:
    """Cheaper than holding the wishes, with at most the allowed hours more outside comfort."""
    place = scene(pump=pump)
    found = cheapest((0.15,), pump=pump)
    cost, outside = costs(place, [flat(WISHES), found.pattern])
    assert cost[1] < cost[0]
    assert outside[1] <= outside[0] + ALLOWED_MORE_H + 1e-9


def test_the_search_beats_every_plain_night() -> None:
    """No single depth and lead of a night's setback within the same comfort is cheaper than what was found."""
    place, found = scene(), cheapest((0.15,), pump=False)
    tries = [
        moved(place.habits, WISHES, Moves(asleep_k=k, lead_wake_h=lead), Moves())
        for k in (1.0, 2.0, 3.0)
        for lead in (0.0, 0.5, 1.0)
    ]
    cost, outside = costs(place, [flat(WISHES), found.pattern, *tries])
    allowed = outside <= outside[0] + ALLOWED_MORE_H
    assert cost[1] <= cost[2:][allowed[2:]].min() + 0.01


def test_the_search_sees_what_goes_well_together() -> None:
    """No night joined with a day away, of a grid of both, is cheaper by more than 1 % for a heat pump slow to come back."""
    place, found = scene(pump=True), cheapest((0.15,), pump=True)
    grid = [(0.0, 0.0), (1.0, 1.0), (2.0, 1.0), (2.0, 2.0), (3.0, 2.0), (3.0, 4.0)]
    tries = [
        moved(
            place.habits,
            WISHES,
            Moves(asleep_k=night, lead_wake_h=wake, away_k=day, lead_return_h=back),
            found.cool,
        )
        for night, wake in grid
        for day, back in grid
    ]
    cost, outside = costs(place, [flat(WISHES), found.pattern, *tries])
    allowed = outside <= outside[0] + ALLOWED_MORE_H
    assert cost[1] <= 1.01 * cost[2:][allowed[2:]].min()


def test_dear_hours_are_bought_less() -> None:
    """Under a dear evening the schedule found uses less electricity in it than the schedule found at one price."""
    price = time_of_use(0.15, 0.45, range(16, 21))
    dear = np.tile(np.array(price) > 0.3, 53)[:8760]

    def in_dear_hours(pattern_price: tuple[float, ...]) -> float:
        pattern = cheapest(pattern_price, pump=True).pattern
        years = run_year(Case(house_plant(), PUMP, pattern.setpoints()), chicago_drive())
        assert years.hourly is not None
        return float(years.hourly.electric_w[0][dear].sum())

    assert in_dear_hours(price) < 0.9 * in_dear_hours((0.15,))


def test_comfort_is_held_against_wishes_not_against_setpoints() -> None:
    """A schedule that asks for ten degrees is told as cold, though it does what it says."""
    place = scene()
    cold = replace(flat(WISHES), heat_c=np.full(672, 10.0))
    found = outcomes(place, {"flat": flat(WISHES), "cold": cold})
    assert found["flat"].cold_h < 20.0
    assert found["cold"].cold_h > 2000.0
    assert found["cold"].bill.cost < found["flat"].bill.cost
    assert found["flat"].most_heat_starts <= 12
    assert 1.0 < found["flat"].heat_starts_per_h < found["flat"].most_heat_starts
