"""What a chosen check is predicted to read under a slip, against ngspice, which was not made here."""

from __future__ import annotations

import math
from functools import cache

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Impedance, Source
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.plan.readings import METER_OHM
from subbase.survey import Survey
from subbase.wiring import build_house
from subbase.wiring.states import judged_loads
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import CLIP_OHM, Check, ohm_bounds, volt_bounds
from subbase.work.checks import CheckPlan, checks_for
from subbase.work.outcomes import bench_of
from subbase.work.slips import Slip
from tests.houses import BUILDABLE, plan_of
from tests.outside.test_houses_against_ngspice import NGSPICE, settled_by_spice, spice_voltages

PLANNED = tuple(name for name in BUILDABLE if plan_of(name).left is not None)


@cache
def check_plan_of(name: str) -> CheckPlan:
    """Return the checks of an example."""
    return checks_for(plan_of(name))


def read_by_spice(survey: Survey, check: Check, slip: Slip | None) -> float:
    """Return what a check reads in a house by ngspice's voltages: volts with the meter on, or ohms with its leads."""
    house = build_house(survey, load_catalog())
    a, b = check.between
    if check.state is None:
        clip = (Impedance("clip", *check.clip, CLIP_OHM),) if check.clip else ()
        dead = dead_netlist(house.netlist.with_branches(clip))
        # One volt behind one ohm: what is left of the volt is across the place, what is lost flows through it.
        probed = dead.with_branches((Source("probe", b, a, 1.0, 1.0),))
        volts = spice_voltages(probed, frozenset(), frozenset())
        left_v = abs(volts[a] - volts[b])
        ohm = left_v / (1.0 - left_v) if left_v < 1.0 else math.inf
        return ohm + GOOD_LEADS_OHM if ohm <= MOST_OHM else math.inf
    [call] = solved_calls(house, [check.state], dict(slip.settings) if slip else {})
    metered = house.netlist.with_branches((Impedance("meter", a, b, METER_OHM),))
    _, volts = settled_by_spice(metered, frozenset(call.solutions[0].operated))
    return abs(volts[a] - volts[b])


def showing(found: CheckPlan, slip: Slip) -> list[Check]:
    """Return the chosen check that shows a slip first, and the first live one where one shows it too."""
    told_by = [chosen.check for chosen in found.checks if any(each is slip for each in chosen.tells)]
    return told_by[:1] + [check for check in told_by[1:] if check.state is not None][:1]


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", PLANNED)
def test_the_reading_that_shows_a_slip_appears_in_ngspice(name: str) -> None:
    """By ngspice every slip that is told reads within the bounds predicted for it and outside those of the good house."""
    catalog = load_catalog()
    found = check_plan_of(name)
    told = 0
    for outcome in found.outcomes:
        slip = outcome.slip
        checks = showing(found, slip)
        told += bool(checks)
        for check in checks:
            live = check.state is not None
            [(low, high)] = (
                volt_bounds(slip.survey, catalog, [check], slip) if live else ohm_bounds(slip.survey, catalog, [check])
            )
            value = read_by_spice(slip.survey, check, slip)
            assert low <= value <= high, f"{check.words()} under {slip.words} reads {value:.2f}"
            assert not check.low <= value <= check.high, f"{check.words()} does not tell {slip.words}: {value:.2f}"
    assert told == found.told


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", PLANNED)
def test_a_slip_said_to_do_nothing_works_in_ngspice(name: str) -> None:
    """By ngspice a harmless slip's house brings on all that a call needs, and nothing that it must not, in single calls."""
    plan = plan_of(name)
    assert plan.left is not None
    bench = bench_of(plan.left, plan.catalog)
    for slip in check_plan_of(name).harmless:
        house = build_house(slip.survey, plan.catalog)
        solved = solved_calls(house, bench.states, dict(slip.settings))
        for call, need, good in zip(solved, bench.needs, bench.calls, strict=True):
            coils_in, _ = settled_by_spice(house.netlist, frozenset(call.solutions[0].operated))
            on = coils_in & judged_loads(house)
            assert need.on & good.coils_in <= on <= need.on | need.may | good.coils_in, f"{slip.words} at {call.words}"


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", PLANNED)
def test_the_good_house_passes_every_chosen_check_in_ngspice(name: str) -> None:
    """By ngspice the house as planned reads within the bounds of every check that is to be made."""
    plan = plan_of(name)
    assert plan.left is not None
    for chosen in check_plan_of(name).checks:
        check = chosen.check
        assert check.low <= read_by_spice(plan.left, check, None) <= check.high, check.words()


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_the_amperes_of_a_short_through_an_output_are_those_of_ngspice() -> None:
    """Every output current that an outcome names as damage is ngspice's current through that output, within 0.1 %."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    states = bench_of(plan.left, plan.catalog).states
    checked = 0
    for outcome in check_plan_of("01-no-common-spare-blue").outcomes:
        if outcome.severity != "damage to the control" or outcome.worst is None:
            continue
        house = build_house(outcome.slip.survey, plan.catalog)
        calls = {call.words: call for call in solved_calls(house, states)}
        operated = frozenset(calls[outcome.worst.call].solutions[0].operated)
        _, volts = settled_by_spice(house.netlist, operated)
        output = outcome.worst.text.split()[1]
        switch = house.netlist.by_tag[f"hall/{output}"]
        current_a = abs(volts[switch.tail] - volts[switch.head]) / 0.02
        assert current_a == pytest.approx(outcome.worst.amount, rel=1e-3)
        checked += 1
    assert checked >= 5
