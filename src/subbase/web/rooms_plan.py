"""The sketch of one storey as a drawing that can be tapped: rooms, openings, what is in them, places for the control."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from math import ceil, floor

from markupsafe import Markup

from subbase.survey.rooms import Door, Point, Room, Site, Wall, Window
from subbase.web.rooms_sketch import TOOLS, Tool
from subbase.words import _

EMPTY = 24.0
"""Side of the sheet while there is no room [unit]."""
AROUND = 5.0
"""Free sheet around what is drawn, for the next room [unit]."""
PER_UNIT = 13.0
"""Of the drawing's own length; letters and lines are drawn in it."""
LETTERS = {tool.name: tool.letter for tool in TOOLS}


@dataclass(frozen=True, slots=True)
class Sheet:
    """The part of the plan that is shown, in the survey's unit."""

    left: float
    bottom: float
    right: float
    top: float
    unit_m: float

    def at(self, point_m: Point) -> Point:
        """Return a point of the plan [m] on the drawing; y runs down there."""
        scale = self.per_m
        return (point_m[0] - self.left * self.unit_m) * scale, (self.top * self.unit_m - point_m[1]) * scale

    @property
    def per_m(self) -> float:
        """Return the drawing's length of one metre."""
        return PER_UNIT * (3.0 if self.unit_m == 1.0 else 1.0) / self.unit_m

    @property
    def per_unit(self) -> float:
        """Return the drawing's length of the survey's unit."""
        return self.per_m * self.unit_m


def sheet_of(site: Site | None, unit_m: float) -> Sheet:
    """Return the sheet that holds all rooms with room around them."""
    around, empty = (AROUND, EMPTY) if unit_m != 1.0 else (1.5, 7.0)
    corners = [corner for room in site.rooms.values() for corner in room.outline()] if site is not None else []
    if not corners:
        return Sheet(-around / 2, -around / 2, empty, empty, unit_m)
    xs, ys = ([corner[n] / unit_m for corner in corners] for n in (0, 1))
    return Sheet(
        floor(min(xs) - around), floor(min(ys) - around), ceil(max(xs) + around), ceil(max(ys) + around), unit_m
    )


def sketch_svg(site: Site | None, sheet: Sheet, *, storey: int) -> Markup:
    """Return the sketch; rooms of other storeys are dashed outlines."""
    wide, high = ((sheet.right - sheet.left) * sheet.per_unit, (sheet.top - sheet.bottom) * sheet.per_unit)
    shapes = [*_grid(sheet, wide, high)]
    rooms = dict(site.rooms) if site is not None else {}
    shapes += [
        f'<polygon class="other" points="{_points(room.outline(), sheet)}"/>'
        for room in rooms.values()
        if room.floor != storey
    ]
    number = 0
    for name, room in rooms.items():
        if room.floor == storey:
            drawn, number = _room(name, room, sheet, number)
            shapes += drawn
    radio = site.access_point if site is not None else None
    if radio is not None and radio.room in rooms and rooms[radio.room].floor == storey:
        home = rooms[radio.room]
        shapes.append(_mark(sheet.at((home.at_m[0] + radio.at_m[0], home.at_m[1] + radio.at_m[1])), "r", "radio"))
    title = _("Sketch of storey {storey}").format(storey=storey)
    head = (
        f'<svg id="sketch" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:g} {high:g}" role="img" '
        f'aria-label="{escape(title)}" data-left="{sheet.left:g}" data-top="{sheet.top:g}" '
        f'data-per-unit="{sheet.per_unit:g}">'
    )
    # Every text in it was escaped above.
    return Markup(f'{head}{"".join(shapes)}<polyline id="drawn" class="drawn" points=""/></svg>')


def _grid(sheet: Sheet, wide: float, high: float) -> Iterator[str]:
    step = 5 if sheet.unit_m != 1.0 else 1
    for n in range(ceil(sheet.left / step) * step, floor(sheet.right) + 1, step):
        x = (n - sheet.left) * sheet.per_unit
        yield f'<path class="grid" d="M{x:g} 0V{high:g}"/>'
    for n in range(ceil(sheet.bottom / step) * step, floor(sheet.top) + 1, step):
        y = (sheet.top - n) * sheet.per_unit
        yield f'<path class="grid" d="M0 {y:g}H{wide:g}"/>'


def _room(name: str, room: Room, sheet: Sheet, number: int) -> tuple[list[str], int]:
    outline = room.outline()
    shapes = [f'<polygon class="room" points="{_points(outline, sheet)}"/>']
    walls = {wall.name: wall for wall in room.walls_found()}
    shapes += [
        f'<path class="outside" d="{_line(wall.left, wall.right, sheet)}"/>'
        for wall in walls.values()
        if room.behind(wall.name) == "outside"
    ]
    openings: list[tuple[str, Window | Door]] = [("window", item) for item in room.windows]
    openings += [("door", item) for item in room.doors]
    shapes += [
        f'<path class="{sort}" d="{_along(walls[item.wall], item.along_m, item.width_m, sheet)}"/>'
        for sort, item in openings
    ]
    for thing in room.things:
        (ax, ay), (bx, by) = room.thing_points(thing)
        shapes.append(_mark(sheet.at(((ax + bx) / 2, (ay + by) / 2)), LETTERS.get(thing.kind, "x"), "thing"))
    for candidate in room.candidates.values():
        number += 1
        shapes.append(_mark(sheet.at(walls[candidate.wall].point(candidate.along_m)), str(number), "place"))
    if room.corners_m is not None:
        shapes += [_wall_name(wall, sheet) for wall in walls.values()]
    x, y = sheet.at((sum(p[0] for p in outline) / len(outline), sum(p[1] for p in outline) / len(outline)))
    shapes.append(f'<text class="name" x="{x:.1f}" y="{y:.1f}">{escape(name)}</text>')
    return shapes, number


def _wall_name(wall: Wall, sheet: Sheet) -> str:
    out_x, out_y = wall.outward
    x, y = wall.point(wall.length_m / 2)
    px, py = sheet.at((x, y))
    return f'<text class="wall" x="{px + out_x * 14:.1f}" y="{py - out_y * 14 + 5:.1f}">{escape(wall.name)}</text>'


def _mark(at: Point, letter: str, sort: str) -> str:
    x, y = at
    shape = (
        f'<rect x="{x - 11:.1f}" y="{y - 11:.1f}" width="22" height="22"/>'
        if sort == "thing"
        else f'<circle cx="{x:.1f}" cy="{y:.1f}" r="13"/>'
    )
    return f'<g class="mark {sort}">{shape}<text x="{x:.1f}" y="{y + 6:.1f}">{escape(letter)}</text></g>'


def _points(corners: tuple[Point, ...], sheet: Sheet) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in (sheet.at(corner) for corner in corners))


def _line(a: Point, b: Point, sheet: Sheet) -> str:
    (ax, ay), (bx, by) = sheet.at(a), sheet.at(b)
    return f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}"


def _along(wall: Wall, along_m: float, width_m: float, sheet: Sheet) -> str:
    return _line(wall.point(along_m), wall.point(along_m + width_m), sheet)


def legend(site: Site | None, storey: int) -> tuple[Tool, ...]:
    """Return the tools whose letters stand on the sketch."""
    kinds = (
        {thing.kind for room in site.rooms.values() if room.floor == storey for thing in room.things} if site else set()
    )
    here = {str(kind) for kind in kinds}
    if site is not None and site.access_point is not None:
        here.add("radio")
    return tuple(tool for tool in TOOLS if tool.name in here)


__all__ = ["Sheet", "legend", "sheet_of", "sketch_svg"]
