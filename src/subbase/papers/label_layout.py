"""A label laid out: as a flag, folded in the middle around the conductor, or wrapped around it, one line always in sight.

A *flag* has two halves that say the same; between them a gap goes around the conductor. A *wrap* lies along the conductor
and is rolled around it: its lines run along the conductor and come again over its height, so that they are seen from
every side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from subbase.papers.label_fit import LEAST_PT, FittedLine, fit, height_mm, width_mm
from subbase.papers.labels import Label
from subbase.papers.measure import clean
from subbase.words import _

Style = Literal["flag", "wrap"]
STYLES: tuple[Style, ...] = ("flag", "wrap")
PADDING_MM = 1.0
GAP_MM = 6.5
"""Goes around the conductor: an 18 AWG thermostat conductor is about 2 mm over its insulation [judgement]."""
SIGHT_MM = GAP_MM / 2
"""Half a turn around the same conductor: what is seen from one side."""
LONGEST_TAPE_MM = 110.0
SHORTEST_HALF_MM, LONGEST_HALF_MM = 8, 32
"""Of a flag on tape."""
BETWEEN = "   "
TAPE_MARGIN_MM: dict[int, float] = {6: 0.5, 9: 1.0, 12: 1.0, 18: 1.5, 24: 2.0}
"""Along both edges of a tape, where printers do not print (judgement)."""


@dataclass(frozen=True, slots=True)
class LaidOut:
    """One label with its text; lengths are millimetres."""

    wide: float
    tall: float
    lines: tuple[FittedLine, ...]
    folds: tuple[float, ...]
    """Where it goes around the conductor, from the left; empty when it is wrapped."""
    left_out: tuple[str, ...]
    cut: bool
    says: str
    """All of it in one line, for those who hear the paper."""


def laid_out(label: Label, style: Style, wide: float, tall: float) -> LaidOut:
    """Return a label on a piece of given size."""
    if style == "wrap":
        return _wrap(label, wide, tall, PADDING_MM)
    half = (wide - GAP_MM) / 2 - PADDING_MM * 2
    return _flag(label, label.ranked(), half, (tall, PADDING_MM, PADDING_MM))


def on_tape(label: Label, style: Style, tape_mm: int) -> LaidOut:
    """Return a label on tape of a width; it is as long as its text needs."""
    margin = TAPE_MARGIN_MM[tape_mm]
    tall = tape_mm - 2 * margin
    if style == "wrap":
        size = tall / _in_sight(tall) / height_mm([1.0])
        length = min(LONGEST_TAPE_MM, width_mm(_one_line(label), size, bold=True) + 2 * PADDING_MM)
        return _wrap(label, length, float(tape_mm), margin)
    lines, dropped = _side_by_side(label.ranked(), int(tall // height_mm([LEAST_PT])))
    most = max(len(fit(lines, (LONGEST_HALF_MM, tall)).lines), 1)
    for half in range(SHORTEST_HALF_MM, LONGEST_HALF_MM + 1):
        fitted = fit(lines, (half, tall))
        if len(fitted.lines) == most and not fitted.cut:
            break
    found = _flag(label, lines, float(half), (float(tape_mm), PADDING_MM, margin))
    return replace(found, left_out=(*found.left_out, *dropped))


def _side_by_side(lines: Sequence[str], slots: int) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return ranked lines as at most so many, the last ones side by side, and those for which a flag is not long enough."""
    if slots >= len(lines):
        return tuple(lines), ()
    kept = max(slots, 1) - 1
    last = list(lines[kept:])
    dropped: list[str] = []
    while len(last) > 1 and width_mm(BETWEEN.join(last), LEAST_PT, bold=kept == 0) > LONGEST_HALF_MM:
        dropped.insert(0, last.pop())
    return (*lines[:kept], BETWEEN.join(last)), tuple(dropped)


def _flag(label: Label, lines: Sequence[str], half: float, piece: tuple[float, float, float]) -> LaidOut:
    tall, side, margin = piece
    fitted = fit(lines, (half, tall - 2 * margin))
    wide = 2 * half + 4 * side + GAP_MM
    starts = (side, wide - side - half)
    placed = tuple(_moved(line, x, margin) for x in starts for line in fitted.lines)
    folds = (half + 2 * side, wide - half - 2 * side)
    return LaidOut(wide, tall, placed, folds, fitted.left_out, fitted.cut, says(label))


def _in_sight(tall: float) -> int:
    """Return how many lines a wrap of some height has, so that one is in sight from every side."""
    return max(1, min(int(tall // height_mm([LEAST_PT])), math.ceil(tall / SIGHT_MM)))


def _wrap(label: Label, wide: float, tall: float, margin: float) -> LaidOut:
    """Return lines over the height that say the same; where one line has no room for all of it, what matters most."""
    room, tall_room = wide - 2 * PADDING_MM, tall - 2 * margin
    count = _in_sight(tall_room)
    fitted = fit([_one_line(label)], (room, tall_room / count))
    if fitted.cut:
        fitted, count = fit(label.ranked(), (room, tall_room)), 1
    step = tall_room / count
    lines = tuple(_moved(line, PADDING_MM, margin + n * step) for n in range(count) for line in fitted.lines)
    return LaidOut(wide, tall, lines, (), fitted.left_out, fitted.cut, says(label))


def _moved(line: FittedLine, x: float, y: float) -> FittedLine:
    return FittedLine(line.text, line.x_mm + x, line.y_mm + y, line.size_pt, line.bold)


def _one_line(label: Label) -> str:
    return BETWEEN.join(map(clean, label.ranked()))


def says(label: Label) -> str:
    """Return all that a label says, in one sentence."""
    return _("{place}: {lines}").format(place=label.place, lines=", ".join(label.ranked()[:-1]))
