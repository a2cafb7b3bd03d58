"""Faults of rooms that no single field shows: walls that are not there, openings that do not fit, rooms that cross themselves."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from subbase.errors import Fault
from subbase.names import named
from subbase.survey.faults import nearest
from subbase.survey.rooms import IN_WALL, Candidate, Door, Point, Room, Site, Thing, Window, signed_area
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.words import _

LEAST_M = 0.05
"""No wall, opening or room is smaller."""
SLACK_M = 0.02
"""What a tape may be out before an opening is said not to fit its wall."""


def site_faults(site: Site, tree: Tree) -> Iterator[Fault]:
    """Iterate over the faults of rooms that could be read field by field."""
    for name, room in site.rooms.items():
        path: Path = ("site", "rooms", name)
        if not name.strip() or len(name) > 40 or not name.isprintable():
            yield tree.fault(path, _("A room's name is 1 to 40 printable characters."))
        shape = list(_shape_faults(room, path, tree))
        yield from shape
        if not shape:
            yield from _room_faults(room, path, tree)
    yield from _access_faults(site, tree)
    owner: dict[str, str] = {}
    for room_name, _room, name, _candidate in site.candidates():
        if name in owner:
            message = _("'{name}' is already a place in '{owner}'; choose another name.").format(
                name=plain_words(name), owner=plain_words(owner[name])
            )
            yield tree.fault(("site", "rooms", room_name, "candidates", name), message)
        owner.setdefault(name, room_name)


def _access_faults(site: Site, tree: Tree) -> Iterator[Fault]:
    if site.access_point is None:
        return
    path: Path = ("site", "access_point", "room")
    name = site.access_point.room
    if name not in site.rooms:
        yield tree.fault(
            path,
            _("There is no room '{name}'; {nearest}").format(
                name=plain_words(name), nearest=nearest(name, list(site.rooms))
            ),
        )


def _shape_faults(room: Room, path: Path, tree: Tree) -> Iterator[Fault]:
    if (room.size_m is None) == (room.corners_m is None):
        yield tree.fault(path, _("A room has either a 'size' (a rectangle) or its 'corners' (a polygon)."))
        return
    field = "size" if room.corners_m is None else "corners"
    corners = room.outline()
    if len(corners) < 3:
        yield tree.fault((*path, field), _("A polygon has at least three corners."))
    elif any(abs(a[0] - b[0]) + abs(a[1] - b[1]) < LEAST_M for a, b in _edges(corners)):
        yield tree.fault((*path, field), _("A wall shorter than 5 cm (2 in) is no wall; leave that corner out."))
    elif abs(signed_area(corners)) < LEAST_M or _crosses_itself(corners):
        yield tree.fault((*path, field), _("These corners make no room: its walls cross, or it has no floor."))


def _edges(corners: tuple[Point, ...]) -> list[tuple[Point, Point]]:
    return list(zip(corners, (*corners[1:], corners[0]), strict=True))


def _crosses_itself(corners: tuple[Point, ...]) -> bool:
    edges = _edges(corners)
    for i, (a, b) in enumerate(edges):
        for j in range(i + 1, len(edges)):
            c, d = edges[j]
            neighbours = j == i + 1 or (i == 0 and j == len(edges) - 1)
            if not neighbours and _meet(a, b, c, d):
                return True
    return False


def _meet(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Return whether two segments share a point (touching counts)."""
    sides = [_side(a, b, c), _side(a, b, d), _side(c, d, a), _side(c, d, b)]
    if sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0:
        return True
    return any(
        side == 0 and min(p[0], q[0]) <= r[0] <= max(p[0], q[0]) and min(p[1], q[1]) <= r[1] <= max(p[1], q[1])
        for side, (p, q, r) in zip(sides, ((a, b, c), (a, b, d), (c, d, a), (c, d, b)), strict=True)
    )


def _side(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _room_faults(room: Room, path: Path, tree: Tree) -> Iterator[Fault]:
    lengths = {wall.name: wall.length_m for wall in room.walls_found()}
    ceiling = room.height_m
    for index, name in enumerate(room.outside or ()):
        yield from _wall_fault(name, lengths, (*path, "outside", index), tree)
    for name in room.walls:
        yield from _wall_fault(name, lengths, (*path, "walls", name), tree)
    parts: list[tuple[Path, Window | Door]] = [((*path, "windows", i), w) for i, w in enumerate(room.windows)]
    parts += [((*path, "doors", i), d) for i, d in enumerate(room.doors)]
    for here, part in parts:
        wrong = list(_wall_fault(part.wall, lengths, (*here, "wall"), tree))
        yield from wrong
        if not wrong and part.along_m + part.width_m > lengths[part.wall] + SLACK_M:
            yield tree.fault(
                (*here, "along"),
                _("It does not fit: the wall is {length} long.").format(length=_shown(lengths[part.wall])),
            )
        if part.width_m < LEAST_M:
            yield tree.fault((*here, "width"), _("An opening is at least 5 cm (2 in) wide."))
        if isinstance(part, Window):
            yield from _window_faults(part, ceiling, here, tree)
    yield from _overlap_faults(room, path, tree)
    for index, thing in enumerate(room.things):
        yield from _thing_faults(thing, lengths, (*path, "things", index), tree)
    for name, candidate in room.candidates.items():
        here = (*path, "candidates", name)
        if not name.strip() or len(name) > 30 or not name.isprintable():
            yield tree.fault(here, _("A place's name is 1 to 30 printable characters."))
        yield from _candidate_faults(candidate, room, lengths, here, tree)


def _overlap_faults(room: Room, path: Path, tree: Tree) -> Iterator[Fault]:
    for index, window in enumerate(room.windows):
        for number, other in enumerate(room.windows[:index], start=1):
            beside = min(window.along_m + window.width_m, other.along_m + other.width_m) - max(
                window.along_m, other.along_m
            )
            above = min(window.head_m, other.head_m) - max(window.sill_m, other.sill_m)
            if window.wall == other.wall and beside > SLACK_M and above > SLACK_M:
                message = _("This window lies over window {number} of the same wall; write each pane once.").format(
                    number=number
                )
                yield tree.fault((*path, "windows", index), message)


def _wall_fault(name: str, lengths: dict[str, Any], path: Path, tree: Tree) -> Iterator[Fault]:
    if name not in lengths:
        yield tree.fault(
            path,
            _("This room has no wall '{name}'; {nearest}").format(
                name=plain_words(name), nearest=nearest(name, list(lengths))
            ),
        )


def _window_faults(window: Window, ceiling: float | None, path: Path, tree: Tree) -> Iterator[Fault]:
    if window.head_m - window.sill_m < LEAST_M:
        yield tree.fault((*path, "head"), _("The head of a window is above its sill; are the two the other way round?"))
    if ceiling is not None and window.head_m > ceiling + SLACK_M:
        yield tree.fault(
            (*path, "head"), _("The window's head is above the ceiling at {ceiling}.").format(ceiling=_shown(ceiling))
        )


def _thing_faults(thing: Thing, lengths: dict[str, float], path: Path, tree: Tree) -> Iterator[Fault]:
    if thing.wall is None:
        if thing.at_m is None or thing.along_m is not None:
            yield tree.fault(path, _("Say where it is: 'wall' and 'along', or 'at: [x, y]' in the room."))
        elif thing.kind in IN_WALL:
            yield tree.fault(path, _("A {kind} runs in a wall: say 'wall' and 'along'.").format(kind=named(thing.kind)))
        return
    wrong = list(_wall_fault(thing.wall, lengths, (*path, "wall"), tree))
    yield from wrong
    if thing.along_m is None or thing.at_m is not None:
        yield tree.fault(
            path, _("With 'wall' goes 'along', from the wall's left end; 'at' is for what stands in the room.")
        )
    elif not wrong and thing.along_m + thing.width_m > lengths[thing.wall] + SLACK_M:
        yield tree.fault(
            (*path, "along"),
            _("It does not fit: the wall is {length} long.").format(length=_shown(lengths[thing.wall])),
        )


def _candidate_faults(
    candidate: Candidate, room: Room, lengths: dict[str, float], path: Path, tree: Tree
) -> Iterator[Fault]:
    wrong = list(_wall_fault(candidate.wall, lengths, (*path, "wall"), tree))
    yield from wrong
    if wrong:
        return
    if candidate.along_m > lengths[candidate.wall]:
        yield tree.fault(
            (*path, "along"),
            _("The wall is {length} long; the place is past its end.").format(length=_shown(lengths[candidate.wall])),
        )
    if room.height_m is not None and candidate.height_m is not None and candidate.height_m > room.height_m:
        yield tree.fault(
            (*path, "height"), _("The place is above the ceiling at {height_m}.").format(height_m=_shown(room.height_m))
        )
    openings: tuple[Window | Door, ...] = (*room.windows, *room.doors)
    for part in openings:
        if part.wall == candidate.wall and part.along_m < candidate.along_m < part.along_m + part.width_m:
            low, high = (part.sill_m, part.head_m) if isinstance(part, Window) else (0.0, 2.0)
            if candidate.height_m is None or low < candidate.height_m < high:
                message = (
                    _("The place is in the opening of a window; choose another.")
                    if isinstance(part, Window)
                    else _("The place is in the opening of a door; choose another.")
                )
                yield tree.fault((*path, "along"), message)


def _shown(length_m: float) -> str:
    inches = round(length_m / 0.0254)
    return f"{inches // 12} ft {inches % 12} in ({length_m:.2f} m)"
