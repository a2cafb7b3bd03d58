"""Heat and moving air near a place: how far, whether in sight, and what rule that meets.

That a sensor hangs away from warm and cold walls, draughts, dead air and sources of heat is published (see ``finding``); how
many feet away is nowhere published with a reason, so every distance here is a judgement and says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import hypot
from types import MappingProxyType

from subbase.names import named
from subbase.siting.apertures import Spot
from subbase.siting.finding import DISTANCE, HEAT_SOURCE, NECB, PRACTICE, SWS, Finding, Weight, sources, told
from subbase.siting.radio_path import crossing
from subbase.survey.rooms import IN_WALL, Candidate, Point, Room, Site, Thing, ThingKind, Wall
from subbase.words import _, mark


@dataclass(frozen=True, slots=True)
class Near:
    """How near is too near, and what happens there."""

    out_m: float
    """Nearer than this, the place is ruled out."""
    against_m: float
    """Nearer than this, it counts against the place."""
    said: str
    """What is said of it in sight or in the wall: one sentence with ``distance``."""


IN_SIGHT: MappingProxyType[ThingKind, Near] = MappingProxyType(
    {
        "supply register": Near(0.9, 1.8, mark("Supply register, {distance} away in sight, blows on it.")),
        "radiator": Near(0.6, 1.5, mark("Radiator, {distance} away in sight, warms it.")),
        "baseboard heater": Near(0.6, 1.5, mark("Baseboard heater, {distance} away in sight, warms it.")),
        "fireplace": Near(1.2, 2.5, mark("Fireplace, {distance} away in sight, radiates on it.")),
        "stove": Near(1.2, 2.5, mark("Stove, {distance} away in sight, radiates on it.")),
        "range": Near(1.0, 2.0, mark("Range, {distance} away in sight, warms it when somebody cooks.")),
        "lamp": Near(0.4, 1.0, mark("Lamp, {distance} away in sight, warms it.")),
        "electronics": Near(0.4, 1.0, mark("Electronics, {distance} away in sight, warm it.")),
        "refrigerator": Near(0.4, 1.0, mark("Refrigerator, {distance} away in sight, warms it.")),
        "stairs from below": Near(
            0.6, 1.5, mark("Stairs from below, {distance} away in sight, bring warm air up past it.")
        ),
    }
)
HIDDEN: MappingProxyType[ThingKind, Near] = MappingProxyType(
    {
        "flue": Near(0.3, 0.6, mark("A flue in the wall, {distance} away, warms the wall.")),
        "hot pipe": Near(0.3, 0.6, mark("A hot pipe in the wall, {distance} away, warms the wall.")),
        "warm duct": Near(0.3, 0.6, mark("A warm duct in the wall, {distance} away, warms the wall.")),
    }
)
PLUME_M = 0.5
"""Warm air rises over a radiator within so much to each side (judgement)."""
BEHIND_M = 0.5
"""Something warm so near on the other side of a wall warms the wall (judgement)."""
WARM_BEHIND: tuple[ThingKind, ...] = ("radiator", "fireplace", "stove", "range", "electronics", "refrigerator")
WINDOW_M, CORNER_M, COLD_CORNER_M = 0.9, 0.15, 0.45


def air_findings(site: Site, room_name: str, candidate: Candidate, spot: Spot, units: str) -> Iterator[Finding]:
    """Iterate over what walls, heat and air say of a place."""
    room = site.rooms[room_name]
    wall = room.wall(candidate.wall)
    yield from _wall(room, wall, candidate, units)
    for thing in room.things:
        yield from _thing(room, thing, spot, units)
    yield from _other_side(site, room_name, wall, spot)
    yield from _openings(room, spot, units)
    yield from _hidden(site, room, spot, units)
    text = _("Seal the hole behind the plate: air from the wall's cavity falsifies the reading.")
    yield Finding("note", "air", text, _(PRACTICE))


def _wall(room: Room, wall: Wall, candidate: Candidate, units: str) -> Iterator[Finding]:
    match room.behind(wall.name):
        case "outside":
            yield Finding(
                "rules out", "wall", _("On an outside wall: it feels the wall, not the room."), sources(NECB, SWS)
            )
        case "unheated":
            yield Finding(
                "against", "wall", _("An unheated space lies behind the wall: it is colder than the room."), SWS
            )
        case "room":
            yield Finding("for", "wall", _("Inside wall."), _(SWS))
        case _:
            yield Finding(
                "note", "wall", _("What lies behind the wall is not known: look before you choose it."), _(SWS)
            )
    ends = (candidate.along_m, wall.length_m - candidate.along_m)
    walls = room.walls_found()
    index = next(i for i, w in enumerate(walls) if w.name == wall.name)
    for distance, corner in zip(ends, (wall.left, wall.right), strict=True):
        other = next((w for i, w in enumerate(walls) if i != index and corner in (w.left, w.right)), None)
        cold = other is not None and room.behind(other.name) == "outside"
        if cold and distance < COLD_CORNER_M:
            yield Finding(
                "against",
                "wall",
                _("{distance} from the corner with an outside wall.").format(distance=told(distance, units)),
                sources(SWS, DISTANCE),
            )
        elif distance < CORNER_M:
            yield Finding("against", "air", _("In a corner, where the air hardly moves."), sources(NECB, DISTANCE))


def nearest_point(a: Point, b: Point, to: Point) -> Point:
    """Return the point of a segment that is nearest to another point."""
    length2 = (b[0] - a[0]) ** 2 + (b[1] - a[1]) ** 2
    if length2 == 0.0:
        return a
    share = ((to[0] - a[0]) * (b[0] - a[0]) + (to[1] - a[1]) * (b[1] - a[1])) / length2
    share = min(1.0, max(0.0, share))
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def in_sight(room: Room, start: Point, end: Point) -> bool:
    """Return whether no wall of a room stands between two points in it; points on a wall count as before it."""
    short = (start[0] + 0.995 * (end[0] - start[0]), start[1] + 0.995 * (end[1] - start[1]))
    return all(crossing(start, short, w.left, w.right) is None for w in room.walls_found())


def _thing(room: Room, thing: Thing, spot: Spot, units: str) -> Iterator[Finding]:
    near = IN_SIGHT.get(thing.kind)
    here = (spot.x_m, spot.y_m)
    at = nearest_point(*room.thing_points(thing), here)
    level = hypot(at[0] - here[0], at[1] - here[1])
    known = thing.height_m if thing.height_m is not None else spot.height_m
    distance = hypot(level, known - spot.height_m)
    if thing.kind == "return":
        if 0.3 <= level <= 2.5 and in_sight(room, here, at):
            yield Finding(
                "for",
                "air",
                _("Near the return ({level}), which draws the room's own air past it.").format(
                    level=told(level, units)
                ),
                _(PRACTICE),
            )
        return
    if near is None or not in_sight(room, here, at):
        return
    said = _(near.said).format(distance=told(distance, units))
    source = sources(*HEAT_SOURCE, DISTANCE)
    if thing.kind in ("radiator", "baseboard heater") and level < PLUME_M:
        yield Finding(
            "rules out", "heat", _("Above the {kind}, in its rising air.").format(kind=named(thing.kind)), source
        )
    elif distance < near.out_m:
        yield Finding("rules out", "heat", said, source)
    elif distance < near.against_m:
        yield Finding("against", "heat", said, source)


def _hidden(site: Site, room: Room, spot: Spot, units: str) -> Iterator[Finding]:
    """Find what runs hidden in a wall nearby, whichever room it was written down in."""
    here = (spot.x_m, spot.y_m)
    for other in site.rooms.values():
        if other.floor != room.floor:
            continue
        for thing in other.things:
            near = HIDDEN.get(thing.kind)
            if near is None:
                continue
            at = nearest_point(*other.thing_points(thing), here)
            distance = hypot(at[0] - here[0], at[1] - here[1])
            if distance < near.against_m:
                weight: Weight = "rules out" if distance < near.out_m else "against"
                text = _(near.said).format(distance=told(distance, units))
                yield Finding(weight, "heat", text, sources(*HEAT_SOURCE, DISTANCE))


def _other_side(site: Site, room_name: str, wall: Wall, spot: Spot) -> Iterator[Finding]:
    room = site.rooms[room_name]
    here = (spot.x_m, spot.y_m)
    for name, other in site.rooms.items():
        if name == room_name or other.floor != room.floor:
            continue
        for thing in other.things:
            if thing.kind not in WARM_BEHIND or thing.kind in IN_WALL:
                continue
            at = nearest_point(*other.thing_points(thing), here)
            behind = (at[0] - wall.left[0]) * wall.outward[0] + (at[1] - wall.left[1]) * wall.outward[1]
            if behind > -0.05 and hypot(at[0] - here[0], at[1] - here[1]) < BEHIND_M:
                text = _("In {name}, just behind this wall: {kind}, which warms it through.").format(
                    name=name, kind=named(thing.kind)
                )
                yield Finding("against", "heat", text, sources(*HEAT_SOURCE, DISTANCE))


def _openings(room: Room, spot: Spot, units: str) -> Iterator[Finding]:
    here = (spot.x_m, spot.y_m)
    for door in room.doors:
        wall = room.wall(door.wall)
        at = nearest_point(wall.point(door.along_m), wall.point(door.along_m + door.width_m), here)
        distance = hypot(at[0] - here[0], at[1] - here[1])
        if not in_sight(room, here, at):
            continue
        if door.outside and distance < 1.5:
            weight: Weight = "rules out" if distance < 0.6 else "against"
            text = _("{distance} from an outside door: cold air at every opening.").format(
                distance=told(distance, units)
            )
            yield Finding(weight, "air", text, sources(NECB, DISTANCE))
        elif not door.outside and distance < 0.2:
            yield Finding(
                "against",
                "air",
                _("{distance} from a door: air from the next room.").format(distance=told(distance, units)),
                sources(NECB, DISTANCE),
            )
    for window in room.windows:
        wall = room.wall(window.wall)
        at = nearest_point(wall.point(window.along_m), wall.point(window.along_m + window.width_m), here)
        distance = hypot(at[0] - here[0], at[1] - here[1])
        if distance < WINDOW_M and in_sight(room, here, at):
            yield Finding(
                "against",
                "air",
                _("{distance} from a window: cold glass and draught.").format(distance=told(distance, units)),
                sources(NECB, DISTANCE),
            )
