"""Small lists of invented homes for tests of the fleet, quick to plan, with every verdict and every sort of dirt in them."""

from __future__ import annotations

import csv
import io
from pathlib import Path

from subbase.fleet.mapping import Mapping, read_mapping
from subbase.fleet.run import Done, Order, Progress, run

HEADINGS = (
    "Flat",
    "Stair",
    "Visit",
    "Circuit",
    "Warning",
    "Heats",
    "Letters",
    "Spare",
    "Run",
    "Gauge",
    "Mercury",
    "Built",
    "R-C",
)
FACTS = ("id", "area", "day", "wiring", "sign", "heating", "letters", "spares", "length", "gauge", "mercury", "year_built", "volts_rc")  # fmt: skip
MAPPING = """
fleet = 1
name = "Invented stairs"
minutes_per_call = 20
[columns]
id = "Flat"
area = "Stair"
day = "Visit"
wiring = {column = "Circuit", values = {"24" = "low voltage", "230" = "line voltage"}}
sign = "Warning"
heating = {column = "Heats", values = {"pair" = "boiler, start pair", "gas" = "boiler, 24 V circuit", "pilot" = "standing pilot furnace"}}
letters = "Letters"
spares = "Spare"
length = {column = "Run", unit = "ft"}
gauge = "Gauge"
mercury = "Mercury"
year_built = "Built"
volts_rc = "R-C"
[declared]
far_ends = {value = "as marked", known = "told", why = "invented"}
cooling = {value = "none", known = "told", why = "invented"}
spare_end = {value = "loose", known = "assumed", why = "invented"}
gauge = {value = 18, known = "assumed", why = "invented"}
[new_control]
terminals = ["R", "C", "W1"]
power = "common"
asleep_va = 0.5
awake_va = 3
"""
PATTERNS: tuple[tuple[str, ...], ...] = (
    ("24", "none", "pair", "R W", "0", "30", "18", "no", "1950", ""),
    ("24", "none", "gas", "R W", "1", "45", "", "yes", "1990", ""),
    ("24", "none", "gas", "R C W", "0", "52", "20", "", "", "26.4"),
    ("24", "none", "pilot", "R W", "1", "38", "18", "no", "1985", ""),
    ("24", "none", "gas", "RW", "", "41", "18", "no", "", ""),
    ("24", "none", "pair", "R W", "0", "", "", "no", "1960", ""),
    ("230", "none", "", "", "", "", "", "", "1930", ""),
    ("24", "scorched insulation", "gas", "R W", "0", "20", "", "no", "", ""),
    ("24", "none", "", "R W", "0", "20", "", "no", "", ""),
    ("24", "none", "gas", "R W", "0", "-7", "", "no", "", ""),
    ("", "none", "gas", "R W", "1", "33", "", "no", "", ""),
    ("24", "none", "R W", "gas", "0", "20", "", "no", "", ""),
    ("24", "none", "gas", "R C W", "0", "52", "", "", "", "12.5"),
)  # fmt: skip


def mapping() -> Mapping:
    """Return the mapping of these lists."""
    return read_mapping(MAPPING.encode(), "mapping.toml", as_toml=True)


def rows(count: int) -> list[tuple[str, ...]]:
    """Return rows of a list, the patterns over and over with lengths that differ a little, and one id given twice."""
    found = []
    for number in range(count):
        cells = list(PATTERNS[number % len(PATTERNS)])
        if cells[5].isdigit():
            cells[5] = str(int(cells[5]) + (number // len(PATTERNS)) % 7)
        home = "F0001" if number == 20 else f"F{number:04d}"
        found.append((home, f"stair {number // 16}", f"day {number // 32}", *cells))
    return found


def csv_text(count: int, delimiter: str = ",") -> str:
    """Return a list as delimited text."""
    text = io.StringIO()
    csv.writer(text, delimiter=delimiter, lineterminator="\r\n").writerows([HEADINGS, *rows(count)])
    return text.getvalue()


def write_list(folder: Path, count: int) -> Path:
    """Write a list as CSV and return the file."""
    path = folder / "flats.csv"
    path.write_text(csv_text(count), "utf-8", newline="")
    return path


def run_list(source: Path, out: Path, tell: object = None, *, workers: int = 1, chunk_rows: int = 40, scheduler: str | None = None) -> Done:  # fmt: skip
    """Run a list in small pieces."""
    order = Order(source, out, mapping(), workers=workers, chunk_rows=chunk_rows, scheduler=scheduler)
    return run(order, tell if callable(tell) else lambda _: None)


def results(out: Path) -> dict[str, bytes]:
    """Return every file of results by name."""
    return {path.name: path.read_bytes() for path in sorted(out.iterdir()) if path.is_file()}


__all__ = [
    "FACTS",
    "HEADINGS",
    "MAPPING",
    "Progress",
    "csv_text",
    "mapping",
    "results",
    "rows",
    "run_list",
    "write_list",
]
