"""Writing the papers of a plan into a folder, each file whole or not at all."""

from __future__ import annotations

import csv
import datetime
import io
import os
from collections.abc import Iterator
from pathlib import Path

from subbase.papers.ladder import ladder_svg
from subbase.papers.packet import packet_pdf
from subbase.papers.tables import Rows, changed_conductors, conductor_rows, reading_rows
from subbase.papers.wiring_map import wiring_map_svg
from subbase.plan import Plan

PAPER_NAMES = (
    "packet.pdf", "wiring-found.svg", "wiring-left.svg", "ladder-left.svg", "landings.csv", "readings.csv"
)  # fmt: skip
"""Every file that ``write_papers`` may write."""
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def write_papers(plan: Plan, out_dir: Path, *, date: datetime.date) -> tuple[Path, ...]:
    """Write the papers of a plan into an existing folder and return the files, the packet first.

    A paper of an earlier plan that this plan does not have is removed: an old wiring beside a new stop could be followed.

    Raises
    ------
    OSError
        When a file cannot be written; files written before it stay.
    """
    written = tuple(_write_whole(out_dir / name, data) for name, data in papers_of(plan, date=date))
    for name in PAPER_NAMES:
        if out_dir / name not in written:
            (out_dir / name).unlink(missing_ok=True)
    return written


def papers_of(plan: Plan, *, date: datetime.date) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, bytes) of every paper that a plan has."""
    yield "packet.pdf", packet_pdf(plan, date=date)
    name = plan.survey.name
    if plan.survey.cables:
        # What is not known is drawn as not known, though the plan was made for every answer.
        drawn = wiring_map_svg(plan.survey, plan.catalog, title=f"{name}: wiring as found", changed=frozenset())
        yield "wiring-found.svg", drawn.encode()
    if plan.left is None:
        return
    changed = changed_conductors(plan)
    drawn = wiring_map_svg(plan.left, plan.catalog, title=f"{name}: wiring as left", changed=changed)
    yield "wiring-left.svg", drawn.encode()
    yield "ladder-left.svg", ladder_svg(plan.left, plan.catalog, title=f"{name}: ladder diagram as left").encode()
    yield "landings.csv", csv_bytes(conductor_rows(plan.survey, plan.left))
    yield "readings.csv", csv_bytes(reading_rows(plan.readings))


def csv_bytes(rows: Rows) -> bytes:
    """Return rows as CSV; a cell that a spreadsheet would take for a formula is marked as text."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([_harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode()


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA_SIGNS) else cell


def _write_whole(file: Path, data: bytes) -> Path:
    """Write beside the file and rename, so that nothing is ever half-written."""
    beside = file.with_name(f".{file.name}.part")
    try:
        beside.write_bytes(data)
        os.replace(beside, file)
    finally:
        beside.unlink(missing_ok=True)
    return file
