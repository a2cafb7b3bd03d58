"""What a hurried person writes into a survey, on example houses: what the circuit can know of it, and what it then asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from subbase.catalog import load_catalog
from subbase.errors import Fault, InputError
from subbase.plan import Plan, make_plan
from subbase.plan.check import check_survey
from subbase.survey import read_survey
from tests.houses import EXAMPLES
from tests.web_jobs import visiting

PLAIN, STRIPS, TWO_SUPPLIES = "01-no-common-spare-blue", "12-heat-pump-with-strips", "03-two-transformers"
CATALOG = load_catalog()


def written(name: str, *changes: tuple[str, str]) -> bytes:
    """Return an example's text with slips in it; each must be there to be made."""
    text = (EXAMPLES / f"{name}.yaml").read_text("utf-8")
    for right, wrong in changes:
        assert right in text
        text = text.replace(right, wrong, 1)
    return text.encode()


def planned(name: str, *changes: tuple[str, str]) -> Plan:
    """Return the plan of an example with slips in it."""
    return make_plan(read_survey(written(name, *changes), "house.yaml", CATALOG), CATALOG)


def refused(name: str, *changes: tuple[str, str]) -> tuple[Fault, ...]:
    """Return what is said of an example whose slips the reader refuses."""
    with pytest.raises(InputError) as caught:
        read_survey(written(name, *changes), "house.yaml", CATALOG)
    return caught.value.faults


def asked(plan: Plan) -> str:
    """Return everything that a plan asks to look at again."""
    return " ".join([caution.text for caution in plan.cautions] + [x for c in plan.contradictions for x in (c.text, *c.would_agree)])  # fmt: skip


def test_colours_in_place_of_terminals_are_told_from_a_misspelling() -> None:
    """'red' is not taken for a misspelt R: the person is sent to the mark at the screw, at both ends of each conductor."""
    faults = refused(PLAIN, ("red: R\n", "red: red\n"), ("yellow: Y", "yellow: {from: yellow, to: yellow}"))
    assert [fault.where.rpartition(".")[0] for fault in faults] == [
        *["cables.wall.conductors.red"] * 2,
        *["cables.wall.conductors.yellow"] * 2,
    ]
    for fault in faults:
        assert "is a conductor here" in fault.message
        assert "write what is marked at the screw that it is under" in fault.message
        assert "did you mean" not in fault.message


def test_colours_in_a_reading_or_a_jumper_are_told_the_same() -> None:
    """Wherever a terminal is asked for."""
    for fault in refused(PLAIN, ("hall.R, hall.G", "hall.red, hall.green")):
        assert "is a conductor here" in fault.message
    (fault,) = refused(STRIPS, ("handler.R, pan switch.F1", "handler.red, pan switch.F1"))
    assert "is a conductor here" in fault.message


def test_a_terminal_that_is_named_like_a_colour_stays_a_terminal() -> None:
    """A conductor may be called after a letter, and a house is not refused for it."""
    assert planned(PLAIN, ("red: R\n", "R: R\n")).verdict == "planned"


def test_ends_of_two_conductors_the_wrong_way_round_are_asked_about() -> None:
    """With W and Y crossed at one end, heat would have run the compressor: the two conductors are named."""
    plan = planned(PLAIN, ("white: W", "white: {from: W, to: Y}"), ("yellow: Y", "yellow: {from: Y, to: W}"))
    text = plan.cautions[0].text
    assert text.startswith("As the survey has it, the house does not work today, in heat 1: gas valve")
    assert "It would work if white and yellow of wall are the other way round at hall or white and yellow" in text


def test_a_cable_that_is_written_from_the_other_end_is_the_same_cable() -> None:
    """From furnace to hall or from hall to furnace: where the letters are the same, nothing is lost by it."""
    right = planned(PLAIN)
    turned = planned(PLAIN, ("from: hall\n    to: furnace", "from: furnace\n    to: hall"))
    assert turned.controls[0].chosen.title == right.controls[0].chosen.title
    assert turned.proof is not None
    assert right.proof is not None
    assert turned.proof.margin == pytest.approx(right.proof.margin)


def test_the_two_ends_of_one_conductor_exchanged_are_refused() -> None:
    """An end at the wall that names the equipment is asked for the other way round."""
    faults = refused(PLAIN, ("red: R\n", "red: {from: furnace.R, to: hall.R}\n"))
    assert "are the two ends the other way round?" in faults[0].message


@pytest.mark.parametrize(
    ("name", "left_out"),
    [
        (STRIPS, "jumpers:\n  - [handler.R, pan switch.F1]\n"),
        (PLAIN, "      white: {from: C, to: C}\n"),
        (TWO_SUPPLIES, "      white: {from: fan centre.C, to: C}\n"),
    ],
)
def test_a_jumper_or_a_conductor_left_out_is_asked_about(name: str, left_out: str) -> None:
    """Without it the house could not have worked; that is said first, before the general cautions."""
    plan = planned(name, (left_out, ""))
    assert "does not work today" in plan.cautions[0].text
    assert "for a jumper that was left out" in plan.cautions[0].text


@pytest.mark.parametrize(
    ("name", "left_out", "said"),
    [
        (TWO_SUPPLIES, "      red: {from: fan centre.Y, to: Y}\n", "yellow of wall lands at both ends, dining.Y and fan centre.Y"),
        (PLAIN, "      red: {from: Y, to: Y}\n", "yellow of wall lands at both ends, hall.Y and furnace.Y"),
    ],
)  # fmt: skip
def test_a_call_that_ends_on_the_way_is_asked_about(name: str, left_out: str, said: str) -> None:
    """The conductor onwards was left out: the plan would give the call up, so it says which conductor it is about to take off."""
    text = planned(name, (left_out, "")).cautions[0].text
    assert text.startswith(said)
    assert "a call for cool 1 reaches nothing there" in text


def test_no_example_is_asked_about_without_a_reason() -> None:
    """None of the example houses, whatever is odd about it, is taken for one that cannot have worked."""
    for path in sorted(EXAMPLES.glob("*.yaml")):
        text = asked(make_plan(read_survey(path.read_bytes(), path.name, CATALOG), CATALOG))
        assert "does not work today" not in text, path.name
        assert "reaches nothing there" not in text, path.name
        assert "taken for each other" not in text, path.name


def test_the_survey_check_says_the_same_before_anything_is_planned() -> None:
    """``check-survey`` and the survey page tell it too."""
    survey = read_survey(written(STRIPS, ("jumpers:\n  - [handler.R, pan switch.F1]\n", "")), "house.yaml", CATALOG)
    (text,) = check_survey(survey, CATALOG).look_again
    assert "does not work today" in text


def test_the_survey_page_says_it_on_the_phone(tmp_path: Path) -> None:
    """Under its own heading, beside what is open."""
    text = written(PLAIN, ("white: W", "white: {from: W, to: Y}"), ("yellow: Y", "yellow: {from: Y, to: W}")).decode()
    with visiting(tmp_path, text=text) as visitor:
        page = visitor.get("survey").text
    assert "<h3>Look again</h3>" in page
    assert "It would work if white and yellow of wall are the other way round at hall" in page


@pytest.mark.parametrize(("wrong", "right"), [("2.7", "27 V"), ("0.27", "27 V"), ("0.262", "26.2 V")])
def test_a_decimal_point_in_the_wrong_place_is_named_first(wrong: str, right: str) -> None:
    """A reading that the house cannot give, and ten times it can: the plan stops, and this is what it asks first."""
    plan = planned(PLAIN, ("27.0", wrong))
    assert plan.verdict == "question"
    first = plan.contradictions[0].would_agree[0]
    assert first == f"hall.R to hall.G is {right} and the decimal point was written in the wrong place"


def test_240_for_24_is_taken_for_line_voltage() -> None:
    """Nobody is asked whether it is a slip before the circuit is safe."""
    plan = planned(PLAIN, ("27.0", "270"))
    assert plan.verdict == "stopped"
    assert plan.stops[0].seen.startswith("270 V was read at hall, R to G")


def test_a_reading_of_another_call_is_recognised() -> None:
    """0.1 V between R and G is what a call for the fan gives; the call was left out."""
    plan = planned(PLAIN, ("volts: 27.0", "volts: 0.1"))
    assert plan.verdict == "question"
    assert any("was read in cool 1" in change for change in plan.contradictions[0].would_agree)


def test_the_reading_of_another_conductor_is_a_contradiction() -> None:
    """Common read at the equipment and entered as the wall's blue, which lies loose there: the survey cannot give it."""
    plan = planned(PLAIN, ("- {between: [hall.R, hall.G], volts: 27.0}", "- {between: [furnace.R, furnace.C], volts: 0.0}"))  # fmt: skip
    assert plan.verdict == "question"
    assert "furnace.R to furnace.C with nothing called was read as 0.0 V" in plan.contradictions[0].text


@pytest.mark.parametrize(("plate", "said"), [("{va: 24}", "24 VA"), ("{va: 24, volts: 40}", "24 VA, 40 V")])
def test_volts_taken_for_va_are_asked_about(plate: str, said: str) -> None:
    """24 in the place of VA, or VA in the place of volts: the nameplate is to be read again."""
    change = ("{kind: gas-furnace-1, at: basement}", f"{{kind: gas-furnace-1, at: basement, nameplate: {{transformer: {plate}}}}}")  # fmt: skip
    plan = planned(PLAIN, change, ("readings:\n  - {between: [hall.R, hall.G], volts: 27.0}\n", ""))
    assert f"is given as {said}. Volts and VA are easily taken for each other" in asked(plan)


def test_more_volts_than_class_2_stops_the_plan() -> None:
    """40 V entered as the secondary's volts is refused by the rule, with its number."""
    change = ("{kind: gas-furnace-1, at: basement}", "{kind: gas-furnace-1, at: basement, nameplate: {transformer: {va: 40, volts: 40}}}")  # fmt: skip
    plan = planned(PLAIN, change, ("readings:\n  - {between: [hall.R, hall.G], volts: 27.0}\n", ""))
    assert plan.verdict == "stopped"
    assert any("Class 2 ends at 30 V" in reason for route in plan.refused for reason in route.reasons)


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("length: 45 ft", "length: 4500 ft", "is not the length of a cable"),
        ("length: 45 ft", "length: 45 inches", "is not the length of a cable"),
        ("gauge: 18", "gauge: 81", "American wire gauge"),
        ("units: us", "units: feet", "units"),
    ],
)
def test_lengths_and_gauges_that_cannot_be_are_refused(right: str, wrong: str, said: str) -> None:
    """With the field and the line of it, and what would be right."""
    (fault, *_more) = refused(PLAIN, (right, wrong))
    assert said in str(fault)


def test_feet_in_a_metric_survey_keep_their_own_unit() -> None:
    """A length that bears its unit means the same in either system."""
    assert planned(PLAIN).survey.cables == planned(PLAIN, ("units: us", "units: si")).survey.cables


@pytest.mark.parametrize(
    ("right", "wrong", "said"),
    [
        ("kind: gas-furnace-1", "kind: heat-pump-1-o", "'furnace' has no terminal 'G'"),
        ("kind: gas-furnace-1", "kind: oil-furnace", "'furnace' has no terminal"),
        ("kind: gas-furnace-1", "kind: boiler-steam", "'furnace' has no terminal"),
        ("kind: gas-furnace-1", "kind: gas furnace", "There is no kind 'gas furnace'; did you mean"),
    ],
)
def test_another_kind_of_equipment_shows_by_its_terminals(right: str, wrong: str, said: str) -> None:
    """A conductor lands on what that kind does not have."""
    assert any(said in fault.message for fault in refused(PLAIN, (right, wrong)))


def test_another_kind_with_the_same_terminals_shows_by_what_cannot_work() -> None:
    """A heat pump outdoors that is wired like an air conditioner could not have heated: it is asked about."""
    plan = planned(PLAIN, ("kind: condensing-unit-1", "kind: heat-pump-1-o"))
    assert "does not work today" in plan.cautions[0].text
