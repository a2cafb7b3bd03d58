"""The plan of a storey to scale: rooms, what warms them, the places that were judged, and the sun on the worst day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import atan2, cos, dist, hypot, pi, radians, sin

from subbase.papers.drawing import INK, QUIET, SHADE, Area, Circle, Drawing, Line, Point, Rect, Shape, Text
from subbase.papers.measure import ASCENT_EM, LINE_EM, shortened, wrapped
from subbase.siting.air import nearest_point
from subbase.siting.finding import clock, day_words, told
from subbase.siting.radio_path import inside
from subbase.siting.sun_hours import Sky
from subbase.siting.verdict import Place, SiteVerdict
from subbase.siting.wall_map import beam_on_plan
from subbase.survey.rooms import IN_WALL, Door, Room, Wall, Window

WIDTH, MARGIN = 340.0, 10.0
"""Narrow enough to be read on a phone, and two beside each other on paper [pt]."""
SMALL, PLAIN, LARGE = 8.0, 9.0, 11.0
SCALES = (20, 25, 50, 75, 100, 125, 150, 200, 250, 400, 500)
POINTS_PER_M = 72 / 0.0254
BEAM = "#fbeec2"
USUAL_CEILING_M = 2.5
MARK = 7.0


@dataclass(frozen=True, slots=True)
class Numbered:
    """A place with the number it bears on all drawings."""

    number: int
    place: Place


@dataclass(frozen=True, slots=True)
class _Scale:
    """From metres on the plan to points on paper."""

    ratio: int
    left: float
    bottom: float
    """Where plan (0, 0) of the drawn part lies on paper."""
    x0: float
    y0: float

    @property
    def per_m(self) -> float:
        return POINTS_PER_M / self.ratio

    def at(self, x: float, y: float) -> Point:
        return self.left + (x - self.x0) * self.per_m, self.bottom - (y - self.y0) * self.per_m


def numbered(verdict: SiteVerdict) -> tuple[Numbered, ...]:
    """Return the places that are drawn, best first: all that were named, and the best found in each room."""
    return tuple(Numbered(n, place) for n, place in enumerate((*verdict.places, *verdict.searched), start=1))


def plan_drawings(verdict: SiteVerdict) -> tuple[Drawing, ...]:
    """Return one plan to scale for each storey that was drawn."""
    storeys = sorted({room.floor for room in verdict.house.site.rooms.values()})
    return tuple(_plan(verdict, storey, many=len(storeys) > 1) for storey in storeys)


def stacked(title: str, about: str, drawings: Sequence[Drawing]) -> Drawing:
    """Return drawings below one another as one."""
    shapes: list[Shape] = []
    y = 0.0
    for drawing in drawings:
        shapes += drawing.moved(0.0, y)
        y += drawing.height
    return Drawing(title, about, max((d.width for d in drawings), default=WIDTH), y, tuple(shapes))


# --- plan ------------------------------------------------------------------------------------------------------------


def _plan(verdict: SiteVerdict, storey: int, *, many: bool) -> Drawing:
    site, units = verdict.house.site, verdict.house.units
    rooms = {name: room for name, room in site.rooms.items() if room.floor == storey}
    corners = [point for room in rooms.values() for point in room.outline()]
    x0, y0 = min(x for x, _ in corners), min(y for _, y in corners)
    wide, deep = max(x for x, _ in corners) - x0, max(y for _, y in corners) - y0
    ratio = ratio_that_fits(wide, deep, WIDTH - 2 * MARGIN - 16, 380.0)
    top = MARGIN + LARGE * 2.4
    height_pt = deep * POINTS_PER_M / ratio
    left = (WIDTH - wide * POINTS_PER_M / ratio) / 2
    scale = _Scale(ratio, left, top + height_pt, x0, y0)
    places = [item for item in numbered(verdict) if item.place.room in rooms]
    what = f"Plan, storey {storey}" if many else "Plan"
    shapes: list[Shape] = [
        Text(MARGIN, MARGIN + LARGE * ASCENT_EM, what, LARGE, bold=True),
        *_north(site.north),
    ]
    beam, beam_words = _beam(verdict.sky, rooms, places)
    shapes += [Line(tuple(scale.at(*p) for p in part), "none", 0.0, "", BEAM) for part in beam]
    for room in rooms.values():
        shapes += _furniture_on_plan(room, scale)
    for room in rooms.values():
        shapes += _walls_on_plan(room, scale)
    dots = apart([_dot(item, rooms[item.place.room], scale) for item in places])
    marks, key = _marks(rooms, scale, dots)
    shapes += marks
    for item, (x, y) in zip(places, dots, strict=True):
        shapes += number_mark(item, x, y)
    taken = [
        Area(c.x - c.radius, c.y - c.radius, c.x + c.radius, c.y + c.radius) for c in shapes if isinstance(c, Circle)
    ]
    point = site.access_point
    if point is not None and point.room in rooms:
        home = rooms[point.room]
        x, y = scale.at(home.at_m[0] + point.at_m[0], home.at_m[1] + point.at_m[1])
        shapes += [
            Rect(Area(x - 5, y - 5, x + 5, y + 5), fill=INK),
            Text(x, y + 3, "r", SMALL, "middle", bold=True, fill="#ffffff"),
        ]
        taken.append(Area(x - 5, y - 5, x + 5, y + 5))
        key.append(("r", "the house's radio"))
    shapes += _furniture_names(rooms, scale, taken)
    shapes += _room_names(rooms, scale, taken)
    y = scale.bottom + 12
    bar, y = scale_bar(ratio, units, y)
    shapes += bar
    lines = [(str(item.number), _place_line(item, units)) for item in places] + key
    written, y = _key(lines, y)
    shapes += written
    if beam_words:
        swatch = Rect(Area(MARGIN, y + 1, MARGIN + 12, y + 9), fill=BEAM, stroke=QUIET, width=0.5)
        words, end = _paragraph(beam_words, MARGIN + 20, y, WIDTH - 2 * MARGIN - 20)
        shapes += [swatch, *words]
        y = end
    about = f"{what} at 1:{ratio}: {', '.join(rooms)}. Places: " + "; ".join(f"{n} {words}" for n, words in lines) + "."
    return Drawing(what, about, WIDTH, y + MARGIN, tuple(shapes))


def ratio_that_fits(wide_m: float, high_m: float, width: float, height: float) -> int:
    fits = (r for r in SCALES if wide_m * POINTS_PER_M / r <= width and high_m * POINTS_PER_M / r <= height)
    return next(fits, int(max(wide_m * POINTS_PER_M / width, high_m * POINTS_PER_M / height)) + 1)


def _north(bearing_deg: float | None) -> list[Shape]:
    x, y, reach = WIDTH - MARGIN - 12, MARGIN + 12, 10.0
    if bearing_deg is None:
        return [Text(WIDTH - MARGIN, MARGIN + PLAIN, "north not known", SMALL, "end", fill=QUIET)]
    turn = radians(bearing_deg)
    ux, uy = -sin(turn), -cos(turn)
    tip, tail = (x + ux * reach, y + uy * reach), (x - ux * reach, y - uy * reach)
    left, right = (x + uy * 4 - ux * 2, y - ux * 4 - uy * 2), (x - uy * 4 - ux * 2, y + ux * 4 - uy * 2)
    arrow = Line((tip, left, right), INK, 0.5, "", INK)
    return [Line((tail, tip), INK, 1.0), arrow, Text(x - 16, y + 3, "N", PLAIN, "end", bold=True)]


def _beam(over: Sky | None, rooms: dict[str, Room], places: Sequence[Numbered]) -> tuple[list[tuple[Point, ...]], str]:
    """Return the light on the worst day of the sunniest place of a storey, and what it is."""
    lit = [i for i in places if i.place.sun is not None and i.place.sun.worst and not i.place.searched]
    if over is None or not lit:
        return [], ""
    item = max(lit, key=lambda i: i.place.sun.hours if i.place.sun else 0.0)
    sun = item.place.sun
    assert sun is not None
    worst = sun.worst[0]
    day = worst.date.timetuple().tm_yday - 1
    minute = (worst.first_min + worst.last_min) // 2
    found = beam_on_plan(rooms[item.place.room], over, day, minute, item.place.height_m)
    words = f"Sun at the height of place {item.number} on {day_words(worst.date)} at {clock(minute)}, its worst day."
    return list(found), words if found else ""


def _furniture_on_plan(room: Room, scale: _Scale) -> Iterator[Shape]:
    for item in room.furniture:
        x, y = room.at_m[0] + item.at_m[0], room.at_m[1] + item.at_m[1]
        (left, bottom), (right, top) = scale.at(x, y), scale.at(x + item.size_m[0], y + item.size_m[1])
        yield Rect(Area(left, top, right, bottom), fill=SHADE, stroke=QUIET, width=0.5)


def _furniture_names(rooms: dict[str, Room], scale: _Scale, taken: list[Area]) -> Iterator[Shape]:
    """Name furniture where the name fits into it and lies over nothing."""
    for room in rooms.values():
        for item in room.furniture:
            x, y = room.at_m[0] + item.at_m[0], room.at_m[1] + item.at_m[1]
            (left, bottom), (right, top) = scale.at(x, y), scale.at(x + item.size_m[0], y + item.size_m[1])
            words = shortened(item.what, right - left - 4, SMALL)
            for share in (0.5, 0.8, 0.25):
                text = Text((left + right) / 2, top + (bottom - top) * share + 3, words, SMALL, "middle", fill=QUIET)
                fits = text.area().top >= top and text.area().bottom <= bottom
                if fits and len(words) > 3 and not any(text.area().overlaps(area) for area in taken):
                    taken.append(text.area())
                    yield text
                    break


def _walls_on_plan(room: Room, scale: _Scale) -> Iterator[Shape]:
    for wall in room.walls_found():
        width = 2.6 if room.behind(wall.name) == "outside" else 1.4
        yield Line((scale.at(*wall.left), scale.at(*wall.right)), INK, width)
    for window in room.windows:
        ends = _opening(room, window, scale)
        yield Line(ends, "#ffffff", 3.4)
        (nx, ny) = room.wall(window.wall).outward
        for side in (-1.1, 1.1):
            yield Line(tuple((x + nx * side, y - ny * side) for x, y in ends), INK, 0.7)
    for door in room.doors:
        ends = _opening(room, door, scale)
        yield Line(ends, "#ffffff", 3.4)
        yield from _leaf(room.wall(door.wall), door, scale)


def _opening(room: Room, part: Window | Door, scale: _Scale) -> tuple[Point, Point]:
    wall = room.wall(part.wall)
    return scale.at(*wall.point(part.along_m)), scale.at(*wall.point(part.along_m + part.width_m))


def _leaf(wall: Wall, door: Door, scale: _Scale) -> Iterator[Shape]:
    """Draw a leaf that opens into the room, and the arc it sweeps."""
    if not door.swing.startswith("in"):
        return
    left, right = wall.point(door.along_m), wall.point(door.along_m + door.width_m)
    hinge, latch = (left, right) if door.swing == "in, hinged left" else (right, left)
    start = atan2(latch[1] - hinge[1], latch[0] - hinge[0])
    turn = -pi / 2 if hinge is left else pi / 2
    arc = [
        (hinge[0] + door.width_m * cos(start + turn * n / 8), hinge[1] + door.width_m * sin(start + turn * n / 8))
        for n in range(9)
    ]
    yield Line((scale.at(*hinge), scale.at(*arc[-1])), INK, 1.0)
    yield Line(tuple(scale.at(*p) for p in arc), QUIET, 0.5, "2 2")


def _marks(rooms: dict[str, Room], scale: _Scale, dots: Sequence[Point]) -> tuple[list[Shape], list[tuple[str, str]]]:
    """Return letters for what warms, cools or is hidden, and what they stand for."""
    shapes: list[Shape] = []
    letters: dict[str, str] = {}
    placed = list(dots)
    for room in rooms.values():
        for thing in room.things:
            letter = letters.setdefault(thing.kind, chr(ord("a") + len(letters)))
            a, b = room.thing_points(thing)
            x, y = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
            px, py = scale.at(x, y)
            if thing.wall is not None:
                nx, ny = room.wall(thing.wall).outward
                ends = scale.at(*a), scale.at(*b)
                shift = 0.0 if thing.kind in IN_WALL else 3.0
                shapes.append(Line(tuple((ex - nx * shift, ey + ny * shift) for ex, ey in ends), QUIET, 2.0))
                px, py = px - nx * 9, py + ny * 9
            px, py = apart([*placed, (px, py)])[-1]
            placed.append((px, py))
            shapes += [
                Rect(Area(px - 5, py - 5, px + 5, py + 5), stroke=QUIET, width=0.7),
                Text(px, py + 2.8, letter, SMALL, "middle"),
            ]
    return shapes, [(letter, kind) for kind, letter in letters.items()]


def _dot(item: Numbered, room: Room, scale: _Scale) -> Point:
    wall = room.wall(item.place.candidate.wall)
    x, y = scale.at(*wall.point(item.place.candidate.along_m))
    nx, ny = wall.outward
    return x - nx * (MARK + 1), y + ny * (MARK + 1)


def apart(dots: Sequence[Point]) -> list[Point]:
    """Return marks moved sideways until none lies on another."""
    placed: list[Point] = []
    for x, y in dots:
        spot, turn = (x, y), 0
        while any(hypot(spot[0] - px, spot[1] - py) < 2 * MARK + 1 for px, py in placed) and turn < 64:
            turn += 1
            reach = 2.0 * (1 + turn // 8)
            spot = (x + reach * 2 * cos(turn * pi / 4), y + reach * 2 * sin(turn * pi / 4))
        placed.append(spot)
    return placed


def number_mark(item: Numbered, x: float, y: float) -> Iterator[Shape]:
    """Draw a place: filled when nothing rules it out, else crossed through."""
    good = not item.place.ruled_out
    yield Circle(x, y, MARK, fill=INK if good else "#ffffff", width=1.2)
    if not good:
        yield Line(((x - 5, y + 5), (x + 5, y - 5)), QUIET, 0.8)
    yield Text(x, y + 3.1, str(item.number), PLAIN, "middle", bold=True, fill="#ffffff" if good else INK)


def _room_names(rooms: dict[str, Room], scale: _Scale, taken: list[Area]) -> Iterator[Shape]:
    """Name each room where there is most space around the name; leave it out where there is none."""
    for name, room in rooms.items():
        outline = room.outline()
        xs, ys = zip(*outline, strict=True)
        words = shortened(name, (max(xs) - min(xs)) * scale.per_m - 8, PLAIN)
        grid = [
            (min(xs) + (max(xs) - min(xs)) * i / 16, min(ys) + (max(ys) - min(ys)) * j / 16)
            for i in range(1, 16)
            for j in range(1, 16)
        ]
        walls = [(wall.left, wall.right) for wall in room.walls_found()]
        within = [
            (min(dist(point, nearest_point(*ends, point)) for ends in walls), point)
            for point in grid
            if inside(outline, point)
        ]
        for _, point in sorted(within, key=lambda item: -item[0]):
            x, y = scale.at(*point)
            text = Text(x, y, words, PLAIN, "middle", italic=True, fill=QUIET)
            if not any(text.area().overlaps(area) for area in taken):
                taken.append(text.area())
                yield text
                break


def scale_bar(ratio: int, units: str, y: float) -> tuple[list[Shape], float]:
    unit_m, step, word = (0.3048, 5, "ft") if units == "us" else (1.0, 1, "m")
    length = step * unit_m * POINTS_PER_M / ratio
    ticks: list[Shape] = [Line(((MARGIN, y), (MARGIN + length, y)), INK, 1.2)]
    ticks += [Line(((x, y - 3), (x, y + 3)), INK, 1.2) for x in (MARGIN, MARGIN + length)]
    words = f"{step} {word}; 1:{ratio} when printed at its own size"
    return [*ticks, Text(MARGIN + length + 8, y + 3, words, SMALL, fill=QUIET)], y + 10


def _place_line(item: Numbered, units: str) -> str:
    place = item.place
    at = f"{told(place.candidate.along_m, units)} from the left end, {told(place.height_m, units)} up"
    found = "found by trying" if place.searched else "good" if not place.ruled_out else "ruled out"
    return f"{place.name}: {at}; {found}"


def _key(lines: Sequence[tuple[str, str]], y: float) -> tuple[list[Shape], float]:
    shapes: list[Shape] = []
    for sign, words in lines:
        shapes.append(Text(MARGIN + 12, y + SMALL * 1.1, sign, SMALL, "end", bold=True))
        written, y = _paragraph(words, MARGIN + 20, y, WIDTH - 2 * MARGIN - 20)
        shapes += written
    return shapes, y


def _paragraph(words: str, x: float, y: float, width: float) -> tuple[list[Shape], float]:
    found: list[Shape] = []
    for line in wrapped(words, width, SMALL):
        y += SMALL * LINE_EM
        found.append(Text(x, y - SMALL * 0.1, line, SMALL))
    return found, y + 1.5
