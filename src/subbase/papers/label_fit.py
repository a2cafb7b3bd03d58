"""Fitting the lines of a label into its room by the real widths of the font that is printed, never below 6 pt.

Lengths of a label are millimetres, sizes of text points. The lines come ranked: what has no room is left out from the
end, and the last resort is a line cut with an ellipsis; a person is told of both. Kerning is off where labels are set, so
that a text is as wide as its letters together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from subbase.papers.measure import clean

MM_PER_PT = 25.4 / 72.0
LEAST_PT, MOST_PT, STEP_PT = 6.0, 12.0, 0.5
HEAD_SHARE = 1.5
"""How much larger the first line, the terminal, is than the others at most."""
MOST_HEAD_PT = 16.0
ASCENT_EM, DESCENT_EM = 0.95, 0.29
"""Of the font's own line, from its ``hhea`` table, rounded up; a test holds them against the font."""
WIDEST_EM = 1.25
_UNITS = 1000
"""Size at which widths are read; they grow with the size."""


@dataclass(frozen=True, slots=True)
class FittedLine:
    """One line: its text, its left end and baseline from the box's upper left corner [mm], its size [pt]."""

    text: str
    x_mm: float
    y_mm: float
    size_pt: float
    bold: bool


@dataclass(frozen=True, slots=True)
class Fitted:
    """Lines inside a box, and those that had no room."""

    lines: tuple[FittedLine, ...]
    left_out: tuple[str, ...] = ()
    cut: bool = False


@cache
def _font(bold: bool) -> object:
    from fontpkg_atkinson_hyperlegible import ROOT
    from PIL import ImageFont

    file = Path(ROOT) / "files" / f"AtkinsonHyperlegible-{'Bold' if bold else 'Regular'}.ttf"
    return ImageFont.truetype(str(file), _UNITS, layout_engine=ImageFont.Layout.BASIC)


@cache
def _letter_em(letter: str, bold: bool) -> float:
    # A letter that the font has not comes from the face behind it, whose widest is taken for it.
    face = _font(bold)
    width: float = face.getlength(letter) / _UNITS  # type: ignore[attr-defined]
    return width if ord(letter) < 0x250 else max(width, WIDEST_EM)


def width_mm(text: str, size_pt: float, *, bold: bool = False) -> float:
    """Return how wide a text is."""
    return sum(_letter_em(letter, bold) for letter in text) * size_pt * MM_PER_PT


def height_mm(sizes_pt: Sequence[float]) -> float:
    """Return how tall lines of these sizes are together."""
    return sum(sizes_pt) * (ASCENT_EM + DESCENT_EM) * MM_PER_PT


def fit(lines: Sequence[str], room_mm: tuple[float, float]) -> Fitted:
    """Return ranked lines at the largest size that has room in a box of (width, height).

    Raises
    ------
    ValueError
        When the box is lower than one line of 6 pt.
    """
    wanted = [line for line in lines if clean(line)]
    wide, tall = room_mm
    if height_mm([LEAST_PT]) > tall:
        raise ValueError(f"no line of 6 pt fits into {tall:g} mm")
    if not wanted:
        return Fitted(())
    for count in range(len(wanted), 0, -1):
        kept = [piece for line in wanted[:count] for piece in _pieces(line, wide)]
        size = MOST_PT
        while size >= LEAST_PT:
            placed = _placed(kept, size, wide, tall)
            if placed is not None:
                return Fitted(placed, tuple(wanted[count:]))
            size -= STEP_PT
    return Fitted(_placed_cut(wanted[0], wide), tuple(wanted[1:]), cut=True)


def _pieces(line: str, wide: float) -> list[str]:
    """Return a line that is too wide at 6 pt broken at its spaces; a word that is too wide stays so."""
    if width_mm(line, LEAST_PT) <= wide:
        return [line]
    found: list[str] = []
    for word in line.split():
        longer = f"{found[-1]} {word}" if found else word
        if found and width_mm(longer, LEAST_PT) <= wide:
            found[-1] = longer
        else:
            found.append(word)
    return found


def _placed(lines: Sequence[str], size: float, wide: float, tall: float) -> tuple[FittedLine, ...] | None:
    """Return lines below each other, the first bold and as large as there is room for; None when they have none."""
    if any(width_mm(line, size) > wide for line in lines[1:]):
        return None
    head = min(size * HEAD_SHARE, MOST_HEAD_PT)
    rest = [size] * (len(lines) - 1)
    while head >= size:
        if width_mm(lines[0], head, bold=True) <= wide and height_mm([head, *rest]) <= tall:
            break
        head -= STEP_PT
    else:
        return None
    y = (tall - height_mm([head, *rest])) / 2
    found: list[FittedLine] = []
    for line, pt in zip(lines, (head, *rest), strict=True):
        found.append(FittedLine(line, 0.0, y + ASCENT_EM * pt * MM_PER_PT, pt, bold=not found))
        y += height_mm([pt])
    return tuple(found)


def _placed_cut(line: str, wide: float) -> tuple[FittedLine, ...]:
    text = line
    while text and width_mm(f"{text}…", LEAST_PT, bold=True) > wide:
        text = text[:-1]
    return (FittedLine(f"{text.rstrip()}…", 0.0, ASCENT_EM * LEAST_PT * MM_PER_PT, LEAST_PT, bold=True),)


__all__ = ["ASCENT_EM", "DESCENT_EM", "LEAST_PT", "Fitted", "FittedLine", "fit", "height_mm", "width_mm"]
