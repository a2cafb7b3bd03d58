"""Rooms as found: their shape, what lets sun, air and heat in, and where a control could hang.

Plan coordinates are metres, x to the right and y up the sheet; a room's own ``at`` shifts what lies in it. A rectangle's
walls are named as they lie on the sheet (``left``, ``top``, ``right``, ``bottom``), a polygon's are numbered from corner
to corner. Along a wall everything is measured from its left end, as it is seen from inside by somebody who faces it.

A length that is not known is None, a word that is not known is ``unknown``: neither stands for a value.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, WithJsonSchema

_WRITTEN = WithJsonSchema(
    {"type": ["number", "string"], "description": "In the survey's units, or '5 ft 3 in', '160 cm'."}
)
LONGEST_M = 100.0
"""Of anything in a house: what is longer is a slip of the pen."""
Span = Annotated[float, Field(ge=0, le=LONGEST_M, allow_inf_nan=False), _WRITTEN]
Offset = Annotated[float, Field(ge=-LONGEST_M, le=LONGEST_M, allow_inf_nan=False), _WRITTEN]
Degrees = Annotated[float, Field(ge=0, lt=360)]
Dbm = Annotated[float, Field(ge=-120, le=0)]
Point = tuple[float, float]

Material = Literal["plasterboard", "plaster and lath", "brick", "concrete", "wood", "glass", "unknown"]
Side = Literal["left", "top", "right", "bottom"]
RECTANGLE: tuple[Side, ...] = ("left", "top", "right", "bottom")
"""Clockwise from the lower left corner, so that each wall runs from its left end to its right end as seen from inside."""
Swing = Literal["in, hinged left", "in, hinged right", "out", "sliding", "none", "unknown"]
ThingKind = Literal[
    "supply register", "return", "radiator", "baseboard heater", "fireplace", "stove", "range", "lamp", "electronics",
    "refrigerator", "stairs from below", "flue", "hot pipe", "warm duct", "cold pipe", "power cable",
]  # fmt: skip
IN_WALL = frozenset({"flue", "hot pipe", "warm duct", "cold pipe", "power cable"})
"""Things that run hidden in a wall, at all heights of it unless a height is given."""


def _may_say_unknown(schema: dict[str, Any]) -> None:
    """Let a file say 'unknown' for whatever it may leave out as not known."""
    for field in schema.get("properties", {}).values():
        if "default" in field and field["default"] is None:
            field["anyOf"] = [*field["anyOf"], {"const": "unknown"}]


class Part(BaseModel):
    """Base of the parts of a room: frozen, strict about words it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, json_schema_extra=_may_say_unknown)


class Window(Part):
    """An opening with glass; unknown shading is taken as none, so that the sun is never told too low."""

    wall: str = Field(description="Wall it is in.")
    along_m: Span = Field(alias="along", description="From the wall's left end, seen from inside, to its left edge.")
    width_m: Span = Field(alias="width", description="Clear width.")
    sill_m: Span = Field(alias="sill", description="Bottom of the glass above the floor.")
    head_m: Span = Field(alias="head", description="Top of the glass above the floor.")
    depth_m: Span | None = Field(default=None, alias="depth", description="How deep the wall is through the opening.")
    overhang_m: Span | None = Field(default=None, alias="overhang", description="How far eave or awning stands out.")
    above_m: Span | None = Field(default=None, alias="above", description="From the head up to the overhang.")
    past_m: Span | None = Field(default=None, alias="past", description="How far the overhang runs past each side.")
    skyline_deg: Annotated[float, Field(ge=0, le=90)] | None = Field(
        default=None, description="Height of houses and trees before it, in degrees above the horizon."
    )


class Door(Part):
    """A door or an opening without one."""

    wall: str = Field(description="Wall it is in.")
    along_m: Span = Field(alias="along", description="From the wall's left end, seen from inside, to its left edge.")
    width_m: Span = Field(alias="width", description="Width of the leaf.")
    swing: Swing = Field(default="unknown", description="How it opens, seen from this room.")
    outside: bool | None = Field(default=None, description="Whether it leads out of the house.")


class Thing(Part):
    """Something that warms, cools, moves air or must not be drilled into; on a wall, or standing in the room."""

    kind: ThingKind = Field(description="What it is.")
    wall: str | None = Field(default=None, description="Wall it is on or in.")
    along_m: Span | None = Field(default=None, alias="along", description="From the wall's left end to its left edge.")
    at_m: tuple[Offset, Offset] | None = Field(
        default=None, alias="at", description="[x, y] of its middle from the room's lower left corner, off a wall."
    )
    width_m: Span = Field(default=0.0, alias="width", description="Width along the wall.")
    height_m: Span | None = Field(default=None, alias="height", description="Its middle above the floor.")


class Furniture(Part):
    """Something on the floor that keeps a person from the wall, or air from the control."""

    what: str = Field(default="furniture", max_length=40, description="What it is.")
    at_m: tuple[Offset, Offset] = Field(alias="at", description="[x, y] of its lower left corner in the room.")
    size_m: tuple[Span, Span] = Field(alias="size", description="[width, depth] on the plan.")
    height_m: Span = Field(alias="height", description="Its top above the floor.")


class Candidate(Part):
    """A place where the control could hang."""

    wall: str = Field(description="Wall it is on.")
    along_m: Span = Field(alias="along", description="From the wall's left end, seen from inside, to its middle.")
    height_m: Span | None = Field(default=None, alias="height", description="Its middle above the floor.")
    rssi_dbm: Dbm | None = Field(default=None, description="2.4 GHz signal read there [dBm].")


class WallFacts(Part):
    """What is known of one wall beyond what the room says of all."""

    of: Material = Field(default="unknown", description="What it is made of.")
    behind: Literal["room", "outside", "unheated", "unknown"] = Field(
        default="unknown", description="What lies behind it: another heated room, the open, an unheated space."
    )


class Room(Part):
    """One room: a rectangle by its size, or a polygon by its corners."""

    floor: Annotated[int, Field(ge=-2, le=9)] = Field(default=1, description="Storey; 0 is a basement, 1 the ground.")
    at_m: tuple[Offset, Offset] = Field(
        default=(0.0, 0.0),
        alias="at",
        description="Lower left corner of the room on the plan; what lies in it is measured from there.",
    )
    size_m: tuple[Span, Span] | None = Field(default=None, alias="size", description="[width, depth] of a rectangle.")
    corners_m: tuple[tuple[Offset, Offset], ...] | None = Field(
        default=None, alias="corners", max_length=40, description="Corners of a polygon in turn, measured from 'at'."
    )
    height_m: Span | None = Field(default=None, alias="height", description="Floor to ceiling.")
    outside: tuple[str, ...] | None = Field(
        default=None,
        description="Walls with the open behind them; all others then have rooms behind. Left out: not known.",
    )
    walls_of: Material = Field(default="unknown", description="What its walls are made of.")
    walls: dict[str, WallFacts] = Field(default={}, description="Wall -> what is known of it alone.")
    windows: tuple[Window, ...] = Field(default=(), max_length=100, description="Its windows and glazed doors.")
    doors: tuple[Door, ...] = Field(default=(), max_length=40, description="Its doors and openings.")
    things: tuple[Thing, ...] = Field(default=(), max_length=100, description="What warms, cools, blows or is hidden.")
    furniture: tuple[Furniture, ...] = Field(default=(), max_length=60, description="What stands before its walls.")
    candidates: dict[str, Candidate] = Field(default={}, max_length=400, description="Name -> place for the control.")

    def outline(self) -> tuple[Point, ...]:
        """Return its corners in plan coordinates [m], clockwise for a rectangle, as written for a polygon."""
        x, y = self.at_m
        if self.corners_m is not None:
            return tuple((x + dx, y + dy) for dx, dy in self.corners_m)
        width, depth = self.size_m or (0.0, 0.0)
        return ((x, y), (x, y + depth), (x + width, y + depth), (x + width, y))

    def walls_found(self) -> tuple[Wall, ...]:
        """Return its walls, each from its left end to its right end as seen from inside."""
        corners = self.outline()
        names = RECTANGLE if self.corners_m is None else tuple(str(n) for n in range(1, len(corners) + 1))
        clockwise = signed_area(corners) < 0
        pairs = zip(names, corners, (*corners[1:], corners[0]), strict=True)
        return tuple(Wall(n, a, b) if clockwise else Wall(n, b, a) for n, a, b in pairs)

    def wall(self, name: str) -> Wall:
        """Return a wall by its name.

        Raises
        ------
        KeyError
            When the room has no such wall (a read file never has such).
        """
        for wall in self.walls_found():
            if wall.name == name:
                return wall
        raise KeyError(name)

    def material(self, wall: str) -> Material:
        """Return what a wall is made of, ``unknown`` when nothing says so."""
        own = self.walls.get(wall)
        return own.of if own is not None and own.of != "unknown" else self.walls_of

    def behind(self, wall: str) -> str:
        """Return what lies behind a wall: ``room``, ``outside``, ``unheated`` or ``unknown``."""
        own = self.walls.get(wall)
        if own is not None and own.behind != "unknown":
            return own.behind
        if self.outside is None:
            return "unknown"
        return "outside" if wall in self.outside else "room"

    def thing_points(self, thing: Thing) -> tuple[Point, Point]:
        """Return both ends of a thing in plan coordinates [m]; the same point twice when it has no width."""
        if thing.wall is not None:
            wall, along = self.wall(thing.wall), thing.along_m or 0.0
            return wall.point(along), wall.point(along + thing.width_m)
        x, y = thing.at_m or (0.0, 0.0)
        middle = (self.at_m[0] + x, self.at_m[1] + y)
        return middle, middle


class AccessPoint(Part):
    """Where the house's 2.4 GHz radio stands."""

    room: str = Field(description="Room it is in.")
    at_m: tuple[Offset, Offset] = Field(alias="at", description="[x, y] from the room's lower left corner.")
    height_m: Span = Field(alias="height", description="Above the floor.")
    power_dbm: Annotated[float, Field(ge=-10, le=36)] | None = Field(
        default=None, description="What it radiates (EIRP) [dBm], when its papers say so."
    )


class Site(Part):
    """The rooms of a house, as far as they matter for where the control hangs."""

    north: Degrees | None = Field(
        default=None, description="Compass bearing of the top of the plan, from true north, clockwise [degrees]."
    )
    utc_offset: Annotated[float, Field(ge=-12, le=14)] | None = Field(
        default=None, description="Standard time less UTC [h]; from the longitude when left out."
    )
    reach: Literal["usual", "accessible", "unknown"] = Field(
        default="unknown", description="Whether a person who sits must reach the control."
    )
    access_point: AccessPoint | None = Field(default=None, description="Where the radio stands.")
    rooms: dict[str, Room] = Field(min_length=1, max_length=60, description="Name -> room.")

    def candidates(self) -> Iterator[tuple[str, Room, str, Candidate]]:
        """Iterate over (room name, room, candidate name, candidate)."""
        for room_name, room in self.rooms.items():
            for name, candidate in room.candidates.items():
                yield room_name, room, name, candidate


@dataclass(frozen=True, slots=True)
class Wall:
    """One wall's inner face on the plan, from its left end to its right end as seen from inside [m]."""

    name: str
    left: Point
    right: Point

    @property
    def length_m(self) -> float:
        """Its length."""
        return hypot(self.right[0] - self.left[0], self.right[1] - self.left[1])

    @property
    def along(self) -> Point:
        """Unit vector from its left end to its right end."""
        length = self.length_m
        return (self.right[0] - self.left[0]) / length, (self.right[1] - self.left[1]) / length

    @property
    def outward(self) -> Point:
        """Unit vector out of the room: to the left of the way from left end to right end."""
        x, y = self.along
        return -y, x

    def point(self, along_m: float) -> Point:
        """Return the point so far from its left end."""
        x, y = self.along
        return self.left[0] + x * along_m, self.left[1] + y * along_m


def signed_area(corners: tuple[Point, ...]) -> float:
    """Return twice a polygon's area, negative when its corners run clockwise."""
    pairs = zip(corners, (*corners[1:], corners[0]), strict=True)
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)
