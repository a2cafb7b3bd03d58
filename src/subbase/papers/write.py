"""Writing the papers of a plan into a folder, each file whole or not at all."""

from __future__ import annotations

import csv
import datetime
import io
import os
import shutil
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from subbase.papers.data_rows import conductor_rows, reading_rows
from subbase.papers.job_record import JobRecord
from subbase.papers.ladder import ladder_svg
from subbase.papers.map_model import markings
from subbase.papers.owner_page import owner_pdf
from subbase.papers.packet import packet_pdf
from subbase.papers.tables import Rows, changed_conductors
from subbase.papers.wiring_map import wiring_map_svg
from subbase.plan import Plan
from subbase.words import _
from subbase.work.steps import WorkPlan

PAPER_NAMES = (
    "packet.pdf", "owner.pdf", "wiring-found.svg", "wiring-left.svg", "ladder-left.svg", "landings.csv", "readings.csv"
)  # fmt: skip
"""Every file that ``write_papers`` may write."""
BEGUN, LEFT_S = ".papers-", 3600.0
"""How the folder of papers that are being written begins, and the age at which nobody can be writing into it."""
_FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r")


def write_papers(
    plan: Plan,
    out_dir: Path,
    *,
    date: datetime.date,
    record: JobRecord | None = None,
    work: WorkPlan | None = None,
    beside: Mapping[str, bytes] | None = None,
) -> tuple[Path, ...]:
    """Write the papers of a plan into a folder, made where there is none, and return the files, the packet first.

    Parameters
    ----------
    record
        What the job's journal holds; without it the packet's pages for it are forms.
    work
        The work steps of this plan where they are made already.
    beside
        Other files of the same plan that go with them: name -> bytes.

    All are made and lie beside the folder's own files before the first of those is replaced. A paper of an earlier plan that this plan does not have
    is removed: an old wiring beside a new stop could be followed.

    Raises
    ------
    OSError
        When a file cannot be written; the folder's files stay as they were.
    """
    made = {**dict(papers_of(plan, date=date, record=record, work=work)), **(beside or {})}
    out_dir.mkdir(parents=True, exist_ok=True)
    _clear_away(out_dir)
    with tempfile.TemporaryDirectory(prefix=BEGUN, dir=out_dir) as beside_own:
        for name, data in made.items():
            Path(beside_own, name).write_bytes(data)
        for name in made:
            os.replace(Path(beside_own, name), out_dir / name)
    for name in set(PAPER_NAMES) - set(made):
        (out_dir / name).unlink(missing_ok=True)
    return tuple(out_dir / name for name in made)


def _clear_away(out_dir: Path) -> None:
    """Remove what a run that was killed had begun; another one may be writing now, so only what is old."""
    for path in out_dir.glob(f"{BEGUN}*"):
        if path.is_dir() and not path.is_symlink() and time.time() - path.stat().st_mtime > LEFT_S:
            shutil.rmtree(path, ignore_errors=True)


def papers_of(
    plan: Plan, *, date: datetime.date, record: JobRecord | None = None, work: WorkPlan | None = None
) -> Iterator[tuple[str, bytes]]:
    """Yield (file name, bytes) of every paper that a plan has."""
    yield from ((name, make()) for name, make in paper_makers(plan, date=date, record=record, work=work).items())


def paper_makers(
    plan: Plan, *, date: datetime.date, record: JobRecord | None = None, work: WorkPlan | None = None
) -> dict[str, Callable[[], bytes]]:
    """Return file name -> what makes that paper, of every paper that a plan has; nothing is made yet."""
    makers: dict[str, Callable[[], bytes]] = {
        "packet.pdf": lambda: packet_pdf(plan, date=date, record=record, work=work),
        "owner.pdf": lambda: owner_pdf(plan, date=date, record=record),
    }
    name, left = plan.survey.name, plan.left
    before, after = markings(plan.survey, left or plan.survey, changed_conductors(plan) if left else frozenset())
    if plan.survey.cables:
        # What is not known is drawn as not known, though the plan was made for every answer.
        makers["wiring-found.svg"] = lambda: wiring_map_svg(
            plan.survey, plan.catalog, title=_("{name}: wiring as found").format(name=name), changed=before
        ).encode()
    if left is None:
        return makers
    return makers | {
        "wiring-left.svg": lambda: wiring_map_svg(
            left, plan.catalog, title=_("{name}: wiring as left").format(name=name), changed=after
        ).encode(),
        "ladder-left.svg": lambda: ladder_svg(
            left, plan.catalog, title=_("{name}: ladder diagram as left").format(name=name)
        ).encode(),
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
