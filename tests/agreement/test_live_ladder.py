"""The live ladder against the circuit: what the page says a meter reads is what the engine gives, with a meter and without."""

from __future__ import annotations

import json
import math
from functools import cache
from itertools import combinations

import pytest

from subbase.circuit import Impedance, settle
from subbase.papers.live_calls import LiveCall, live_calls, points_of
from subbase.papers.rung_steps import rung_key
from subbase.papers.rungs import Ladder, ladder_of
from subbase.plan.readings import METER_OHM
from subbase.web.live_ladder import data_of
from subbase.wiring import build_house
from subbase.wiring.states import operated_switches
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if plan_of(name).left is not None)
SENSES = "-sense"
"""Inputs that tell levels apart: current reaches them in calls in which they must not act."""


@cache
def live(name: str) -> tuple[Ladder, tuple[LiveCall, ...], tuple[str, ...]]:
    """Return the ladder of an example as left, its calls and the points where a probe can be put."""
    plan = plan_of(name)
    assert plan.left is not None
    ladder = ladder_of(plan.left, plan.catalog)
    return ladder, live_calls(plan.left, plan.catalog, ladder), points_of(plan.left, ladder)


@pytest.mark.parametrize("name", PLANNED)
def test_readings_are_those_that_the_plan_expects(name: str) -> None:
    """Wherever the plan says what must be read, the live ladder says the same volts and the same bounds."""
    _, calls, _ = live(name)
    by_words = {call.words: call for call in calls}
    expected = plan_of(name).readings
    assert expected
    for item in expected:
        reading = by_words[item.state].reading(*item.between)
        assert reading is not None
        got = (reading.nominal, reading.low, reading.high)
        assert got == pytest.approx((item.volts, item.low_v, item.high_v), abs=1e-9)


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "03-two-transformers", "12-heat-pump-with-strips"])
def test_readings_are_the_engines_with_a_meter_in_the_circuit(name: str) -> None:
    """Between any two points, the circuit solved with a 10 Mohm meter between them shows what the page says, to 10 mV."""
    plan = plan_of(name)
    assert plan.left is not None
    _, calls, points = live(name)
    house = build_house(plan.left, plan.catalog)
    apart = 0
    for call in calls[:3]:
        for a, b in combinations(points, 2):
            reading = call.reading(a, b)
            if reading is None:
                apart += 1
                continue
            metered = house.netlist.with_branches((Impedance("meter", a, b, METER_OHM),))
            solution = settle(metered, operated=operated_switches(house, call.state)).solution
            assert abs(solution.between(a, b) or 0j) == pytest.approx(reading.nominal, abs=0.01), (call.words, a, b)
    assert (apart > 0) == (name == "03-two-transformers" or any(p not in calls[0].volts for p in points))


@pytest.mark.parametrize("name", PLANNED)
def test_current_flows_on_the_ladder_where_the_load_is_on(name: str) -> None:
    """A rung is hot to its load exactly when the circuit brings the load on; level senses alone may be fed and stay off."""
    ladder, calls, _ = live(name)
    seen_on = 0
    for call in calls:
        for s, supply in enumerate(ladder.supplies):
            for r, rung in enumerate(supply.rungs):
                flows, on = f"{rung_key(s, r)}l" in call.flowing, rung.load.tag in call.on
                seen_on += on
                assert flows == on or (flows and rung.load.tag.endswith(SENSES)), (call.words, rung.load.tag)
        assert not set(call.flowing) & set(call.waiting)
    assert seen_on


@pytest.mark.parametrize("name", PLANNED)
def test_the_pages_data_give_the_same_readings(name: str) -> None:
    """The numbers sent to the script, rounded as they are, give every reading to a millivolt by the script's own rule."""
    _, calls, points = live(name)
    data = json.loads(json.dumps(data_of(calls, points)))
    for call, sent in zip(calls, data["calls"], strict=True):
        for (i, a), (j, b) in combinations(enumerate(points), 2):
            reading = call.reading(a, b)
            u, v = sent["v"][i], sent["v"][j]
            if reading is None:
                assert u is None or v is None or sent["island"][i] != sent["island"][j]
                continue
            assert sent["island"][i] == sent["island"][j]
            assert math.hypot(u[0] - v[0], u[1] - v[1]) == pytest.approx(reading.nominal, abs=1e-3)
            ends = sorted(math.hypot(u[at] - v[at], u[at + 1] - v[at + 1]) for at in (2, 4))
            got = (
                max(0.0, ends[0] * (1 - data["share"]) - data["least"]),
                ends[1] * (1 + data["share"]) + data["least"],
            )
            assert got == pytest.approx((reading.low, reading.high), abs=2e-3)


def test_two_transformers_without_a_common_wire_read_nothing() -> None:
    """Between two circuits that share no wire there is no reading, and the page says so instead of a number."""
    _, calls, points = live("03-two-transformers")
    apart = [(a, b) for a, b in combinations(points, 2) if a in calls[0].volts and b in calls[0].volts and calls[0].reading(a, b) is None]  # fmt: skip
    assert apart


@pytest.mark.parametrize("name", PLANNED)
def test_every_terminal_that_a_conductor_lands_on_is_a_point_to_read_at(name: str) -> None:
    """No landing of the house is missing on the ladder, not even one with a stroke in its name, as O/B."""
    left = plan_of(name).left
    assert left is not None
    ends = {str(end) for _, _, _, conductor in left.conductors() for end in (conductor.from_, conductor.to)}
    assert {end for end in ends if "." in end} <= set(live(name)[2])
