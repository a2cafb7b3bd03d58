"""What a chosen check is predicted to read under a slip, against ngspice, which was not made here."""

from __future__ import annotations

import math
from random import Random

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Impedance, Source
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.plan.readings import METER_OHM
from subbase.survey import Survey
from subbase.wiring import build_house
from subbase.work.checks import CLIP_OHM, Check, checks_for, ohm_bounds, volt_bounds
from subbase.work.outcomes import bench_of, solved_calls
from subbase.work.slips import Slip
from tests.houses import plan_of
from tests.outside.test_houses_against_ngspice import NGSPICE, settled_by_spice, spice_voltages

HOUSES = ("01-no-common-spare-blue", "03-two-transformers", "12-heat-pump-with-strips", "17-strips-need-the-fan")
SAMPLE = 30
"""Slips of each house, drawn with a fixed seed."""


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


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", HOUSES)
def test_the_reading_that_tells_a_slip_appears_in_ngspice(name: str) -> None:
    """By ngspice each sampled slip reads within the bounds predicted for it and outside those of the good house."""
    catalog = load_catalog()
    plan = checks_for(plan_of(name))
    told = [(chosen.check, slip) for chosen in plan.checks for slip in chosen.tells]
    slips = list(dict.fromkeys(slip.words for _, slip in told))
    sample = set(Random(1968).sample(slips, min(SAMPLE, len(slips))))
    checked = {"dead": 0, "live": 0}
    for check, slip in told:
        if slip.words not in sample:
            continue
        live = check.state is not None
        bounds = volt_bounds(slip.survey, catalog, [check], slip) if live else ohm_bounds(slip.survey, catalog, [check])
        value = read_by_spice(slip.survey, check, slip)
        assert bounds[0][0] <= value <= bounds[0][1], f"{check.words()} under {slip.words} reads {value:.2f}"
        assert not check.low <= value <= check.high, f"{check.words()} does not tell {slip.words}: {value:.2f}"
        checked["live" if live else "dead"] += 1
    assert checked["dead"] >= 10
    assert checked["live"] >= 10


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", HOUSES)
def test_the_good_house_passes_every_chosen_check_in_ngspice(name: str) -> None:
    """By ngspice the house as planned reads within the bounds of every check that is to be made."""
    plan = plan_of(name)
    assert plan.left is not None
    for chosen in checks_for(plan).checks:
        check = chosen.check
        assert check.low <= read_by_spice(plan.left, check, None) <= check.high, check.words()


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_the_amperes_of_a_short_through_an_output_are_those_of_ngspice() -> None:
    """Every output current that an outcome names as damage is ngspice's current through that output, within 0.1 %."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    states = bench_of(plan.left, plan.catalog).states
    checked = 0
    for outcome in checks_for(plan).outcomes:
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
