"""Calls that equipment could answer and no conductor carries: nothing after the work calls for them, or reads in them."""

from __future__ import annotations

from functools import cache

from subbase.catalog import load_catalog
from subbase.plan import Plan, make_plan
from subbase.survey import Survey, read_survey
from subbase.wiring import build_house, system_calls
from subbase.work.call_sequences import call_sequences
from subbase.work.checks import checks_for
from subbase.work.step_plan import work_plan

CATALOG = load_catalog()
HOUSE = """
survey: 1
name: Maple Yard 19 (invented)
units: us
equipment:
  furnace: {kind: gas-furnace-1, at: cellar}
  cooler: {kind: condensing-unit-1, at: yard}
  fresh air: {kind: ventilator, at: furnace}
  dryer: {kind: dehumidifier, at: cellar}
controls:
  hall:
    old: {terminals: [R, C, W, Y, G], power: common, asleep_va: 0.5, awake_va: 2}
    new: {terminals: [R, C, W1, Y1, G, HUM, DEHUM, VENT], power: common, asleep_va: 0.7, awake_va: 3}
cables:
  wall:
    from: hall
    to: furnace
    length: 42 ft
    conductors: {red: R, white: W, yellow: Y, green: G, blue: C, black: loose, brown: loose}
  yard:
    from: furnace
    to: cooler
    length: 25 ft
    conductors: {red: {from: Y, to: Y}, white: C}
  air:
    from: furnace
    to: fresh air
    length: 4 ft
    conductors: {red: {from: loose, to: V}, white: C}
wishes: [ventilate]
"""
WIRED = ("heat 1", "cool 1", "fan", "ventilate")


@cache
def plan() -> Plan:
    """Plan the house: a wish is wired on a spare conductor, the dryer stays as it is, which nothing calls."""
    made = make_plan(read_survey(HOUSE.encode(), "house.yaml", CATALOG), CATALOG)
    assert made.verdict == "planned"
    return made


def left() -> Survey:
    """Return the house as the plan leaves it."""
    found = plan().left
    assert found is not None
    return found


def test_the_house_as_left_says_what_is_not_wired() -> None:
    """The next one finds it in the survey of the house as left: the control could, its wiring could not."""
    assert left().controls["hall"].not_wired == ("dehumidify",)
    assert system_calls(left(), CATALOG, "hall") == WIRED
    assert "dehumidify" in system_calls(plan().survey, CATALOG, "hall")


def test_nothing_is_read_called_or_waited_for_in_it() -> None:
    """Neither the readings, nor the sequences to be watched, nor the steps name a call that reaches nothing."""
    assert {reading.state for reading in plan().readings} == {"off", *WIRED}
    assert {sequence.state.name() for sequence in call_sequences(left(), CATALOG)} == set(WIRED)
    titles = [step.title for step in work_plan(plan()).steps]
    assert "Call ventilate" in titles
    assert not [title for title in titles if "dehumidify" in title]


def test_a_call_that_is_said_not_to_be_wired_is_not_wanted() -> None:
    """A survey may say it of a control as found: then the plan does not keep it, and gives nothing up."""
    text = HOUSE.replace("    new:", "    not_wired: [fan]\n    new:")
    (item,) = make_plan(read_survey(text.encode(), "house.yaml", CATALOG), CATALOG).controls
    assert "fan" not in item.wanted
    assert "fan" not in item.chosen.lost


def test_a_conductor_with_both_ends_on_one_terminal_carries_nothing() -> None:
    """Whoever lands the ventilator's own loose conductor where the spare one belongs ties it to itself: told, and no fault of ours."""
    cable = left().cables["air"]
    red = cable.conductors["red"].model_copy(update={"from_": "fresh air.V", "to": "fresh air.V"})
    tied = cable.model_copy(update={"conductors": {**cable.conductors, "red": red}})
    house = build_house(left().model_copy(update={"cables": {**left().cables, "air": tied}}), CATALOG)
    assert "air/red" not in house.netlist.by_tag
    checks = checks_for(plan())
    assert [chosen for chosen in checks.checks if "hall.VENT" in str(chosen.check)]
