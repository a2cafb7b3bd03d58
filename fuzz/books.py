"""Small files that chance would never make: a spreadsheet around a sheet's XML, a list of homes as Parquet."""

from __future__ import annotations

import csv
import io
import zipfile
from functools import cache
from pathlib import Path

ROWS = 4
LIST = Path(__file__).parent.parent / "examples" / "fleet" / "flats.csv"
SHEET = "xl/worksheets/sheet1.xml"


def rows() -> list[list[str]]:
    """Return the heading and the first rows of the example's list."""
    with LIST.open(encoding="utf-8", newline="") as text:
        return list(csv.reader(text))[: ROWS + 1]


@cache
def book() -> bytes:
    """Return them as a spreadsheet."""
    import openpyxl

    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    for row in rows():
        sheet.append([int(cell) if cell.isdigit() else cell for cell in row])
    packed = io.BytesIO()
    made.save(packed)
    return packed.getvalue()


def book_with(sheet: bytes) -> bytes:
    """Return that spreadsheet with another text as its sheet."""
    packed = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book())) as old, zipfile.ZipFile(packed, "w") as new:
        for name in old.namelist():
            new.writestr(name, sheet if name == SHEET else old.read(name))
    return packed.getvalue()


def sheet_of_book() -> bytes:
    """Return the XML of that spreadsheet's sheet."""
    with zipfile.ZipFile(io.BytesIO(book())) as packed:
        return packed.read(SHEET)


def parquet_list() -> bytes:
    """Return the rows as Parquet, uncompressed so that its cells are plain bytes."""
    import pyarrow as pa
    from pyarrow import parquet

    head, *cells = rows()
    table = pa.table({name: [row[at] for row in cells] for at, name in enumerate(head)})
    packed = io.BytesIO()
    parquet.write_table(table, packed, compression="none")
    return packed.getvalue()
