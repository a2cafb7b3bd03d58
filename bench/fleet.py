"""Fleets: one home after the other, screening and whole runs from 10^3 rows up, one process, two, and a Dask cluster.

With SUBBASE_BENCH_LONG=1 also a million rows are screened, and districts of 10,000 and 100,000 homes planned, which takes
minutes.
"""

from __future__ import annotations

import os
import resource
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from bench.plot import save_lines
from bench.report import Result, Row
from subbase.catalog import load_catalog
from subbase.fleet.mapping import Mapping, load_mapping
from subbase.fleet.records import Record, RecordReader, declared_values
from subbase.fleet.run import Order, look_over
from subbase.fleet.run import run as run_fleet
from subbase.fleet.sources import CHUNK_ROWS, blocks_of
from subbase.fleet.synthetic import write_fleet
from subbase.fleet.thin_survey import survey_of
from subbase.plan import make_plan
from subbase.survey import Survey

ALONE = 30
SCREENED = (1_000, 10_000, 100_000)
PLANNED = 2_000
LONG_SCREENED, LONG_PLANNED = 1_000_000, (10_000, 100_000)
PIECE = 500
"""Homes in a piece at least; a small run has small ones, so that there is something to share out."""


def run(docs: Path) -> Result:
    """Measure the loop first, which all others are compared with."""
    long = os.environ.get("SUBBASE_BENCH_LONG") == "1"
    notes: list[str] = []
    with tempfile.TemporaryDirectory(prefix="fleet-bench-") as name:
        folder = Path(name)
        block, mapping = _list(folder, PLANNED, "block")
        rows = [one_by_one(block, mapping)]
        screened: list[tuple[int, Row]] = []
        for count in (*SCREENED, *((LONG_SCREENED,) if long else ())):
            source, own = _list(folder, count, "district")
            screened.append((count, _screened(source, own, count)))
            source.unlink()
        rows += [row for _count, row in screened]
        save_lines(
            docs / "img" / "fleet-growth.svg", {"screened": [(n, row.median_s) for n, row in screened]}, log_count=True
        )
        rows += _planned(block, mapping, PLANNED, "a block of flats", notes)
        for count in LONG_PLANNED if long else ():
            source, own = _list(folder, count, "district")
            rows += _planned(source, own, count, f"a district of {count:,}", notes, ways=("two processes",))
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    notes.append(
        f"The bench's own process held at most {peak_mb:,.0f} MB; a piece of 20,000 rows is in memory at a time."
    )
    notes.append("Made-up lists (judgement), seed 1; the loop plans homes drawn evenly from the same block of flats.")
    images = [("img/fleet-growth.svg", "Time of reading and screening against the number of rows")]
    return Result(title="Fleets", unit="homes", rows=rows, notes=tuple(notes), images=images)


def _list(folder: Path, count: int, mix: str) -> tuple[Path, Mapping]:
    source, mapping = write_fleet(folder / f"{mix}-{count}", count, seed=1, mix=mix)
    return source, load_mapping(mapping)


def one_by_one(source: Path, mapping: Mapping) -> Row:
    """Return the time of a plain loop: read a row, make its survey, plan it, remember nothing."""
    reader, declared, catalog = RecordReader(mapping), declared_values(mapping), load_catalog()
    block = next(iter(blocks_of(source, mapping)))
    step = max(1, len(block.cells) // ALONE)
    records = [
        reader.read(dict(zip(block.names, (c or "" for c in cells), strict=True))) for cells in block.cells[::step]
    ]
    facts = [dict(record.facts) for record in records if isinstance(record, Record)][:ALONE]
    begun = time.perf_counter()
    for item in facts:
        survey = survey_of(item, declared, mapping, catalog)
        if isinstance(survey, Survey):
            make_plan(survey, catalog, brief=True)
    return Row("one by one, planned, a block of flats", len(facts), time.perf_counter() - begun, 1)


def _screened(source: Path, mapping: Mapping, count: int) -> Row:
    def work(out: Path) -> None:
        look_over(Order(source, out, mapping, workers=2))

    return Row(f"screened, two processes, {count:,} rows", count, _once(work), 1)


def _planned(
    source: Path, mapping: Mapping, count: int, what: str, notes: list[str],
    ways: tuple[str, ...] = ("one process", "two processes", "Dask, two workers"),
) -> list[Row]:  # fmt: skip
    found: list[Row] = []
    piece = min(CHUNK_ROWS, max(PIECE, count // 8))
    for way in ways:
        made: list[str] = []

        def work(out: Path, way: str = way, made: list[str] = made) -> None:
            if way.startswith("Dask"):
                with _cluster() as address:
                    begun = time.perf_counter()
                    done = run_fleet(Order(source, out, mapping, scheduler=address, chunk_rows=piece))
                    made.append(str(time.perf_counter() - begun))
            else:
                done = run_fleet(
                    Order(source, out, mapping, workers=1 if way == "one process" else 2, chunk_rows=piece)
                )
            notes.append(
                f"{what.capitalize()}, {count:,} homes, {way}: {done.structures:,} structures, {done.outcomes:,} outcomes."
            )

        took_s = _once(work)
        found.append(Row(f"planned with proof, {what}, {way}", count, float(made[0]) if made else took_s, 1))
    return found


@contextmanager
def _cluster() -> Iterator[str]:
    import distributed

    make: Any = distributed.LocalCluster
    with make(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        yield cluster.scheduler_address


def _once(work: Callable[[Path], None]) -> float:
    with tempfile.TemporaryDirectory(prefix="fleet-bench-") as out:
        begun = time.perf_counter()
        work(Path(out))
        return time.perf_counter() - begun
