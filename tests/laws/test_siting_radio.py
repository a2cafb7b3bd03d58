"""Laws of the radio's reckoning: farther, more walls, more floors never louder; bounds in order; grades in order."""

from __future__ import annotations

from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.siting.apertures import Spot
from subbase.siting.radio import BUILDS, Bounds, path_loss_db, wall_loss_db
from subbase.siting.radio_path import Grade, between, graded, radio_verdict
from subbase.survey.rooms import Room, Site

SOME = settings(max_examples=150, deadline=None, derandomize=True, database=None)
GRADES = get_args(Grade)


@SOME
@given(st.floats(1, 60), st.floats(0, 40), st.integers(0, 4), st.floats(0, 30), st.floats(0, 10))
def test_more_in_the_way_never_lessens_the_loss(
    far: float, more: float, floors: int, walls: float, wall: float
) -> None:
    """Longer, one more floor, or a wall that takes more: neither bound of the loss gets smaller, and they stay in order."""
    before = path_loss_db(far, floors, Bounds(walls, walls + 3.0))
    for after in (
        path_loss_db(far + more, floors, Bounds(walls, walls + 3.0)),
        path_loss_db(far, floors + 1, Bounds(walls, walls + 3.0)),
        path_loss_db(far, floors, Bounds(walls + wall, walls + 3.0 + wall)),
    ):
        assert after.low >= before.low - 1e-9
        assert after.high >= before.high - 1e-9
        assert after.low <= after.high


@pytest.mark.parametrize("material", [*BUILDS, "unknown"])
def test_a_wall_takes_something_and_its_bounds_are_in_order(material: str) -> None:
    """Every wall takes between half a decibel and twenty."""
    found = wall_loss_db(material)
    assert 0.5 < found.low <= found.high < 20.0


@SOME
@given(st.floats(-110, -20), st.floats(0, 40), st.floats(0, 30))
def test_a_louder_level_is_never_graded_worse(low: float, width: float, more: float) -> None:
    """Raise both bounds of a level: its grade stays or gets better."""
    before, after = graded(Bounds(low, low + width)), graded(Bounds(low + more, low + width + more))
    assert GRADES.index(after) <= GRADES.index(before)


def house(**rooms: dict[str, object]) -> Site:
    """Return a house of rooms with the radio in the first."""
    first = next(iter(rooms))
    data = {"access_point": {"room": first, "at": (1, 1), "height": 1, "power_dbm": 20}, "rooms": rooms}
    return Site.model_validate(data)


def test_two_faces_of_one_wall_are_one_wall() -> None:
    """Two rooms drawn with the thickness of the wall between them have one wall between them, of the material that is known."""
    site = house(a={"size": (4, 4), "walls_of": "brick"}, b={"at": (4.2, 0), "size": (4, 4)})
    assert between(site, (1, 1), (6, 2), (1, 1)) == (("brick",), 0.0)
    assert between(site, (1, 1), (3, 3), (1, 1)) == ((), 0.0)


def test_a_room_that_was_not_drawn_is_told_and_makes_the_worst_worse() -> None:
    """Between two rooms with six metres between them that nobody drew, the way counts as unseen."""
    site = house(a={"size": (4, 4), "walls_of": "wood"}, b={"at": (10, 0), "size": (4, 4), "walls_of": "wood"})
    walls, unseen = between(site, (2, 2), (12, 2), (1, 1))
    assert walls == ("wood", "wood")
    assert unseen == pytest.approx(6.0)
    near = house(a={"size": (10, 4), "walls_of": "wood"}, b={"at": (10, 0), "size": (4, 4), "walls_of": "wood"})
    spot = Spot(12.0, 2.0, 1.0)
    far_level, near_level = (radio_verdict(s, s.rooms["b"], spot, None) for s in (site, near))
    assert far_level is not None
    assert near_level is not None
    assert far_level.level_dbm.low < near_level.level_dbm.low


def test_a_reading_beats_the_reckoning() -> None:
    """With a reading at the spot nothing is reckoned; without reading or radio there is no verdict."""
    site = house(a={"size": (4, 4)})
    found = radio_verdict(site, site.rooms["a"], Spot(2, 2, 1.5), -60.0)
    assert found is not None
    assert found.measured
    assert found.level_dbm == Bounds(-70.0, -55.0)
    alone = Site(rooms={"a": Room.model_validate({"size": (4, 4)})})
    assert radio_verdict(alone, alone.rooms["a"], Spot(2, 2, 1.5), None) is None


def test_storeys_are_crossed_one_after_another() -> None:
    """On the way up two storeys the middle storey's wall is met only where the line is on that storey."""
    wall = {"size": (9, 4), "walls_of": "brick"}
    site = house(
        low={"floor": 0, "size": (9, 4)}, mid={"floor": 1, "size": (4.5, 4), "walls_of": "brick"},
        mid2={"floor": 1, "at": (4.5, 0), "size": (4.5, 4), "walls_of": "brick"}, high={"floor": 2, **wall},
    )  # fmt: skip
    assert between(site, (1, 2), (8, 2.1), (0, 2))[0] == ("brick",)
    assert between(site, (1, 2), (2, 2.1), (0, 2))[0] == ()
