"""What is asked of the person there: open facts, what their answers lead to, and readings that cannot be."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.plan.check import check_survey
from subbase.plan.readings import contradictions
from subbase.plan.result import Landing, as_known
from subbase.plan.unknowns import MOST_POSSIBILITIES, open_facts
from subbase.survey import Conductor, Reading, Survey, Transformer, Unknown
from tests.houses import plan_of, survey_of

CATALOG = load_catalog()
Ends = tuple[str | Unknown, str | Unknown]
SPARE, CHANGEOVER, CLASH = "01-no-common-spare-blue", "08-changeover-not-known", "16-reading-contradicts"
SOLD_VA = {20.0, 40.0, 50.0, 75.0}
"""Sizes in which Class 2 control transformers are sold (common practice, no source)."""


def unknown(*either: str | float) -> Unknown:
    """Return a fact not known, and what it may be."""
    return Unknown(unknown=True, either=either)


def with_ends(survey: Survey, cable: str, **conductors: Ends) -> Survey:
    """Return a house in which conductors land otherwise: name -> (first end, second end)."""
    changed = {name: Conductor.model_construct(from_=a, to=b, colours=("", "")) for name, (a, b) in conductors.items()}
    held = survey.cables[cable]
    held = held.model_copy(update={"conductors": {**held.conductors, **changed}})
    return survey.model_copy(update={"cables": {**survey.cables, cable: held}})


def with_length(survey: Survey, lengths: tuple[float, ...]) -> Survey:
    """Return a house with the length of its control's cable not known."""
    cable = survey.cables["wall"].model_copy(update={"length_m": unknown(*lengths)})
    return survey.model_copy(update={"cables": {**survey.cables, "wall": cable}})


def with_readings(survey: Survey, *readings: Reading) -> Survey:
    """Return a house with other readings."""
    return survey.model_copy(update={"readings": readings})


def volts(a: str, b: str, value: float, call: str = "off") -> Reading:
    """Return a reading of volts."""
    return Reading.model_validate({"between": (a, b), "volts": value, "call": call})


def explanations(survey: Survey) -> set[str]:
    """Return every single change that would bring all readings to agree."""
    return {text for found in contradictions(survey, CATALOG) for text in found.would_agree}


def test_readings_are_judged_only_while_all_possibilities_can_be_tried() -> None:
    """A reading that cannot be is said for a few open facts; with too many nothing is said, and the facts are told."""
    few, many = (
        with_length(survey_of(CLASH), tuple(float(1 + i / 20) for i in range(count)))
        for count in (3, MOST_POSSIBILITIES + 1)
    )
    assert check_survey(few, CATALOG).disagreements
    check = check_survey(many, CATALOG)
    assert check.disagreements == ()
    assert [fact.field for fact in check.open_facts] == ["cables.wall.length"]


def test_facts_that_go_together_are_each_asked() -> None:
    """The kind and the terminal that it alone has: neither can change by itself, and either answer decides the plan."""
    plan = plan_of(CHANGEOVER)
    assert {q.field for q in plan.questions} == {"equipment.outdoor.kind", "cables.outside.conductors.orange.to"}
    for question in plan.questions:
        assert question.bits == pytest.approx(1.0)
        assert len({answer.leads_to for answer in question.answers}) == 2


def test_plans_of_one_title_are_told_apart_by_what_they_land() -> None:
    """Where only landings differ, each answer names the conductors that carry something, and where they go."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    ends: dict[str, Ends] = {"white": ("hall.W", unknown("furnace.W", "loose")), "blue": ("loose", "furnace.C")}
    plan = make_plan(with_ends(house, "wall", **ends))
    (question,) = plan.questions
    there, loose = (answer.leads_to for answer in question.answers)
    assert "white from hall.W1 to furnace.W" in there
    assert "white" not in loose
    assert all("green from hall.G to furnace.G" in said for said in (there, loose))


def test_an_unknown_rating_is_tried_with_sizes_that_are_sold_or_those_given() -> None:
    """Nothing beyond Class 2 is thought of; where the person names what it may be, that is what is tried."""
    valves = survey_of("05-two-motor-valves")
    for either, expected in (((), SOLD_VA), ((30.0, 60.0), {30.0, 60.0})):
        supply = Transformer(va=unknown(*either), at="boiler")
        (fact,) = open_facts(valves.model_copy(update={"transformers": {"valve supply": supply}}), CATALOG)
        assert len(fact.candidates) > 1
        assert expected >= set(fact.candidates)
        assert set(either) <= set(fact.candidates)


def test_an_unknown_end_at_the_wall_may_be_on_what_hangs_there_now() -> None:
    """It lies on a terminal of the control as found, or loose; the new control's terminals are not on the wall yet."""
    (fact,) = open_facts(with_ends(survey_of(SPARE), "wall", blue=(unknown(), "loose")), CATALOG)
    assert set(fact.candidates) == {"hall.R", "hall.W", "hall.Y", "hall.G", "loose"}


def test_an_end_is_told_as_found_only_where_it_was_seen() -> None:
    """A plan proved for one possibility does not make a fact of it; a cable that the plan brings is known."""
    plan = plan_of("09-unknown-that-does-not-matter")
    (item,) = plan.controls
    told = {x.conductor: as_known(plan.survey, x) for x in item.chosen.landings}
    assert (told["blue"].wall_found, told["blue"].far_found) == ("loose", "unknown")
    assert (told["red"].wall_found, told["red"].far_found) == ("hall.R", "furnace.R")
    new = next(route for route in item.routes if route.name == "new cable")
    for landing in new.landings:
        if landing.cable not in plan.survey.cables:
            assert as_known(plan.survey, landing) == landing


def test_a_conductor_is_moved_when_it_comes_to_do_something_else() -> None:
    """From G to C at the wall is a move though nothing changes at the equipment; from W to W1 is none."""

    def moved(found: str, left: str, far: str = "furnace.W") -> bool:
        return Landing("wall", "x", ("", ""), "", f"hall.{found}", f"hall.{left}", "furnace.W", far, "furnace").moved

    assert moved("G", "C")
    assert moved("W", "W1", far="furnace.Y")
    assert not any(moved(*pair) for pair in (("W", "W1"), ("Y", "Y1"), ("R", "Rc"), ("O", "O/B"), ("G", "G")))


def test_a_slip_of_the_decimal_point_is_found_where_volts_are_expected() -> None:
    """2.7 where 27 stands is explained; full volts where none are expected were no 0.27."""
    house = survey_of(SPARE)
    assert any(
        "is 27 V and the decimal point" in t for t in explanations(with_readings(house, volts("hall.R", "hall.G", 2.7)))
    )
    live = explanations(with_readings(house, volts("furnace.Y", "furnace.C", 27.0)))
    assert live
    assert not any("decimal point" in text for text in live)


def test_readings_of_another_kind_or_of_nothing_do_not_stand_in_the_way() -> None:
    """Resistance, and volts between terminals that are joined to nothing, explain no volts and hold nothing up."""
    house, wrong = survey_of(SPARE), volts("hall.R", "hall.G", 2.7)
    ohms = Reading(between=("hall.R", "hall.W"), ohms=30.0)
    nowhere = volts("hall.C", "hall.W2", 1.0)
    alone = explanations(with_readings(house, wrong))
    assert alone
    assert explanations(with_readings(house, wrong, ohms)) == alone
    assert explanations(with_readings(house, nowhere, wrong)) == alone


def test_two_conductors_the_other_way_round_are_thought_of() -> None:
    """A call for fan that comes out at Y, and not at G, is a cable whose two conductors changed places at one end."""
    house = with_ends(survey_of(SPARE), "wall", yellow=("hall.Y", "furnace.G"), green=("hall.G", "furnace.Y"))
    seen = (volts("furnace.G", "furnace.C", 26.5, "fan"), volts("furnace.Y", "furnace.C", 0.0, "fan"))
    found = explanations(with_readings(house, *seen))
    assert found == {f"yellow and green of wall are the other way round at {place}" for place in ("hall", "furnace")}
