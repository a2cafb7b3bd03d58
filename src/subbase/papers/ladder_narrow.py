"""The ladder for a phone: the same rungs with the same symbols, each drawn from top to bottom, its words at the right.

A circuit drawn downwards from the hot rail to the common rail is what IEC drawings do anyway (from memory); here it
lets every text have the whole width of a narrow screen.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from subbase.papers.drawing import INK, QUIET, Circle, Drawing, Line, Shape, Target, Text, moved
from subbase.papers.ladder import numbers_of, rail_words, tail_notes
from subbase.papers.ladder_cells import VOLTS, Bench, longest_on, longest_state, note_of, volts_part
from subbase.papers.measure import width_of, wrapped
from subbase.papers.rung_steps import Along, AtTerminal, Either, Step, Through, joint_steps, rung_key, steps_of
from subbase.papers.rung_trees import Leaf
from subbase.papers.rungs import Ladder, Rung, Supply
from subbase.papers.symbols import HALF, arrow, element_symbol, load_shape, transformer, turned
from subbase.words import _

WIDTH, MARGIN = 290.0, 6.0
FIRST_X, COLUMN = 30.0, 30.0
"""Where a rung runs down, and how far beside it its next branch does."""
HEAD_SIZE, LABEL_SIZE, SMALL = 10.5, 9.5, 8.8
STEP, SMALL_STEP = 11.5, 10.4
TERMINAL_ROW, CONDUCTOR_ROW = 21.0, 14.0
FINGER = 21.0


@dataclass
class _Pen:
    """Where the drawing has come to; it is used up by one drawing and never kept."""

    bench: Bench
    y: float = MARGIN
    shapes: list[Shape] = field(default_factory=list)

    def text(self, text: str, size: float, *, bold: bool = False, quiet: bool = False, x: float = MARGIN) -> None:
        """Write lines over the whole width, and go below them."""
        for line in wrapped(text, WIDTH - MARGIN - x, size, bold=bold):
            self.y += size * 1.2
            self.shapes.append(Text(x, self.y - size * 0.25, line, size, bold=bold, fill=QUIET if quiet else INK))

    def down(self, x: float, height: float, part: str) -> None:
        """Draw the line downwards, and go with it."""
        self.shapes.append(_line(x, self.y, self.y + height, part))
        self.y += height


def narrow_ladder(ladder: Ladder, *, title: str, about: str, live: bool = False) -> Drawing:
    """Return the whole ladder 290 points wide; ``live`` leaves room for what a script shows."""
    pen = _Pen(Bench(ladder.joints, numbers_of(ladder), live=live))
    for position, supply in enumerate(ladder.supplies):
        _supply(supply, position, pen)
    for note in tail_notes(ladder):
        pen.y += 4.0
        pen.text(note, SMALL)
    return Drawing(title, about, WIDTH, pen.y + MARGIN, tuple(pen.shapes))


def _supply(supply: Supply, position: int, pen: _Pen) -> None:
    pen.bench = replace(pen.bench, common=supply.common)
    pen.text(supply.words, HEAD_SIZE, bold=True)
    pen.y += 32.0
    pen.shapes += transformer(WIDTH / 2, pen.y)
    pen.shapes.append(Text(WIDTH / 2 + 40.0, pen.y - 18.0, _("line voltage"), SMALL, fill=QUIET))
    pen.shapes += [
        Line(((MARGIN, pen.y), (WIDTH / 2 - 24, pen.y)), width=1.6),
        Line(((WIDTH / 2 + 24, pen.y), (WIDTH - MARGIN, pen.y)), width=1.6),
    ]
    pen.y += 4.0
    pen.text(rail_words(_("Hot rail: {terminals}"), pen.bench.joints.terminals(supply.hot)), SMALL, quiet=True)
    pen.text(rail_words(_("Common rail: {terminals}"), pen.bench.joints.terminals(supply.common)), SMALL, quiet=True)
    for level in range(len(supply.rail) + 1):
        if level:
            _rail(supply.rail[level - 1], pen)
        for number, rung in enumerate(supply.rungs):
            if rung.rail == level:
                _rung(rung, rung_key(position, number), pen)
    pen.y += 14.0


def _rail(leaf: Leaf, pen: _Pen) -> None:
    """Draw what stands in the hot rail itself."""
    pen.y += 10.0
    pen.text(_("In the hot rail, before what follows:"), SMALL, quiet=True)
    _element(Through(leaf.element, ""), FIRST_X, FIRST_X + COLUMN - 8.0, pen, rail=True)
    pen.text(rail_words(_("Hot rail below: {terminals}"), pen.bench.joints.terminals(leaf.end)), SMALL, quiet=True)


def _rung(rung: Rung, key: str, pen: _Pen) -> None:
    load, hot, common = rung.load, rung.load.hot, rung.load.common
    joints, last, own = pen.bench.joints, f"{key}h.{len(rung.hot_side.items)}j", f"{key}l"
    above = (*steps_of(rung.hot_side, ("", hot), joints, f"{key}h"), *joint_steps(hot, hot, joints, last))
    below = (*joint_steps(common, common, joints, own), *steps_of(rung.common_side, (common, ""), joints, f"{key}c"))
    label_x = FIRST_X + COLUMN * max(_columns(above), _columns(below)) - 8.0
    pen.y += 12.0
    pen.shapes.append(Line(((MARGIN, pen.y), (WIDTH - MARGIN, pen.y)), QUIET, 0.6))
    pen.y += 3.0
    head = f"{pen.bench.numbers[load.tag]}  {load.words}"
    pen.text(head, HEAD_SIZE, bold=True)
    pen.y += 8.0
    _bar(_("hot"), pen)
    pen.down(FIRST_X, 9.0, f"{key}h.0j")
    for step in above:
        _step(step, FIRST_X, label_x, pen)
    pen.down(FIRST_X, 4.0, last)
    _load(rung, own, label_x, pen)
    pen.down(FIRST_X, 6.0, own)
    for step in below:
        _step(step, FIRST_X, label_x, pen)
    pen.down(FIRST_X, 9.0, own)
    _bar(_("common"), pen)
    pen.y += 4.0


def _bar(words: str, pen: _Pen) -> None:
    pen.shapes.append(Line(((FIRST_X - 16.0, pen.y), (FIRST_X + 16.0, pen.y)), width=2.4))
    pen.shapes.append(Text(FIRST_X + 22.0, pen.y + 3.0, words, SMALL, fill=QUIET))


def _columns(steps: Sequence[Step]) -> int:
    """Return how many lines run beside each other at most."""
    wide = (sum(_columns(branch) for branch in step.branches) for step in steps if isinstance(step, Either))
    return max(wide, default=1)


def _step(step: Step, x: float, label_x: float, pen: _Pen) -> None:
    match step:
        case AtTerminal():
            _terminal(step, x, label_x, pen)
        case Along():
            text = wrapped(step.name, WIDTH - MARGIN - label_x, SMALL, lines=1)[0]
            pen.shapes.append(Text(label_x, pen.y + 10.0, text, SMALL, italic=True, fill=QUIET))
            pen.down(x, CONDUCTOR_ROW, step.part)
        case Through():
            _element(step, x, label_x, pen)
        case Either():
            _either(step, x, label_x, pen)


def _terminal(step: AtTerminal, x: float, label_x: float, pen: _Pen) -> None:
    place, __, name = step.node.partition(".")
    middle = pen.y + TERMINAL_ROW / 2
    pen.down(x, TERMINAL_ROW, step.part)
    if pen.bench.live:
        ends = ((x - 12.0, middle), (WIDTH - MARGIN, middle))
        pen.shapes.append(Target("point", step.node, f"{place} {name}", ends, FINGER))
    pen.shapes.append(Circle(x, middle, 3.2))
    pen.shapes.append(Text(label_x, middle + 3.3, name, LABEL_SIZE, bold=True))
    beside = label_x + width_of(name, LABEL_SIZE, bold=True) + 5.0
    room = WIDTH - MARGIN - beside - (_state_room() if pen.bench.live else 0.0)
    for line in wrapped(place, room, SMALL, lines=1):
        pen.shapes.append(Text(beside, middle + 3.3, line, SMALL, fill=QUIET))
    if pen.bench.live:
        part = volts_part(step.node, pen.bench.common)
        pen.shapes.append(Text(WIDTH - MARGIN, middle + 3.3, VOLTS, LABEL_SIZE, "end", bold=True, part=part))


def _state_room() -> float:
    words = (longest_state(), longest_on(), VOLTS)
    return max(width_of(text, LABEL_SIZE, bold=True) for text in words) + 6.0


def _element(step: Through, x: float, label_x: float, pen: _Pen, *, rail: bool = False) -> None:
    item, live = step.element, pen.bench.live
    room = WIDTH - MARGIN - label_x - (_state_room() if live else 0.0)
    names = wrapped(item.words, room, LABEL_SIZE, lines=3)
    notes = wrapped(note_of(item, pen.bench.numbers), room, SMALL, lines=3)
    height = max(34.0, STEP * len(names) + SMALL_STEP * len(notes) + 8.0)
    middle = pen.y + height / 2
    part = "" if rail else step.part
    pen.shapes += [_line(x, pen.y, middle - HALF, part), _line(x, middle + HALF, pen.y + height, part)]
    pen.shapes += [moved(turned(shape, 0.0), x, middle) for shape in element_symbol(item)]
    y = middle - (STEP * len(names) + SMALL_STEP * len(notes)) / 2
    for n, line in enumerate(names):
        pen.shapes.append(Text(label_x, y + STEP * (n + 1) - 2.6, line, LABEL_SIZE))
    y += STEP * len(names)
    for n, line in enumerate(notes):
        pen.shapes.append(Text(label_x, y + SMALL_STEP * (n + 1) - 2.4, line, SMALL, fill=QUIET))
    if live:
        at, tag = WIDTH - MARGIN, f"e:{item.tag}"
        pen.shapes.append(Text(at, middle + 3.3, longest_state(), LABEL_SIZE, "end", bold=True, part=tag))
    pen.y += height


def _load(rung: Rung, part: str, label_x: float, pen: _Pen) -> None:
    load, live = rung.load, pen.bench.live
    middle = pen.y + 17.0
    reach = 9.0 if load.sort == "board" else (HALF if load.sort == "solenoid" else 10.0)
    pen.shapes += [_line(FIRST_X, pen.y, middle - reach, part), _line(FIRST_X, middle + reach, pen.y + 34.0, part)]
    upright = load.sort == "solenoid"
    shown = (turned(shape, 0.0) if upright else shape for shape in load_shape(load.sort))
    pen.shapes += [moved(shape, FIRST_X, middle) for shape in shown]
    if load.sort in ("coil", "board"):
        number = str(pen.bench.numbers[load.tag])
        pen.shapes.append(Text(FIRST_X, middle + 3.2, number, 9.0, "middle", bold=True))
    room = WIDTH - MARGIN - label_x - (_state_room() if live else 0.0)
    names = wrapped(load.words, room, LABEL_SIZE, lines=2)
    first = middle + 3.3 - STEP * (len(names) - 1) / 2
    for n, line in enumerate(names):
        pen.shapes.append(Text(label_x, first + STEP * n, line, LABEL_SIZE))
    if live:
        at, tag = WIDTH - MARGIN, f"o:{load.tag}"
        pen.shapes.append(Text(at, middle + 3.3, longest_on(), LABEL_SIZE, "end", bold=True, part=tag))
        pen.shapes.append(moved(arrow(0.0, part=f"a:{part}", down=True), FIRST_X, pen.y + 1.0))
    pen.y += 34.0


def _line(x: float, top: float, bottom: float, part: str) -> Line:
    """Return a piece of line downwards, reaching a little into its neighbours."""
    return Line(((x, top - 0.3), (x, bottom + 0.3)), part=f"p:{part}" if part else "")


def _either(step: Either, x: float, label_x: float, pen: _Pen) -> None:
    """Draw branches beside each other, each with rows of its own, so that every word stands at the right."""
    top = pen.y
    pen.y += 6.0
    spans: list[tuple[float, float, float]] = []
    beside = x
    for branch in step.branches:
        start = pen.y
        for item in branch:
            _step(item, beside, label_x, pen)
        spans.append((beside, start, pen.y))
        beside += COLUMN * _columns(branch)
    pen.y += 6.0
    bottom = pen.y
    pen.shapes += _joins(step, spans, top, bottom)


def _joins(step: Either, spans: Sequence[tuple[float, float, float]], top: float, bottom: float) -> Iterator[Shape]:
    for number, ((x, start, end), (first, last)) in enumerate(zip(spans, step.parts, strict=True)):
        yield _line(x, top, start, first)
        yield _line(x, end, bottom, last)
        if number:
            left = spans[number - 1][0]
            for y, at_end in ((top, 0), (bottom, 1)):
                onward = " ".join(f"p:{parts[at_end]}" for parts in step.parts[number:])
                yield Line(((left, y), (x, y)), part=onward)
    if len(spans) > 1:
        x = spans[0][0]
        yield Circle(x, top, 2.0, fill=INK)
        yield Circle(x, bottom, 2.0, fill=INK)


__all__ = ["WIDTH", "narrow_ladder"]
