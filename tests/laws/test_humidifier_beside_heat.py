"""A humidifier fed beside the heat call, as many are: the house works, and no call is given up that nobody could make."""

from __future__ import annotations

from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.survey import read_survey

CATALOG = load_catalog()
HOUSE = """
survey: 1
name: Birch Court 3 (invented)
units: us
equipment:
  furnace: {kind: gas-furnace-2, at: cellar}
  cooler: {kind: condensing-unit-1, at: yard}
  humidifier: {kind: humidifier, at: furnace}
controls:
  hall:
    old: {terminals: [R, W1, W2, Y, G]}
    new: {terminals: [Rh, Rc, C, W1, W2, Y1, G, HUM], supplies: joined, power: common, asleep_va: 0.7, awake_va: 3}
cables:
  wall:
    from: hall
    to: furnace
    length: 42 ft
    conductors: {red: R, white: {from: W1, to: W1}, brown: {from: W2, to: W2}, yellow: Y, green: G}
  yard:
    from: furnace
    to: cooler
    length: 25 ft
    conductors: {red: {from: Y, to: Y}, white: C}
  humidity:
    from: furnace
    to: humidifier
    length: 5 ft
    conductors: {black: {from: W1, to: HUM}, white: C}
"""


def test_a_humidifier_may_run_while_it_heats() -> None:
    """Fed from the heat terminal it is on with heat today and after; that is no fault, and humidify is no call given up."""
    plan = make_plan(read_survey(HOUSE.encode(), "house.yaml", CATALOG), CATALOG)
    assert plan.verdict == "planned"
    (item,) = plan.controls
    assert item.wanted == ("heat 1", "heat 2", "cool 1", "fan")
    assert item.chosen.lost == ()
    assert not [caution for caution in plan.cautions if "does not work today" in caution.text]
    assert item.chosen.proof is not None
    assert item.chosen.proof.holds


def test_a_humidifier_that_runs_while_it_cools_is_told() -> None:
    """Landed on the cooling terminal it would wet cold coils: the house is said not to work as it was surveyed."""
    wrong = HOUSE.replace("black: {from: W1, to: HUM}", "black: {from: Y, to: HUM}")
    plan = make_plan(read_survey(wrong.encode(), "house.yaml", CATALOG), CATALOG)
    assert [caution for caution in plan.cautions if "must not do" in caution.text]
