"""Each wall that bears a place, to scale and seen from inside, with the hours of sun on it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from subbase.papers.drawing import INK, QUIET, Area, Drawing, Line, Rect, Shape, Text
from subbase.papers.measure import ASCENT_EM, shortened, width_of
from subbase.papers.site_drawing import (
    LARGE,
    MARGIN,
    POINTS_PER_M,
    SMALL,
    USUAL_CEILING_M,
    WIDTH,
    Numbered,
    apart,
    number_mark,
    numbered,
    ratio_that_fits,
    scale_bar,
)
from subbase.siting.finding import told
from subbase.siting.reach import depth_before
from subbase.siting.sun_year import Floats
from subbase.siting.verdict import SiteVerdict
from subbase.siting.wall_map import wall_map
from subbase.survey.rooms import IN_WALL, Door, Room, Wall, Window

DOOR_HEIGHT_M = 2.03
"""80 in: a door's height is not asked for (common practice, no source)."""
SUN_BANDS: tuple[tuple[float, str, str], ...] = (
    (0.0, "#fbeec2", "under 25 h a year"),
    (25.0, "#efc65c", "25 to 100 h"),
    (100.0, "#d0921f", "over 100 h"),
)
"""From so many hours on -> tint, words."""


def wall_drawings(verdict: SiteVerdict) -> tuple[Drawing, ...]:
    """Return each wall that bears a place, to scale, as it is seen from inside."""
    places = numbered(verdict)
    walls = dict.fromkeys((item.place.room, item.place.candidate.wall) for item in places)
    return tuple(
        _wall(verdict, room, wall, [i for i in places if (i.place.room, i.place.candidate.wall) == (room, wall)])
        for room, wall in walls
    )


def _wall(verdict: SiteVerdict, room_name: str, wall_name: str, places: Sequence[Numbered]) -> Drawing:
    room = verdict.house.site.rooms[room_name]
    wall = room.wall(wall_name)
    ceiling = room.height_m or USUAL_CEILING_M
    ratio = ratio_that_fits(wall.length_m, ceiling, WIDTH - 2 * MARGIN - 4, 200.0)
    title = shortened(f"{room_name}, {_wall_words(wall_name)} from inside", WIDTH - 2 * MARGIN, LARGE, bold=True)
    per_m = POINTS_PER_M / ratio
    left, top = (WIDTH - wall.length_m * per_m) / 2, MARGIN + LARGE * 2.2
    area = Area(left, top, left + wall.length_m * per_m, top + ceiling * per_m)
    shapes: list[Shape] = [Text(MARGIN, MARGIN + LARGE * ASCENT_EM, title, LARGE, bold=True)]
    most = 0.0
    if verdict.sky is not None:
        cells = wall_map(room, wall, verdict.sky, ceiling)
        most = float(cells.hours.max())
        shapes += _cells(cells.hours, cells.cell_along_m * per_m, cells.cell_height_m * per_m, area)
    shapes.append(Rect(area, fill="none", width=1.2))
    shapes += _openings(room, wall, area, per_m)
    shapes += _before(room, wall, area, per_m)
    shapes += _inside(room, wall, area, per_m)
    written, y = _dimensions(places, area, per_m, verdict.house.units)
    shapes += written
    if verdict.sky is not None:
        written, y = _sun_key(most, y)
        shapes += written
    bar, y = scale_bar(ratio, verdict.house.units, y + 10)
    about = f"{title}, at 1:{ratio}. Most sun anywhere on it: {most:.0f} hours a year."
    return Drawing(title, about, WIDTH, y + MARGIN, (*shapes, *bar))


def _wall_words(name: str) -> str:
    return f"wall {name}" if name.isdigit() else f"{name} wall"


def _openings(room: Room, wall: Wall, area: Area, per_m: float) -> Iterator[Shape]:
    parts: tuple[Window | Door, ...] = (*room.windows, *room.doors)
    for part in parts:
        if part.wall != wall.name:
            continue
        window = isinstance(part, Window)
        low, high = (part.sill_m, part.head_m) if isinstance(part, Window) else (0.0, DOOR_HEIGHT_M)
        left, right = area.left + part.along_m * per_m, area.left + (part.along_m + part.width_m) * per_m
        top = max(area.top, area.bottom - high * per_m)
        yield Rect(Area(left, top, right, area.bottom - low * per_m), width=0.8)
        words = shortened("window" if window else "door", right - left - 2, SMALL)
        if len(words) > 3:
            middle = (top + area.bottom - low * per_m) / 2
            yield Text((left + right) / 2, middle, words, SMALL, "middle", fill=QUIET)


def _before(room: Room, wall: Wall, area: Area, per_m: float) -> Iterator[Shape]:
    """Outline furniture that stands before the wall."""
    steps = [n * 0.05 for n in range(int(wall.length_m / 0.05) + 1)]
    for item in room.furniture:
        covered = [u for u in steps if (depth_before(room, item, wall, u) or 0.0) > 0.0]
        if covered:
            left, right = area.left + covered[0] * per_m, area.left + covered[-1] * per_m
            top = max(area.top, area.bottom - item.height_m * per_m)
            yield Rect(Area(left, top, right, area.bottom), fill="none", stroke=QUIET, width=0.8, dash="1 2")
            words = shortened(item.what, right - left - 6, SMALL)
            if len(words) > 3 and area.bottom - top > SMALL + 4:
                yield Text(left + 3, area.bottom - 3, words, SMALL, fill=QUIET)


def _inside(room: Room, wall: Wall, area: Area, per_m: float) -> Iterator[Shape]:
    """Mark what runs hidden in the wall; its names stand above the ceiling line, those that would lie over another lower."""
    ends: list[Area] = []
    for thing in room.things:
        if thing.wall != wall.name or thing.kind not in IN_WALL:
            continue
        left = area.left + (thing.along_m or 0.0) * per_m
        right = left + max(thing.width_m * per_m, 2.0)
        yield Rect(Area(left, area.top, right, area.bottom), fill="none", stroke=QUIET, width=0.8, dash="3 2")
        half = width_of(thing.kind, SMALL) / 2
        middle = min(max((left + right) / 2, MARGIN + half), WIDTH - MARGIN - half)
        text = Text(middle, area.top - 2, thing.kind, SMALL, "middle", fill=QUIET)
        while any(text.area().overlaps(other) for other in ends):
            text = Text(middle, text.y + SMALL + 2, thing.kind, SMALL, "middle", fill=QUIET)
        ends.append(text.area())
        yield text


def _dimensions(places: Sequence[Numbered], area: Area, per_m: float, units: str) -> tuple[list[Shape], float]:
    marks = [(area.left + i.place.candidate.along_m * per_m, area.bottom - i.place.height_m * per_m) for i in places]
    shapes: list[Shape] = [Line(((x, up), (x, area.bottom)), QUIET, 0.6, "2 2") for x, up in marks]
    for item, (x, up) in zip(places, apart(marks), strict=True):
        shapes += number_mark(item, x, up)
    y = area.bottom + 12
    for item, (x, _) in zip(places, marks, strict=True):
        along, height = told(item.place.candidate.along_m, units), told(item.place.height_m, units)
        shapes += [
            Line(((area.left, y), (x, y)), INK, 0.8),
            Line(((area.left, y - 3), (area.left, y + 3)), INK, 0.8),
            Line(((x, y - 3), (x, y + 3)), INK, 0.8),
            Text(MARGIN, y + 12, f"{item.number}: {along} from the left end, {height} above the floor", SMALL),
        ]
        y += 24
    return shapes, y - 6


def _cells(hours: Floats, wide: float, high: float, area: Area) -> Iterator[Shape]:
    """Tint the cells with sun, a run of equal cells as one."""
    for row in range(hours.shape[0]):
        bands = [_band(float(h)) for h in hours[row]]
        begin = 0
        for end in range(1, len(bands) + 1):
            if end < len(bands) and bands[end] == bands[begin]:
                continue
            if bands[begin] >= 0:
                bottom = area.bottom - row * high
                # A hair lower than the next row begins, so that no seam shows.
                cell = Area(
                    area.left + begin * wide, bottom - high, area.left + end * wide, min(area.bottom, bottom + 0.4)
                )
                yield Rect(cell, fill=SUN_BANDS[bands[begin]][1], stroke="none")
            begin = end


def _band(hours: float) -> int:
    return -1 if hours == 0.0 else max(i for i, (least, _, _) in enumerate(SUN_BANDS) if hours >= least)


def _sun_key(most: float, y: float) -> tuple[list[Shape], float]:
    if most == 0.0:
        return [Text(MARGIN, y + 10, "The sun never reaches this wall.", SMALL)], y + 14
    shapes: list[Shape] = [Text(MARGIN, y + 10, "Sun:", SMALL)]
    x = MARGIN + 26
    for _, tint, words in SUN_BANDS:
        shapes += [
            Rect(Area(x, y + 3, x + 11, y + 11), fill=tint, stroke=QUIET, width=0.5),
            Text(x + 14, y + 10, words, SMALL),
        ]
        x += 24 + width_of(words, SMALL)
    return shapes, y + 14
