"""The pieces of a rung: terminals, conductors, elements, loads and branches, each a cell with the line at y = 0."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from urllib.parse import quote

from subbase.papers.drawing import INK, QUIET, Circle, Line, Shape, Target, Text, moved
from subbase.papers.measure import width_of, wrapped
from subbase.papers.rung_steps import Along, AtTerminal, Either, Step, Through
from subbase.papers.rung_trees import Element
from subbase.papers.rungs import Joints, Load
from subbase.papers.symbols import HALF, depth_of, element_symbol, load_symbol
from subbase.words import _

LABEL_SIZE, SMALL = 8.5, 8.0
STEP, SMALL_STEP = 10.0, 9.2
LABEL_MOST = 96.0
RUNG_GAP = 9.0
VOLTS = "00.0 V"
"""Stands where a script puts a reading."""
FINGER = 18.0
OVERLAP = 0.3
"""How far pieces of line reach into each other, so that no hairline shows between them."""


@dataclass(frozen=True, slots=True)
class Cell:
    """A piece of a rung from (0, 0) to (width, 0)."""

    width: float
    up: float
    down: float
    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class Bench:
    """What cells are drawn with."""

    joints: Joints
    numbers: dict[str, int]
    """Load -> rung."""
    live: bool = False
    """Whether there is room for what a script shows."""
    common: str = ""
    """Node that volts are told against."""


def row(cells: Sequence[Cell]) -> Cell:
    """Return cells one after the other."""
    shapes: list[Shape] = []
    x = 0.0
    for cell in cells:
        shapes += [moved(shape, x, 0) for shape in cell.shapes]
        x += cell.width
    up = max((cell.up for cell in cells), default=2.0)
    return Cell(x, up, max((cell.down for cell in cells), default=2.0), tuple(shapes))


def wire_of(width: float, part: str) -> Line:
    """Return a piece of line."""
    return Line(((-OVERLAP, 0), (width + OVERLAP, 0)), part=f"p:{part}")


def terminal(node: str, bench: Bench, part: str) -> Cell:
    """Return a terminal's circle with its name and place below."""
    place, __, name = node.partition(".")
    lines = wrapped(place, 62.0, SMALL, lines=2)
    widths = [width_of(line, SMALL) for line in lines] + [width_of(name, LABEL_SIZE, bold=True)]
    if bench.live:
        widths.append(width_of(VOLTS, SMALL, bold=True))
    width = max(widths) + 6.0
    middle = width / 2
    shapes: list[Shape] = [wire_of(width, part)]
    if bench.live:
        shapes.append(Target("point", node, f"{place} {name}", ((middle - 9, 0), (middle + 9, 0)), FINGER))
    shapes.append(Circle(middle, 0, 2.6))
    shapes.append(Text(middle, 12.0, name, LABEL_SIZE, "middle", bold=True))
    shapes += [
        Text(middle, 12.0 + SMALL_STEP * (n + 1), line, SMALL, "middle", fill=QUIET) for n, line in enumerate(lines)
    ]
    down = 14.0 + SMALL_STEP * len(lines)
    if bench.live:
        shapes.append(Text(middle, down + 7.5, VOLTS, SMALL, "middle", bold=True, part=volts_part(node, bench.common)))
        down += SMALL_STEP + 1.0
    return Cell(width, 5.0, down, tuple(shapes))


def volts_part(node: str, common: str) -> str:
    """Return the name of the place where a node's volts to a common are put; a node's name may hold any sign."""
    return f"v:{quote(node, safe='')}|{quote(common, safe='')}"


def conductor(name: str, part: str) -> Cell:
    """Return a piece of line with the conductor's name above it."""
    lines = wrapped(name, 52.0, SMALL, lines=3)
    width = max((width_of(line, SMALL) for line in lines), default=0.0) + 2.0
    texts = above(lines, width / 2, 4.0, SMALL, SMALL_STEP)
    return Cell(width, 4.0 + SMALL_STEP * len(lines), 2.0, (wire_of(width, part), *texts))


def above(lines: Sequence[str], x: float, gap: float, size: float, step: float) -> tuple[Text, ...]:
    """Return lines of text that end ``gap`` above the line."""
    count = len(lines)
    return tuple(
        Text(x, -gap - step * (count - 1 - n), line, size, "middle", fill=QUIET if size == SMALL else INK)
        for n, line in enumerate(lines)
    )


def element(item: Element, bench: Bench, part: str) -> Cell:
    """Return an element's symbol, its name above, and below it what works it."""
    names = wrapped(item.words, LABEL_MOST, LABEL_SIZE, lines=4)
    notes = wrapped(note_of(item, bench.numbers), LABEL_MOST, SMALL, lines=4)
    made = longest_state() if bench.live else ""
    widths = [width_of(line, LABEL_SIZE) for line in names] + [width_of(line, SMALL) for line in notes]
    width = max([*widths, width_of(made, SMALL, bold=True), 34.0]) + 10.0
    middle, below = width / 2, depth_of(item) + 4.0
    texts: list[Shape] = list(above(names, middle, 12.0, LABEL_SIZE, STEP))
    y = below + 7.0
    for line in notes:
        texts.append(Text(middle, y, line, SMALL, "middle", fill=QUIET))
        y += SMALL_STEP
    if made:
        texts.append(Text(middle, y, made, SMALL, "middle", bold=True, part=f"e:{item.tag}"))
        y += SMALL_STEP
    symbol = tuple(moved(shape, middle, 0) for shape in element_symbol(item))
    leads = (
        Line(((-OVERLAP, 0), (middle - HALF, 0)), part=f"p:{part}"),
        Line(((middle + HALF, 0), (width + OVERLAP, 0)), part=f"p:{part}"),
    )
    return Cell(width, 13.0 + STEP * len(names), y - SMALL_STEP + 4.0, (*leads, *symbol, *texts))


def longest_state() -> str:
    """Return the longest word for how a contact stands."""
    return max(_("made"), _("open"), key=len)


def note_of(item: Element, numbers: dict[str, int]) -> str:
    """Return what works an element."""
    if item.sort != "contact":
        return item.note
    works = [str(number) for number in sorted(numbers[tag] for tag in item.worked_by if tag in numbers)]
    if not works:
        return _("worked by nothing on this ladder")
    said = works[0]
    if len(works) > 1:
        said = _("{several} or {last}").format(several=", ".join(works[:-1]), last=works[-1])
    return (_("opened by {rungs}") if item.closed else _("closed by {rungs}")).format(rungs=said)


def load_cell(load: Load, bench: Bench, part: str) -> Cell:
    """Return a load: its symbol with its rung's number, its name above."""
    number = bench.numbers[load.tag]
    names = wrapped(load.words, LABEL_MOST, LABEL_SIZE, lines=4)
    width = max([width_of(line, LABEL_SIZE) for line in names] + [30.0]) + 10.0
    middle = width / 2
    reach = HALF if load.sort in ("solenoid", "board") else 10.0
    shapes: list[Shape] = [
        Line(((-OVERLAP, 0), (middle - reach, 0)), part=f"p:{part}"),
        Line(((middle + reach, 0), (width + OVERLAP, 0)), part=f"p:{part}"),
    ]
    shapes += [moved(shape, middle, 0) for shape in load_symbol(load, number)]
    shapes += above(names, middle, 14.0, LABEL_SIZE, STEP)
    down = 24.0 if load.sort in ("solenoid", "motor") else 13.0
    if bench.live:
        shapes.append(Text(middle, down + 7.5, longest_on(), SMALL, "middle", bold=True, part=f"o:{load.tag}"))
        down += SMALL_STEP
    return Cell(width, 15.0 + STEP * len(names), down, tuple(shapes))


def longest_on() -> str:
    """Return the longest word for whether a load works."""
    return max(_("ON"), _("off"), key=len)


# --- steps -----------------------------------------------------------------------------------------------------------


def cells_of(steps: Sequence[Step], bench: Bench) -> list[Cell]:
    """Return the cells of steps."""
    return [_cell(step, bench) for step in steps]


def _cell(step: Step, bench: Bench) -> Cell:
    match step:
        case AtTerminal():
            return terminal(step.node, bench, step.part)
        case Along():
            return conductor(step.name, step.part)
        case Through():
            return element(step.element, bench, step.part)
        case Either():
            return _either(step, bench)


def _either(step: Either, bench: Bench) -> Cell:
    """Return branches below one another, joined at both ends."""
    rows = [row(cells_of(branch, bench)) for branch in step.branches]
    inner = max(found.width for found in rows)
    pad = 9.0
    right = 2 * pad + inner
    shapes: list[Shape] = []
    y = 0.0
    for number, (found, (first, last)) in enumerate(zip(rows, step.parts, strict=True)):
        if number:
            lower = y + rows[number - 1].down + RUNG_GAP + found.up
            for x, at_end in ((0.0, 0), (right, 1)):
                onward = " ".join(f"p:{parts[at_end]}" for parts in step.parts[number:])
                shapes.append(Line(((x, y), (x, lower)), part=onward))
            y = lower
        shapes += [moved(shape, pad, y) for shape in found.shapes]
        shapes += [
            Line(((0, y), (pad, y)), part=f"p:{first}"),
            Line(((pad + found.width, y), (right, y)), part=f"p:{last}"),
        ]
    if y:
        shapes += [Circle(x, 0, 2.0, fill=INK) for x in (0.0, right)]
    return Cell(right, rows[0].up, y + rows[-1].down, tuple(shapes))
