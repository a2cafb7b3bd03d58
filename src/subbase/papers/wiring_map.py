"""The wiring map: what lands where in a house, every conductor drawn from end to end and named at both.

Colours are drawn as the insulation is, with a dark edge so that white and yellow show, and are always named. What
changes is drawn heavier and numbered; nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from urllib.parse import quote

from subbase.catalog import Catalog
from subbase.papers.drawing import (
    INK,
    PAPER,
    QUIET,
    RULE,
    SHADE,
    Circle,
    Drawing,
    Line,
    Point,
    Rect,
    Shape,
    Target,
    Text,
    moved,
    svg,
)
from subbase.papers.map_grid import (
    ABOUT_SIZE,
    ABOUT_STEP,
    FRAME,
    GAP,
    LABEL_MOST,
    LABEL_SIZE,
    MARK,
    NAME_SIZE,
    NAME_STEP,
    TERMINAL_SIZE,
)
from subbase.papers.map_key import KEY_COLUMN, key_of
from subbase.papers.map_layout import Layout, PlacedBox, PlacedRun, layout
from subbase.papers.map_model import Box, Changed, Marking, Run, RunKey, boxes_of, end_words, runs_of
from subbase.papers.map_wires import EDGE, change_mark, loose_end, wire, wire_width
from subbase.papers.measure import shortened, wrapped
from subbase.survey import Survey
from subbase.words import _

MARGIN = 12.0
TITLE_SIZE = 13.0
FINGER = 13.0
"""Width of what can be tapped along a conductor."""
STOP_SHORT = 9.0
"""How far from the box an end stops that is on no terminal."""


def wiring_map_svg(survey: Survey, catalog: Catalog, *, title: str, changed: Changed | Marking) -> str:
    """Return the wiring map of a survey as SVG; ``changed`` names the conductors to be marked and numbered."""
    return svg(wiring_map(survey, catalog, title=title, changed=changed))


def input_map_svg(survey: Survey, catalog: Catalog, *, title: str) -> str:
    """Return the wiring map as SVG in which conductors and terminals can be tapped."""
    return svg(wiring_map(survey, catalog, title=title, changed=frozenset(), headed=False), targets=True)


def wiring_map(
    survey: Survey,
    catalog: Catalog,
    *,
    title: str,
    changed: Changed | Marking,
    only: frozenset[RunKey] | None = None,
    headed: bool = True,
) -> Drawing:
    """Return the wiring map of a survey, or the part of it that ``only`` these runs and their places make up.

    ``headed`` says whether the title stands above the picture, too.
    """
    boxes, runs = boxes_of(survey, catalog), runs_of(survey, changed)
    if only is not None:
        boxes, runs = _part(boxes, runs, only)
    placed = layout(boxes, runs)
    width = max(placed.width, KEY_COLUMN) + 2 * MARGIN
    heading = wrapped(title, width - 2 * MARGIN, TITLE_SIZE, bold=True) if headed else ()
    top = MARGIN + TITLE_SIZE * 1.2 * len(heading) + FRAME + 4.0
    left = (width - placed.width) / 2
    shapes: list[Shape] = [
        Text(MARGIN, MARGIN + TITLE_SIZE * (1 + 1.2 * n) - 2.0, line, TITLE_SIZE, bold=True)
        for n, line in enumerate(heading)
    ]
    shapes += [moved(shape, left, top) for shape in _picture(placed)]
    bottom = top + placed.height + FRAME + 12.0
    key, key_height = key_of(survey, runs, width - 2 * MARGIN, cabinets=bool(placed.frames))
    shapes += [moved(shape, MARGIN, bottom) for shape in key]
    return Drawing(title, about_map(survey, runs), width, bottom + key_height + MARGIN, tuple(shapes))


def _part(
    boxes: Sequence[Box], runs: Sequence[Run], only: frozenset[RunKey]
) -> tuple[tuple[Box, ...], tuple[Run, ...]]:
    """Return some runs and the places they end at."""
    kept = tuple(run for run in runs if run.key in only)
    used = {(end.place, end.terminal) for run in kept for end in run.ends}
    places = {place for place, _ in used}
    return tuple(_shown(box, used) for box in boxes if box.place in places), kept


def _shown(box: Box, used: set[tuple[str, str]]) -> Box:
    """Return a box without the terminals that nothing on this sheet lands on; a control keeps all of its own."""
    terminals = tuple(terminal for terminal in box.terminals if (box.place, terminal) in used)
    if box.is_control or terminals == box.terminals:
        return box
    return replace(box, terminals=terminals, about=(*box.about, _("(more terminals than shown)")))


def about_map(survey: Survey, runs: Sequence[Run]) -> str:
    """Say in words what the picture shows."""
    said = []
    for run in runs:
        a, b = (end_words(end) for end in run.ends)
        what = f"{run.cable} {run.conductor}" if run.kind == "conductor" else _("link")
        words = _("{what}: {a} to {b} (changed)") if run.marked else _("{what}: {a} to {b}")
        said.append(words.format(what=what, a=a, b=b))
    return _("Wiring of {house}. {conductors}.").format(house=survey.name, conductors="; ".join(said))


def _picture(placed: Layout) -> Iterator[Shape]:
    for frame in placed.frames:
        yield Rect(frame, fill=SHADE, stroke=RULE, width=0.6, radius=4.0)
    for box in placed.boxes:
        yield from _box(box)
    for run in placed.runs:
        yield from _wire(run)
    for run in placed.runs:
        for end in (0, 1):
            yield from _end(run, end)
    yield from _targets(placed)


def _targets(placed: Layout) -> Iterator[Shape]:
    """Yield what a finger can be put on; terminals last, since a conductor ends on them."""
    for run in placed.runs:
        if run.run.kind == "conductor":
            a, b = (end_words(end) for end in run.run.ends)
            value = "/".join(quote(part, safe="") for part in run.run.key)
            label = _("{what}: {a} to {b}").format(what=run.run.conductor, a=a, b=b)
            yield Target("conductor", value, label, _shortened_points(run), FINGER)
    for box in placed.boxes:
        seen: set[str] = set()
        for row, area in box.rows:
            if row.terminal and row.terminal not in seen:
                seen.add(row.terminal)
                place, middle = box.box.place, (area.top + area.bottom) / 2
                points = ((area.left, middle), (area.right, middle))
                yield Target(
                    "terminal", f"{place}.{row.terminal}", f"{place} {row.terminal}", points, area.bottom - area.top
                )


def _box(box: PlacedBox) -> Iterator[Shape]:
    if box.hang is not None:
        yield Rect(box.hang, stroke=QUIET, width=0.8, dash="3 2")
    yield Rect(box.area, width=1.1)
    middle = (box.area.left + box.area.right) / 2
    y = box.area.top + 4.0
    for line in box.name:
        y += NAME_STEP
        yield Text(middle, y - 2.5, line, NAME_SIZE, "middle", bold=True)
    for line in box.about:
        y += ABOUT_STEP
        yield Text(middle, y - 2.0, line, ABOUT_SIZE, "middle", fill=QUIET)
    for row, area in box.rows:
        if row.terminal:
            yield Line(((area.left, area.top), (area.right, area.top)), RULE, 0.6)
            text = shortened(row.terminal, area.right - area.left - 16.0, TERMINAL_SIZE, bold=True)
            yield Text(middle, (area.top + area.bottom) / 2 + 3.3, text, TERMINAL_SIZE, "middle", bold=True)


# --- runs ------------------------------------------------------------------------------------------------------------


def _wire(placed: PlacedRun) -> Iterator[Shape]:
    """Yield the line of a run, with a paper-coloured border that keeps crossing ones apart to the eye."""
    run = placed.run
    points = _shortened_points(placed)
    yield Line(points, PAPER, (wire_width(run) if run.kind == "conductor" else 0.0) + EDGE + 2.2)
    yield from wire(run, points)


def _shortened_points(placed: PlacedRun) -> tuple[Point, ...]:
    """Return a run's points, stopped short where an end is on no terminal."""
    points = list(placed.points)
    for end, position in ((0, 0), (1, -1)):
        if placed.run.ends[end].nowhere:
            x, y = points[position]
            points[position] = (x + (STOP_SHORT if placed.sides[end] == "right" else -STOP_SHORT), y)
    return tuple(points)


def _end(placed: PlacedRun, end: int) -> Iterator[Shape]:
    """Yield the screw or loose end, the mark and the label at one end."""
    run, at = placed.run, placed.run.ends[end]
    x, y = placed.points[0 if end == 0 else -1]
    out = 1.0 if placed.sides[end] == "right" else -1.0
    if at.terminal:
        yield Circle(x, y, 2.6, fill=INK)
    else:
        yield from loose_end(at, x + out * STOP_SHORT, y, out)
        text = shortened(at.said, LABEL_MOST, ABOUT_SIZE)
        yield Text(x - out * 6.0, y + 2.8, text, ABOUT_SIZE, "end" if out > 0 else "start", italic=True)
    start = x + out * (FRAME + GAP)
    if run.marked:
        yield from change_mark(start + out * 5.5, y, run)
        start += out * MARK
    label = shortened(at.label, LABEL_MOST, LABEL_SIZE)
    yield Text(start, y - 5.0, label, LABEL_SIZE, "start" if out > 0 else "end")
