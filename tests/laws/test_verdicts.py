"""Checking off: a good house passes and is proved, a slip is never excluded by its own readings, a doubt is computed."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.catalog import load_catalog
from subbase.survey import Survey
from subbase.wiring import State, build_house, single_calls
from subbase.work.air_and_water import Air, Units, direction, judge_air
from subbase.work.call_sequences import AFTER, CallSequence, call_sequences, judge_step, things_in
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import Check, ohm_bounds
from subbase.work.checks import CheckPlan, checks_for, live_checks, supply_checks
from subbase.work.doubts import loop_doubts
from subbase.work.guaranteed import guaranteed_bounds
from subbase.work.outcomes import DAMAGING
from subbase.work.slips import Slip
from subbase.work.taken import AirTaken, ReadingTaken, SequenceSeen, StepSeen, Taken
from subbase.work.verdicts import Report, judge
from tests.houses import plan_of

PLAIN = "01-no-common-spare-blue"
HEAT_PUMP = "12-heat-pump-with-strips"
QUICK = (PLAIN, "04-three-heat-motor-valves", "07-heat-only-pair", "09-unknown-that-does-not-matter")


@cache
def checks_of(name: str) -> CheckPlan:
    """Return the checks of an example."""
    return checks_for(plan_of(name))


def left_of(name: str) -> Survey:
    """Return the house as the plan of an example leaves it."""
    left = plan_of(name).left
    assert left is not None
    return left


def read(survey: Survey, check: Check, slip: Slip | None = None) -> ReadingTaken:
    """Return what a perfect meter shows at a check in a house: nominal volts, or ohms in the middle of what they may be."""
    catalog = load_catalog()
    if check.unit == "V":
        assert check.state is not None
        house = build_house(survey, catalog)
        solved = next(iter(solved_calls(house, [check.state], dict(slip.settings) if slip else {})))
        value = abs(solved.solutions[0].between(*check.between) or 0j)
    else:
        low, high = ohm_bounds(survey, catalog, [check])[0]
        value = math.sqrt(low * high) if math.isfinite(high) else low
    state = check.state if check.state is not None else State(())
    return ReadingTaken(check.between, state, check.unit, value, f"{value:.1f} {check.unit}", clip=check.clip)


def all_read(name: str, slip: Slip | None = None) -> tuple[ReadingTaken, ...]:
    """Return every check of an example's plan, read in its house or in the house that a slip leaves."""
    survey = slip.survey if slip else left_of(name)
    return tuple(read(survey, chosen.check, slip) for chosen in checks_of(name).checks)


def report_of(name: str, *readings: ReadingTaken) -> Report:
    """Return readings of an example, judged."""
    return judge(plan_of(name), Taken(tuple(readings)), checks_of(name), ())


def mark_of(report: Report, reading: ReadingTaken) -> str:
    """Return the mark of one reading."""
    return next(item.judged.mark for item in report.readings if item.taken is reading)


def why_of(report: Report, reading: ReadingTaken) -> str:
    """Return why one reading is judged so."""
    return next(item.judged.why for item in report.readings if item.taken is reading)


@pytest.mark.parametrize("name", [*QUICK, HEAT_PUMP])
def test_a_good_house_passes_every_check_and_is_proved(name: str) -> None:
    """Readings of the house as planned all pass, and every slip that can be told is excluded."""
    report = report_of(name, *all_read(name))
    assert {item.judged.mark for item in report.readings} == {"pass"}
    assert report.proved
    assert (report.remaining, report.possible) == ((), ())
    assert report.excluded == checks_of(name).told


@pytest.mark.parametrize("name", QUICK)
def test_a_house_is_not_proved_while_a_slip_is_possible(name: str) -> None:
    """Leave a check out: it is named while it tells a possible slip, and some check always is; with none taken, all are."""
    readings = all_read(name)
    chosen = checks_of(name).checks
    reports = [report_of(name, *readings[:i], *readings[i + 1 :]) for i in range(len(chosen))]
    assert not all(report.proved for report in reports)
    for left_out, report in zip(chosen, reports, strict=True):
        assert report.proved == (not report.possible)
        assert {o.slip.words for o in report.possible} <= {slip.words for slip in left_out.tells}
        assert report.remaining == ((left_out,) if report.possible else ())
    nothing = report_of(name)
    assert not nothing.proved
    assert nothing.remaining == chosen
    assert len(nothing.possible) == checks_of(name).told


@pytest.mark.parametrize("name", [PLAIN, "07-heat-only-pair"])
def test_a_slip_is_found_and_never_excluded_by_its_own_readings(name: str) -> None:
    """With the readings of a slip the house is not proved, and where all are taken at their word the slip is possible."""
    untold = {outcome.slip.words for outcome in checks_of(name).untold}
    for outcome in checks_of(name).outcomes[:: 4 if name == PLAIN else 1]:
        if outcome.severity == "nothing" or outcome.slip.words in untold:
            continue
        report = report_of(name, *all_read(name, outcome.slip))
        assert not report.proved, outcome.slip.words
        assert report.stop or outcome.severity not in DAMAGING
        if len([item for item in report.readings if item.judged.mark != "pass"]) > 1:
            assert report.marked("fail"), "one cause of several bad readings is not laid on the meter"
        if not report.marked("meter or lead suspect"):
            assert outcome.slip.words in {other.slip.words for other in report.possible}


def test_readings_in_any_order_give_the_same_verdicts() -> None:
    """The order in which readings are entered changes nothing."""
    readings = list(all_read(PLAIN))
    readings[3] = replace(readings[3], value=12.0, written="12 V")
    forward = report_of(PLAIN, *readings)
    random.Random(4).shuffle(readings)
    mixed = report_of(PLAIN, *readings)
    assert {(v.taken.key, v.judged.mark, v.judged.why) for v in forward.readings} == {
        (v.taken.key, v.judged.mark, v.judged.why) for v in mixed.readings
    }
    assert forward.possible == mixed.possible


def test_a_damaging_slip_that_gives_the_readings_is_named_and_means_power_off() -> None:
    """Conductors swapped so that an output feeds the common: the failure names it, and it is a stop."""
    outcome = next(o for o in checks_of(PLAIN).outcomes if o.severity in DAMAGING)
    report = report_of(PLAIN, *all_read(PLAIN, outcome.slip))
    named = {e.words for item in report.readings for e in item.explained_by if e.damaging}
    assert named
    assert report.stop


def test_explanations_come_worst_first_and_a_few_at_most() -> None:
    """Damaging explanations stand before the others, at most four are named, the rest are counted."""
    for outcome in checks_of(PLAIN).outcomes[:20:5]:
        for item in report_of(PLAIN, *all_read(PLAIN, outcome.slip)).readings:
            damaging = [e.damaging for e in item.explained_by]
            assert damaging == sorted(damaging, reverse=True)
            assert len(damaging) <= 4


def live_reading(value: float, written: str = "", call: str = "cool 1") -> ReadingTaken:
    """Return a reading of R to C at the hall of the plain example."""
    check = next(c for c in supply_checks(left_of(PLAIN), load_catalog()) if c.state and call in c.state.words())
    assert check.state is not None
    return ReadingTaken(check.between, check.state, "V", value, written or f"{value} V")


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"value": 2.6}, "decimal point"),
        ({"value": 0.026}, "unit (milli or kilo)"),
        ({"value": 0.0, "setting": "dc"}, "DC range"),
        ({"value": 26.0, "setting": "dc"}, "DC range"),
        ({"value": -0.2}, "AC volts have no sign"),
        ({"value": math.inf}, "more than the range shows"),
        ({"value": 26.0, "power": "off"}, "supply off"),
        ({"value": 26.0, "range_top": 20.0}, "more than the range of 20"),
        ({"value": 19.9, "range_top": 20.0}, "below the"),
    ],
)
def test_what_speaks_against_the_meter_is_said_as_such(changes: dict[str, object], said: str) -> None:
    """A wrong range, a shifted point, a wrong prefix: the meter is doubted, not the house."""
    others = [reading for reading in all_read(PLAIN) if reading.unit == "V"]
    reading = replace(live_reading(26.0), **changes)  # type: ignore[arg-type]
    report = report_of(PLAIN, reading, *others)
    assert mark_of(report, reading) == "meter or lead suspect"
    assert said in why_of(report, reading)
    assert not report.proved


def test_ohms_with_the_supply_on_are_never_judged_against_the_house() -> None:
    """A reading in ohms with power on is suspect even where its number fits."""
    first = next(reading for reading in all_read(PLAIN) if reading.unit == "ohm")
    reading = replace(first, power="on")
    assert mark_of(report_of(PLAIN, reading), reading) == "meter or lead suspect"


def test_volts_above_any_24_volt_winding_mean_power_off() -> None:
    """120 V between control conductors is a stop, not a doubt about the decimal point."""
    reading = live_reading(120.0)
    report = report_of(PLAIN, reading)
    assert report.stop
    assert "line voltage" in why_of(report, reading)


def test_a_weak_supply_under_load_is_said_as_such() -> None:
    """A supply of 18 V under load fails and says what that does to coils."""
    reading = live_reading(18.0)
    report = report_of(PLAIN, reading)
    assert mark_of(report, reading) == "fail"
    assert "coils may not pull in" in why_of(report, reading)


@pytest.mark.parametrize("name", [PLAIN, HEAT_PUMP])
def test_guaranteed_bounds_hold_what_the_corners_reach(name: str) -> None:
    """A reading just outside the usual bounds is held against bounds that are never narrower than those."""
    left, catalog = left_of(name), load_catalog()
    for check in supply_checks(left, catalog)[:3]:
        assert check.state is not None
        reading = ReadingTaken(check.between, check.state, "V", check.low, "")
        found = guaranteed_bounds(left, catalog, reading, check.low, (check.low, check.high))
        assert found is not None
        assert found[0] <= check.low + 1e-6
        assert found[1] >= check.high - 1e-6
        assert found[1] - found[0] < 1.5 * (check.high - check.low)


def test_outside_all_bounds_is_a_failure() -> None:
    """A volt and a half below what the supply can be under load is no matter of tolerances."""
    good = report_of(PLAIN, live_reading(26.0)).readings[0].judged
    assert good.low is not None
    reading = live_reading(good.low - 1.5)
    assert mark_of(report_of(PLAIN, reading), reading) == "fail"


def test_a_ghost_on_a_digital_meter_is_doubted_and_a_second_look_settles_it() -> None:
    """8 V where a coil holds 0 is doubted; a low-impedance meter that then shows 0 means an open conductor."""
    left = left_of(PLAIN)
    wall = next(c for c in live_checks(left, load_catalog()) if c.state == State(()) and c.between[0] == "hall.W1")
    assert wall.state is not None
    ghost = ReadingTaken(wall.between, wall.state, "V", 6.0, "6.0 V", meter="digital")
    if wall.between[1] != "hall.C":
        ghost = replace(ghost, between=("hall.W1", "hall.C"))
    report = report_of(PLAIN, ghost)
    assert mark_of(report, ghost) == "meter or lead suspect"
    assert "low-impedance meter" in why_of(report, ghost)
    again = replace(ghost, value=0.0, written="0.0 V", meter="low-impedance")
    settled = report_of(PLAIN, ghost, again)
    assert mark_of(settled, again) == "fail"
    assert "open or not landed" in why_of(settled, again)
    alone = report_of(PLAIN, again)
    assert mark_of(alone, again) == "pass"


def test_a_loop_that_no_circuit_gives_is_blamed_on_the_reading_that_fails() -> None:
    """R to C and W to C as they must be, R to W more than both together: the last one is suspect."""
    heat = next(s for s in single_calls(left_of(PLAIN), load_catalog()) if "heat 1" in s.words())
    readings = [
        ReadingTaken(("furnace.W", "furnace.C"), heat, "V", 25.0, "25 V"),
        ReadingTaken(("furnace.R", "furnace.C"), heat, "V", 25.4, "25.4 V"),
        ReadingTaken(("furnace.Y", "furnace.C"), heat, "V", 0.1, "0.1 V"),
        ReadingTaken(("furnace.R", "furnace.Y"), heat, "V", 35.0, "35 V"),
    ]
    report = report_of(PLAIN, *readings)
    assert [mark_of(report, r) for r in readings] == ["pass", "pass", "pass", "meter or lead suspect"]
    assert "around the loop" in why_of(report, readings[3])


def test_a_reading_that_nothing_single_gives_is_laid_on_the_leads() -> None:
    """13 V across a closed call while everything else is as it must be: look at the leads and take it again."""
    good = list(all_read(PLAIN))
    at = next(i for i, r in enumerate(good) if r.between == ("furnace.W", "furnace.R"))
    good[at] = replace(good[at], value=13.0, written="13.0 V", meter="low-impedance")
    report = report_of(PLAIN, *good)
    assert mark_of(report, good[at]) == "meter or lead suspect"
    assert "look at the leads" in why_of(report, good[at])


@cache
def volts_of(name: str, state: State) -> dict[str, complex]:
    """Return the potentials of one island of a house in a call."""
    house = build_house(left_of(name), load_catalog())
    solution = next(iter(solved_calls(house, [state]))).solutions[0]
    return {
        node: volts
        for node in house.netlist.nodes()
        if (volts := solution.between(node, house.netlist.nodes()[0])) is not None
    }


@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_readings_of_a_real_circuit_never_break_a_loop(data: st.DataObject) -> None:
    """Whatever pairs are read, with any meter error within its share, Kirchhoff's law raises no doubt."""
    name = data.draw(st.sampled_from([PLAIN, HEAT_PUMP, "04-three-heat-motor-valves"]))
    state = data.draw(st.sampled_from(single_calls(left_of(name), load_catalog())))
    volts = volts_of(name, state)
    nodes = data.draw(st.lists(st.sampled_from(sorted(volts)), min_size=3, max_size=6, unique=True))
    readings = []
    for i, a in enumerate(nodes):
        for b in nodes[i + 1 :]:
            error = data.draw(st.floats(-0.03, 0.03))
            value = abs(volts[a] - volts[b]) * (1.0 + error)
            readings.append(ReadingTaken((a, b), state, "V", value, f"{value:.2f} V"))
    assert loop_doubts(readings) == {}


def test_of_two_readings_of_one_place_the_later_counts_and_both_are_kept() -> None:
    """The later stands, whichever way round the probes were; ``when`` goes before the order of the file."""
    first = live_reading(12.0)
    second = replace(live_reading(26.0), between=first.between[::-1])
    taken = Taken((first, second))
    assert taken.latest() == (second,)
    assert taken.replaced() == ((first, second),)
    dated = Taken((replace(first, when="2024-05-02 11:00"), replace(second, when="2024-05-02 10:00")))
    assert dated.latest()[0].value == 12.0
    assert len(dated.readings) == 2


@cache
def sequences_of(name: str) -> tuple[CallSequence, ...]:
    """Return the sequences of an example."""
    return call_sequences(left_of(name), load_catalog())


@pytest.mark.parametrize("name", [PLAIN, HEAT_PUMP, "13-dual-fuel", "14-oil-with-separate-cooling"])
def test_a_sequence_is_in_order_and_its_times_lie_within_its_bounds(name: str) -> None:
    """Each step's own time passes; labels differ; the circuit's pull-ins never go back in time."""
    for sequence in sequences_of(name):
        labels = [step.label for step in sequence.steps]
        assert len(set(labels)) == len(labels)
        during = [step.at_s for step in sequence.steps if not step.ends]
        assert during == sorted(during)
        assert all(judge_step(step, step.at_s).mark == "pass" for step in sequence.steps)
        assert all(item.at_s >= item.since_s >= 0.0 for item in sequence.pulls_in)


def test_what_an_end_switch_starts_begins_when_the_valve_is_open() -> None:
    """The circuit says that the boiler waits for the heat motor's 60 s."""
    sequence = sequences_of("04-three-heat-motor-valves")[0]
    valve, circulator = sequence.step("valve"), sequence.step("circulator")
    assert valve is not None
    assert circulator is not None
    assert circulator.at_s >= valve.at_s == 60.0


def test_every_step_of_the_catalogue_names_a_thing_that_can_be_entered() -> None:
    """All but what only a hand can feel is known by a short word."""
    unnamed = {
        step.what
        for kind in load_catalog().values()
        for steps in kind.sequence.values()
        for step in steps
        if things_in(step.what) == ("other",)
    }
    assert unnamed <= {"the radiators grow warm"}


def seen(name: str, call: str, **at_s: float | None) -> Report:
    """Return a sequence as seen, judged."""
    sequence = next(s for s in sequences_of(name) if s.words == call)
    steps = []
    for thing, seconds in at_s.items():
        step = sequence.step(thing)
        assert step is not None
        steps.append(StepSeen(step.label, seconds, known=True))
    taken = Taken(sequences=(SequenceSeen(sequence.state, tuple(steps)),))
    return judge(plan_of(name), taken, checks_of(name), sequences_of(name))


def test_a_flame_without_its_inducer_and_strips_without_their_fan_mean_power_off() -> None:
    """What the catalogue warns of is a stop, not a step that is late."""
    assert seen(PLAIN, "heat 1", inducer=None, burner=40.0).stop
    assert seen(PLAIN, "heat 1", inducer=50.0, burner=40.0).stop
    assert seen(HEAT_PUMP, "emergency heat 1", fan=None, strip=30.0).stop
    assert not seen(PLAIN, "heat 1", inducer=2.0, burner=40.0).stop


def test_a_step_that_never_came_fails_and_one_that_comes_after_a_rest_passes() -> None:
    """A compressor may rest five minutes first; a fan that never comes fails."""
    assert seen(HEAT_PUMP, "cool 1", compressor=240.0).seen[0].judged.mark == "pass"
    assert seen(HEAT_PUMP, "cool 1", fan=None).seen[0].judged.mark == "fail"
    assert seen(PLAIN, "heat 1", burner=400.0).seen[0].judged.mark == "fail"


def test_steps_of_the_end_are_counted_from_the_end() -> None:
    """What is seen after the call is told apart from what is seen in it."""
    heat = next(s for s in sequences_of(PLAIN) if s.words == "heat 1")
    ends = [step for step in heat.steps if step.ends]
    assert ends
    assert all(step.label.startswith(AFTER) for step in ends)


def test_warm_air_in_a_cooling_call_names_the_changeover() -> None:
    """Of a heat pump, air the wrong way names slips that move the changeover valve, and air the right way excludes them."""
    left = left_of(HEAT_PUMP)
    cool = next(s for s in single_calls(left, load_catalog()) if s.words() == "cool 1")
    warm = Taken(air=(AirTaken(cool, Air(feels="warm", minutes=12.0)),))
    report = judge(plan_of(HEAT_PUMP), warm, checks_of(HEAT_PUMP), ())
    named = {e.words for item in report.seen for e in item.explained_by}
    possible = {o.slip.kind for o in report.possible if o.slip.words in named}
    assert report.seen[0].judged.mark == "fail"
    assert "changeover set wrong" in possible
    assert len(named) <= 4
    cold = Taken(air=(AirTaken(cool, Air(feels="cold", minutes=12.0)),))
    after = judge(plan_of(HEAT_PUMP), cold, checks_of(HEAT_PUMP), ())
    assert "changeover set wrong" in {o.slip.kind for o in report.possible}
    assert "changeover set wrong" not in {o.slip.kind for o in after.possible}


@pytest.mark.parametrize("kind", ["heat-pump-1-o", "heat-pump-1-b"])
def test_which_way_the_air_goes_follows_the_changeover_of_the_kind(kind: str) -> None:
    """O moves the valve in cooling, B in heating: the direction follows the circuit, not the letter."""
    left = left_of(HEAT_PUMP)
    item = left.equipment["outdoor"].model_copy(update={"kind": kind})
    house = build_house(left.model_copy(update={"equipment": {**left.equipment, "outdoor": item}}), load_catalog())
    for call, way in (("heat 1", "warm"), ("cool 1", "cold")):
        need = next(need for name, need in load_catalog()[kind].calls.items() if name == call)
        assert direction(house, {f"outdoor/{load}" for load in need.on}) == way


@settings(max_examples=80, deadline=None)
@given(rise_f=st.floats(0.0, 120.0), minutes=st.floats(0.0, 30.0))
def test_air_is_judged_by_its_rise_once_it_has_run_long_enough(rise_f: float, minutes: float) -> None:
    """Under ten minutes nothing is judged; a nameplate of 35 to 65 °F decides after that."""
    house = build_house(left_of(PLAIN), load_catalog())
    heat = next(s for s in single_calls(left_of(PLAIN), load_catalog()) if s.words() == "heat 1")
    coils_in = next(iter(solved_calls(house, [heat]))).coils_in
    air = Air(20.0, 20.0 + rise_f / 1.8, None, minutes, rise_k=(35 / 1.8, 65 / 1.8))
    mark = judge_air(house, coils_in, heat, air, Units()).mark
    if minutes < 10.0:
        assert mark == "not judged"
    else:
        assert mark == ("pass" if 35.0 - 1e-6 <= rise_f <= 65.0 + 1e-6 else "fail")
