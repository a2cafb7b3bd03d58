"""Slips, what they do, and the checks that tell them, held against the circuit solved anew."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from random import Random

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Coil, Impedance, Netlist, Source, settle
from subbase.circuit.many_ohms import ohms_between
from subbase.circuit.meters import GOOD_LEADS_OHM, dead_netlist, ohms_seen
from subbase.plan.readings import METER_OHM
from subbase.plan.result import JumperChange
from subbase.survey import Jumper, Survey, with_landing
from subbase.wiring import build_house, legal_states, outputs_on
from subbase.wiring.build import CORNERS, Corner
from subbase.wiring.states import operated_switches
from subbase.work.check_bounds import CLIP_OHM, Check, apart, telling, volt_bounds
from subbase.work.checks import CheckPlan, checks_for, dead_checks, live_checks
from subbase.work.outcomes import DAMAGING, SEVERITIES, Outcome, bench_of, outcome_of, outcomes
from subbase.work.slips import Slip, movable_ends, single_slips
from subbase.work.telling import teller
from tests.houses import BUILDABLE, plan_of

PLANNED = tuple(name for name in BUILDABLE if plan_of(name).left is not None)
CHECKED = tuple(name for name in PLANNED if not name.startswith("15"))
"""Reading every check of the largest house anew takes long; every other is checked whole."""


def left_of(name: str) -> Survey:
    """Return the house as its plan leaves it."""
    left = plan_of(name).left
    assert left is not None
    return left


@cache
def outcomes_of(name: str) -> tuple[Outcome, ...]:
    """Return what every slip of an example's plan does."""
    return outcomes(single_slips(plan_of(name)), bench_of(left_of(name), load_catalog()))


@cache
def check_plan_of(name: str) -> CheckPlan:
    """Return the checks of an example."""
    return checks_for(plan_of(name))


def swap_of(name: str, a: str, b: str) -> Outcome:
    """Return what the swap of the conductors on two terminals of one place does."""
    for outcome in outcomes_of(name):
        left = left_of(name)
        moved = {
            (str(end.landing(left)), str(end.landing(outcome.slip.survey)))
            for end in movable_ends(left)
            if end.landing(left) != end.landing(outcome.slip.survey)
        }
        if moved == {(a, b), (b, a)} and outcome.slip.kind == "swapped":
            return outcome
    raise AssertionError(f"No slip swaps {a} and {b}.")


@pytest.mark.parametrize("name", PLANNED)
def test_every_slip_leaves_another_house_and_is_classified(name: str) -> None:
    """No two slips say the same, each changes the house or a setting, and its outcome is that of its worst finding."""
    found = outcomes_of(name)
    left = left_of(name)
    assert len({outcome.slip.words for outcome in found}) == len(found) > 0
    for outcome in found:
        assert outcome.slip.survey != left or outcome.slip.settings
        ranks = [SEVERITIES.index(finding.severity) for finding in outcome.findings]
        assert ranks == sorted(ranks)
        assert outcome.severity == (outcome.findings[0].severity if outcome.findings else "nothing")


@pytest.mark.parametrize("name", PLANNED)
def test_the_house_as_planned_has_no_finding(name: str) -> None:
    """Put where nothing slipped, the same judgement finds nothing."""
    left = left_of(name)
    good = Slip("left loose", "nothing slipped", "nowhere", left)
    [outcome] = outcomes([good], bench_of(left, load_catalog()))
    assert outcome.findings == ()


@pytest.mark.parametrize("name", PLANNED)
def test_every_end_has_its_slips(name: str) -> None:
    """Each landed end is left loose once, and each pair of ends at one place on two landings is swapped once."""
    left = left_of(name)
    ends = movable_ends(left)
    loose = [outcome for outcome in outcomes_of(name) if outcome.slip.kind == "left loose"]
    swapped = [outcome for outcome in outcomes_of(name) if outcome.slip.kind == "swapped"]
    assert len(loose) == sum(end.landing(left) != "loose" for end in ends)
    assert len(swapped) == sum(
        a.place(left) == b.place(left) and a.landing(left) != b.landing(left)
        for i, a in enumerate(ends)
        for b in ends[:i]
    )
    for outcome in loose:
        assert any(with_landing(left, end, "loose") == outcome.slip.survey for end in ends)


def test_r_and_c_swapped_at_the_wall_leave_the_control_fed_and_every_load_off() -> None:
    """Alternating current feeds the control either way round, but its outputs then switch common: no load comes on."""
    outcome = swap_of("01-no-common-spare-blue", "hall.R", "hall.C")
    assert outcome.severity == "load missing"
    assert {finding.call for finding in outcome.findings} == {"heat 1", "cool 1", "fan"}


def test_a_defrost_that_cannot_come_about_is_not_held_against_a_slip() -> None:
    """With R and C swapped the compressor never runs, so no defrost brings on strips without the fan."""
    outcome = swap_of("12-heat-pump-with-strips", "hall.R", "hall.C")
    assert outcome.severity == "load missing"


def test_r_landed_on_c_shorts_the_supply_and_opens_the_fuse() -> None:
    """The supply conductor on C beside the common is a short at rest, and says the amperes."""
    [outcome] = [
        o for o in outcomes_of("01-no-common-spare-blue") if o.slip.words == "red of wall on hall.C in place of R"
    ]
    assert outcome.severity == "fuse opens or supply overloaded"
    assert outcome.worst is not None
    assert outcome.worst.call == "off"
    assert outcome.worst.amount > 3.0 * 1.35


def test_an_output_that_shorts_the_supply_carries_what_ohms_law_says() -> None:
    """Y and C swapped at the wall: 27 V over winding, fuse, both conductors and output, as worked out by hand."""
    outcome = swap_of("01-no-common-spare-blue", "hall.Y1", "hall.C")
    assert outcome.severity == "damage to the control"
    assert outcome.worst is not None
    assert outcome.worst.call == "cool 1"
    # 40 VA, 24 V, regulation 12.5 %: 27.0 V behind 1.80 ohm; fuse and output 0.02 ohm each; 18 AWG 20.948 ohm/km.
    length_m = left_of("01-no-common-spare-blue").cables["wall"].length_m
    assert isinstance(length_m, float)
    loop_ohm = 1.80 + 0.02 + 0.02 + 2.0 * 20.948e-3 * length_m
    assert outcome.worst.amount == pytest.approx(27.0 / loop_ohm, rel=0.03)


def test_a_link_between_two_supplies_ties_them() -> None:
    """Rh and Rc left linked in a house of two transformers ties them."""
    [outcome] = [o for o in outcomes_of("03-two-transformers") if o.slip.kind == "supplies linked"]
    assert outcome.severity == "supplies tied"


def test_a_link_that_had_to_come_out_and_was_forgotten_is_a_slip() -> None:
    """A plan that takes out the link of two supplies has the slip of leaving it in, told once."""
    plan = plan_of("03-two-transformers")
    [control] = plan.controls
    change = JumperChange(Jumper(between=("dining.Rh", "dining.Rc")), "remove", "it ties two supplies")
    chosen = replace(control.chosen, jumpers=(*control.chosen.jumpers, change))
    slips = single_slips(replace(plan, controls=(replace(control, chosen=chosen),)))
    [slip] = [slip for slip in slips if slip.kind in ("link forgotten", "supplies linked")]
    assert slip.kind == "link forgotten"
    [outcome] = outcomes([slip], bench_of(left_of("03-two-transformers"), load_catalog()))
    assert outcome.severity == "supplies tied"


def test_a_fan_link_left_out_lets_strips_run_without_air() -> None:
    """Where the wall runs the fan with the strips, its link left out heats them without air."""
    [outcome] = [
        o for o in outcomes_of("17-strips-need-the-fan") if o.slip.words.startswith("link sharing adapter.G to")
    ]
    assert outcome.severity == "strips without fan"


def test_changeover_set_the_wrong_way_shows_in_heating_and_in_cooling() -> None:
    """With the setting wrong the changeover valve is off in cooling and on in heating."""
    [outcome] = [o for o in outcomes_of("12-heat-pump-with-strips") if o.slip.kind == "changeover set wrong"]
    assert outcome.severity != "nothing"
    assert {"heat 1", "cool 1"} <= {finding.call for finding in outcome.findings}


def test_a_float_switch_that_is_passed_by_is_named() -> None:
    """The supply landed before the float switch works in every call; only the float no longer stops anything."""
    bypassed = [o for o in outcomes_of("12-heat-pump-with-strips") if o.severity == "safety bypassed"]
    assert "red of wall on pan switch.F1 in place of F2" in {o.slip.words for o in bypassed}


@pytest.mark.parametrize("name", CHECKED)
def test_every_slip_that_does_something_is_told_or_named(name: str) -> None:
    """Told, untold and harmless slips add up, and a damaging slip is told by a dead check or is named."""
    plan = check_plan_of(name)
    told = {slip.words for chosen in plan.checks for slip in chosen.tells}
    untold = {outcome.slip.words for outcome in plan.untold}
    harmless = {slip.words for slip in plan.harmless}
    every = {outcome.slip.words for outcome in plan.outcomes}
    assert told | untold | harmless == every
    assert not told & untold
    assert not told & harmless
    told_dead = {slip.words for chosen in plan.checks if chosen.check.state is None for slip in chosen.tells}
    only_live = {outcome.slip.words for outcome in plan.only_live}
    damaging = {outcome.slip.words for outcome in plan.outcomes if outcome.severity in DAMAGING}
    assert damaging - only_live <= told_dead
    offered = dead_checks(left_of(name), load_catalog())
    assert all(telling(outcome.slip, load_catalog(), offered) == () for outcome in plan.only_live)
    kinds = [chosen.check.state is not None for chosen in plan.checks]
    assert kinds == sorted(kinds), "dead checks come first"


@pytest.mark.parametrize("name", CHECKED)
def test_each_check_reads_outside_its_bounds_under_each_slip_that_it_tells(name: str) -> None:
    """Solved anew, with the meter on, every told slip reads outside the bounds, and the good house within them."""
    plan = check_plan_of(name)
    for chosen in plan.checks:
        check = chosen.check
        assert all(check.low <= value <= check.high for value in read_anew(left_of(name), check, None))
        for slip in chosen.tells:
            for value in read_anew(slip.survey, check, slip):
                assert not check.low <= value <= check.high, f"{check.words()} under {slip.words} reads {value:.2f}"


def read_anew(survey: Survey, check: Check, slip: Slip | None) -> list[float]:
    """Return what a check reads at the corners (live), or for some resistances within the stated ranges (dead)."""
    if check.state is None:
        return [ohms_anew(survey, check, Random(seed)) for seed in range(3)]
    catalog = load_catalog()
    values = []
    for corner in CORNERS:
        house = build_house(survey, catalog, corner=corner, awake=corner.name != "high")
        at_rest = settle(house.netlist).solution
        operated = set(operated_switches(house, check.state))
        for control, calls in check.state.calls:
            profile = house.survey.controls[control].old
            for wrong in (s for c, s in (slip.settings if slip else ()) if c == control):
                operated -= {f"{control}/{terminal}" for terminal in profile.terminals}
                operated |= {f"{control}/{output}" for output in outputs_on(profile, wrong, calls)}
            power = profile.power_terminal()
            fed_v = abs(at_rest.between(f"{control}.{power}", f"{control}.C") or 0j)
            if profile.power == "common" and not profile.battery and fed_v < 0.5 * profile.least_v:
                operated -= {f"{control}/{terminal}" for terminal in profile.terminals}
        metered = house.netlist.with_branches((Impedance("meter", *check.between, METER_OHM),))
        values.append(abs(settle(metered, operated=operated).solution.across("meter")))
    return values


def ohms_anew(survey: Survey, check: Check, random: Random) -> float:
    """Return what an ohmmeter shows when every winding and all electronics lie anywhere within their ranges."""
    netlist = build_house(survey, load_catalog(), corner=Corner(conductor_c=random.uniform(0.0, 50.0))).netlist
    known: dict[str, float] = {}
    for branch in netlist.branches:
        if isinstance(branch, Source):
            known[branch.tag] = complex(branch.z_ohm).real * random.uniform(0.2, 1.0)
        elif isinstance(branch, Coil) and complex(branch.z_in_ohm).imag > 0.0:
            known[branch.tag] = complex(branch.z_in_ohm).real * random.uniform(0.2, 1.0)
        elif isinstance(branch, Coil) or branch.tag.endswith("/own draw"):
            z_ohm = branch.z_in_ohm if isinstance(branch, Coil) else netlist_ohm(netlist, branch.tag)
            known[branch.tag] = random.choice((math.inf, complex(z_ohm).real * random.uniform(0.2, 5.0)))
    if check.clip is not None:
        netlist = netlist.with_branches((Impedance("clip", *check.clip, CLIP_OHM),))
    if not set(check.between) <= netlist.index.keys():
        return math.inf
    return ohms_seen(netlist, *check.between, dc_ohm=known).ohm


def netlist_ohm(netlist: Netlist, tag: str) -> complex:
    """Return the impedance of a fixed branch."""
    branch = netlist.by_tag[tag]
    assert isinstance(branch, Impedance)
    return complex(branch.z_ohm)


@pytest.mark.parametrize("name", ["03-two-transformers", "12-heat-pump-with-strips", "15-zone-panel-three-controls"])
def test_one_elimination_gives_the_ohms_that_the_meter_shows(name: str) -> None:
    """Every pair of a dead house, clipped and not, has the resistance that ``ohms_seen`` finds one pair at a time."""
    netlist = build_house(left_of(name), load_catalog()).netlist
    for check in dead_checks(left_of(name), load_catalog()):
        clipped = netlist.with_branches((Impedance("clip", *check.clip, CLIP_OHM),)) if check.clip else netlist
        shown = ohms_seen(clipped, *check.between).ohm - GOOD_LEADS_OHM
        ours = ohms_between(dead_netlist(netlist), [check.between], clip=check.clip)[check.between]
        assert ours == pytest.approx(shown, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize("name", ["03-two-transformers", "12-heat-pump-with-strips"])
def test_a_live_check_tells_a_slip_where_its_bounds_do_not_touch(name: str) -> None:
    """The quick way to find the checks that tell a slip gives those whose full bounds lie apart."""
    catalog = load_catalog()
    offered = live_checks(left_of(name), catalog)
    for outcome in outcomes_of(name)[::7]:
        bounds = volt_bounds(outcome.slip.survey, catalog, offered, outcome.slip)
        full = tuple(i for i, (low, high) in enumerate(bounds) if apart(offered[i], low, high))
        assert telling(outcome.slip, catalog, offered) == full


@pytest.mark.parametrize("name", PLANNED)
def test_the_first_check_that_shows_a_slip_is_the_first_that_tells_it(name: str) -> None:
    """In the order of work no check before it tells the slip; told slips have one, and damage is shown dead or named."""
    plan = check_plan_of(name)
    shown = plan.first_shown_by
    assert len(shown) == plan.told
    only_live = {outcome.slip.words for outcome in plan.only_live}
    for outcome in plan.outcomes[::5]:
        slip = outcome.slip
        if slip.words not in shown:
            continue
        first = shown[slip.words]
        before = [chosen.check for chosen in plan.checks[: plan.checks.index(first)]]
        assert telling(slip, load_catalog(), [first.check]) == (0,)
        assert not any(telling(slip, load_catalog(), [check]) for check in before)
        assert first.check.state is None or outcome.severity not in DAMAGING or slip.words in only_live


@pytest.mark.parametrize("name", PLANNED)
def test_slips_solved_quickly_do_what_the_houses_built_anew_do(name: str) -> None:
    """Every slip (of the largest house every tenth) has the findings and the telling checks of its house built by itself."""
    left, catalog = left_of(name), load_catalog()
    bench, dead, live = bench_of(left, catalog), dead_checks(left, catalog), live_checks(left, catalog)
    quick = teller(left, catalog, dead, live)
    for outcome in outcomes_of(name)[:: 10 if name.startswith("15") else 3]:
        anew = outcome_of(outcome.slip, bench)
        assert anew.severity == outcome.severity
        assert [(f.severity, f.call, f.text, f.unit) for f in anew.findings] == [
            (f.severity, f.call, f.text, f.unit) for f in outcome.findings
        ]
        assert [f.amount for f in anew.findings] == pytest.approx(
            [f.amount for f in outcome.findings], rel=1e-9, abs=1e-9
        )
        assert quick.by_dead(outcome.slip) == telling(outcome.slip, catalog, dead), outcome.slip.words
        assert quick.by_live(outcome.slip) == telling(outcome.slip, catalog, live), outcome.slip.words


def test_a_chosen_check_leaves_no_room_for_fewer() -> None:
    """Without any one of the chosen checks some slip goes untold."""
    for name in CHECKED:
        plan = check_plan_of(name)
        every = [{slip.words for slip in chosen.tells} for chosen in plan.checks]
        for i, own in enumerate(every):
            rest = set().union(*(told for k, told in enumerate(every) if k != i))
            assert own - rest, f"{name}: {plan.checks[i].check.words()}"


def test_the_same_plan_gives_the_same_checks() -> None:
    """Slips, outcomes and checks come out the same a second time."""
    plan = plan_of("06-colours-swapped-at-splice")
    assert checks_for(plan) == check_plan_of("06-colours-swapped-at-splice")


def test_a_plan_that_leaves_no_house_is_refused() -> None:
    """Where planning asked a question there is nothing to slip, and the error says so."""
    with pytest.raises(ValueError, match="leaves no house"):
        single_slips(plan_of("08-changeover-not-known"))


def test_legal_single_calls_are_all_solved() -> None:
    """Every legal state with at most one call of one control is among those that slips are solved in."""
    for name in PLANNED:
        left = left_of(name)
        single = {s for s in legal_states(left, load_catalog()) if sum(len(calls) for _, calls in s.calls) <= 1}
        assert set(bench_of(left, load_catalog()).states) == single
