"""Writing the papers of a plan into a folder, each file whole or not at all."""

from __future__ import annotations

import csv
import datetime
import io
from collections.abc import Callable, Iterator
from pathlib import Path

from subbase.files import write_whole
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
    written = tuple(write_whole(out_dir / name, data) for name, data in papers_of(plan, date=date))
    for name in PAPER_NAMES:
        if out_dir / name not in written:
            (out_dir / name).unlink(missing_ok=True)
    return written


def papers_of(plan: Plan, *, date: datetime.date) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, bytes) of every paper that a plan has."""
    yield from ((name, make()) for name, make in paper_makers(plan, date=date).items())


def paper_makers(plan: Plan, *, date: datetime.date) -> dict[str, Callable[[], bytes]]:
    """Return file name -> what makes that paper, of every paper that a plan has; nothing is made yet."""
    makers: dict[str, Callable[[], bytes]] = {"packet.pdf": lambda: packet_pdf(plan, date=date)}
    name, left = plan.survey.name, plan.left
    if plan.survey.cables:
        # What is not known is drawn as not known, though the plan was made for every answer.
        makers["wiring-found.svg"] = lambda: wiring_map_svg(
            plan.survey, plan.catalog, title=f"{name}: wiring as found", changed=frozenset()
        ).encode()
    if left is None:
        return makers
    return makers | {
        "wiring-left.svg": lambda: wiring_map_svg(
            left, plan.catalog, title=f"{name}: wiring as left", changed=changed_conductors(plan)
        ).encode(),
        "ladder-left.svg": lambda: ladder_svg(left, plan.catalog, title=f"{name}: ladder diagram as left").encode(),
        "landings.csv": lambda: csv_bytes(conductor_rows(plan.survey, left)),
        "readings.csv": lambda: csv_bytes(reading_rows(plan.readings)),
    }


def csv_bytes(rows: Rows) -> bytes:
    """Return rows as CSV; a cell that a spreadsheet would take for a formula is marked as text."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([_harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode()


def _harmless(cell: str) -> str:
    return f"'{cell}" if cell.startswith(_FORMULA_SIGNS) else cell
