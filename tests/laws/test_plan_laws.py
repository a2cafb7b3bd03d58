"""Laws of planning: what must not matter does not, what helps never harms, and what is not known is not guessed."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from functools import partial
from random import Random
from typing import Any

import pytest

from subbase.catalog import CALLS, Call, load_catalog
from subbase.circuit import settle
from subbase.papers.data_plan import PlanShape
from subbase.plan import Plan, Route, make_plan
from subbase.plan.choose import choose, rank
from subbase.plan.make import signature
from subbase.plan.proof import prove
from subbase.survey import (
    LOOSE,
    Cable,
    Conductor,
    ConductorEnd,
    Equipment,
    Survey,
    Unknown,
    with_equipment,
    with_landing,
)
from subbase.wiring import State, build_house
from subbase.wiring.states import judged_loads, operated_switches
from tests.agreement.random_houses import CONTROL, random_house
from tests.houses import BUILDABLE, EXAMPLES, NAMES, plan_of, survey_of

SEEDS = range(9000, 9040)
LENGTHS_M, GAUGES = (8.0, 90.0), (18, 24)


def houses() -> Iterator[Survey]:
    """Yield random houses."""
    yield from (random_house(Random(seed)) for seed in SEEDS)


def with_cables(survey: Survey, change: Callable[[Cable], Cable]) -> Survey:
    """Return a house with every cable of the control changed."""
    cables = {name: change(c) if CONTROL in (c.from_, c.to) else c for name, c in survey.cables.items()}
    return survey.model_copy(update={"cables": cables})


def routes_of(plan: Plan) -> tuple[Route, ...]:
    """Return every route that was looked at, of planned controls and of those without a plan."""
    return (*(route for item in plan.controls for route in item.routes), *plan.refused)


def told(plan: Plan, names: dict[str, str]) -> str:
    """Return all that a plan says, conductors by the names that they have in the first house."""
    data = PlanShape.of(plan).plain()
    for route in (*(r for item in data["controls"] for r in item["routes"]), *data["refused"]):
        for landing in route["landings"]:
            landing["conductor"] = names.get(landing["conductor"], landing["conductor"])
            del landing["colours"]
    for caution in data["cautions"]:
        if caution["source"] == "the circuit as found":
            del caution["text"]  # it names conductors
    for key in ("found", "left"):
        data.pop(key)
    return json.dumps(data, sort_keys=True)


@pytest.mark.parametrize("first", range(SEEDS.start, SEEDS.stop, 20))
def test_colours_decide_nothing(first: int) -> None:
    """Conductors that bear other names and misleading colours, in the same order, are landed in the same way."""
    for seed in range(first, first + 20):
        house = random_house(Random(seed))
        own = [name for c in house.cables.values() if CONTROL in (c.from_, c.to) for name in c.conductors]
        names = dict(zip(own, Random(seed).sample(OTHER_NAMES, len(own)), strict=True))
        renamed = with_cables(house, partial(recoloured, names=names))
        back = {new: old for old, new in names.items()}
        assert told(make_plan(renamed), back) == told(make_plan(house), {})


OTHER_NAMES = ("C", "R", "white", "blue", "W", "red", "loose", "common", "x")


def recoloured(cable: Cable, *, names: dict[str, str]) -> Cable:
    """Return a cable whose conductors bear other names and misleading colours."""
    conductors = {
        names[name]: conductor.model_copy(update={"colours": ("red", "white")})
        for name, conductor in cable.conductors.items()
    }
    return cable.model_copy(update={"conductors": conductors})


def test_the_direction_in_which_a_cable_is_written_decides_nothing() -> None:
    """A cable from equipment to control is the same as one from control to equipment."""
    for house in houses():
        assert told(make_plan(with_cables(house, turned)), {}) == told(make_plan(house), {})


def turned(cable: Cable) -> Cable:
    """Return a cable written from its other end."""
    conductors = {
        name: c.model_copy(update={"from_": c.to, "to": c.from_, "colours": c.colours[::-1]})
        for name, c in cable.conductors.items()
    }
    return cable.model_copy(update={"from_": cable.to, "to": cable.from_, "conductors": conductors})


def test_a_spare_conductor_more_never_makes_the_plan_worse() -> None:
    """With one more conductor, loose at both ends, the best route ranks no lower than without."""
    for house in houses():
        with_spare = with_cables(
            house, lambda c: c.model_copy(update={"conductors": {**c.conductors, "spare": spare()}})
        )
        best, better = (min(map(rank, routes_of(make_plan(survey)))) for survey in (house, with_spare))
        assert better <= best


def spare() -> Conductor:
    """Return a conductor that is landed nowhere."""
    return Conductor(from_=LOOSE, to=LOOSE)


@pytest.mark.parametrize("name", BUILDABLE)
def test_planning_twice_gives_the_same(name: str) -> None:
    """Planning has no memory."""
    assert PlanShape.of(make_plan(survey_of(name))) == PlanShape.of(make_plan(survey_of(name)))


@pytest.mark.parametrize("name", ["04-three-heat-motor-valves", "08-changeover-not-known", "12-heat-pump-with-strips"])
def test_planning_does_not_hang_on_the_order_of_sets(name: str) -> None:
    """Processes that order their sets differently print the same plan."""
    command = [sys.executable, "-m", "subbase.cli", "plan", str(EXAMPLES / f"{name}.yaml"), "--json"]
    printed = {
        subprocess.run(command, capture_output=True, check=False, env={**os.environ, "PYTHONHASHSEED": seed}).stdout
        for seed in ("1", "2", "3")
    }
    assert len(printed) == 1


def opened(seed: int) -> tuple[Survey, list[Survey]]:
    """Return a random house with one fact not known, and the houses that it may be."""
    rng = Random(seed)
    house = random_house(rng)
    cable = next(name for name, c in house.cables.items() if CONTROL in (c.from_, c.to))
    fact = rng.choice(("length_m", "gauge_awg", "landing", "landing", "kind"))
    if fact == "landing":
        at = ConductorEnd(cable=cable, conductor=rng.choice(list(house.cables[cable].conductors)), end="to")
        values: tuple[Any, ...] = tuple(rng.sample(("inside.C", "inside.R", "inside.G", LOOSE), 2))
        either = [with_landing(house, at, value) for value in values]
        conductor = house.cables[cable].conductors[at.conductor]
        unknown = conductor.model_copy(update={"to": Unknown(unknown=True, either=values)})
        conductors = {**house.cables[cable].conductors, at.conductor: unknown}
        return put(house, cable, {"conductors": conductors}), either
    if fact == "kind":
        values = ("gas-furnace-1", "packaged-unit-gas")
        bare = house.model_copy(
            update={"equipment": {}, "cables": {n: c for n, c in house.cables.items() if n != "outdoors"}}
        )
        if any(".W1" in str(c.to) or ".W2" in str(c.to) or ".O" in str(c.to) for _, _, _, c in bare.conductors()):
            return opened(seed + 100_000)
        return (
            with_equipment(bare, {"inside": Equipment(kind=Unknown(unknown=True, either=values))}),
            [with_equipment(bare, {"inside": Equipment(kind=value)}) for value in values],
        )
    values = LENGTHS_M if fact == "length_m" else GAUGES
    return (
        put(house, cable, {fact: Unknown(unknown=True, either=values)}),
        [put(house, cable, {fact: value}) for value in values],
    )


def put(survey: Survey, cable: str, update: dict[str, Any]) -> Survey:
    """Return a house with fields of one cable changed."""
    return survey.model_copy(
        update={"cables": {**survey.cables, cable: survey.cables[cable].model_copy(update=update)}}
    )


def test_a_fact_that_is_not_known_is_asked_when_and_only_when_it_decides() -> None:
    """One plan for all answers is the plan for each of them; a question stands where two answers lead to two plans."""
    verdicts = set()
    for seed in SEEDS:
        house, either = opened(seed)
        plan = make_plan(house)
        outcomes = {signature(choose(survey, load_catalog())) for survey in either}
        verdicts.add(plan.verdict)
        assert (plan.verdict == "question") == (len(outcomes) > 1)
        if plan.verdict == "question":
            assert len(plan.questions) == 1
            assert len({answer.leads_to for answer in plan.questions[0].answers}) > 1
        else:
            assert all(make_plan(survey).verdict == plan.verdict for survey in either)
    assert verdicts == {"planned", "stopped", "question"}


def test_a_plan_made_without_a_fact_holds_whatever_the_fact_is() -> None:
    """The house as left, with each value that the unknown may have, is proved."""
    checked = 0
    for seed in range(9100, 9160):
        rng = Random(seed)
        house = random_house(rng)
        cable = next(name for name, c in house.cables.items() if CONTROL in (c.from_, c.to))
        plan = make_plan(put(house, cable, {"length_m": Unknown(unknown=True, either=LENGTHS_M)}))
        if plan.left is None:
            continue
        lost = frozenset(CALLS) - kept(plan)
        for length_m in LENGTHS_M:
            proof = prove(put(plan.left, cable, {"length_m": length_m}), load_catalog(), lost=lost)
            assert proof.holds, (seed, length_m, proof.failures)
            checked += 1
    assert checked > 20


def test_a_part_that_is_needed_for_one_answer_only_is_asked_for() -> None:
    """A transformer that must be exchanged if it is small, and not if it is large, is a question, not a part to bring."""
    house = survey_of("04-three-heat-motor-valves")
    supply = house.transformers["valve supply"].model_copy(update={"va": Unknown(unknown=True, either=(40.0, 75.0))})
    plan = make_plan(house.model_copy(update={"transformers": {"valve supply": supply}}))
    assert plan.verdict == "question"
    small, large = plan.questions[0].answers
    assert "with a 75 VA transformer" in small.leads_to
    assert "75 VA" not in large.leads_to


def kept(plan: Plan) -> frozenset[Call]:
    """Return the calls that a plan of one control keeps."""
    return frozenset(call for item in plan.controls for call in item.wanted if call not in item.chosen.lost)


def test_unknowns_that_cannot_all_be_tried_are_asked_not_guessed() -> None:
    """With too many possibilities nothing is planned; every open fact is a question, the widest first."""
    house = survey_of("01-no-common-spare-blue")
    unknown = Conductor(from_=Unknown(unknown=True), to=Unknown(unknown=True))
    wall = house.cables["wall"]
    open_house = house.model_copy(
        update={
            "cables": {
                **house.cables,
                "wall": wall.model_copy(update={"conductors": dict.fromkeys(wall.conductors, unknown)}),
            }
        }
    )
    plan = make_plan(open_house)
    assert plan.verdict == "question"
    assert plan.left is None
    assert len(plan.questions) == 2 * len(wall.conductors)
    widths = [len(question.answers) for question in plan.questions]
    assert widths == sorted(widths, reverse=True)


def test_no_kind_that_fits_is_asked_not_guessed() -> None:
    """When no kind that the equipment may be has all the terminals that are landed on, that is said."""
    house = survey_of("08-changeover-not-known")
    outside = house.cables["outside"]
    conductors = {
        **outside.conductors,
        "orange": Conductor(from_="handler.joint 1", to="outdoor.O"),
        "brown": Conductor(from_="handler.joint 1", to="outdoor.B"),
    }
    clash = house.model_copy(
        update={"cables": {**house.cables, "outside": outside.model_copy(update={"conductors": conductors})}}
    )
    plan = make_plan(clash)
    assert plan.verdict == "question"
    assert "No kind that the equipment may be" in plan.questions[0].text


@pytest.mark.parametrize("name", NAMES)
def test_a_plan_says_exactly_one_of_its_three_things(name: str) -> None:
    """Planned: a house as left and its proof. Stopped: why. Question: what to ask. Never two of them."""
    plan = make_plan(survey_of(name))
    assert (plan.left is not None) == (plan.proof is not None) == (plan.verdict == "planned")
    assert bool(plan.questions) == (plan.verdict == "question")
    assert bool(plan.stops or plan.refused or plan.notes) == (plan.verdict == "stopped")


def stopped_by(house: Survey, switch: str, call: Call) -> bool:
    """Return whether a call brings nothing on while a safety switch stands open."""
    built = build_house(house, load_catalog())
    operated = operated_switches(built, State(((CONTROL, frozenset({call})),)))
    assert settle(built.netlist, operated=operated).coils_in & judged_loads(built)
    return not settle(built.netlist, operated=operated | {switch}).coils_in & judged_loads(built)


def test_the_chosen_route_keeps_a_float_switch_in_series() -> None:
    """What a full drain pan stops today it stops after the work."""
    plan = plan_of("12-heat-pump-with-strips")
    assert plan.found is not None
    assert plan.left is not None
    for house in (plan.found, plan.left):
        assert stopped_by(house, "pan switch/float", "cool 1")


def test_every_route_that_is_offered_keeps_a_float_switch_in_series() -> None:
    """No route that is offered bridges a safety switch, though it may hold in every call."""
    (item,) = plan_of("12-heat-pump-with-strips").controls
    offered = [route for route in item.routes if route.offered]
    assert offered
    for route in offered:
        assert route.left is not None
        assert stopped_by(route.left, "pan switch/float", "cool 1"), route.name


def test_an_unused_conductor_that_may_be_live_is_to_be_taken_off() -> None:
    """When nobody has seen whether an idle conductor sits on R, the plan says to take it off wherever it is."""
    house = survey_of("13-dual-fuel")
    wall = house.cables["wall"]
    idle = Conductor(from_="loose", to=Unknown(unknown=True, either=("furnace.R", "loose")))
    cable = wall.model_copy(update={"conductors": {**wall.conductors, "brown": idle}})
    plan = make_plan(house.model_copy(update={"cables": {**house.cables, "wall": cable}}))
    assert plan.verdict == "planned"
    (text,) = plan.indifferent
    assert "take it off and cap it" in text
