"""The ladder diagram: hot rail at the left, common rail at the right, one rung for each load, by trade drawing practice.

Contacts are drawn as they stand with nothing called. A contact says which rung works it; a switch says what makes it
open or close. Terminals that a rung crosses are named below the line, conductors above it. A live ladder is the same
drawing with room for what a script puts in: volts at each terminal, made or open, on or off.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from subbase.catalog import Catalog
from subbase.papers.drawing import INK, QUIET, Circle, Drawing, Line, Shape, Text, moved, svg
from subbase.papers.ladder_cells import (
    LABEL_SIZE,
    RUNG_GAP,
    SMALL,
    SMALL_STEP,
    STEP,
    Bench,
    cells_of,
    load_cell,
    longest_state,
    row,
)
from subbase.papers.ladder_key import key_rows
from subbase.papers.measure import width_of, wrapped
from subbase.papers.rung_steps import joint_steps, rung_key, steps_of
from subbase.papers.rung_trees import Leaf
from subbase.papers.rungs import Ladder, Rung, Supply, ladder_of
from subbase.papers.symbols import arrow, element_symbol, transformer, turned
from subbase.survey import Survey
from subbase.words import _

MARGIN, NUMBER_ROOM = 12.0, 22.0
TITLE_SIZE, HEAD_SIZE = 13.0, 10.0
LEAST_WIDTH = 470.0
RAIL = 1.6


def ladder_svg(survey: Survey, catalog: Catalog, *, title: str) -> str:
    """Return the ladder diagram of a house without unknowns as SVG."""
    return svg(ladder_sheets(survey, catalog, title=title)[0])


def live_ladder(ladder: Ladder, *, title: str, about: str) -> Drawing:
    """Return the whole ladder with room for what a script shows; its parts are named as in ``hot_pieces``."""
    return _sheets(ladder, Bench(ladder.joints, numbers_of(ladder), live=True), title, about, None)[0]


def ladder_sheets(
    survey: Survey, catalog: Catalog, *, title: str, room: tuple[float, float] | None = None
) -> tuple[Drawing, ...]:
    """Return the ladder diagram: whole under its title, or in sheets without one that fit a room of (width, height)."""
    ladder = ladder_of(survey, catalog)
    bench = Bench(ladder.joints, numbers_of(ladder))
    return _sheets(ladder, bench, title, about_ladder(survey, ladder), room)


def _sheets(
    ladder: Ladder, bench: Bench, title: str, about: str, room: tuple[float, float] | None
) -> tuple[Drawing, ...]:
    blocks = [
        block for position, supply in enumerate(ladder.supplies) for block in _supply_blocks(supply, position, bench)
    ]
    rung_width = max([*(block.width for block in blocks), LEAST_WIDTH])
    width = rung_width + NUMBER_ROOM + 2 * MARGIN
    most = math.inf if room is None else room[1] / min(1.0, room[0] / width) - 2 * MARGIN
    blocks += _tail_blocks(ladder, rung_width)
    pages = _balanced(blocks, rung_width, most)
    return tuple(_sheet(title, about, width, page, headed=room is None and not bench.live) for page in pages)


def numbers_of(ladder: Ladder) -> dict[str, int]:
    """Return load -> the number of the first rung it stands in."""
    tags = dict.fromkeys(rung.load.tag for supply in ladder.supplies for rung in supply.rungs)
    return {tag: number for number, tag in enumerate(tags, start=1)}


def about_ladder(survey: Survey, ladder: Ladder) -> str:
    """Say in words what a ladder shows."""
    feeds = _("{supply} feeds {loads}")
    said = [
        feeds.format(supply=supply.words, loads=", ".join(rung.load.words for rung in supply.rungs))
        for supply in ladder.supplies
        if supply.rungs
    ]
    return _("Ladder diagram of {house}. {supplies}.").format(house=survey.name, supplies="; ".join(said))


# --- blocks: pieces of the ladder's height ---------------------------------------------------------------------------


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


def _supply_blocks(supply: Supply, position: int, bench: Bench) -> Iterator[_Block]:
    bench = replace(bench, common=supply.common)
    yield _head_block(supply, bench)
    for level in range(len(supply.rail) + 1):
        if level:
            yield _rail_block(supply.rail[level - 1], bench)
        for number, rung in enumerate(supply.rungs):
            if rung.rail == level:
                yield _rung_block(rung, rung_key(position, number), bench)
    yield _Block(0.0, 10.0, lambda __: (), rails=False)


def _rung_block(rung: Rung, key: str, bench: Bench) -> _Block:
    number = bench.numbers[rung.load.tag]
    hot, common, load = rung.load.hot, rung.load.common, f"{key}l"
    last = f"{key}h.{len(rung.hot_side.items)}j"
    joints = bench.joints
    left = row(cells_of(steps_of(rung.hot_side, ("", hot), joints, f"{key}h"), bench))
    to_load = cells_of(joint_steps(hot, hot, joints, last), bench)
    onward = (*joint_steps(common, common, joints, load), *steps_of(rung.common_side, (common, ""), joints, f"{key}c"))
    right = row([*to_load, load_cell(rung.load, bench, load), *cells_of(onward, bench)])
    up, down = max(left.up, right.up), max(left.down, right.down)

    def draw(width: float) -> tuple[Shape, ...]:
        y = up + RUNG_GAP / 2
        x = width - right.width - 8.0
        shapes = [moved(shape, 8.0, y) for shape in left.shapes] + [moved(shape, x, y) for shape in right.shapes]
        lines: list[Shape] = [
            Line(((0, y), (8, y)), part=f"p:{key}h.0j"),
            Line(((8.0 + left.width, y), (x, y)), part=f"p:{last}"),
            Line(((width - 8.0, y), (width, y)), part=f"p:{load}"),
        ]
        if bench.live:
            lines.append(moved(arrow((8.0 + left.width + x) / 2, part=f"a:{load}"), 0, y))
        dots = (Circle(0, y, 2.0, fill=INK), Circle(width, y, 2.0, fill=INK))
        label = Text(-8.0, y + 3.0, str(number), LABEL_SIZE, "end", bold=True)
        return (*lines, *shapes, *dots, label)

    return _Block(left.width + right.width + (44.0 if bench.live else 24.0), up + down + RUNG_GAP, draw)


def _head_block(supply: Supply, bench: Bench) -> _Block:
    """Return the transformer across the rails, with what both rails join."""
    hot = rail_words(_("Hot rail here: {terminals}"), bench.joints.terminals(supply.hot))
    common = rail_words(_("Common rail: {terminals}"), bench.joints.terminals(supply.common))

    def texts(width: float) -> tuple[tuple[str, ...], tuple[str, ...]]:
        return wrapped(hot, width / 2 - 24.0, SMALL, lines=8), wrapped(common, width / 2 - 24.0, SMALL, lines=8)

    count = max(len(lines) for lines in texts(LEAST_WIDTH))
    y = 46.0
    height = y + 14.0 + SMALL_STEP * count

    def draw(width: float) -> tuple[Shape, ...]:
        middle = width / 2
        left, right = texts(width)
        shapes: list[Shape] = [Text(middle, 12.0, supply.words, HEAD_SIZE, "middle", bold=True)]
        shapes += [Line(((0, y), (middle - 24, y))), Line(((middle + 24, y), (width, y)))]
        shapes += transformer(middle, y)
        shapes.append(Text(middle + 40.0, y - 18.0, _("line voltage"), SMALL, fill=QUIET))
        shapes += [Line(((x, y), (x, height)), width=RAIL) for x in (0.0, width)]
        shapes += [Text(8.0, y + 14.0 + n * SMALL_STEP, line, SMALL, fill=QUIET) for n, line in enumerate(left)]
        shapes += [
            Text(width - 8.0, y + 14.0 + n * SMALL_STEP, line, SMALL, "end", fill=QUIET) for n, line in enumerate(right)
        ]
        return tuple(shapes)

    return _Block(0.0, height, draw, rails=False, heading=True)


def rail_words(words: str, terminals: Sequence[str]) -> str:
    """Return what a rail joins, place by place; empty when that is no terminal."""
    by_place: dict[str, list[str]] = {}
    for node in terminals:
        place, __, terminal = node.partition(".")
        by_place.setdefault(place, []).append(terminal)
    said = [" ".join((place, *names)) for place, names in by_place.items()]
    return words.format(terminals=", ".join(said)) if said else ""


def _rail_block(leaf: Leaf, bench: Bench) -> _Block:
    """Return an element that stands in the hot rail, and what the rail joins below it."""
    element, start = leaf.element, 22.0
    words = rail_words(_("Hot rail below: {terminals}"), bench.joints.terminals(leaf.end))
    small = [element.note] if element.note else []
    small += wrapped(words, LEAST_WIDTH - start - 14.0, SMALL, lines=8)
    height = 42.0 + SMALL_STEP * max(0, len(small) - 1)

    def draw(width: float) -> tuple[Shape, ...]:
        middle = 20.0
        # What reaches below the line would turn to the left, out of the ladder: it is mirrored to the right.
        shown = [_mirrored(turned(shape, middle)) for shape in element_symbol(element)]
        text = [Text(start, middle - 1.0, element.words, LABEL_SIZE)]
        if bench.live:
            beside = start + width_of(element.words, LABEL_SIZE) + 8.0
            text.append(Text(beside, middle - 1.0, longest_state(), SMALL, bold=True, part=f"e:{element.tag}"))
        text += [Text(start, middle + 9.0 + n * SMALL_STEP, line, SMALL, fill=QUIET) for n, line in enumerate(small)]
        rails = (
            Line(((0, 0), (0, middle - 11)), width=RAIL),
            Line(((0, middle + 11), (0, height)), width=RAIL),
            Line(((width, 0), (width, height)), width=RAIL),
        )
        return (*rails, *shown, *text)

    return _Block(0.0, height, draw, rails=False, heading=True)


def _mirrored(shape: Shape) -> Shape:
    match shape:
        case Line():
            return replace(shape, points=tuple((-x, y) for x, y in shape.points))
        case Circle():
            return replace(shape, x=-shape.x)
        case _:
            return shape


# --- sheets ----------------------------------------------------------------------------------------------------------


def tail_notes(ladder: Ladder) -> tuple[str, ...]:
    """Return what the ladder does not draw, in sentences."""
    none = _("On no rung, no transformer reaches both its sides: {load}.")
    notes = [none.format(load=load.words) for load in ladder.unreached]
    for supply in ladder.supplies:
        notes += [_("Not drawn: {what}").format(what=text) for text in supply.backward]
        if not supply.complete:
            notes.append(_("There are more ways from {supply} than are drawn.").format(supply=supply.words))
    return tuple(dict.fromkeys(notes))


def _tail_blocks(ladder: Ladder, width: float) -> Iterator[_Block]:
    for height, shapes in key_rows(ladder, width):
        yield _Block(0.0, height, lambda __, shapes=shapes: shapes, rails=False)  # type: ignore[misc]
    for note in tail_notes(ladder):
        lines = wrapped(note, width, LABEL_SIZE)
        texts = tuple(Text(0.0, 9.0 + n * STEP, line, LABEL_SIZE) for n, line in enumerate(lines))
        yield _Block(0.0, STEP * len(lines) + 4.0, lambda __, texts=texts: texts, rails=False)  # type: ignore[misc]


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
            rails = [Line(((x, 0), (x, block.height)), width=RAIL) for x in (0.0, width)]
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
