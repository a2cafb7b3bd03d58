"""Labels as files: sheets as PDF, pieces of tape as SVG and PNG, and all of them as a table for a printer's own program."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import Any

from subbase.papers.label_layout import LaidOut, Style, laid_out
from subbase.papers.label_sheets import PAPER_MM, Sheet
from subbase.papers.labels import Label
from subbase.papers.pdf import typeset_pdf, typeset_pictures
from subbase.papers.tables import Rows
from subbase.words import _

DOTS_PER_INCH = 360.0
"""Of the PNG: twice what tape printers print."""
LABEL_COLUMNS = {
    "terminal": "Where this end lands, as left; a word when it is on no terminal.",
    "place": "Place of this end.",
    "cable": "Name of the cable.",
    "conductor": "Name of the conductor in it.",
    "colour": "Colour of its insulation at this end.",
    "number": "Its number on the wiring map; empty when the work changed nothing about it.",
    "carries": "What it carries, in words; empty when nothing or not known.",
    "other_end": "Place and terminal of the other end.",
}
"""Column of ``labels.csv`` -> what it holds."""


def label_rows(labels: Sequence[Label]) -> Rows:
    """Return labels under a head, for a printer's own program."""
    return (tuple(LABEL_COLUMNS), *(tuple(getattr(label, name) for name in LABEL_COLUMNS) for label in labels))


def sheet_labels(labels: Sequence[Label], sheet: Sheet, style: Style) -> tuple[LaidOut, ...]:
    """Return labels laid out for a sheet."""
    return tuple(laid_out(label, style, sheet.wide, sheet.tall) for label in labels)


def sheets_pdf(name: str, found: Sequence[LaidOut], sheet: Sheet, *, skip: int = 0, date: datetime.date) -> bytes:
    """Return labels on sheets as a tagged PDF; the first ``skip`` places of the first sheet are used up already."""
    wide, tall = PAPER_MM[sheet.paper]
    pages: list[dict[str, Any]] = []
    rest = iter(found)
    places = list(islice(sheet.places(), skip % (sheet.columns * sheet.rows), None))
    while some := list(islice(rest, len(places))):
        items = [_item(item, place) for item, place in zip(some, places, strict=False)]
        pages.append({"wide": wide, "tall": tall, "items": items})
        places = list(sheet.places())
    title = _("{name}: labels").format(name=name)
    data = _frame(title, date) | {"cut": sheet.cut, "heading": title, "pages": pages}
    return typeset_pdf("labels.typ", data, date=date)


def tape_files(labels: Sequence[Label], found: Sequence[LaidOut]) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, bytes) of each piece of tape, as SVG and as PNG; ``found`` are the same labels on tape."""
    if not found:
        return
    pages = [{"wide": item.wide, "tall": item.tall, "items": [_item(item, (0.0, 0.0))]} for item in found]
    data = _frame("", datetime.date(2000, 1, 1)) | {"cut": False, "heading": "", "pages": pages}
    pictures = zip(
        labels,
        typeset_pictures("labels.typ", data, "svg", ppi=72.0),
        typeset_pictures("labels.typ", data, "png", ppi=DOTS_PER_INCH),
        strict=True,
    )
    for number, (label, svg, png) in enumerate(pictures, start=1):
        stem = f"{number:03}-{_slug(label.place)}-{_slug(label.terminal)}"
        yield f"{stem}.svg", svg
        yield f"{stem}.png", png


def _frame(title: str, date: datetime.date) -> dict[str, Any]:
    return {"title": title, "date": [date.year, date.month, date.day]}


def _item(item: LaidOut, place: tuple[float, float]) -> dict[str, Any]:
    return {
        "left": place[0], "top": place[1], "wide": item.wide, "tall": item.tall, "folds": list(item.folds),
        "lines": [
            {"text": line.text, "x": line.x_mm, "y": line.y_mm, "size": line.size_pt, "bold": line.bold}
            for line in item.lines
        ],
    }  # fmt: skip


def _slug(text: str) -> str:
    return re.sub(r"[^0-9a-z]+", "-", text.lower()).strip("-") or "x"
