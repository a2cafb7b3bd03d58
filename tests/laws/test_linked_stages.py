"""Stages that a link at the equipment makes one: how such houses work today, what is planned for them, and what is not touched."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.catalog import Catalog, load_catalog
from subbase.plan import make_plan
from subbase.survey import Jumper, Survey, read_survey
from subbase.wiring import system_calls
from subbase.wiring.stages import calls_of
from tests.houses import BUILDABLE, survey_of

CATALOG: Catalog = load_catalog()
HOUSE = """
survey: 1
name: Willow End 8 (invented)
units: us
equipment:
  furnace: {kind: gas-furnace-2, at: cellar}
  cooler: {kind: condensing-unit-2, at: yard}
controls:
  hall:
    old: {terminals: [R, W, Y, G]}
    new: {terminals: [R, C, W1, W2, Y1, Y2, G], power: common, asleep_va: 0.7, awake_va: 3}
jumpers:
  - [furnace.W1, furnace.W2]
  - [cooler.Y1, cooler.Y2]
cables:
  wall:
    from: hall
    to: furnace
    length: 42 ft
    conductors: {red: R, white: {from: W, to: W1}, yellow: Y, green: G, blue: loose}
  yard:
    from: furnace
    to: cooler
    length: 25 ft
    conductors: {red: {from: Y, to: Y1}, white: C}
"""


def house(text: str = HOUSE) -> Survey:
    """Read a house."""
    return read_survey(text.encode(), "house.yaml", CATALOG)


def links(*pairs: str, present: bool = True) -> tuple[Jumper, ...]:
    """Return links at one place, each as two terminals."""
    return tuple(
        Jumper(between=(f"here.{one}", f"here.{other}"), present=present) for one, other in map(str.split, pairs)
    )


def test_a_furnace_with_both_stages_linked_has_one() -> None:
    """The house works today, is planned as it is, and the control is set up for one stage of each."""
    survey = house()
    assert system_calls(survey, CATALOG, "hall") == ("heat 1", "cool 1", "fan")
    plan = make_plan(survey, CATALOG)
    assert plan.verdict == "planned"
    (item,) = plan.controls
    assert (item.wanted, item.chosen.lost) == (("heat 1", "cool 1", "fan"), ())
    assert item.wired_words == "Set up for: heat 1, cool 1, fan. Any other stage or call stays off."
    assert not [caution for caution in plan.cautions if "does not work today" in caution.text]
    proof = item.chosen.proof
    assert proof is not None
    heat = next(state for state in proof.states if state.state.name() == "heat 1")
    assert {"furnace/gas-valve-1", "furnace/gas-valve-2"} <= {load.tag for load in heat.loads}


def test_without_the_links_both_stages_are_there_and_the_second_is_told_to_be_unwired() -> None:
    """The same house with its links taken out: a second stage exists that no conductor reaches, and nothing is refused for it."""
    text = HOUSE.replace(
        """jumpers:
  - [furnace.W1, furnace.W2]
  - [cooler.Y1, cooler.Y2]
""",
        "",
    )
    survey = house(text)
    assert {"heat 2", "cool 2"} <= set(system_calls(survey, CATALOG, "hall"))
    plan = make_plan(survey, CATALOG)
    assert plan.verdict == "planned"
    assert set(plan.controls[0].wanted) == {"heat 1", "cool 1", "fan"}


def test_linked_strips_of_a_heat_pump_come_on_together() -> None:
    """Beside a heat pump they are one stage of auxiliary heat."""
    strips = HOUSE.replace("gas-furnace-2", "air-handler-strips-2-interlock").replace(
        "condensing-unit-2", "heat-pump-2-o"
    )
    calls = system_calls(house(strips), CATALOG, "hall")
    assert "auxiliary heat 1" in calls
    assert "auxiliary heat 2" not in calls


@pytest.mark.parametrize(
    ("pairs", "on"),
    [
        (["W1 W2"], [{"strip-1", "strip-2"}, {"strip-1", "strip-2", "strip-3"}]),
        (["W2 W3"], [{"strip-1"}, {"strip-1", "strip-2", "strip-3"}]),
        (["W1 W2", "W2 W3"], [{"strip-1", "strip-2", "strip-3"}]),
        (["W2 W3", "W1 W3"], [{"strip-1", "strip-2", "strip-3"}]),
        (["W1 W3"], [{"strip-1", "strip-3"}, {"strip-1", "strip-2", "strip-3"}]),
        (["R W1"], [{"strip-1"}, {"strip-1", "strip-2"}, {"strip-1", "strip-2", "strip-3"}]),
    ],
)
def test_stages_above_the_linked_ones_are_numbered_on(pairs: list[str], on: list[set[str]]) -> None:
    """Of three strips, whichever are linked: what comes on in each stage that is left."""
    calls = calls_of(CATALOG["air-handler-strips-3-interlock"], "here", links(*pairs))
    stages = [set(calls[call].on) - {"fan-relay"} for call in sorted(calls) if call.startswith("heat")]
    assert stages == on
    assert sorted(call for call in calls if call.startswith("heat")) == [f"heat {n}" for n in range(1, len(on) + 1)]


def test_links_elsewhere_or_not_there_change_nothing() -> None:
    """A link that was looked for and not found, or one at another place, leaves the kind as it is."""
    kind = CATALOG["gas-furnace-2"]
    assert calls_of(kind, "here", links("W1 W2", present=False)) == kind.calls
    assert calls_of(kind, "there", links("W1 W2")) == kind.calls


@given(st.sampled_from(sorted(CATALOG)), st.sets(st.sampled_from(["W1 W2", "W2 W3", "Y1 Y2", "R C", "W1 Y1"])))
def test_no_load_is_lost_by_a_link(name: str, pairs: set[str]) -> None:
    """Whatever is linked, the highest stage still brings on what it did, and calls without stages are untouched."""
    kind = CATALOG[name]
    calls = calls_of(kind, "here", links(*sorted(pairs)))
    for word in ("heat", "cool", "auxiliary heat"):
        before, after = (max((c for c in of if c.startswith(f"{word} ")), default="") for of in (kind.calls, calls))
        assert bool(before) == bool(after)
        if before:
            highest, was = (
                next(n for c, n in of.items() if c == name) for of, name in ((calls, after), (kind.calls, before))
            )
            assert (set(highest.on), set(highest.energise)) == (set(was.on), set(was.energise))
    assert {c: n for c, n in calls.items() if not c[-1].isdigit()} == {
        c: n for c, n in kind.calls.items() if not c[-1].isdigit()
    }


@pytest.mark.parametrize("name", BUILDABLE)
def test_the_examples_have_the_stages_that_they_had(name: str) -> None:
    """None of the example houses links stages: their calls are those of their kinds."""
    survey = survey_of(name)
    for place, item in survey.equipment.items():
        if isinstance(item.kind, str):
            assert calls_of(CATALOG[item.kind], place, survey.jumpers) == CATALOG[item.kind].calls
