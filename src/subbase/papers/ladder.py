"""The ladder diagram: hot rail at the left, common rail at the right, one rung for each load, by trade drawing practice.

Contacts are drawn as they stand with nothing called. A contact says which rung works it; a switch says what makes it
open or close. Terminals that a rung crosses are named below the line, conductors above it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.papers.drawing import INK, QUIET, Area, Circle, Drawing, Line, Point, Rect, Shape, Target, Text, moved, svg
from subbase.papers.measure import width_of, wrapped
from subbase.papers.rungs import Element, Joints, Ladder, Leaf, Load, Parallel, Rung, Series, Supply, Tree, ladder_of
from subbase.survey import Survey

MARGIN, NUMBER_ROOM = 12.0, 22.0
TITLE_SIZE, HEAD_SIZE, LABEL_SIZE, SMALL = 13.0, 10.0, 8.5, 8.0
STEP, SMALL_STEP = 10.0, 9.2
LABEL_MOST = 96.0
RUNG_GAP = 9.0
LEAST_WIDTH = 470.0


def ladder_svg(survey: Survey, catalog: Catalog, *, title: str) -> str:
    """Return the ladder diagram of a house without unknowns as SVG."""
    return svg(ladder_sheets(survey, catalog, title=title)[0])


def ladder_sheets(
    survey: Survey, catalog: Catalog, *, title: str, room: tuple[float, float] | None = None
) -> tuple[Drawing, ...]:
    """Return the ladder diagram: whole under its title, or in sheets without one that fit a room of (width, height)."""
    ladder = ladder_of(survey, catalog)
    numbers = _numbers(ladder)
    blocks = [block for supply in ladder.supplies for block in _supply_blocks(supply, ladder.joints, numbers)]
    rung_width = max([*(block.width for block in blocks), LEAST_WIDTH])
    width = rung_width + NUMBER_ROOM + 2 * MARGIN
    most = math.inf if room is None else room[1] / min(1.0, room[0] / width) - 2 * MARGIN
    blocks += _tail_blocks(ladder, rung_width)
    pages = _balanced(blocks, rung_width, most)
    about = _about(survey, ladder)
    return tuple(_sheet(title, about, width, page, headed=room is None) for page in pages)


def _numbers(ladder: Ladder) -> dict[str, int]:
    """Return load -> the number of the first rung it stands in."""
    tags = dict.fromkeys(rung.load.tag for supply in ladder.supplies for rung in supply.rungs)
    return {tag: number for number, tag in enumerate(tags, start=1)}


def _about(survey: Survey, ladder: Ladder) -> str:
    said = [
        f"{supply.words} feeds {', '.join(rung.load.words for rung in supply.rungs)}"
        for supply in ladder.supplies
        if supply.rungs
    ]
    return f"Ladder diagram of {survey.name}. {'; '.join(said)}."


# --- cells: pieces of a rung, the line at y = 0 ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Cell:
    """A piece of a rung from (0, 0) to (width, 0)."""

    width: float
    up: float
    down: float
    shapes: tuple[Shape, ...]


def _wire(width: float) -> Line:
    return Line(((0, 0), (width, 0)))


def _row(cells: Sequence[_Cell]) -> _Cell:
    """Return cells one after the other."""
    shapes: list[Shape] = []
    x = 0.0
    for cell in cells:
        shapes += [moved(shape, x, 0) for shape in cell.shapes]
        x += cell.width
    up = max((cell.up for cell in cells), default=2.0)
    return _Cell(x, up, max((cell.down for cell in cells), default=2.0), tuple(shapes))


def _terminal(node: str) -> _Cell:
    """Return a terminal's circle with its place and name below."""
    place, _, terminal = node.partition(".")
    lines = wrapped(place, 62.0, SMALL, lines=2)
    width = max([width_of(line, SMALL) for line in lines] + [width_of(terminal, LABEL_SIZE, bold=True)]) + 6.0
    middle = width / 2
    shapes: list[Shape] = [_wire(width), Circle(middle, 0, 2.6)]
    shapes.append(Text(middle, 12.0, terminal, LABEL_SIZE, "middle", bold=True))
    shapes += [
        Text(middle, 12.0 + SMALL_STEP * (n + 1), line, SMALL, "middle", fill=QUIET) for n, line in enumerate(lines)
    ]
    return _Cell(width, 5.0, 14.0 + SMALL_STEP * len(lines), tuple(shapes))


def _conductor(name: str) -> _Cell:
    """Return a piece of line with the conductor's name above it."""
    lines = wrapped(name, 52.0, SMALL, lines=3)
    width = max((width_of(line, SMALL) for line in lines), default=0.0) + 2.0
    texts = _above(lines, width / 2, 4.0, SMALL, SMALL_STEP)
    return _Cell(width, 4.0 + SMALL_STEP * len(lines), 2.0, (_wire(width), *texts))


def _above(lines: Sequence[str], x: float, gap: float, size: float, step: float) -> tuple[Text, ...]:
    count = len(lines)
    return tuple(
        Text(x, -gap - step * (count - 1 - n), line, size, "middle", fill=QUIET if size == SMALL else INK)
        for n, line in enumerate(lines)
    )


def _element(element: Element, numbers: dict[str, int]) -> _Cell:
    """Return an element's symbol, its name above, and below it what works it."""
    names = wrapped(element.words, LABEL_MOST, LABEL_SIZE, lines=4)
    notes = wrapped(_note(element, numbers), LABEL_MOST, SMALL, lines=4)
    widths = [width_of(line, LABEL_SIZE) for line in names] + [width_of(line, SMALL) for line in notes]
    width = max([*widths, 34.0]) + 10.0
    middle = width / 2
    texts: list[Shape] = list(_above(names, middle, 12.0, LABEL_SIZE, STEP))
    texts += [Text(middle, 19.0 + n * SMALL_STEP, line, SMALL, "middle", fill=QUIET) for n, line in enumerate(notes)]
    symbol = tuple(moved(shape, middle, 0) for shape in _symbol(element))
    leads = (Line(((0, 0), (middle - 11, 0))), Line(((middle + 11, 0), (width, 0))))
    up = 13.0 + STEP * len(names)
    return _Cell(width, up, 13.0 + (SMALL_STEP * len(notes) + 2.0 if notes else 0.0), (*leads, *symbol, *texts))


def _note(element: Element, numbers: dict[str, int]) -> str:
    if element.sort == "contact":
        works = [str(number) for number in sorted(numbers[tag] for tag in element.worked_by if tag in numbers)]
        if not works:
            return "worked by nothing on this ladder"
        said = f"{', '.join(works[:-1])} or {works[-1]}" if len(works) > 1 else works[0]
        return f"{'opened' if element.closed else 'closed'} by {said}"
    return element.note


def _symbol(element: Element) -> Iterator[Shape]:
    """Yield a symbol 22 wide around (0, 0)."""
    match element.sort:
        case "contact" | "output":
            yield Line(((-11, 0), (-4, 0)))
            yield Line(((4, 0), (11, 0)))
            yield Line(((-4, -8), (-4, 8)), width=1.4)
            yield Line(((4, -8), (4, 8)), width=1.4)
            if element.closed:
                yield Line(((-8, 8), (8, -8)), width=1.2)
        case "switch":
            end_y = -2.0 if element.closed else -8.0
            yield Line(((-8, 0), (8, end_y)), width=1.4)
            yield Circle(-9, 0, 2.2)
            yield Circle(9, 0, 2.2)
        case "fuse":
            yield Rect(Area(-11, -4, 11, 4))
            yield Line(((-11, 0), (11, 0)), width=0.8)
        case "resistor":
            zigzag = tuple((-11 + 22 / 6 * n, 0 if n in (0, 6) else (-5 if n % 2 else 5)) for n in range(7))
            yield Line(zigzag)


def _load(load: Load, number: int) -> _Cell:
    """Return a load: a circle with its rung's number, its name above."""
    names = wrapped(load.words, LABEL_MOST, LABEL_SIZE, lines=4)
    width = max([width_of(line, LABEL_SIZE) for line in names] + [30.0]) + 10.0
    middle = width / 2
    shapes: list[Shape] = [Line(((0, 0), (middle - 10, 0))), Line(((middle + 10, 0), (width, 0)))]
    shapes.append(Circle(middle, 0, 10, width=1.4))
    shapes.append(Text(middle, 3.2, str(number), 9.0, "middle", bold=True))
    shapes += _above(names, middle, 14.0, LABEL_SIZE, STEP)
    return _Cell(width, 15.0 + STEP * len(names), 13.0, tuple(shapes))


# --- rungs -----------------------------------------------------------------------------------------------------------


def _side(series: Series, before: str, after: str, joints: Joints, numbers: dict[str, int]) -> list[_Cell]:
    """Return the cells of one side of a rung.

    ``before`` is the node already named at its left, ``after`` the node that will be named at its right; empty at a
    rail.
    """
    cells: list[_Cell] = []
    at, named = before, bool(before)
    for position, item in enumerate(series.items):
        if isinstance(item, Leaf):
            cells += _joint(at or item.start, item.start, joints, skip_first=named, skip_last=False)
            cells.append(_element(item.element, numbers))
            at, named = item.end, False
        else:
            following = series.items[position + 1] if position + 1 < len(series.items) else None
            onward = following.start if isinstance(following, Leaf) else after
            if at and not named:
                cells += _joint(at, at, joints, skip_first=False, skip_last=False)
            cells.append(_parallel(item, at, onward, joints, numbers))
            at, named = onward, False
            if not onward:
                at, named = "", True
    if at and after:
        cells += _joint(at, after, joints, skip_first=named, skip_last=True)
    elif at and not named:
        cells += _joint(at, at, joints, skip_first=False, skip_last=False)
    return cells


def _joint(start: str, end: str, joints: Joints, *, skip_first: bool, skip_last: bool) -> list[_Cell]:
    """Return the terminals and conductors between two joined nodes."""
    way = joints.way(start, end)
    cells: list[_Cell] = []
    for position, (conductor, node) in enumerate(way):
        if conductor:
            cells.append(_conductor(conductor))
        skipped = (skip_first and position == 0) or (skip_last and position == len(way) - 1)
        if "/" not in node and not skipped:
            cells.append(_terminal(node))
    return cells


def _parallel(item: Tree, before: str, after: str, joints: Joints, numbers: dict[str, int]) -> _Cell:
    """Return branches below one another, joined at both ends."""
    branches = item.items if isinstance(item, Parallel) else (item,)
    rows = [_row(_side(_as_series(branch), before, after, joints, numbers)) for branch in branches]
    inner = max(row.width for row in rows)
    pad = 9.0
    shapes: list[Shape] = []
    y = 0.0
    for number, row in enumerate(rows):
        if number:
            y += rows[number - 1].down + RUNG_GAP + row.up
        shapes += [moved(shape, pad, y) for shape in row.shapes]
        shapes += [Line(((0, y), (pad, y))), Line(((pad + row.width, y), (2 * pad + inner, y)))]
    if y:
        shapes += [Line(((x, 0), (x, y))) for x in (0.0, 2 * pad + inner)]
        shapes += [Circle(x, 0, 2.0, fill=INK) for x in (0.0, 2 * pad + inner)]
    return _Cell(2 * pad + inner, rows[0].up, y + rows[-1].down, tuple(shapes))


def _as_series(tree: Tree) -> Series:
    return tree if isinstance(tree, Series) else Series((tree,))


@dataclass(frozen=True, slots=True)
class _Block:
    """A piece of the ladder's height; ``draw`` is given the distance of the rails."""

    width: float
    height: float
    draw: Callable[[float], tuple[Shape, ...]]
    rails: bool = True
    """Whether both rails run past it."""
    heading: bool = False
    """Whether it must not stand last on a sheet."""


def _supply_blocks(supply: Supply, joints: Joints, numbers: dict[str, int]) -> Iterator[_Block]:
    yield _head_block(supply, joints)
    for level in range(len(supply.rail) + 1):
        if level:
            yield _rail_block(supply.rail[level - 1], joints)
        for rung in supply.rungs:
            if rung.rail == level:
                yield _rung_block(rung, joints, numbers)
    yield _Block(0.0, 10.0, lambda _: (), rails=False)


def _rung_block(rung: Rung, joints: Joints, numbers: dict[str, int]) -> _Block:
    number = numbers[rung.load.tag]
    left = _row(_side(rung.hot_side, "", rung.load.hot, joints, numbers))
    first_common = _joint(rung.load.common, rung.load.common, joints, skip_first=False, skip_last=False)
    rest = _side(rung.common_side, rung.load.common, "", joints, numbers)
    named_hot = _joint(rung.load.hot, rung.load.hot, joints, skip_first=False, skip_last=False)
    right = _row([*named_hot, _load(rung.load, number), *first_common, *rest])
    up, down = max(left.up, right.up), max(left.down, right.down)

    def draw(width: float) -> tuple[Shape, ...]:
        y = up + RUNG_GAP / 2
        x = width - right.width - 8.0
        shapes = [moved(shape, 8.0, y) for shape in left.shapes] + [moved(shape, x, y) for shape in right.shapes]
        lines = (
            Line(((0, y), (8, y))),
            Line(((8.0 + left.width, y), (x, y))),
            Line(((width - 8.0, y), (width, y))),
        )
        dots = (Circle(0, y, 2.0, fill=INK), Circle(width, y, 2.0, fill=INK))
        label = Text(-8.0, y + 3.0, str(number), LABEL_SIZE, "end", bold=True)
        return (*lines, *shapes, *dots, label)

    return _Block(left.width + right.width + 24.0, up + down + RUNG_GAP, draw)


def _head_block(supply: Supply, joints: Joints) -> _Block:
    """Return the transformer across the rails, with what both rails join."""
    hot = _rail_words("Hot rail here", joints.terminals(supply.hot))
    common = _rail_words("Common rail", joints.terminals(supply.common))

    def texts(width: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
        return wrapped(hot, width / 2 - 24.0, SMALL, lines=8), wrapped(common, width / 2 - 24.0, SMALL, lines=8)

    count = max(len(lines) for lines in texts(LEAST_WIDTH))

    def draw(width: float) -> tuple[Shape, ...]:
        y, middle = 30.0, width / 2
        left, right = texts(width)
        shapes: list[Shape] = [Text(middle, 12.0, supply.words, HEAD_SIZE, "middle", bold=True)]
        shapes += [Line(((0, y), (middle - 24, y))), Line(((middle + 24, y), (width, y)))]
        shapes += [Line(_half_circle(middle - 18 + 12 * n, y, 6.0), width=1.4) for n in range(4)]
        shapes += [Line(((0, y), (0, height)), width=1.6), Line(((width, y), (width, height)), width=1.6)]
        shapes += [Text(8.0, y + 14.0 + n * SMALL_STEP, line, SMALL, fill=QUIET) for n, line in enumerate(left)]
        shapes += [
            Text(width - 8.0, y + 14.0 + n * SMALL_STEP, line, SMALL, "end", fill=QUIET) for n, line in enumerate(right)
        ]
        return tuple(shapes)

    height = 30.0 + 10.0 + SMALL_STEP * count + 4.0
    return _Block(0.0, height, draw, rails=False, heading=True)


def _rail_words(name: str, terminals: Sequence[str]) -> str:
    by_place: dict[str, list[str]] = {}
    for node in terminals:
        place, _, terminal = node.partition(".")
        by_place.setdefault(place, []).append(terminal)
    said = [" ".join((place, *names)) for place, names in by_place.items()]
    return f"{name}: {', '.join(said)}" if said else ""


def _half_circle(x: float, y: float, radius: float) -> tuple[Point, ...]:
    angles = (math.pi * n / 12 for n in range(13))
    return tuple((x - radius * math.cos(angle), y - radius * math.sin(angle)) for angle in angles)


def _rail_block(leaf: Leaf, joints: Joints) -> _Block:
    """Return an element that stands in the hot rail, and what the rail joins below it."""
    element = leaf.element
    small = [element.note] if element.note else []
    small += wrapped(_rail_words("Hot rail below", joints.terminals(leaf.end)), LEAST_WIDTH - 28.0, SMALL, lines=8)
    height = 42.0 + SMALL_STEP * max(0, len(small) - 1)

    def draw(width: float) -> tuple[Shape, ...]:
        middle = 20.0
        turned = [_turned(shape, middle) for shape in _symbol(element)]
        text = [Text(14.0, middle - 1.0, element.words, LABEL_SIZE)]
        text += [Text(14.0, middle + 9.0 + n * SMALL_STEP, line, SMALL, fill=QUIET) for n, line in enumerate(small)]
        rails = (
            Line(((0, 0), (0, middle - 11)), width=1.6),
            Line(((0, middle + 11), (0, height)), width=1.6),
            Line(((width, 0), (width, height)), width=1.6),
        )
        return (*rails, *turned, *text)

    return _Block(0.0, height, draw, rails=False, heading=True)


def _turned(shape: Shape, y: float) -> Shape:
    """Return a symbol's shape turned upright, its middle at (0, y)."""
    match shape:
        case Line():
            return Line(
                tuple((py, px + y) for px, py in shape.points), shape.stroke, shape.width, shape.dash, shape.fill
            )
        case Circle():
            return Circle(shape.y, shape.x + y, shape.radius, shape.fill, shape.stroke, shape.width)
        case Rect():
            a = shape.area
            return Rect(Area(a.top, a.left + y, a.bottom, a.right + y), shape.fill, shape.stroke, shape.width)
        case Text() | Target():
            return shape


# --- sheets ----------------------------------------------------------------------------------------------------------


def _tail_blocks(ladder: Ladder, width: float) -> Iterator[_Block]:
    notes = [f"On no rung, no transformer reaches both its sides: {load.words}." for load in ladder.unreached]
    for supply in ladder.supplies:
        notes += [f"Not drawn, but it happens: {text}" for text in supply.backward]
        if not supply.complete:
            notes.append(f"There are more ways from {supply.words} than are drawn.")
    for note in dict.fromkeys(notes):
        lines = wrapped(note, width, LABEL_SIZE)
        texts = tuple(Text(0.0, 9.0 + n * STEP, line, LABEL_SIZE) for n, line in enumerate(lines))
        yield _Block(0.0, STEP * len(lines) + 4.0, lambda _, texts=texts: texts, rails=False)  # type: ignore[misc]


def _balanced(blocks: Sequence[_Block], width: float, most: float) -> list[tuple[list[Shape], float]]:
    """Return as few sheets as a height allows, as equal in height as can be."""
    pages = _paged(blocks, width, most)
    least = sum(block.height for block in blocks) / len(pages)
    while len(pages) > 1 and least < most:
        tried = _paged(blocks, width, least)
        if len(tried) == len(pages):
            return tried
        least += STEP
    return pages


def _paged(blocks: Sequence[_Block], width: float, most: float) -> list[tuple[list[Shape], float]]:
    """Return the sheets as (shapes from (0, 0), height)."""
    pages: list[tuple[list[Shape], float]] = []
    shapes: list[Shape] = []
    y = 0.0
    for position, block in enumerate(blocks):
        needed = block.height
        if block.heading and position + 1 < len(blocks):
            needed += blocks[position + 1].height
        if y and y + needed > most:
            pages.append((shapes, y))
            shapes, y = [], 0.0
        drawn = block.draw(width)
        if block.rails:
            rails = [Line(((x, 0), (x, block.height)), width=1.6) for x in (0.0, width)]
            drawn = (*rails, *drawn)
        shapes += [moved(shape, 0, y) for shape in drawn]
        y += block.height
    return [*pages, (shapes, y)]


def _sheet(title: str, about: str, width: float, page: tuple[list[Shape], float], *, headed: bool) -> Drawing:
    shapes, height = page
    lines = wrapped(title, width - 2 * MARGIN, TITLE_SIZE, bold=True) if headed else ()
    top = MARGIN + TITLE_SIZE * 1.2 * len(lines) + (8.0 if headed else 0.0)
    texts = [
        Text(MARGIN, MARGIN + TITLE_SIZE * (1 + 1.2 * n) - 2.0, line, TITLE_SIZE, bold=True)
        for n, line in enumerate(lines)
    ]
    placed = [moved(shape, MARGIN + NUMBER_ROOM, top) for shape in shapes]
    return Drawing(title, about, width, top + height + MARGIN, (*texts, *placed))
