"""Rooms drawn by tapping: what each tap and each button does to a survey's document.

Everything is kept as it would be typed, in the survey's own unit of length, so that the text stays readable. Sizes that a
tap cannot give are put in as usual (judgement) and stand in the form, to be measured and corrected.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import hypot

from subbase.errors import Fault, InputError
from subbase.siting.radio_path import inside
from subbase.survey.rooms import LONGEST_M, Point, Room, Site, Wall, signed_area
from subbase.survey.rooms_reading import SiteFile, read_site
from subbase.units import METRES_PER_FOOT
from subbase.web.survey_document import Document, at, document_text, fresh_name, listed, named, put, split
from subbase.words import _, mark

HELD = ("name", "units", "place", "site")
WALL_WITHIN_M = 0.5
"""A tap so near a wall is on it."""
FAR_M = 1.5
"""What can only be on a wall takes the nearest one, up to so far away."""
MOST_CORNERS = 40


@dataclass(frozen=True, slots=True)
class Tool:
    """One thing that a tap can put down."""

    name: str
    title: str
    group: str
    """Where it goes in a room: ``windows``, ``doors``, ``things``, ``candidates``, ``furniture``, or ``access_point``."""
    letter: str
    """That stands for it on the sketch."""
    on: str = "either"
    """``wall``, ``floor``, or either, whichever the tap is nearer to."""
    width_m: float = 0.0
    extra_m: tuple[tuple[str, float], ...] = ()
    """Further lengths that it needs, as usual [m]."""


FT = METRES_PER_FOOT
TOOLS: tuple[Tool, ...] = (
    Tool("place", mark("Place for the control"), "candidates", "?", "wall"),
    Tool("window", mark("Window"), "windows", "", "wall", 3 * FT, (("sill", 2.5 * FT), ("head", 7 * FT))),
    Tool("door", mark("Door"), "doors", "", "wall", 2.5 * FT),
    Tool("supply register", mark("Register, air out"), "things", "S", width_m=1 * FT),
    Tool("return", mark("Return, air in"), "things", "N", width_m=1.5 * FT),
    Tool("radiator", mark("Radiator"), "things", "H", "wall", 3 * FT),
    Tool("baseboard heater", mark("Baseboard heater"), "things", "B", "wall", 4 * FT),
    Tool("fireplace", mark("Fireplace"), "things", "F", width_m=4 * FT),
    Tool("stove", mark("Stove"), "things", "O", width_m=2 * FT),
    Tool("range", mark("Kitchen range"), "things", "K", width_m=2.5 * FT),
    Tool("refrigerator", mark("Refrigerator"), "things", "I", width_m=2.5 * FT),
    Tool("lamp", mark("Lamp"), "things", "L"),
    Tool("electronics", mark("Television and the like"), "things", "E", width_m=3 * FT),
    Tool("stairs from below", mark("Stairs from below"), "things", "U", "floor"),
    Tool("flue", mark("Flue in the wall"), "things", "C", "wall", 1.5 * FT),
    Tool("hot pipe", mark("Hot pipe in the wall"), "things", "P", "wall"),
    Tool("power cable", mark("Power cable in the wall"), "things", "Z", "wall"),
    Tool("radio", mark("Radio of the house network"), "access_point", "r", "floor"),
)
BY_NAME: Mapping[str, Tool] = {tool.name: tool for tool in TOOLS}


def unit_m(document: Document) -> float:
    """Return the length of the survey's unit [m]."""
    return 1.0 if document.get("units") == "si" else METRES_PER_FOOT


def grid(document: Document) -> float:
    """Return what corners snap to, in the survey's unit: half a foot, or a tenth of a metre."""
    return 0.1 if document.get("units") == "si" else 0.5


def rooms_of(document: Document) -> tuple[SiteFile | None, tuple[Fault, ...]]:
    """Return the rooms of a document as they can be read, or what is wrong with them; neither when there are none."""
    if not named(document, "site"):
        return None, ()
    text = document_text({word: document[word] for word in HELD if word in document})
    try:
        return read_site(text.encode(), "survey"), ()
    except InputError as error:
        return None, error.faults


def written(length_m: float, document: Document) -> str:
    """Return a length as a survey writes it, to a hundredth of its unit."""
    return f"{length_m / unit_m(document):.2f}".rstrip("0").rstrip(".") or "0"


def with_room(document: Document, corners: Sequence[Point], *, floor: int = 1, name: str = "") -> Document:
    """Return the document with a room by its corners in turn, in the survey's unit; one that encloses nothing is left out."""
    found = tuple(
        corner for n, corner in enumerate(corners[:MOST_CORNERS]) if corner != corners[n - 1] or len(corners) == 1
    )
    most = LONGEST_M / unit_m(document)
    if len(found) < 3 or abs(signed_area(found)) < 2 * grid(document) ** 2:
        return document
    if any(abs(x) > most or abs(y) > most for x, y in found):
        return document
    x0, y0 = min(x for x, _y in found), min(y for _x, y in found)
    room: dict[str, object] = {"floor": str(floor)} if floor != 1 else {}
    room["at"] = [_plain(x0), _plain(y0)]
    if _is_rectangle(found):
        room["size"] = [_plain(max(x for x, _y in found) - x0), _plain(max(y for _x, y in found) - y0)]
    else:
        room["corners"] = [[_plain(x - x0), _plain(y - y0)] for x, y in found]
    rooms = named(document, "site", "rooms")
    return put(document, ("site", "rooms", fresh_name(name or _("room"), set(rooms))), room)


def with_tap(document: Document, tool: str, x: float, y: float, *, floor: int = 1) -> tuple[Document, str]:
    """Return the document with one thing where the sketch was tapped, or why there is none.

    ``x`` and ``y`` are plan coordinates in the survey's unit.
    """
    chosen = BY_NAME.get(tool)
    house, _faults = rooms_of(document)
    if chosen is None or house is None:
        return document, _("Draw a room first.")
    point = (x * unit_m(document), y * unit_m(document))
    rooms = {name: room for name, room in house.site.rooms.items() if room.floor == floor}
    on_wall = nearest_wall(rooms, point)
    within = next((name for name, room in rooms.items() if inside(room.outline(), point)), None)
    near_m = WALL_WITHIN_M if chosen.on == "either" else FAR_M
    if chosen.on != "floor" and on_wall is not None and on_wall.away_m <= near_m:
        return _on_wall(document, chosen, on_wall), ""
    if chosen.on == "wall":
        return document, _("Tap nearer to a wall.")
    if within is None:
        return document, _("Tap inside a room.")
    dx, dy = (point[0] - rooms[within].at_m[0], point[1] - rooms[within].at_m[1])
    spot = [written(dx, document), written(dy, document)]
    if chosen.group == "access_point":
        radio = {"room": within, "at": spot, "height": written(1.0, document)}
        return put(document, ("site", "access_point"), radio), ""
    thing = {"kind": chosen.name, "at": spot}
    path = ("site", "rooms", within, chosen.group)
    return put(document, path, [*listed(document, *path), thing]), ""


@dataclass(frozen=True, slots=True)
class OnWall:
    """A point of a wall."""

    room: str
    wall: Wall
    along_m: float
    away_m: float
    """How far the tap was from it."""


def nearest_wall(rooms: Mapping[str, Room], point: Point) -> OnWall | None:
    """Return the wall nearest to a point [m]; of two as near, the one whose room holds the point."""
    found: list[tuple[float, bool, OnWall]] = []
    for name, room in rooms.items():
        outside = not inside(room.outline(), point)
        for wall in room.walls_found():
            ux, uy = wall.along
            along_m = (point[0] - wall.left[0]) * ux + (point[1] - wall.left[1]) * uy
            along_m = min(max(along_m, 0.0), wall.length_m)
            x, y = wall.point(along_m)
            away_m = hypot(point[0] - x, point[1] - y)
            # A tap on the inside of one wall is as near to the back of the next room's.
            found.append((round(away_m, 1), outside, OnWall(name, wall, along_m, away_m)))
    return min(found, key=lambda item: item[:2])[2] if found else None


def _on_wall(document: Document, tool: Tool, on: OnWall) -> Document:
    width_m = min(tool.width_m, on.wall.length_m)
    left_m = min(max(on.along_m - width_m / 2, 0.0), on.wall.length_m - width_m)
    part: dict[str, str] = {"wall": on.wall.name, "along": written(left_m, document)}
    if width_m:
        part["width"] = written(width_m, document)
    part |= {word: written(length_m, document) for word, length_m in tool.extra_m}
    path = ("site", "rooms", on.room, tool.group)
    if tool.group == "candidates":
        places = {name for room in named(document, "site", "rooms") for name in _candidates(document, room)}
        return put(document, (*path, fresh_name(_("place"), places)), part)
    if tool.group == "things":
        part = {"kind": tool.name, **part}
    return put(document, path, [*listed(document, *path), part])


def _candidates(document: Document, room: str) -> Mapping[str, object]:
    return named(document, "site", "rooms", room, "candidates")


def act_on_rooms(document: Document, name: str, inputs: Mapping[str, str], *, floor: int) -> tuple[Document, str]:
    """Return the document after a button of the rooms page, and what is to be said.

    ``name`` is as ``survey_document.joined`` made it: ``room``, ``rectangle``, ``tap``, ``remove/PATH``.
    """
    what, *path = split(name)
    if what == "remove" and path[:1] == ["site"]:
        return _without(document, tuple(path)), ""
    if what == "tap":
        spot = _numbers(f"{inputs.get('x/x', '')} {inputs.get('x/y', '')}")
        if len(spot) == 2:
            return with_tap(document, inputs.get("x/tool", ""), spot[0], spot[1], floor=floor)
    if what in ("room", "rectangle"):
        corners = _pairs(inputs.get("x/corners", "")) if what == "room" else _rectangle(document, inputs)
        made = with_room(document, corners, floor=floor, name=inputs.get("x/name", ""))
        return made, "" if made != document else _("That encloses no room: give at least three corners, or two sizes.")
    return document, ""


def _without(document: Document, path: tuple[str, ...]) -> Document:
    made = put(document, path, None)
    if at(made, "site", "access_point", "room") not in named(made, "site", "rooms"):
        made = put(made, ("site", "access_point"), None) if at(made, "site", "access_point") else made
    return made if named(made, "site", "rooms") else put(made, ("site",), None)


def _rectangle(document: Document, inputs: Mapping[str, str]) -> tuple[Point, ...]:
    """Return the corners of a room that was given by numbers; it goes to the right of what is there."""
    sizes = _numbers(f"{inputs.get('x/width', '')} {inputs.get('x/depth', '')}")
    if len(sizes) != 2:
        return ()
    (width, depth), house = sizes, rooms_of(document)[0]
    x = max((px for px, _y in _corners_m(house.site)), default=0.0) / unit_m(document) if house is not None else 0.0
    return (x, 0.0), (x, depth), (x + width, depth), (x + width, 0.0)


def _corners_m(site: Site) -> list[Point]:
    return [corner for room in site.rooms.values() for corner in room.outline()]


def _numbers(text: str) -> tuple[float, ...]:
    found = []
    for word in text[:2000].replace(",", " ").replace(";", " ").split():
        try:
            number = float(word)
        except ValueError:
            return ()
        if not abs(number) < 1e4:
            return ()
        found.append(round(number, 3))
    return tuple(found)


def _pairs(text: str) -> tuple[Point, ...]:
    numbers = _numbers(text)
    return tuple(zip(numbers[::2], numbers[1::2], strict=True)) if len(numbers) % 2 == 0 else ()


def _is_rectangle(corners: Sequence[Point]) -> bool:
    if len(corners) != 4:
        return False
    sides = zip(corners, (*corners[1:], corners[0]), strict=True)
    return all(ax == bx or ay == by for (ax, ay), (bx, by) in sides)


def _plain(number: float) -> str:
    return f"{number:.3f}".rstrip("0").rstrip(".") or "0"


__all__ = [
    "BY_NAME",
    "TOOLS",
    "OnWall",
    "Tool",
    "act_on_rooms",
    "grid",
    "nearest_wall",
    "rooms_of",
    "unit_m",
    "with_room",
    "with_tap",
    "written",
]
