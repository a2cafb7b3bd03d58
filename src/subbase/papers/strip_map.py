"""The wiring map as strips: cable by cable, each conductor a straight line between what it lands on, found and left.

For a phone what changes is drawn twice, as found above as left; on a wide sheet both houses stand beside each other.
Nothing crosses here; how the cables hang together is for the map to show.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from subbase.papers.drawing import INK, QUIET, RULE, Anchor, Circle, Drawing, Line, Shape, Text, moved
from subbase.papers.map_model import Changed, End, Marking, Run, RunKey, cable_letters, cable_words, markings, runs_of
from subbase.papers.map_wires import change_mark, loose_end, wire, wire_width
from subbase.papers.measure import shortened, wrapped
from subbase.survey import Survey
from subbase.words import _

NARROW, BESIDE = 290.0, 620.0
"""Widths of a drawing for a phone, and of one with both houses beside each other."""
MARGIN, GUTTER = 6.0, 24.0
END_ROOM = 66.0
HEAD_SIZE, LABEL_SIZE, TERMINAL_SIZE, SMALL = 11.0, 9.5, 10.0, 8.8
SMALL_STEP = 10.2
ABOVE, BELOW = 15.0, 8.0
"""Room of a strip above its line, for the label, and below it."""


@dataclass(frozen=True, slots=True)
class _Strip:
    """One conductor in one house, its line at y = 0."""

    up: float
    down: float
    shapes: tuple[Shape, ...]


@dataclass(frozen=True, slots=True)
class _Pair:
    """One conductor as found and as left; None where it is not there."""

    found: Run | None
    left: Run | None

    @property
    def changes(self) -> bool:
        """Return whether it lands otherwise than before, if only on another name of a new control's."""
        if self.found is None or self.left is None or self.left.marked:
            return True
        return [(e.place, e.terminal) for e in self.found.ends] != [(e.place, e.terminal) for e in self.left.ends]

    @property
    def cable(self) -> str:
        """Return its cable, or what else it is."""
        run = self.left or self.found
        assert run is not None
        return run.cable


def strip_map(
    found: Survey, left: Survey | None, *, title: str, changed: Changed = frozenset(), beside: bool = False
) -> Drawing:
    """Return the strips of a house as found and, when there is a plan, as left; ``beside`` sets them in two columns."""
    pairs = _pairs(found, left, changed)
    width = BESIDE if beside else NARROW
    shapes: list[Shape] = []
    y = MARGIN
    if beside:
        y += HEAD_SIZE + 2.0
        column = (BESIDE - 2 * MARGIN - GUTTER) / 2
        for x, words in ((MARGIN, _("As found")), (MARGIN + column + GUTTER, _("As left"))):
            shapes.append(Text(x, y, words, HEAD_SIZE, bold=True))
        y += 4.0
    for name, heading in _blocks(left or found, pairs):
        block = [pair for pair in pairs if pair.cable == name]
        drawn, height = _block(heading, block, width, beside=beside)
        shapes += [moved(shape, 0, y) for shape in drawn]
        y += height
    return Drawing(title, _about(pairs), width, y + MARGIN, tuple(shapes))


def _pairs(found: Survey, left: Survey | None, changed: Changed) -> tuple[_Pair, ...]:
    if left is None:
        return tuple(_Pair(run, run) for run in runs_of(found, frozenset()))
    before, after = markings(found, left, changed)
    old, new = _by_key(found, before), _by_key(left, after)
    keys = dict.fromkeys((*new, *old))
    return tuple(_Pair(old.get(key), new.get(key)) for key in keys)


def _by_key(survey: Survey, marking: Marking) -> Mapping[RunKey, Run]:
    return {run.key: run for run in runs_of(survey, marking)}


def _blocks(survey: Survey, pairs: Sequence[_Pair]) -> Iterator[tuple[str, tuple[str, str]]]:
    """Yield (cable, its heading and what it is) of every block that holds anything."""
    letters, drawn = cable_letters(survey), dict.fromkeys(pair.cable for pair in pairs)
    for name in drawn:
        if name in survey.cables:
            yield name, (f"{letters[name]}  {name}", cable_words(survey, name))
        else:
            yield name, (_("Jumpers and leads"), "") if name == "jumper" else (_("Joined inside a control"), "")


def _about(pairs: Sequence[_Pair]) -> str:
    count = sum(pair.changes for pair in pairs)
    return _("Every conductor with what it lands on at both ends; {count} of {all} change.").format(
        count=count, all=len(pairs)
    )


def _block(words: tuple[str, str], pairs: Sequence[_Pair], width: float, *, beside: bool) -> tuple[list[Shape], float]:
    heading, about = words
    shapes: list[Shape] = [Line(((MARGIN, 6.0), (width - MARGIN, 6.0)), INK, 1.6)]
    y = 6.0 + HEAD_SIZE + 4.0
    for line in wrapped(heading, width - 2 * MARGIN, HEAD_SIZE, bold=True):
        shapes.append(Text(MARGIN, y, line, HEAD_SIZE, bold=True))
        y += HEAD_SIZE + 2.0
    for line in wrapped(about, width - 2 * MARGIN, SMALL):
        shapes.append(Text(MARGIN, y, line, SMALL, fill=QUIET))
        y += SMALL_STEP
    y -= 4.0
    for number, pair in enumerate(pairs):
        if number:
            shapes.append(Line(((MARGIN, y), (width - MARGIN, y)), RULE, 0.6))
        drawn, height = _beside(pair) if beside else _stacked(pair)
        if pair.changes:
            shapes.append(Line(((2.0, y + 2.0), (2.0, y + height - 2.0)), INK, 2.6))
        shapes += [moved(shape, 0, y) for shape in drawn]
        y += height
    return shapes, y + 8.0


def _beside(pair: _Pair) -> tuple[list[Shape], float]:
    column = (BESIDE - 2 * MARGIN - GUTTER) / 2
    strips = [_strip(run, column) if run is not None else _none(column) for run in (pair.found, pair.left)]
    up, down = max(s.up for s in strips), max(s.down for s in strips)
    shapes: list[Shape] = []
    for x, strip in zip((MARGIN, MARGIN + column + GUTTER), strips, strict=True):
        shapes += [moved(shape, x, up) for shape in strip.shapes]
    return shapes, up + down


def _stacked(pair: _Pair) -> tuple[list[Shape], float]:
    room = NARROW - 2 * MARGIN
    if not pair.changes:
        assert pair.left is not None
        strip = _strip(pair.left, room)
        return [moved(shape, MARGIN, strip.up) for shape in strip.shapes], strip.up + strip.down
    shapes: list[Shape] = []
    y = 0.0
    for words, run in ((_("as found"), pair.found), (_("as left"), pair.left)):
        if run is None:
            continue
        y += SMALL + 3.0
        shapes.append(Text(MARGIN, y, words, SMALL, bold=True, fill=QUIET))
        strip = _strip(run, room)
        y += strip.up - 6.0
        shapes += [moved(shape, MARGIN, y) for shape in strip.shapes]
        y += strip.down
    return shapes, y


def _none(width: float) -> _Strip:
    return _Strip(ABOVE, BELOW, (Text(width / 2, 3.0, _("not there"), LABEL_SIZE, "middle", italic=True, fill=QUIET),))


def _strip(run: Run, width: float) -> _Strip:
    """Return one conductor between its ends."""
    start, stop = END_ROOM, width - END_ROOM
    shapes: list[Shape] = list(wire(run, ((start, 0.0), (stop, 0.0))))
    shapes += _ends(run, start, stop)
    first = start + 6.0
    if run.marked:
        shapes += change_mark(start + 14.0, 0.0, run)
        first += 18.0
    labels = [run.ends[0].label, run.ends[1].label]
    y = -(wire_width(run) / 2 + 5.0)
    if run.kind != "conductor":
        labels = [_("jumper or lead") if run.kind == "lead" else labels[0]] * 2
    if labels[0] == labels[1]:
        text = shortened(labels[0], stop - 6.0 - first, LABEL_SIZE)
        shapes.append(Text((first + stop - 6.0) / 2, y, text, LABEL_SIZE, "middle"))
    else:
        half = (stop - 6.0 - first) / 2 - 4.0
        shapes.append(Text(first, y, shortened(labels[0], half, LABEL_SIZE), LABEL_SIZE))
        shapes.append(Text(stop - 6.0, y, shortened(labels[1], half, LABEL_SIZE), LABEL_SIZE, "end"))
    words = [_end_lines(end) for end in run.ends]
    down = BELOW
    for lines, x, left in ((words[0], 0.0, True), (words[1], width, False)):
        drawn, depth = _end_texts(lines, x, left=left)
        shapes += drawn
        down = max(down, depth + 4.0)
    return _Strip(ABOVE, down, tuple(shapes))


def _ends(run: Run, start: float, stop: float) -> Iterator[Shape]:
    for end, x, out in ((run.ends[0], start, 1.0), (run.ends[1], stop, -1.0)):
        if end.terminal:
            yield Circle(x, 0.0, 2.8, fill=INK)
        else:
            yield from loose_end(end, x, 0.0, out)


def _end_lines(end: End) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what an end is on, and the place below it."""
    room = END_ROOM - 8.0
    places = wrapped(end.place, room, SMALL, lines=2)
    if end.terminal:
        return (shortened(end.terminal, room, TERMINAL_SIZE, bold=True),), places
    return wrapped(end.said, room, SMALL, lines=3), places


def _end_texts(lines: tuple[tuple[str, ...], tuple[str, ...]], x: float, *, left: bool) -> tuple[list[Shape], float]:
    """Return the texts at one end, and how far they reach below the line."""
    first, places = lines
    anchor: Anchor = "start" if left else "end"
    bold = len(first) == 1
    shapes: list[Shape] = []
    y = 3.4
    for line in first:
        size = TERMINAL_SIZE if bold else SMALL
        shapes.append(Text(x, y, line, size, anchor, bold=bold, italic=not bold))
        y += SMALL_STEP
    for line in places:
        shapes.append(Text(x, y, line, SMALL, anchor, fill=QUIET))
        y += SMALL_STEP
    return shapes, y - SMALL_STEP + 2.0


__all__ = ["BESIDE", "NARROW", "strip_map"]
