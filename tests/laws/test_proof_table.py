"""What a proof shows and what must then be read: loads that are on or ought to be, letting go, terminals, nets."""

from __future__ import annotations

from typing import Any

import pytest

from subbase.catalog import load_catalog
from subbase.plan.nets import Nets
from subbase.plan.proof import Proved, prove, watched_proofs
from subbase.plan.proven import Proof
from subbase.plan.readings import expected_readings
from subbase.survey import Cable, Conductor, ConductorEnd, Control, Jumper, Profile, Survey, with_landing
from tests.houses import NAMES, plan_of, survey_of

CATALOG = load_catalog()
SPARE, TWO_SUPPLIES, VALVES = "01-no-common-spare-blue", "03-two-transformers", "05-two-motor-valves"
PLANNED = tuple(name for name in NAMES if plan_of(name).left is not None)


def left_of(name: str) -> Survey:
    """Return the house as its plan leaves it."""
    left = plan_of(name).left
    assert left is not None
    return left


def landed(survey: Survey, conductor: str, end: Any, landing: str) -> Survey:
    """Return a house with one end of a conductor of the cable ``wall`` on another terminal."""
    return with_landing(survey, ConductorEnd(cable="wall", conductor=conductor, end=end), landing)


def sealed_v(proof: Proof, state: str) -> dict[str, float]:
    """Return the volts of every load that a state shows."""
    (found,) = (item for item in proof.states if item.state.name() == state)
    return {load.tag: load.sealed_v for load in found.loads}


def test_a_load_that_ought_to_be_on_is_shown_though_it_is_dead() -> None:
    """With R off, the gas valve stands in the table of heat with the volts that it has: none."""
    proof = prove(landed(left_of(SPARE), "red", "to", "loose"), CATALOG)
    assert not proof.holds
    assert sealed_v(proof, "heat 1")["furnace/gas-valve"] == pytest.approx(0.0)


def test_a_load_that_ought_to_be_off_is_shown_when_it_is_on() -> None:
    """With heat and cooling exchanged at the furnace, the compressor stands in the table of heat."""
    crossed = landed(landed(left_of(SPARE), "white", "to", "furnace.Y"), "yellow", "to", "furnace.W")
    volts = sealed_v(prove(crossed, CATALOG), "heat 1")
    assert volts["outdoor/contactor"] > 20.0
    assert volts["furnace/gas-valve"] == pytest.approx(0.0, abs=1.0)


@pytest.mark.parametrize(("leak_ma", "held"), [(0.0, False), (0.5, False), (10.0, True)])
def test_outputs_that_leak_may_hold_a_load_in_after_the_call(leak_ma: float, held: bool) -> None:
    """Some milliamperes through an open output keep a board's input in; that refuses the wiring, and names the input."""
    house = left_of(SPARE)
    control = house.controls["hall"]
    leaky = control.model_copy(update={"old": control.old.model_copy(update={"leak_ma": leak_ma})})
    proof = prove(house.model_copy(update={"controls": {"hall": leaky}}), CATALOG)
    stuck = [failure.text for failure in proof.failures if failure.rule == "does not let go"]
    assert bool(stuck) == held == (not proof.holds)
    assert all("stays on after the call: leakage holds" in text for text in stuck)
    if held:
        assert any("heat input of the board (furnace)" in text for text in stuck)


def test_every_proof_inside_a_watched_block_is_told_and_none_outside() -> None:
    """Who watches learns what was asked, and what came of it."""
    house, seen = left_of(SPARE), list[Proved]()
    with watched_proofs(seen.append):
        proof = prove(house, CATALOG, about="hall", patient=False)
    prove(house, CATALOG)
    assert seen == [Proved(house, "hall", False, proof)]


def test_the_readings_to_take_are_of_every_terminal_that_something_lands_on() -> None:
    """At the wall and at each piece of equipment, against the common there; not of bare terminals, nor of a common to itself."""
    readings = expected_readings(left_of(SPARE), CATALOG)
    wall = {(f"hall.{terminal}", "hall.C") for terminal in ("R", "W1", "Y1", "G")}
    furnace = {(f"furnace.{terminal}", "furnace.C") for terminal in ("R", "W", "Y", "G")}
    every = wall | furnace | {("outdoor.Y", "outdoor.C")}
    states = {reading.state for reading in readings}
    assert states == {"off", "heat 1", "cool 1", "fan"}
    assert sorted((r.state, r.between) for r in readings) == sorted((state, pair) for state in states for pair in every)


def test_at_a_control_without_common_its_supply_is_what_outputs_are_read_against() -> None:
    """An old control has R and its outputs; with the output open the whole supply is read across it."""
    house = survey_of(SPARE)
    readings = {(r.state, r.between): r for r in expected_readings(house, CATALOG)}
    assert {pair for _state, pair in readings if pair[0].startswith("hall.")} == {
        ("hall.R", f"hall.{terminal}") for terminal in ("W", "Y", "G")
    }
    quiet, called = readings["off", ("hall.R", "hall.W")], readings["heat 1", ("hall.R", "hall.W")]
    assert quiet.volts > 24.0
    assert called.volts < 1.0


@pytest.mark.parametrize("name", PLANNED)
def test_no_terminal_is_read_against_itself(name: str) -> None:
    """Each reading has two leads on two terminals."""
    assert all(len(set(reading.between)) == 2 for reading in plan_of(name).readings)


def test_a_supply_and_its_common_are_landed_on_their_own_terminals() -> None:
    """Not on whatever else is joined to them: the link of a fan that always runs, or a valve's own common."""
    house = survey_of(SPARE)
    linked = house.model_copy(update={"jumpers": (Jumper(between=("furnace.G", "furnace.R")),)})
    nets = Nets(linked, CATALOG, "hall")
    assert nets.points_at(nets.net("furnace.R"), "furnace") == ["furnace.R", "furnace.G"]
    upstairs = plan_of(VALVES).controls[1].chosen
    assert [x.far_left for x in upstairs.landings if x.carries == "common"] == ["valve supply.common"]


@pytest.mark.parametrize("supplies", ["joined", "separate"])
def test_another_control_that_joins_rh_and_rc_inside_joins_what_lands_on_them(supplies: str) -> None:
    """Two transformers at a control that stays are one net where it links them, and two where it keeps them apart."""
    house = survey_of(TWO_SUPPLIES)
    old = Profile.model_validate({"terminals": ("Rh", "Rc", "W", "Y", "G"), "supplies": supplies})
    cable = Cable(
        from_="study", to="furnace", length_m=10.0, gauge_awg=18,
        conductors={
            "a": Conductor(from_="study.Rh", to="furnace.R"), "b": Conductor(from_="study.Rc", to="fan centre.R"),
        },
    )  # fmt: skip
    house = house.model_copy(
        update={
            "controls": {**house.controls, "study": Control(old=old)},
            "cables": {**house.cables, "to study": cable},
        }
    )
    nets = Nets(house, CATALOG, "dining")
    assert (nets.net("furnace.R") == nets.net("fan centre.R")) == (supplies == "joined")
