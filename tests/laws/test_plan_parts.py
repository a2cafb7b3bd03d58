"""The parts of a plan, each by what it must be: links, margins, cautions, remedies, questions."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Source
from subbase.plan.cautions import cautions_of
from subbase.plan.proven import Failure
from subbase.plan.remedy import LARGER_VA, curable, remedies
from subbase.survey import Survey
from subbase.wiring import build_house
from subbase.wiring.states import need_of
from tests.houses import NAMES, plan_of, survey_of

HOUSE = survey_of("01-no-common-spare-blue")
CATALOG = load_catalog()
PLANNED = tuple(name for name in NAMES if plan_of(name).left is not None)


def told(survey: Survey, left: Survey | None = None) -> str:
    """Return every caution of a house, as one text."""
    return " ".join(caution.text for caution in cautions_of(survey, CATALOG, left))


def built_in(year: int | None) -> Survey:
    """Return the house with another year of building."""
    return HOUSE.model_copy(update={"place": HOUSE.place.model_copy(update={"year_built": year})})


@pytest.mark.parametrize("name", PLANNED)
def test_links_are_told_as_they_are_found_and_left(name: str) -> None:
    """Kept: in both. Taken out: found only. Put in: left only. No link that was found is passed over in silence."""
    plan = plan_of(name)
    assert plan.found is not None
    assert plan.left is not None
    found, left = (
        {frozenset(jumper.between) for jumper in survey.jumpers if jumper.present is True}
        for survey in (plan.found, plan.left)
    )
    said = {frozenset(c.jumper.between): c.action for item in plan.controls for c in item.chosen.jumpers}
    assert found <= said.keys()
    for between, action in said.items():
        expected = "keep" if between in found & left else "remove" if between in found else "add"
        assert action == expected, sorted(between)


@pytest.mark.parametrize("name", PLANNED)
def test_the_margin_is_the_least_of_all_limits(name: str) -> None:
    """No load, supply or control is nearer to its limit than the margin says; what is nearer still is a current, by its words."""
    plan = plan_of(name)
    proof = plan.proof
    assert proof is not None
    assert plan.left is not None
    margins = []
    for state in proof.states:
        on = need_of(plan.left, plan.catalog, state.state).on if not state.waived else frozenset()
        margins += [min(load.inrush_v, load.low_v) / load.pull_in_v - 1.0 for load in state.loads if load.tag in on]
        margins += [1.0 - supply.draw_va / supply.rated_va for supply in state.supplies]
        margins += [control.low_v / control.least_v - 1.0 for control in state.controls]
        assert {load.tag for load in state.loads} >= on
    assert proof.margin <= min(margins) + 1e-9
    if proof.margin < min(margins) - 1e-9:
        assert "fuse" in proof.margin_words or "output" in proof.margin_words


def test_paint_is_cautioned_by_the_year_of_building() -> None:
    """Before 1978 it may hold lead (40 CFR 745.83); without a year that must be found out; later nothing is said of it."""
    assert "Built before 1978" in told(built_in(1977))
    assert "Built before 1978" not in told(built_in(1978))
    assert "year of building is not in the survey" in told(built_in(None))
    assert "paint" not in told(built_in(1990))


def test_mercury_is_cautioned_where_one_control_holds_it() -> None:
    """One old bulb of several is enough, and none is none."""
    valves = survey_of("05-two-motor-valves")
    (name, control), *_more = valves.controls.items()
    old = control.old.model_copy(update={"mercury": True})
    one = valves.model_copy(update={"controls": {**valves.controls, name: control.model_copy(update={"old": old})}})
    assert "mercury" in told(one).lower()
    assert "mercury" not in told(valves).lower()


def test_equipment_that_the_plan_brings_is_cautioned_too() -> None:
    """Cautions are those of the house as left, with all that is fitted."""
    left = survey_of("12-heat-pump-with-strips")
    assert "Electric strips" in told(HOUSE, left)
    assert "Electric strips" not in told(HOUSE)


def test_a_failure_is_counted_by_its_head() -> None:
    """What fails in several states with other numbers is one cause; without a head it is its own text."""
    assert Failure("starved", "12 V at W", head="starves").cause == "starves"
    assert Failure("starved", "12 V at W").cause == "12 V at W"


def test_only_what_a_larger_transformer_lifts_is_cured_by_one() -> None:
    """Starved and overloaded together are curable; a wrong load beside them is not, and nothing is nothing to cure."""
    starved, wrong = Failure("starved", "x"), Failure("wrong load", "y")
    assert curable((starved, Failure("overload", "z")))
    assert not curable((starved, wrong))
    assert not curable(())


@pytest.mark.parametrize("name", PLANNED)
def test_no_remedy_is_a_smaller_or_equal_transformer(name: str) -> None:
    """Each remedy makes exactly one supply larger, and none of those that are large already."""
    left = plan_of(name).left
    assert left is not None
    for remedy in remedies(left, CATALOG):
        before, after = (
            {source.tag: source.rated_va for source in build_house(survey, CATALOG).netlist.of(Source)}
            for survey in (left, remedy.survey)
        )
        grown = {tag for tag in after if after[tag] != before[tag]}
        assert len(grown) == 1
        assert all(before[tag] < after[tag] == LARGER_VA for tag in grown)
