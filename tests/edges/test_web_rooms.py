"""Rooms sketched in the app: taps and fields become the survey's own words, and the places are judged."""

from __future__ import annotations

import pytest

from subbase.web.rooms_form import with_room_fields
from subbase.web.rooms_sketch import act_on_rooms, rooms_of, with_room, with_tap
from subbase.web.survey_document import Document, at, joined, read_document
from tests.web_jobs import Visitor

HALL = ((0.0, 0.0), (0.0, 14.0), (16.0, 14.0), (16.0, 0.0))
BEND = ((20.0, 0.0), (20.0, 10.0), (26.0, 10.0), (26.0, 6.0), (32.0, 6.0), (32.0, 0.0))


@pytest.fixture
def house() -> Document:
    """A hall of 16 by 14 ft and a room with a bend beside it."""
    made = with_room({"survey": "1", "name": "sketch", "units": "us"}, HALL, name="hall")
    return with_room(made, BEND, name="bend")


def test_four_square_corners_become_a_rectangle_and_others_a_polygon(house: Document) -> None:
    """Both read back as the rooms that were drawn."""
    assert at(house, "site", "rooms", "hall", "size") == ["16", "14"]
    site, faults = rooms_of(house)
    assert not faults
    assert site is not None
    corners = [(x / 0.3048, y / 0.3048) for x, y in site.site.rooms["bend"].outline()]
    assert corners == [pytest.approx(corner) for corner in BEND]


@pytest.mark.parametrize("corners", [(), HALL[:2], ((0.0, 0.0), (0.0, 5.0), (0.0, 9.0)), ((0.0, 0.0),) * 5])
def test_corners_that_enclose_nothing_make_no_room(house: Document, corners: tuple[tuple[float, float], ...]) -> None:
    """The document stays as it was."""
    assert with_room(house, corners) == house


def test_a_window_is_put_on_the_nearest_wall_round_the_tap(house: Document) -> None:
    """Its middle is where the finger was, measured from the wall's left end as seen from inside."""
    made, said = with_tap(house, "window", 0.4, 9.0)
    assert not said
    window = at(made, "site", "rooms", "hall", "windows", "0")
    assert window == {"wall": "left", "along": "7.5", "width": "3", "sill": "2.5", "head": "7"}


def test_what_overlaps_a_corner_is_moved_onto_its_wall(house: Document) -> None:
    """A door tapped at the very end of a wall still lies within it."""
    made, _said = with_tap(house, "door", 16.0, 0.2)
    door = at(made, "site", "rooms", "hall", "doors", "0")
    assert door["wall"] in ("right", "bottom")
    site, faults = rooms_of(made)
    assert site is not None
    assert not faults


def test_a_lamp_stands_where_it_was_tapped(house: Document) -> None:
    """Off every wall it is measured from the room's lower left corner."""
    made, _said = with_tap(house, "lamp", 22.0, 3.0)
    assert at(made, "site", "rooms", "bend", "things", "0") == {"kind": "lamp", "at": ["2", "3"]}


@pytest.mark.parametrize(
    ("tool", "x", "y", "said"),
    [
        ("window", 8.0, 7.0, "Tap nearer to a wall."),
        ("radio", 60.0, 60.0, "Tap inside a room."),
        ("anvil", 1, 1, "Draw a room first."),
    ],
)
def test_a_tap_that_fits_nowhere_says_why(house: Document, tool: str, x: float, y: float, said: str) -> None:
    """Nothing is put down."""
    assert with_tap(house, tool, x, y) == (house, said)


def test_taking_out_the_last_room_takes_out_the_rest(house: Document) -> None:
    """A radio goes with the room that it stood in."""
    made, _said = with_tap(house, "radio", 8.0, 7.0)
    made, _said = act_on_rooms(made, joined("remove", "site", "rooms", "hall"), {}, floor=1)
    assert at(made, "site", "access_point") is None
    made, _said = act_on_rooms(made, joined("remove", "site", "rooms", "bend"), {}, floor=1)
    assert "site" not in made


def test_fields_correct_what_was_tapped(house: Document) -> None:
    """A size that must be known stays when its field is emptied; a room's new name goes with its radio."""
    made, _said = with_tap(house, "window", 0.4, 9.0)
    made, _said = with_tap(made, "radio", 8.0, 7.0)
    window = ("site", "rooms", "hall", "windows", "0")
    made = with_room_fields(
        made,
        [
            (joined("r", *window, "width"), "5 ft 3 in"),
            (joined("r", *window, "sill"), ""),
            (joined("r", "site", "north"), "25"),
            (joined("r", "site", "rooms", "hall", "height"), "8 ft 6 in"),
            (joined("s", "site", "rooms", "hall", "outside"), "asked"),
            (joined("s", "site", "rooms", "hall", "outside"), "left"),
            (joined("n", "site", "rooms", "hall"), "entrance"),
            (joined("r", "controls", "wall", "old"), "nothing of the sketch"),
        ],
    )
    hall = at(made, "site", "rooms", "entrance")
    assert hall["windows"][0]["width"] == "5 ft 3 in"
    assert hall["windows"][0]["sill"] == "2.5"
    assert hall["outside"] == ["left"]
    assert at(made, "site", "access_point", "room") == "entrance"
    assert list(made["site"]["rooms"]) == ["entrance", "bend"]
    assert "controls" not in made
    assert not rooms_of(made)[1]


def test_a_house_is_sketched_corrected_and_judged_in_the_app(visitor: Visitor) -> None:
    """From an empty sheet to a verdict, by the page's own forms."""
    assert "A room by numbers" in visitor.get("survey/rooms").text
    visitor.post("survey/rooms", {"do": "room", "x/corners": "0,0 0,14 16,14 16,0", "x/name": "hall"})
    visitor.post("survey/rooms", {"do": "tap", "x/tool": "window", "x/x": "0.3", "x/y": "7"})
    visitor.post("survey/rooms", {"do": "tap", "x/tool": "place", "x/x": "15.8", "x/y": "8"})
    said = visitor.post("survey/rooms", {"do": "tap", "x/tool": "door", "x/x": "8", "x/y": "7"})
    assert "Tap nearer to a wall." in said.text
    document = read_document(visitor.state.survey.text)
    assert document is not None
    assert at(document, "site", "rooms", "hall", "windows", "0", "wall") == "left"
    assert "hall" in visitor.get("survey/rooms").text
    verdict = visitor.get("survey/rooms/verdict").text
    assert "Places, best first" in verdict
    assert "<svg" in verdict


@pytest.mark.parametrize("corners", ["1", "nan,nan 1,1 2,2", "1e9,1 2,2 3,9", "a,b", "0,0 " * 900])
def test_corners_that_are_no_numbers_change_nothing(visitor: Visitor, corners: str) -> None:
    """The page says so and the survey stands."""
    before = visitor.state.survey.text
    answer = visitor.post("survey/rooms", {"do": "room", "x/corners": corners})
    assert answer.status_code == 200
    assert visitor.state.survey.text == before
