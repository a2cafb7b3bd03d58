"""The key below a wiring map: its cables, what is marked, and the signs that it uses, in columns."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import partial

from subbase.papers.drawing import INK, RULE, SHADE, Area, Line, Rect, Shape, Text, moved
from subbase.papers.insulation import insulation_of
from subbase.papers.map_model import NOT_KNOWN, End, Run, cable_letters, cable_words, run_words
from subbase.papers.map_wires import change_mark, loose_end, splice
from subbase.papers.measure import wrapped
from subbase.survey import CUT_SHORT, LOOSE, Survey
from subbase.words import _

KEY_SIZE, KEY_STEP, KEY_COLUMN = 8.5, 11.0, 250.0
Item = tuple[float, list[Shape]]
"""Height of a row, and what stands in it."""
Sign = Callable[[float, float], Iterator[Shape]]
"""Draws a sign around a point."""


def key_of(survey: Survey, runs: Sequence[Run], width: float, *, cabinets: bool) -> tuple[list[Shape], float]:
    """Return the key below the picture, from (0, 0) down, and its height."""
    letters = cable_letters(survey)
    columns = max(1, int(width // KEY_COLUMN))
    column_width = width / columns
    drawn = {run.cable for run in runs}
    cables = [(_letter(letters[name]), cable_words(survey, name)) for name in survey.cables if name in drawn]
    made = (
        list(_block(_("Cables"), cables, column_width - 14.0)),
        list(_change_rows(runs, column_width - 14.0)),
        list(_signs(runs, column_width - 14.0, cabinets=cabinets)),
    )
    blocks = [block for block in made if block]
    if len(blocks) > columns:
        blocks = [[item for block in blocks for item in block]]
    shares = [1] * len(blocks)
    for __ in range(columns - len(blocks) if blocks else 0):
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


def _height(block: Sequence[Item]) -> float:
    return sum(height for height, _ in block)


def _block(heading: str, rows: Sequence[tuple[Sign, str]], width: float, *, gap: float = 1.5) -> Iterator[Item]:
    """Yield (height, shapes) for each row, the heading with the first."""
    for number, (sign, words) in enumerate(rows):
        shown: list[Shape] = []
        y = 0.0
        if number == 0:
            shown.append(Text(0, KEY_SIZE + 2.0, heading, KEY_SIZE, bold=True))
            y = KEY_STEP + 4.0
        lines = wrapped(words, width - 20.0, KEY_SIZE)
        shown += sign(7.0, y + KEY_SIZE - 1.5)
        shown += [Text(20.0, y + KEY_SIZE + 1.0 + n * KEY_STEP, line, KEY_SIZE) for n, line in enumerate(lines)]
        yield y + max(1, len(lines)) * KEY_STEP + gap, shown


def _change_rows(runs: Sequence[Run], width: float) -> Iterator[Item]:
    """Yield what is marked: new or moved as left; moved, then taken away, as found."""
    for heading, chosen in (
        (_("Numbered: new or moved"), [run for run in runs if run.number and not run.before]),
        (_("Ringed: moved in this work"), [run for run in runs if run.number and run.before]),
        (_("Crossed: taken away"), [run for run in runs if run.gone]),
    ):
        rows = [(partial(change_mark, run=run), run_words(run)) for run in chosen]
        yield from _block(heading, rows, width, gap=4.0)


def _letter(text: str) -> Sign:
    def drawn(x: float, y: float) -> Iterator[Shape]:
        yield Text(x - 5.0, y + 2.5, text, KEY_SIZE, bold=True)

    return drawn


def _signs(runs: Sequence[Run], width: float, *, cabinets: bool) -> Iterator[Item]:
    """Yield the signs that this drawing uses."""
    nowhere = {end.nowhere for run in runs for end in run.ends if end.nowhere}
    kinds = {run.kind for run in runs}
    spliced = any(
        insulation_of(r.ends[0].colour) != insulation_of(r.ends[1].colour) for r in runs if r.kind == "conductor"
    )
    signs: list[tuple[Sign, str]] = []
    for kind, words in (
        (LOOSE, _("loose: on no terminal")),
        (CUT_SHORT, _("cut short: cannot be landed")),
        (NOT_KNOWN, _("not known where it lands")),
    ):
        if kind in nowhere:
            signs.append((partial(_end_sign, kind), words))
    if spliced:
        signs.append((lambda x, y: splice((x, y)), _("changes colour somewhere out of sight")))
    if "lead" in kinds:
        signs.append((partial(_line_sign, ""), _("jumper, or lead inside a cabinet")))
    if any(run.doubtful for run in runs):
        signs.append((partial(_line_sign, "4 2.5"), _("not known whether it is there")))
    if "inside" in kinds:
        signs.append((partial(_line_sign, "1.5 2.5"), _("joined inside the control")))
    if cabinets:
        signs.append((_cabinet_sign, _("one cabinet, or side by side")))
    yield from _block(_("Signs"), signs, width)


def _end_sign(kind: str, x: float, y: float) -> Iterator[Shape]:
    yield Line(((x - 7, y), (x + 2, y)), INK, 3.0)
    yield from loose_end(End("", "", kind, "", ""), x + 4.0, y, 1.0)


def _line_sign(dash: str, x: float, y: float) -> Iterator[Shape]:
    yield Line(((x - 7, y), (x + 7, y)), INK, 1.3, dash)


def _cabinet_sign(x: float, y: float) -> Iterator[Shape]:
    yield Rect(Area(x - 7, y - 4, x + 7, y + 4), fill=SHADE, stroke=RULE, width=0.6)
