"""What part equipment plays in heating where a survey does not say: beside a heat pump, and elsewhere."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from subbase.catalog import load_catalog
from subbase.errors import InputError
from subbase.plan import make_plan
from subbase.survey import Survey, read_survey
from subbase.survey.file_form import file_form

CATALOG = load_catalog()
HOUSE = """
survey: 1
name: Cedar Close 12 (invented)
units: us
equipment:
  handler: {kind: air-handler-strips-2}
  outdoor: {kind: heat-pump-1-o}
controls:
  landing:
    old: {terminals: [R, Y, G, O, W2, E]}
    new: {terminals: [R, C, Y1, G, O/B, W1, W2], power: common, asleep_va: 0.8, awake_va: 3.5}
cables:
  wall:
    from: landing
    to: handler
    length: 55 ft
    conductors:
      red: R
      yellow: Y
      green: G
      orange: O
      white: {from: W2, to: W1}
  outside:
    from: handler
    to: outdoor
    length: 40 ft
    conductors:
      red: R
      blue: C
      yellow: Y
      orange: O
      white: {from: W1, to: W}
"""


def house(**equipment: dict[str, Any]) -> Survey:
    """Read the house with other equipment; only what stands in it matters here."""
    data = yaml.safe_load(HOUSE)
    data["equipment"] = equipment
    data["cables"] = {}
    return read_survey(yaml.safe_dump(data).encode(), "house.yaml", CATALOG)


@pytest.mark.parametrize(
    ("beside", "kind", "role"),
    [
        ("heat-pump-1-o", "air-handler-strips-1", "auxiliary"),
        ("heat-pump-2-b", "electric-heat-relay", "auxiliary"),
        ("heat-pump-1-o", "gas-furnace-2", "second fuel"),
        ("heat-pump-1-o", "boiler-start-pair", "second fuel"),
        ("heat-pump-1-o", "air-handler", "main"),
        ("heat-pump-1-o", "humidifier", "main"),
        ("heat-pump-1-o", "heat-pump-1-b", "main"),
        ("condensing-unit-1", "air-handler-strips-1", "main"),
        ("condensing-unit-1", "gas-furnace-1", "main"),
    ],
)
def test_what_stands_beside_a_heat_pump_helps_it_or_takes_over(beside: str, kind: str, role: str) -> None:
    """Strips help the compressor, a burner takes over; without a heat pump, or without heat of its own, nothing changes."""
    survey = house(one={"kind": kind}, outdoor={"kind": beside})
    assert (survey.equipment["one"].role, survey.equipment["outdoor"].role) == (role, "main")


def test_what_is_written_is_not_changed_and_is_written_out_again() -> None:
    """A role that somebody wrote stands, also through a file of the program's own."""
    survey = house(one={"kind": "gas-furnace-1", "role": "main"}, outdoor={"kind": "heat-pump-1-o"})
    assert survey.equipment["one"].role == "main"
    again = read_survey(yaml.safe_dump(file_form(survey)).encode(), "again.yaml", CATALOG)
    assert again == survey


def test_equipment_of_another_control_is_not_beside_it() -> None:
    """A boiler that works for one control and a heat pump for another do not know of each other."""
    data = yaml.safe_load(HOUSE)
    data["controls"]["den"] = {"old": {"terminals": ["R", "W"]}}
    data["cables"] = {}
    data["equipment"] = {
        "boiler": {"kind": "boiler-gas-circuit", "serves": ["den"]},
        "outdoor": {"kind": "heat-pump-1-o", "serves": ["landing"]},
    }
    survey = read_survey(yaml.safe_dump(data).encode(), "house.yaml", CATALOG)
    assert survey.equipment["boiler"].role == "main"


def test_a_kind_that_is_not_known_yet_counts_where_all_it_may_be_agree() -> None:
    """Whichever changeover the heat pump has, and however many strips, they are its auxiliary heat."""
    strips = {"either": ["air-handler-strips-1", "air-handler-strips-2"]}
    pump = {"either": ["heat-pump-1-o", "heat-pump-1-b"]}
    assert house(one={"kind": strips}, outdoor={"kind": pump}).equipment["one"].role == "auxiliary"
    perhaps = {"either": ["heat-pump-1-o", "condensing-unit-1"]}
    assert house(one={"kind": strips}, outdoor={"kind": perhaps}).equipment["one"].role == "main"


def test_a_role_that_is_none_is_told_and_not_filled_in() -> None:
    """What somebody mistyped is a fault of its own, not something left out."""
    with pytest.raises(InputError, match="auxiliary"):
        house(one={"kind": "air-handler-strips-1", "role": "backup"}, outdoor={"kind": "heat-pump-1-o"})


def test_a_heat_pump_s_control_without_w1_calls_its_strips_at_w2() -> None:
    """The house works today as it was surveyed, and the plan keeps auxiliary and emergency heat; nothing has to be looked at again."""
    plan = make_plan(read_survey(HOUSE.encode(), "house.yaml", CATALOG), CATALOG)
    assert plan.verdict == "planned"
    (item,) = plan.controls
    wanted = {"heat 1", "cool 1", "fan", "auxiliary heat 1", "emergency heat 1"}
    assert wanted <= set(item.wanted) - set(item.chosen.lost)
    assert not [caution for caution in plan.cautions if "does not work today" in caution.text]
