"""A house's log read from CSV: indoor and outdoor temperature and how long the equipment ran, step by step.

Columns are found by name: ``time``; ``indoor_c`` or ``indoor_f``; ``outdoor_c`` or ``outdoor_f``; ``on`` (part of the step,
0 to 1), ``on_min`` or ``on_s``. A row tells of the step that *ends* at its time, temperatures of that instant. Steps are
equal, 5 minutes to 1 hour; a missing row or an empty cell is a gap, and what came before it is not joined to what comes
after. Times without an offset are the clock on the wall: where it is put forward or back an hour, the log goes on.
"""

from __future__ import annotations

import csv
import datetime
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from subbase.comfort.weather import Floats
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.words import _

MOST_BYTES = 40_000_000
LEAST_STEP_S, MOST_STEP_S = 300, 3600
MAX_FAULTS = 20
LEAST_ROWS = 24
HOUR_S = 3600.0
SLACK_S = 30.0
"""Times may be off a step by this much, as some loggers round."""
INDOOR_C, OUTDOOR_C = (-30.0, 60.0), (-70.0, 60.0)


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """A part of a log without gaps, (n,) each; a row tells of the step that ends at it."""

    indoor_c: Floats
    outdoor_c: Floats
    on: Floats
    """Part of the step for which the equipment ran; that of the first row is never used."""
    hour: Floats | None = None
    """Hour of the day at each row, by the clock on the wall; None where nobody knows."""

    def __len__(self) -> int:
        return len(self.indoor_c)


@dataclass(frozen=True, slots=True, eq=False)
class HouseLog:
    """A log."""

    step_s: float
    stretches: tuple[Stretch, ...]
    gaps: int = 0
    clock_changes: int = 0
    dropped_rows: int = 0
    """Rows with an empty cell."""

    @property
    def rows(self) -> int:
        """Return how many rows can be used."""
        return sum(len(stretch) for stretch in self.stretches)

    @property
    def hours(self) -> float:
        """Return how much time they cover."""
        return self.rows * self.step_s / HOUR_S


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    time: datetime.datetime
    values: tuple[float, float, float] | None
    """Indoor, outdoor, on; None where a cell is empty."""


_COLUMNS = {
    "indoor": ("indoor_c", "indoor_f"),
    "outdoor": ("outdoor_c", "outdoor_f"),
    "on": ("on", "on_min", "on_s"),
}


def read_log(path: str | Path) -> HouseLog:
    """Return a log from a CSV file.

    Raises
    ------
    InputError
        The file cannot be read as a log; every fault has its line.
    """
    path = Path(path)
    raw = read_at_most(path, MOST_BYTES)
    return parse_log(raw, str(path))


def parse_log(raw: bytes, file: str = "") -> HouseLog:
    """Return a log from CSV bytes.

    Raises
    ------
    InputError
        As ``read_log``.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError((Fault(_("The log is no UTF-8 text; save it as CSV again."), file=file),)) from None
    rows = csv.reader(io.StringIO(text))
    try:
        head = [cell.strip().lower() for cell in next(rows, [])]
        places = _places(head, file)
        read = _rows(rows, places, file)
    except csv.Error as error:
        message = _("The line cannot be read as CSV ({reason}).").format(reason=error)
        raise InputError((Fault(message, file=file, line=rows.line_num, column=1),)) from None
    return _log(read, places, file)


def _places(head: Sequence[str], file: str) -> dict[str, tuple[int, str]]:
    """Return what -> (column, its name)."""
    faults = []
    found: dict[str, tuple[int, str]] = {}
    for what, names in ({"time": ("time",)} | _COLUMNS).items():
        here = [(head.index(name), name) for name in names if name in head]
        if len(here) != 1:
            words = " / ".join(names)
            message = (
                _("The first line must name one column of these: {names}.")
                if not here
                else _("The first line names more than one column of these; keep one: {names}.")
            ).format(names=words)
            faults.append(Fault(message, what, file, 1, 1))
        else:
            found[what] = here[0]
    if faults:
        raise InputError(tuple(faults))
    return found


def _rows(rows: csv.reader, places: Mapping[str, tuple[int, str]], file: str) -> list[_Row]:  # type: ignore[valid-type]
    faults: list[Fault] = []
    found: list[_Row] = []
    for cells in rows:  # type: ignore[attr-defined]
        line = rows.line_num  # type: ignore[attr-defined]
        if not any(cell.strip() for cell in cells):
            continue
        row = _row(cells, places, line, file, faults)
        if row is not None:
            found.append(row)
        if len(faults) >= MAX_FAULTS:
            break
    if not faults and len(found) < LEAST_ROWS:
        message = _("The log holds {count} rows and needs at least {least}.").format(count=len(found), least=LEAST_ROWS)
        faults.append(Fault(message, file=file, line=1, column=1))
    if faults:
        raise InputError(tuple(faults))
    return found


def _row(
    cells: Sequence[str], places: Mapping[str, tuple[int, str]], line: int, file: str, faults: list[Fault]
) -> _Row | None:
    before = len(faults)

    def cell(what: str) -> str:
        column = places[what][0]
        return cells[column].strip() if column < len(cells) else ""

    time: datetime.datetime | None = None
    try:
        time = datetime.datetime.fromisoformat(cell("time"))
    except ValueError:
        message = _("{value!r} is no time; write it as 2026-01-31 18:05.").format(value=cell("time")[:40])
        faults.append(Fault(message, places["time"][1], file, line, places["time"][0] + 1))
    values: list[float] = []
    empty = False
    for what in _COLUMNS:
        text = cell(what)
        if not text or text.lower() in ("nan", "na", "null", "none", "-"):
            empty = True
            continue
        try:
            value = float(text)
        except ValueError:
            value = math.nan
        if not math.isfinite(value):
            message = _("{value!r} is no number; leave the cell empty when it is not known.").format(value=text[:40])
            faults.append(Fault(message, places[what][1], file, line, places[what][0] + 1))
            continue
        values.append((value - 32.0) / 1.8 if places[what][1].endswith("_f") else value)
        limits = {"indoor": INDOOR_C, "outdoor": OUTDOOR_C, "on": (0.0, 3600.0)}[what]
        if not limits[0] <= values[-1] <= limits[1]:
            message = _("{value} cannot be right here; is the unit in the column's name the right one?").format(
                value=text[:40]
            )
            faults.append(Fault(message, places[what][1], file, line, places[what][0] + 1))
    if len(faults) > before or time is None:
        return None
    return _Row(line, time, None if empty else (values[0], values[1], values[2]))


def _log(rows: list[_Row], places: Mapping[str, tuple[int, str]], file: str) -> HouseLog:
    aware = [row.time.tzinfo is not None for row in rows]
    if any(aware) and not all(aware):
        line = next(row.line for row, has in zip(rows, aware, strict=True) if has != aware[0])
        message = _("Some times bear an offset and some do not; the log must be all of one kind.")
        raise InputError((Fault(message, "time", file, line, 1),))
    apart = [(b.time - a.time).total_seconds() for a, b in pairwise(rows)]
    forward = [gap for gap in apart if gap > 0.0]
    step_s = round(float(np.median(forward)) / 60.0) * 60.0 if forward else 0.0
    if not LEAST_STEP_S <= step_s <= MOST_STEP_S:
        message = _("The rows are mostly {minutes:g} minutes apart; a log needs steps of 5 minutes to 1 hour.").format(
            minutes=step_s / 60.0
        )
        raise InputError((Fault(message, "time", file, rows[0].line, 1),))
    divisor = {"on": 1.0, "on_min": step_s / 60.0, "on_s": step_s}[places["on"][1]]
    return _stretches(rows, apart, (step_s, divisor, all(aware)), places, file)


def _stretches(
    rows: list[_Row],
    apart: Sequence[float],
    how: tuple[float, float, bool],
    places: Mapping[str, tuple[int, str]],
    file: str,
) -> HouseLog:
    step_s, divisor, is_aware = how
    faults: list[Fault] = []
    parts: list[list[tuple[float, float, float, float]]] = [[]]
    gaps = changes = dropped = 0
    for number, row in enumerate(rows):
        gap_s = step_s if number == 0 else apart[number - 1]
        if not is_aware and _is_clock_change(rows[number - 1].time, row.time, step_s):
            changes += 1
        elif gap_s <= 0.0:
            message = _("The time is not after that of the row before; each step must be there once, in order.")
            faults.append(Fault(message, "time", file, row.line, places["time"][0] + 1))
        elif abs(gap_s - step_s) > SLACK_S:
            gaps += 1
            parts.append([])
        if row.values is None:
            dropped += 1
            parts.append([])
            continue
        on = row.values[2] / divisor
        if on > 1.02:
            message = _("The equipment cannot run longer than the step of {minutes:g} minutes.").format(
                minutes=step_s / 60.0
            )
            faults.append(Fault(message, places["on"][1], file, row.line, places["on"][0] + 1))
        hour = row.time.hour + row.time.minute / 60.0
        parts[-1].append((row.values[0], row.values[1], min(on, 1.0), hour))
        if len(faults) >= MAX_FAULTS:
            break
    if faults:
        raise InputError(tuple(faults))
    stretches = tuple(Stretch(*np.array(part).T.copy()) for part in parts if len(part) >= 4)
    return HouseLog(step_s, stretches, gaps, changes, dropped)


def _is_clock_change(before: datetime.datetime, now: datetime.datetime, step_s: float) -> bool:
    """Return whether the clock on the wall was put by an hour between two rows: at night, on a Sunday, in spring or autumn."""
    jump_s = (now - before).total_seconds() - step_s
    if abs(abs(jump_s) - HOUR_S) > SLACK_S or now.weekday() != 6 or now.hour > 4:
        return False
    # A step of one hour put back gives the same time twice; put forward, it leaves one out.
    return now.month in ((3, 4, 9, 10) if jump_s > 0.0 else (3, 4, 9, 10, 11))
