"""The route that is chosen, over random houses: the best by its own order, proved, and made of what is there."""

from __future__ import annotations

import json
from functools import cache
from random import Random
from typing import Any

import pytest

from subbase.catalog import CALLS, load_catalog
from subbase.plan import ControlPlan, Plan, make_plan
from subbase.plan.choose import rank
from subbase.plan.proof import prove, tied_supplies
from subbase.plan.routes import ROUTES
from subbase.survey import CUT_SHORT, NOWHERE, Survey, read_survey
from subbase.wiring import build_house
from tests.agreement.random_houses import CONTROL, random_house
from tests.houses import BUILDABLE, plan_of

SEEDS = range(5000, 5090)


@cache
def random_plan(seed: int) -> Plan:
    """Return the plan of a random house."""
    return make_plan(random_house(Random(seed)))


def planned() -> tuple[tuple[Plan, Survey, ControlPlan], ...]:
    """Return (plan, house as left, plan of a control) of every random house and example that is planned."""
    plans = [*map(random_plan, SEEDS), *map(plan_of, BUILDABLE)]
    return tuple((plan, plan.left, item) for plan in plans if plan.left is not None for item in plan.controls)


def as_file(survey: Survey) -> bytes:
    """Return a survey as the text of a file."""
    data: dict[str, Any] = survey.model_dump(mode="json", by_alias=True)
    for cable in data["cables"].values():
        cable["length"] = f"{cable.pop('length_m')} m"
    data["controls"] = {name: {k: v for k, v in c.items() if v is not None} for name, c in data["controls"].items()}
    return json.dumps(without_nothing(data)).encode()


def without_nothing(data: Any) -> Any:
    """Return plain data without the fields that hold nothing."""
    if isinstance(data, dict):
        return {key: without_nothing(value) for key, value in data.items() if value is not None}
    return [without_nothing(item) for item in data] if isinstance(data, list) else data


def test_the_random_houses_are_planned_in_many_ways() -> None:
    """Among the random houses are ones with each common kind of route, and ones for which there is none."""
    chosen = {item.chosen.name for plan in map(random_plan, SEEDS) for item in plan.controls}
    assert chosen >= {"common conductor", "spare conductor", "shared conductor", "new cable", "battery"}
    assert {plan.verdict for plan in map(random_plan, SEEDS)} == {"planned", "stopped"}


def test_the_chosen_route_is_the_least_of_all_by_the_order_of_routes() -> None:
    """Every route was looked at once, and none of them ranks before the chosen one."""
    for _, _, item in planned():
        assert sorted(route.name for route in item.routes) == sorted(name for name, _, _ in ROUTES)
        assert rank(item.chosen) == min(map(rank, item.routes))
        assert item.chosen.offered


def test_a_house_without_a_plan_says_of_every_route_why() -> None:
    """When no route is left, each one bears its reasons, each a sentence."""
    stopped = [plan for plan in map(random_plan, SEEDS) if plan.verdict == "stopped"]
    assert stopped
    for plan in stopped:
        assert len(plan.refused) == len(ROUTES)
        for route in plan.refused:
            assert not route.offered
            assert route.reasons
            assert all(reason.endswith(".") for reason in route.reasons)


def test_the_house_as_left_holds_when_it_is_proved_anew() -> None:
    """Read back from a file as any survey would be, the house as left has no fault and its proof holds."""
    for plan, left, _ in planned():
        lost = frozenset(call for call in CALLS if call not in kept_calls(plan))
        again = prove(read_survey(as_file(left), "left", plan.catalog), plan.catalog, lost=lost)
        assert again.holds, again.failures
        assert plan.proof is not None
        assert again.margin == pytest.approx(plan.proof.margin, rel=1e-9)


def kept_calls(plan: Plan) -> frozenset[str]:
    """Return the calls that some control keeps; calls of controls that stay are all kept."""
    if set(plan.survey.controls) != {item.control for item in plan.controls}:
        return frozenset(CALLS)
    return frozenset(call for item in plan.controls for call in item.wanted if call not in item.chosen.lost)


def test_every_call_that_is_kept_is_proved() -> None:
    """For each wanted call that is not given up there is a state of its own in the proof, not waived, with something on."""
    for plan, _, item in planned():
        assert plan.proof is not None
        for call in set(item.wanted) - set(item.chosen.lost):
            states = [s for s in plan.proof.states if s.state.calls == ((item.control, frozenset({call})),)]
            assert states, (plan.survey.name, call)
            assert not any(state.waived for state in states)
            assert all(state.loads for state in states)


def test_a_call_is_lost_only_by_a_route_that_says_so() -> None:
    """What a route gives up was wanted, and no wish of the owner's is given up."""
    for plan, _, item in planned():
        assert set(item.chosen.lost) <= set(item.wanted)
        assert not set(item.chosen.lost) & set(plan.survey.wishes)


def test_no_plan_needs_a_conductor_that_is_cut_short() -> None:
    """A conductor with an end that cannot be landed carries nothing; its other end is free, and on nothing live."""
    cut_in_all = 0
    for plan, left, item in planned():
        assert plan.found is not None
        for cable, _, name, conductor in plan.found.conductors():
            if CUT_SHORT in (conductor.from_, conductor.to):
                cut_in_all += 1
                after = left.cables[cable].conductors[name]
                carried = [x.carries for x in item.chosen.landings if (x.cable, x.conductor) == (cable, name)]
                assert carried == ["nothing"]
                assert after.from_ in NOWHERE
                assert not str(after.to).endswith(".R")
                assert (after.from_ == CUT_SHORT) == (conductor.from_ == CUT_SHORT)
    assert cut_in_all > 3


def test_landings_of_the_route_are_those_of_the_house_as_left() -> None:
    """What the table of landings says is what the last house of the plan holds, and its before is the house as found."""
    for plan, left, item in planned():
        assert plan.found is not None
        for landing in item.chosen.landings:
            for house, wall, far in (
                (plan.found, landing.wall_found, landing.far_found),
                (left, landing.wall_left, landing.far_left),
            ):
                if landing.cable in house.cables:
                    conductor = house.cables[landing.cable].conductors[landing.conductor]
                    assert {conductor.from_, conductor.to} == {wall, far}


def test_what_a_conductor_carries_lands_on_the_new_control() -> None:
    """A conductor in use ends on a terminal that the new control has, or at a device beside it; one not in use is free there."""
    for plan, left, item in planned():
        new = plan.survey.controls[item.control].new
        assert new is not None
        for landing in item.chosen.landings:
            place, _, terminal = landing.wall_left.partition(".")
            if landing.carries == "nothing":
                assert landing.wall_left in NOWHERE
            elif place == item.control:
                assert terminal in new.terminals
            else:
                assert left.equipment[place].at == item.control


def test_no_two_supplies_are_tied_that_were_not_tied_before() -> None:
    """The work never joins two transformers."""
    for plan, left, _ in planned():
        assert plan.found is not None
        before, after = (tied_supplies(build_house(house, load_catalog())) for house in (plan.found, left))
        assert after <= before


def test_a_control_that_needs_a_common_gets_one() -> None:
    """Wherever the chosen route does not run on a battery, the control's supply is in the proof and enough at every state."""
    for plan, left, item in planned():
        assert plan.proof is not None
        profile = left.controls[item.control].old
        if profile.power == "common":
            for state in plan.proof.states:
                fed = next(c for c in state.controls if c.control == item.control)
                assert profile.least_v <= fed.low_v <= fed.high_v <= profile.most_v


def test_other_cables_are_left_alone() -> None:
    """Only conductors of the control's own cables are moved."""
    for plan, left, item in planned():
        assert plan.found is not None
        own = {x.cable for planned_item in plan.controls for x in planned_item.chosen.landings}
        for name, cable in plan.found.cables.items():
            if name not in own:
                assert left.cables[name] == cable
        assert (
            all(CONTROL in (left.cables[name].from_, left.cables[name].to) for name in own) or item.control != CONTROL
        )
