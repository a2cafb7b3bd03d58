"""Where rows come from: delimited text, Parquet, a spreadsheet, or a folder of surveys, always a block at a time."""

from __future__ import annotations

import datetime
import hashlib
import math
import os
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from subbase.errors import Fault, InputError
from subbase.fleet.mapping import Mapping
from subbase.fleet.text_tables import dialect_of, read_lines
from subbase.survey.faults import nearest
from subbase.words import _

if TYPE_CHECKING:
    from pyarrow import parquet

SURVEY_ENDINGS = (".yaml", ".yml", ".json")
TEXT_ENDINGS = (".csv", ".tsv", ".txt")
SURVEY = "survey"
"""Column that holds a whole survey file, where the source is a folder of them."""
MOST_SURVEY_BYTES = 1_000_000
CHUNK_ROWS = 20_000
BROKEN_PARQUET = (pa.ArrowException, OSError, ValueError, OverflowError)
"""What the library lets out of a broken file; names that are no UTF-8 come as ValueError."""


@dataclass(slots=True)
class Block:
    """Some rows that follow each other, column by column."""

    names: tuple[str, ...]
    files: list[str] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    raws: list[str] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    cells: list[list[str | None]] = field(default_factory=list)

    def add(self, file: str, line: int, cells: list[str | None], raw: str, problem: str = "") -> None:
        """Put one row at the end."""
        self.files.append(file)
        self.lines.append(line)
        self.cells.append(cells)
        self.raws.append(raw)
        self.problems.append(problem)

    def table(self) -> pa.Table:
        """Return the rows as a table of text."""
        text, data = pa.string(), {
            "file": pa.array(self.files, pa.string()),
            "line": pa.array(self.lines, pa.int64()),
            "raw": pa.array([_encodable(raw) for raw in self.raws], pa.string()),
            "problem": pa.array(self.problems, pa.string()),
        }  # fmt: skip
        for position, name in enumerate(self.names):
            values = (row[position] for row in self.cells)
            data[f"cell {name}"] = pa.array([None if v is None else _encodable(v) for v in values], text)
        return pa.table(data)


def _encodable(text: str) -> str:
    """Return a text without lone surrogates, which no file can hold."""
    return text if text.isascii() else text.encode("utf-8", "replace").decode("utf-8")


def blocks_of(
    source: Path, mapping: Mapping | None, *, rows: int = CHUNK_ROWS, encoding: str | None = None
) -> Iterator[Block]:
    """Yield the rows of a source in blocks.

    Raises
    ------
    InputError
        When the source is not there, is of no kind that can be read, or lacks a column of the mapping.
    """
    if not source.exists():
        raise InputError((Fault(_("There is no such file or folder."), file=str(source)),))
    if source.is_dir():
        return _gathered((SURVEY,), _survey_files(source), rows)
    if not source.is_file():
        raise InputError((Fault(_("This is neither a file nor a folder."), file=str(source)),))
    if mapping is None:
        raise InputError((Fault(_("A table needs a mapping that says which column is which fact."), file=str(source)),))
    names = tuple(mapping.columns)
    ending = source.suffix.lower()
    if ending in TEXT_ENDINGS:
        return _gathered(names, _text_rows(source, mapping, encoding), rows)
    if ending in (".parquet", ".pq"):
        return _gathered(names, _parquet_rows(source, mapping), rows)
    if ending in (".xlsx", ".xlsm"):
        return _gathered(names, _sheet_rows(source, mapping), rows)
    message = _("'{ending}' is none of: {known}, or a folder of surveys.").format(
        ending=ending or source.name, known=", ".join((*TEXT_ENDINGS, ".parquet", ".xlsx"))
    )
    raise InputError((Fault(message, file=str(source)),))


Row = tuple[str, int, list[str | None], str, str]
"""(file, line, cells in the mapping's order, the row as it stood there, what is wrong with it as a whole)."""


def _gathered(names: tuple[str, ...], found: Iterable[Row], rows: int) -> Iterator[Block]:
    block = Block(names)
    for row in found:
        block.add(*row)
        if len(block.lines) >= rows:
            yield block
            block = Block(names)
    if block.lines:
        yield block


def _positions(headings: list[str], mapping: Mapping, file: Path) -> list[int]:
    """Return where each fact's column stands.

    Raises
    ------
    InputError
        When a column is missing, or its heading stands twice.
    """
    clean = [" ".join(heading.split()) for heading in headings]
    faults = []
    for name, item in mapping.columns.items():
        count = clean.count(" ".join(item.column.split()))
        if count == 0:
            message = _("There is no column '{column}'; {nearest}").format(
                column=item.column, nearest=nearest(item.column, clean)
            )
            faults.append(Fault(message, f"columns.{name}", str(file), 1))
        elif count > 1:
            message = _("There are {count} columns '{column}'; rename all but one.").format(
                count=count, column=item.column
            )
            faults.append(Fault(message, f"columns.{name}", str(file), 1))
    if faults:
        raise InputError(tuple(faults))
    return [clean.index(" ".join(item.column.split())) for item in mapping.columns.values()]


def _text_rows(source: Path, mapping: Mapping, encoding: str | None) -> Iterator[Row]:
    lines = read_lines(source, dialect_of(source, encoding=encoding))
    heading = next(lines, None)
    if heading is None:
        raise InputError((Fault(_("The file is empty; its first line names the columns."), file=str(source), line=1),))
    positions = _positions(list(heading.cells), mapping, source)
    width = len(heading.cells)
    for line in lines:
        problem = line.problem
        if not problem and len(line.cells) != width:
            problem = _("The row has {count} cells, the heading has {width}.").format(
                count=len(line.cells), width=width
            )
        cells: list[str | None] = [None] * len(positions) if problem else [line.cells[at] for at in positions]
        yield source.name, line.number, cells, line.raw, problem


def _parquet_rows(source: Path, mapping: Mapping) -> Iterator[Row]:
    from pyarrow import parquet

    try:
        file = parquet.ParquetFile(source)
        headings = list(file.schema_arrow.names)
    except BROKEN_PARQUET as error:
        raise _unreadable(_("This is no readable Parquet file: {error}."), error, source) from None
    names = [headings[at] for at in _positions(headings, mapping, source)]
    line = 0
    for columns in _parquet_columns(file, names, source):
        for cells in zip(*columns, strict=True):
            line += 1
            yield source.name, line, list(cells), "\t".join(cell or "" for cell in cells), ""


def _parquet_columns(file: parquet.ParquetFile, names: list[str], source: Path) -> Iterator[list[list[str | None]]]:
    batches = file.iter_batches(batch_size=CHUNK_ROWS, columns=names)
    while True:
        try:
            batch = next(batches, None)
            if batch is None:
                return
            columns = [[cell_text(value) for value in batch.column(name).to_pylist()] for name in names]
        except BROKEN_PARQUET as error:
            # A file whose end is whole may be broken inside, or hold a date that no calendar has.
            raise _unreadable(_("This is no readable Parquet file: {error}."), error, source) from None
        yield columns


def _sheet_rows(source: Path, mapping: Mapping) -> Iterator[Row]:
    import openpyxl

    # Opened here, so that it is closed here, whatever the library makes of a broken one.
    with source.open("rb") as held:
        try:
            book = openpyxl.load_workbook(held, read_only=True, data_only=True)
        except Exception as error:
            # Its parts are XML and more, and which errors its parsers let out is their own affair.
            raise _unreadable(_("This is no readable spreadsheet: {error}."), error, source) from None
        rows = _sheet_values(book, source)
        positions = _positions([cell_text(value) or "" for value in next(rows, ())], mapping, source)
        for line, values in enumerate(rows, start=2):
            cells = [cell_text(value) for value in values]
            if not any(cells):
                continue
            wanted = [cells[at] if at < len(cells) else None for at in positions]
            yield source.name, line, wanted, "\t".join(cell or "" for cell in cells), ""


def _sheet_values(book: Any, source: Path) -> Iterator[tuple[Any, ...]]:
    """Yield the rows of a book's first sheet, whose XML is parsed as it is read: what is broken in it shows here."""
    if not book.worksheets:
        raise InputError((Fault(_("There is no sheet in this book."), file=str(source)),))
    try:
        yield from book.worksheets[0].iter_rows(values_only=True)
    except Exception as error:
        raise _unreadable(_("This is no readable spreadsheet: {error}."), error, source) from None


def _unreadable(message: str, error: Exception, source: Path) -> InputError:
    """Return a library's complaint as a fault: in one line of printable letters, and not endless."""
    words = " ".join("".join(c if c.isprintable() else " " for c in str(error)).split())[:200]
    return InputError((Fault(message.format(error=words.rstrip(".") or type(error).__name__), file=str(source)),))


def cell_text(value: Any) -> str | None:
    """Return a typed cell as the text that a person would have written."""
    if value is None:
        return None
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        whole = math.isfinite(value) and value == int(value) and abs(value) < 1e15
        return None if math.isnan(value) else (str(int(value)) if whole else repr(value))
    if isinstance(value, datetime.datetime) and value.time() == datetime.time():
        return value.date().isoformat()
    if isinstance(value, datetime.datetime | datetime.date):
        return value.isoformat()
    if isinstance(value, bytes):
        return value.decode("utf-8", "replace")
    if isinstance(value, list | tuple):
        return " ".join(filter(None, map(cell_text, value)))
    return str(value)


def _survey_files(folder: Path) -> Iterator[Row]:
    for path in sorted(path for path in folder.rglob("*") if path.suffix.lower() in SURVEY_ENDINGS and path.is_file()):
        name = path.relative_to(folder).as_posix()
        try:
            if path.stat().st_size > MOST_SURVEY_BYTES:
                problem = _("The file is larger than a survey may be.")
                yield name, 1, [None], "", problem
                continue
            text = path.read_bytes().decode("utf-8-sig")
        except (OSError, UnicodeDecodeError) as error:
            yield name, 1, [None], "", _("The file cannot be read: {error}.").format(error=error)
            continue
        yield name, 1, [text], "", ""


def fingerprint(source: Path) -> str:
    """Return what tells this source from any other: of a file its bytes, of a folder its surveys' names and bytes.

    Raises
    ------
    InputError
        When a file cannot be read.
    """
    digest = hashlib.sha256()
    paths = [source]
    if source.is_dir():
        paths = sorted(path for path in source.rglob("*") if path.suffix.lower() in SURVEY_ENDINGS and path.is_file())
    for path in paths:
        try:
            digest.update(os.fsencode(f"{path.name}\0{path.stat().st_size}\0"))
            with path.open("rb") as stream:
                while block := stream.read(1 << 20):
                    digest.update(block)
        except OSError as error:
            words = error.strerror or str(error)
            raise InputError(
                (Fault(_("The file cannot be read: {error}.").format(error=words), file=str(path)),)
            ) from None
    return digest.hexdigest()
