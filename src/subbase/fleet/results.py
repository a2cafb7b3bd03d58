"""What a run leaves in its folder: tables for machines, lists for people, and the report."""

from __future__ import annotations

import csv
import io
import json
import unicodedata
from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Mapping as Map
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pyarrow as pa
from pyarrow import parquet

from subbase.files import write_whole
from subbase.fleet.chunks import HOMES_SCHEMA, REASONS_SCHEMA, table_bytes, table_of
from subbase.fleet.keeper import Keeper
from subbase.fleet.outcome import Outcome
from subbase.fleet.report import MOST_ROWS, report_html, report_of, report_pdf
from subbase.fleet.totals import Totals
from subbase.papers.measure import clean

if TYPE_CHECKING:
    from subbase.fleet.run import Order
    from subbase.fleet.savings import Saving

FORMULA_SIGNS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What begins a formula, also as the wide characters that some spreadsheets read alike."""
BREAKS = ("\t", "\r", "\n")
OUTCOMES_SCHEMA = pa.schema(
    [
        ("outcome", pa.int64()), ("verdict", pa.string()), ("routes", pa.list_(pa.string())),
        ("titles", pa.list_(pa.string())), ("lost", pa.list_(pa.string())), ("minutes_least", pa.float64()),
        ("minutes_mean", pa.float64()), ("minutes_most", pa.float64()), ("possibilities", pa.int64()),
        ("questions", pa.int64()), ("licensed", pa.bool_()), ("hazards", pa.list_(pa.string())),
    ]
)  # fmt: skip
PARTS_SCHEMA = pa.schema(
    [("outcome", pa.int64()), ("what", pa.string()), ("expected", pa.float64()), ("most", pa.int64())]
)
STRUCTURES_SCHEMA = pa.schema([("structure", pa.string()), ("outcome", pa.int64()), ("survey", pa.string())])
Known = tuple[Map[int, Outcome], Map[str, int], Map[str, str]]
"""(number -> outcome, key -> number, key -> structure text)."""


def write_results(
    order: Order, keeper: Keeper, totals: Totals, known: Known, *, blocks: int, savings: Sequence[Saving] = ()
) -> tuple[Path, ...]:
    """Write every result into the run's folder and return the files."""
    out = order.out
    outcomes, structures, texts = known
    files = [
        _joined(out / "homes.parquet", keeper, "homes", HOMES_SCHEMA, blocks),
        _joined(out / "reasons.parquet", keeper, "reasons", REASONS_SCHEMA, blocks),
        write_whole(out / "outcomes.parquet", table_bytes(_outcome_table(outcomes))),
        write_whole(out / "outcome-parts.parquet", table_bytes(_part_table(outcomes))),
        write_whole(out / "structures.parquet", table_bytes(_structure_table(structures, texts))),
        write_whole(out / "questions.csv", csv_bytes(question_rows(totals))),
        write_whole(out / "parts.csv", csv_bytes(part_rows(totals))),
        write_whole(out / "days.csv", csv_bytes(day_rows(totals))),
        write_whole(out / "savings.csv", csv_bytes(saving_rows(savings))),
        _refused(out / "refused.csv", keeper, blocks),
    ]
    rows = totals.verdicts.all
    summary = {
        "format": 1, "rows": rows, "structures": len(structures), "outcomes": len(outcomes),
        "verdicts": asdict(totals.verdicts), "licensed": totals.licensed, "routes": dict(totals.routes),
        "stops": dict(totals.stops), "minutes": _minutes(totals),
    }  # fmt: skip
    files.append(write_whole(out / "summary.json", (json.dumps(summary, indent=2, ensure_ascii=False) + "\n").encode()))
    name = order.mapping.name if order.mapping is not None else order.source.name
    refused = _first_refused(keeper, blocks)
    report = report_of(totals, name=name, structures=len(structures), refused=refused, savings=savings)
    files.append(write_whole(out / "report.html", report_html(report)))
    files.append(write_whole(out / "report.pdf", report_pdf(report)))
    return tuple(files)


def _first_refused(keeper: Keeper, blocks: int) -> list[tuple[str, str, str, str]]:
    """Return the first refused rows as (place, id, fact, why)."""
    found: list[tuple[str, str, str, str]] = []
    for number in range(blocks):
        for file, line, home, name, _, why, *_ in json.loads(keeper.need(f"refused/{number:05d}")):
            found.append((f"{file}:{line}", clean(home), name, clean(why)))
        if len(found) >= MOST_ROWS:
            break
    return found[:MOST_ROWS]


def _minutes(totals: Totals) -> dict[str, float]:
    return {
        "least": sum(load.minutes_least for load in totals.by_day_and_area),
        "mean": sum(load.minutes_mean for load in totals.by_day_and_area),
        "most": sum(load.minutes_most for load in totals.by_day_and_area),
    }


def _joined(path: Path, keeper: Keeper, step: str, schema: pa.Schema, blocks: int) -> Path:
    """Put the blocks of a table one behind the other, one in memory at a time."""
    beside = path.with_name(f".{path.name}.part")
    with parquet.ParquetWriter(beside, schema, compression="zstd") as writer:
        for number in range(blocks):
            writer.write_table(table_of(keeper.need(f"{step}/{number:05d}")).cast(schema))
    return beside.replace(path)


def _outcome_table(outcomes: Map[int, Outcome]) -> pa.Table:
    rows = []
    for number, outcome in sorted(outcomes.items()):
        least, mean, most = outcome.minutes or (None, None, None)
        rows.append(
            {
                "outcome": number, "verdict": outcome.verdict, "routes": list(outcome.routes),
                "titles": list(outcome.titles), "lost": list(outcome.lost), "minutes_least": least,
                "minutes_mean": mean, "minutes_most": most, "possibilities": outcome.possibilities,
                "questions": len(outcome.questions), "licensed": outcome.licensed, "hazards": list(outcome.hazards),
            }
        )  # fmt: skip
    return pa.Table.from_pylist(rows, schema=OUTCOMES_SCHEMA)


def _part_table(outcomes: Map[int, Outcome]) -> pa.Table:
    rows = [
        {"outcome": number, "what": part.what, "expected": part.expected, "most": part.most}
        for number, outcome in sorted(outcomes.items())
        for part in outcome.parts
    ]
    return pa.Table.from_pylist(rows, schema=PARTS_SCHEMA)


def _structure_table(structures: Map[str, int], texts: Map[str, str]) -> pa.Table:
    keys = sorted(structures)
    columns = {
        "structure": keys,
        "outcome": [structures[key] for key in keys],
        "survey": [texts[key] for key in keys],
    }
    return pa.table(columns, schema=STRUCTURES_SCHEMA)


def question_rows(totals: Totals) -> Iterator[Sequence[object]]:
    """Yield the questions, the one worth asking first on top."""
    yield "rank", "field", "question", "homes", "only_question_of", "first_question_of", "bits", "how"
    for rank, worth in enumerate(totals.questions, start=1):
        bits = round(worth.bits, 3) if worth.bits else ""
        yield rank, worth.field, worth.text, worth.homes, worth.alone, worth.first, bits, worth.how


def part_rows(totals: Totals) -> Iterator[Sequence[object]]:
    """Yield the parts for the truck."""
    yield "day", "area", "part", "expected", "most"
    for part in totals.parts:
        yield part.day, part.area, part.what, round(part.expected, 3), part.most


def day_rows(totals: Totals) -> Iterator[Sequence[object]]:
    """Yield the work of each day and area."""
    yield "day", "area", "planned", "asked", "stopped", "minutes_least", "minutes_mean", "minutes_most"
    for load in totals.by_day_and_area:
        minutes = (round(value, 1) for value in (load.minutes_least, load.minutes_mean, load.minutes_most))
        yield load.day, load.area, load.planned, load.asked, load.stopped, *minutes


def saving_rows(savings: Sequence[Saving]) -> Iterator[Sequence[object]]:
    """Yield what a night setback saves, by climate."""
    yield (
        "climate", "homes", "with_floor_area", "share_low", "share_middle", "share_high", "heat_kwh", "saved_kwh_low",
        "saved_kwh_mean", "saved_kwh_high",
    )  # fmt: skip
    for item in savings:
        shares = (round(share, 4) for share in (item.low, item.middle, item.high))
        yield item.climate, item.homes, item.with_floor, *shares, round(item.heat_kwh), *map(round, item.saved_kwh)


def _refused(path: Path, keeper: Keeper, blocks: int) -> Path:
    beside = path.with_name(f".{path.name}.part")
    with beside.open("wb") as stream:
        stream.write(csv_bytes([("file", "line", "id", "field", "value", "why", "row")]))
        for number in range(blocks):
            stream.write(csv_bytes(json.loads(keeper.need(f"refused/{number:05d}"))))
    return beside.replace(path)


def csv_bytes(rows: Iterable[Sequence[object]]) -> bytes:
    """Return rows as CSV; a text that a spreadsheet would take for a formula is marked as text."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows([harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8", "replace")


def harmless(cell: Any) -> Any:
    """Return a cell as a spreadsheet and a terminal may have it.

    Numbers stay as they are; a text that begins like a formula stands behind a quote; a character that is no print, and
    could move a cursor or turn a line round, is written as an escape.
    """
    if not isinstance(cell, str):
        return cell
    text = cell if cell.isprintable() else "".join(map(_shown, cell))
    return f"'{text}" if text.lstrip().startswith(FORMULA_SIGNS) or cell.startswith(BREAKS) else text


def _shown(character: str) -> str:
    unseen = unicodedata.category(character) in ("Cc", "Cf", "Cs") and character not in BREAKS
    return character.encode("unicode_escape").decode() if unseen else character
