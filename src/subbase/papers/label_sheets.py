"""Sheets of labels, known by their dimensions alone, and where on a page each label lies.

The dimensions of the named sheets are common ones, from memory: hold a print on plain paper against a sheet first.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from subbase.errors import Fault, InputError
from subbase.words import _

Paper = Literal["a4", "us-letter"]
PAPER_MM: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
"""Width and height (ISO 216; ANSI/ASME Y14.1)."""
INCH = 25.4
LEAST_SIDE_MM = 4.0


@dataclass(frozen=True, slots=True)
class Sheet:
    """One kind of sheet; lengths are millimetres."""

    paper: Paper
    columns: int
    rows: int
    wide: float
    tall: float
    pitch_x: float
    """From the left edge of a label to that of the next."""
    pitch_y: float
    left: float
    """From the paper's edge to the first label."""
    top: float
    cut: bool = False
    """Whether it is plain paper, so that lines to cut along are drawn."""

    def places(self) -> Iterator[tuple[float, float]]:
        """Yield the upper left corner of each label, row by row."""
        for row in range(self.rows):
            for column in range(self.columns):
                yield self.left + column * self.pitch_x, self.top + row * self.pitch_y

    def words(self) -> str:
        """Return the sheet by its dimensions."""
        return _("{paper}, {columns} by {rows} labels of {wide} x {tall} mm").format(
            paper={"a4": "A4", "us-letter": "US Letter"}[self.paper],
            columns=self.columns, rows=self.rows, wide=f"{self.wide:g}", tall=f"{self.tall:g}",
        )  # fmt: skip


SHEETS: dict[str, Sheet] = {
    "a4-5x13": Sheet("a4", 5, 13, 38.1, 21.2, 40.6, 21.2, 4.75, 10.7),
    "a4-4x12": Sheet("a4", 4, 12, 45.7, 21.2, 48.3, 21.2, 9.7, 21.3),
    "a4-3x8": Sheet("a4", 3, 8, 70.0, 37.0, 70.0, 37.0, 0.0, 0.5),
    "a4-3x7": Sheet("a4", 3, 7, 63.5, 38.1, 66.0, 38.1, 7.25, 15.15),
    "letter-3x10": Sheet(
        "us-letter", 3, 10, 2.625 * INCH, 1.0 * INCH, 2.75 * INCH, 1.0 * INCH, 0.1875 * INCH, 0.5 * INCH
    ),
    "letter-4x20": Sheet("us-letter", 4, 20, 1.75 * INCH, 0.5 * INCH, 2.05 * INCH, 0.5 * INCH, 0.3 * INCH, 0.5 * INCH),
    "letter-2x10": Sheet(
        "us-letter", 2, 10, 4.0 * INCH, 1.0 * INCH, 4.125 * INCH, 1.0 * INCH, 0.1875 * INCH, 0.5 * INCH
    ),
    "a4-plain": Sheet("a4", 4, 13, 46.0, 21.0, 46.0, 21.0, 13.0, 12.0, cut=True),
    "letter-plain": Sheet("us-letter", 4, 12, 47.0, 21.0, 47.0, 21.0, 13.95, 13.7, cut=True),
}
"""Name -> sheet; the plain ones are for paper, scissors and clear tape."""


def sheet_from(text: str) -> Sheet:
    """Return a sheet by its name, or from nine values: paper,columns,rows,wide,tall,pitch x,pitch y,left,top in mm.

    Raises
    ------
    InputError
        When it is neither, or its labels overlap or leave the paper.
    """
    if text in SHEETS:
        return SHEETS[text]
    parts = [part.strip() for part in text.split(",")]
    paper: Paper | None = {"a4": "a4", "letter": "us-letter", "us-letter": "us-letter"}.get(parts[0].lower())  # type: ignore[assignment]
    try:
        columns, rows = int(parts[1]), int(parts[2])
        wide, tall, pitch_x, pitch_y, left, top = map(float, parts[3:])
    except (ValueError, IndexError):
        paper = None
    if paper is None:
        raise _fault(
            _(
                "'{text}' is no sheet: name one of {names}, or give paper,columns,rows,width,height,pitch across,pitch "
                "down,left margin,top margin in millimetres: a4,5,13,38.1,21.2,40.6,21.2,4.75,10.7."
            ).format(text=text, names=", ".join(SHEETS))
        )
    sheet = Sheet(paper, columns, rows, wide, tall, pitch_x, pitch_y, left, top)
    reason = misfit(sheet)
    if reason:
        raise _fault(reason)
    return sheet


def misfit(sheet: Sheet) -> str:
    """Return what is wrong with a sheet's dimensions; empty when nothing is."""
    paper_wide, paper_tall = PAPER_MM[sheet.paper]
    numbers = (sheet.wide, sheet.tall, sheet.pitch_x, sheet.pitch_y, sheet.left, sheet.top)
    if not (1 <= sheet.columns <= 100 and 1 <= sheet.rows <= 100) or not all(0.0 <= n < 1000.0 for n in numbers):
        return _("A sheet has 1 to 100 columns and rows, and lengths from 0 to 1000 mm.")
    if min(sheet.wide, sheet.tall) < LEAST_SIDE_MM:
        return _("A label of {wide} x {tall} mm has no room for text of 6 pt; each side needs {least} mm.").format(
            wide=f"{sheet.wide:g}", tall=f"{sheet.tall:g}", least=f"{LEAST_SIDE_MM:g}"
        )
    if (sheet.columns > 1 and sheet.pitch_x < sheet.wide) or (sheet.rows > 1 and sheet.pitch_y < sheet.tall):
        return _(
            "The pitch is less than the label, so the labels overlap; pitch is from edge to the next label's edge."
        )
    right = sheet.left + (sheet.columns - 1) * sheet.pitch_x + sheet.wide
    bottom = sheet.top + (sheet.rows - 1) * sheet.pitch_y + sheet.tall
    # A tenth of a millimetre is within what dimensions are rounded to.
    if right > paper_wide + 0.1 or bottom > paper_tall + 0.1:
        return _("The labels reach {right} x {bottom} mm; the paper is {wide} x {tall} mm.").format(
            right=f"{right:.1f}", bottom=f"{bottom:.1f}", wide=f"{paper_wide:g}", tall=f"{paper_tall:g}"
        )
    return ""


def _fault(message: str) -> InputError:
    return InputError((Fault(message),))
