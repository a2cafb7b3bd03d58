"""The wiring map: what lands where in a house, every conductor drawn from end to end and named at both.

Colours are drawn as the insulation is, with a dark edge so that white and yellow show, and are always named. What
changes is drawn heavier and numbered; nothing is told by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from urllib.parse import quote

from subbase.catalog import Catalog
from subbase.papers.drawing import (
    INK,
    PAPER,
    QUIET,
    SHADE,
    Area,
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
from subbase.papers.insulation import insulation_of
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
from subbase.papers.map_layout import Layout, PlacedBox, PlacedRun, layout
from subbase.papers.map_model import Box, Changed, End, Run, RunKey, boxes_of, cable_letters, cable_words, runs_of
from subbase.papers.measure import shortened, wrapped
from subbase.survey import CUT_SHORT, LOOSE, Survey

MARGIN = 12.0
TITLE_SIZE, KEY_SIZE, KEY_STEP, KEY_COLUMN = 13.0, 8.5, 11.0, 250.0
WIRE, HEAVY, EDGE = 2.2, 4.0, 1.9
"""Width of a conductor, of one that changes, and what its dark edge adds."""
FINGER = 13.0
"""Width of what can be tapped along a conductor."""
STOP_SHORT = 9.0
"""How far from the box an end stops that is on no terminal."""


def wiring_map_svg(survey: Survey, catalog: Catalog, *, title: str, changed: Changed) -> str:
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
    changed: Changed,
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
    key, key_height = _key(survey, runs, placed, width - 2 * MARGIN)
    shapes += [moved(shape, MARGIN, bottom) for shape in key]
    return Drawing(title, _about(survey, runs), width, bottom + key_height + MARGIN, tuple(shapes))


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
    return replace(box, terminals=terminals, about=(*box.about, "(more terminals than shown)"))


def _about(survey: Survey, runs: Sequence[Run]) -> str:
    """Say in words what the picture shows."""
    said = []
    for run in runs:
        a, b = (_end_words(end) for end in run.ends)
        what = f"{run.cable} {run.conductor}" if run.kind == "conductor" else "link"
        said.append(f"{what}: {a} to {b}{' (changed)' if run.number else ''}")
    return f"Wiring of {survey.name}. {'; '.join(said)}."


def _end_words(end: End) -> str:
    return f"{end.place} {end.terminal}" if end.terminal else f"{end.nowhere} at {end.place}"


def _picture(placed: Layout) -> Iterator[Shape]:
    for frame in placed.frames:
        yield Rect(frame, fill=SHADE, stroke="#9a9a9a", width=0.6, radius=4.0)
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
            value = "/".join(quote(part, safe="") for part in run.run.key)
            label = f"{run.run.conductor}: {' to '.join(_end_words(end) for end in run.run.ends)}"
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
            yield Line(((area.left, area.top), (area.right, area.top)), "#8a8a8a", 0.6)
            text = shortened(row.terminal, area.right - area.left - 16.0, TERMINAL_SIZE, bold=True)
            yield Text(middle, (area.top + area.bottom) / 2 + 3.3, text, TERMINAL_SIZE, "middle", bold=True)


# --- runs ------------------------------------------------------------------------------------------------------------


def _wire(placed: PlacedRun) -> Iterator[Shape]:
    """Yield the line of a run; in two colours when its ends bear different ones."""
    run = placed.run
    points = _shortened_points(placed)
    if run.kind != "conductor":
        dash = "1.5 2.5" if run.kind == "inside" else ("4 2.5" if run.doubtful else "")
        yield Line(points, PAPER, 4.0)
        yield Line(points, INK, 2.6 if run.number else 1.3, dash)
        return
    width = HEAVY if run.number else WIRE
    first, second = (insulation_of(end.colour) for end in run.ends)
    halves = _halves(points)
    parts = ((points, first),) if first == second else ((halves[0], first), (halves[1], second))
    # A paper-coloured border keeps crossing conductors apart to the eye.
    yield Line(points, PAPER, width + EDGE + 2.2)
    yield Line(points, INK, width + EDGE)
    for part, look in parts:
        yield Line(part, look.base, width)
        if look.stripe:
            yield Line(part, look.stripe, width * 0.5, "5 4")
    if first != second:
        yield from _splice(halves[1][0])


def _splice(at: Point) -> Iterator[Shape]:
    x, y = at
    yield Line(((x - 5, y), (x, y - 5), (x + 5, y), (x, y + 5)), INK, 1.0, fill=PAPER)


def _shortened_points(placed: PlacedRun) -> tuple[Point, ...]:
    """Return a run's points, stopped short where an end is on no terminal."""
    points = list(placed.points)
    for end, position in ((0, 0), (1, -1)):
        if placed.run.ends[end].nowhere:
            x, y = points[position]
            points[position] = (x + (STOP_SHORT if placed.sides[end] == "right" else -STOP_SHORT), y)
    return tuple(points)


def _halves(points: Sequence[Point]) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
    """Return a run cut in the middle of its middle part."""
    cut = (len(points) - 1) // 2
    (x1, y1), (x2, y2) = points[cut], points[cut + 1]
    middle = ((x1 + x2) / 2, (y1 + y2) / 2)
    return (*points[: cut + 1], middle), (middle, *points[cut + 1 :])


def _end(placed: PlacedRun, end: int) -> Iterator[Shape]:
    """Yield the screw or loose end, the mark and the label at one end."""
    run, at = placed.run, placed.run.ends[end]
    x, y = placed.points[0 if end == 0 else -1]
    out = 1.0 if placed.sides[end] == "right" else -1.0
    if at.terminal:
        yield Circle(x, y, 2.6, fill=INK)
    else:
        yield from _loose_end(at, x + out * STOP_SHORT, y, out)
        text = shortened(at.nowhere, LABEL_MOST, ABOUT_SIZE)
        yield Text(x - out * 6.0, y + 2.8, text, ABOUT_SIZE, "end" if out > 0 else "start", italic=True)
    start = x + out * (FRAME + GAP)
    if run.number:
        yield from _mark(start + out * 5.5, y, run.number)
        start += out * MARK
    label = shortened(at.label, LABEL_MOST, LABEL_SIZE)
    yield Text(start, y - 5.0, label, LABEL_SIZE, "start" if out > 0 else "end", bold=False)


def _loose_end(at: End, x: float, y: float, out: float) -> Iterator[Shape]:
    if at.nowhere == LOOSE:
        yield Circle(x, y, 3.2)
    elif at.nowhere == CUT_SHORT:
        for shift in (-1.5, 1.5):
            yield Line(((x + shift - out * 2, y + 5), (x + shift + out * 2, y - 5)), INK, 1.2)
    else:
        yield Rect(Area(x - 3.2, y - 3.2, x + 3.2, y + 3.2), dash="2 1.5")


def _mark(x: float, y: float, number: int) -> Iterator[Shape]:
    yield Circle(x, y, 6.6, fill=INK)
    yield Text(x, y + 2.8, str(number), 8.0, "middle", bold=True, fill=PAPER)


# --- key -------------------------------------------------------------------------------------------------------------


def _key(survey: Survey, runs: Sequence[Run], placed: Layout, width: float) -> tuple[list[Shape], float]:
    """Return the key below the picture, from (0, 0) down, and its height."""
    letters = cable_letters(survey)
    columns = max(1, int(width // KEY_COLUMN))
    column_width = width / columns
    drawn = {run.cable for run in runs}
    cables = [(letters[name], cable_words(survey, name)) for name in survey.cables if name in drawn]
    changes = [(str(run.number), _change_words(run)) for run in runs if run.number]
    made = (
        list(_block("Cables", cables, False, column_width - 14.0)),
        list(_block("Numbered: new or moved", changes, True, column_width - 14.0)),
        list(_signs(runs, placed, column_width - 14.0)),
    )
    blocks = [block for block in made if block]
    if len(blocks) > columns:
        blocks = [[item for block in blocks for item in block]]
    shares = [1] * len(blocks)
    for _ in range(columns - len(blocks) if blocks else 0):
        tallest = max(range(len(blocks)), key=lambda n: _height(blocks[n]) / shares[n])
        shares[tallest] += 1
    shapes: list[Shape] = [Line(((0, 0), (width, 0)), INK, 0.8)] if blocks else []
    x, lowest = 0.0, 6.0
    for block, share in zip(blocks, shares, strict=True):
        target, y, first = _height(block) / share, 6.0, x
        for height, shown in block:
            if y > 6.0 and y + height * 0.5 > target + 6.0 and x + column_width < first + share * column_width - 1.0:
                x, y = x + column_width, 6.0
            shapes += [moved(shape, x, y) for shape in shown]
            y += height
            lowest = max(lowest, y)
        x = first + share * column_width
    return shapes, lowest


def _height(block: Sequence[tuple[float, list[Shape]]]) -> float:
    return sum(height for height, _ in block)


def _block(
    heading: str, rows: Iterable[tuple[str, str]], marked: bool, width: float
) -> Iterator[tuple[float, list[Shape]]]:
    """Yield (height, shapes) for the heading and each row."""
    rows = list(rows)
    for number, (sign, words) in enumerate(rows):
        head: list[Shape] = []
        y = 0.0
        if number == 0:
            head.append(Text(0, KEY_SIZE + 2.0, heading, KEY_SIZE, bold=True))
            y = KEY_STEP + 4.0
        lines = wrapped(words, width - 20.0, KEY_SIZE)
        if marked:
            head += _mark(7.0, y + KEY_SIZE - 1.5, int(sign))
        else:
            head.append(Text(2.0, y + KEY_SIZE + 1.0, sign, KEY_SIZE, bold=True))
        head += [Text(20.0, y + KEY_SIZE + 1.0 + n * KEY_STEP, line, KEY_SIZE) for n, line in enumerate(lines)]
        yield y + max(1, len(lines)) * KEY_STEP + (4.0 if marked else 1.5), head


def _change_words(run: Run) -> str:
    a, b = (_end_words(end) for end in run.ends)
    what = f"{run.cable}, {run.conductor}" if run.kind == "conductor" else "link"
    return f"{what}: {a} to {b}"


def _signs(runs: Sequence[Run], placed: Layout, width: float) -> Iterator[tuple[float, list[Shape]]]:
    """Yield the signs that this drawing uses."""
    nowhere = {end.nowhere for run in runs for end in run.ends if end.nowhere}
    spliced = any(
        insulation_of(r.ends[0].colour) != insulation_of(r.ends[1].colour) for r in runs if r.kind == "conductor"
    )
    signs: list[tuple[list[Shape], str]] = []
    y = KEY_SIZE - 1.5
    if LOOSE in nowhere:
        signs.append(([Line(((0, y), (10, y)), INK, 3.0), Circle(11, y, 3.2)], "loose: on no terminal"))
    if CUT_SHORT in nowhere:
        cut = [*_loose_end(End("", "", CUT_SHORT, "", ""), 11, y, 1.0)]
        signs.append(([Line(((0, y), (10, y)), INK, 3.0), *cut], "cut short: cannot be landed"))
    if any(text.startswith("not known") for text in nowhere):
        square = Rect(Area(8, y - 3.2, 14.4, y + 3.2), dash="2 1.5")
        signs.append(([Line(((0, y), (8, y)), INK, 3.0), square], "not known where it lands"))
    if spliced:
        signs.append(([*_splice((8, y))], "changes colour somewhere out of sight"))
    if any(run.kind == "lead" for run in runs):
        signs.append(([Line(((0, y), (14, y)), INK, 1.3)], "jumper, or lead inside a cabinet"))
    if any(run.kind == "inside" for run in runs):
        signs.append(([Line(((0, y), (14, y)), INK, 1.3, "1.5 2.5")], "joined inside the control"))
    if placed.frames:
        signs.append(
            ([Rect(Area(0, y - 4, 14, y + 4), fill=SHADE, stroke="#9a9a9a", width=0.6)], "one cabinet, or side by side")
        )
    for number, (shapes, words) in enumerate(signs):
        top = 0.0
        made: list[Shape] = []
        if number == 0:
            made.append(Text(0, KEY_SIZE + 2.0, "Signs", KEY_SIZE, bold=True))
            top = KEY_STEP + 4.0
        made += [moved(shape, 0, top) for shape in shapes]
        lines = wrapped(words, width - 20.0, KEY_SIZE)
        made += [Text(20.0, top + KEY_SIZE + 1.0 + n * KEY_STEP, line, KEY_SIZE) for n, line in enumerate(lines)]
        yield top + len(lines) * KEY_STEP + 1.5, made
