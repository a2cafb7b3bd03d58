"""Limits that hold whatever route is taken: volts, fuses, idle conductors, what is told as lost, readings that stop the job."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.plan.proof import prove
from subbase.plan.proven import Proof
from subbase.plan.screen import screen
from subbase.survey import Conductor, ConductorEnd, Reading, Survey, with_landing
from tests.houses import plan_of, survey_of

CATALOG = load_catalog()
SPARE, VALVES = "01-no-common-spare-blue", "05-two-motor-valves"


def proved(**supply: float) -> Proof:
    """Return the proof of the house with two valves as left, its transformer changed."""
    left = plan_of(VALVES).left
    assert left is not None
    changed = left.transformers["valve supply"].model_copy(update=supply)
    return prove(left.model_copy(update={"transformers": {"valve supply": changed}}), CATALOG)


def rules(proof: Proof) -> set[str]:
    """Return the rules that a proof breaks."""
    return {failure.rule for failure in proof.failures}


@pytest.mark.parametrize(
    ("volts", "regulation", "holds"),
    [(24.0, 0.125, True), (26.0, 0.125, True), (28.0, 0.125, False), (28.0, 0.05, True)],
)
def test_a_supply_is_class_2_by_its_volts_on_no_load(volts: float, regulation: float, holds: bool) -> None:
    """What it gives with nothing on counts, not its nameplate: 28 V and an eighth are over 30 V (NFPA 70 table 11(A))."""
    assert ("class 2" not in rules(proved(volts=volts, regulation=regulation))) == holds


@pytest.mark.parametrize(("most_v", "holds"), [(30.0, True), (26.0, False)])
def test_a_control_is_not_fed_more_than_it_stands(most_v: float, holds: bool) -> None:
    """The line 10 % high counts, and the control is named with what it would be fed."""
    left = plan_of(SPARE).left
    assert left is not None
    control = left.controls["hall"]
    frail = control.model_copy(update={"old": control.old.model_copy(update={"most_v": most_v})})
    proof = prove(left.model_copy(update={"controls": {"hall": frail}}), CATALOG)
    told = [failure.text for failure in proof.failures if failure.rule == "control overvolted"]
    assert (not told) == holds
    assert all("hall would be fed" in text and f"it stands {most_v:.1f} V" in text for text in told)


def test_a_smaller_fuse_takes_the_margin_and_then_refuses() -> None:
    """The margin is the fuse's once that is the nearest limit, falls with it, and is negative when the fuse would blow."""
    large, near, small = (proved(fuse_a=fuse_a) for fuse_a in (10.0, 0.55, 0.2))
    assert "fuse" not in large.margin_words
    assert large.margin >= near.margin > small.margin
    assert "fuse" in small.margin_words
    assert small.margin < 0.0
    assert "fuse" in rules(small)
    assert "fuse" not in rules(large)


def with_idle(far: str, near: str = "loose") -> Survey:
    """Return a house with one conductor more than is needed."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    wall = house.cables["wall"]
    conductors = {
        **wall.conductors,
        "blue": Conductor(from_="loose", to="furnace.C"),
        "brown": Conductor(from_=near, to=far),
    }
    cable = wall.model_copy(update={"conductors": conductors})
    return house.model_copy(update={"cables": {**house.cables, "wall": cable}})


@pytest.mark.parametrize(
    ("near", "far", "left"),
    [
        ("loose", "furnace.R", ("loose", "loose")),
        ("hall.W", "furnace.R", ("loose", "loose")),
        ("loose", "furnace.G", ("loose", "furnace.G")),
        ("cut short", "furnace.R", ("cut short", "loose")),
        ("loose", "cut short", ("loose", "cut short")),
    ],
)
def test_an_idle_conductor_is_never_left_live(near: str, far: str, left: tuple[str, str]) -> None:
    """On R it is taken off; where it makes nothing live it stays; what is cut short stays cut short."""
    chosen = make_plan(with_idle(far, near)).controls[0].chosen
    (brown,) = (landing for landing in chosen.landings if landing.conductor == "brown")
    assert brown.carries == "nothing"
    assert (brown.wall_left, brown.far_left) == left


def test_only_what_works_today_can_be_given_up() -> None:
    """Cooling that was never wired through is not told as lost; the fan's own call is, where its conductor is taken."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    end = ConductorEnd(cable="wall", conductor="yellow", end="from")
    (item,) = make_plan(with_landing(house, end, "loose")).controls
    lost = {route.name: route.lost for route in item.routes if route.offered}
    assert lost["fan conductor given up"] == ("fan",)
    assert lost["spare conductor"] == ()


def test_a_reading_that_stops_the_job_stops_it_whatever_was_read_before() -> None:
    """Ohms, or volts at the equipment, written first do not hide line voltage at the wall."""
    first = (
        Reading(between=("hall.R", "hall.W"), ohms=30.0),
        Reading(between=("furnace.R", "furnace.C"), volts=26.0),
    )
    line = Reading(between=("hall.R", "hall.W"), volts=121.0)
    house = survey_of(SPARE)
    assert screen(house.model_copy(update={"readings": first})) == ()
    (stop,) = screen(house.model_copy(update={"readings": (*first, line)}))
    assert "121 V was read at hall" in stop.seen


def test_a_control_that_stays_stops_nothing() -> None:
    """Only what is to be taken off the wall is judged: another room's line-voltage control is left alone."""
    valves = survey_of(VALVES)
    (name, one), (other, second) = valves.controls.items()
    stays = second.model_copy(update={"new": None, "old": second.old.model_copy(update={"wiring": "line voltage"})})
    house = valves.model_copy(update={"controls": {name: one, other: stays}})
    assert screen(house) == ()
    replaced = stays.model_copy(update={"new": second.new})
    assert screen(house.model_copy(update={"controls": {name: one, other: replaced}})) != ()
