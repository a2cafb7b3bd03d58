"""Rows for spreadsheets: column names and values for programs, the same in every language.

Each column is declared once, with what it means: the file's head, the page on data out and its test come from here.
"""

from __future__ import annotations

from collections.abc import Sequence

from subbase.papers.tables import Rows
from subbase.plan import ExpectedReading
from subbase.survey import Survey, Unknown

LANDING_COLUMNS = {
    "cable": "Name of the cable, as in the survey.",
    "conductor": "Name of the conductor in its cable.",
    "colour_at_first_end": "Colour of its insulation at the cable's first end ('from').",
    "colour_at_second_end": "Colour at the second end ('to'); another one betrays a hidden splice.",
    "first_end_found": "Terminal at the first end as found; `loose`, `cut short` or `not known` when on none. Empty: new conductor.",
    "first_end_left": "The same as left.",
    "second_end_found": "Terminal at the second end as found.",
    "second_end_left": "The same as left.",
}
"""Column of ``landings.csv`` -> what it holds."""
READING_COLUMNS = {
    "call": "What the control asks for meanwhile; `off` when nothing.",
    "from": "Terminal of one lead, `PLACE.TERMINAL`.",
    "to": "Terminal of the other lead.",
    "expect_v": "Volts AC at nominal line voltage, hundredths.",
    "low_v": "Least that is accepted [V].",
    "high_v": "Most that is accepted [V].",
    "note": "What to know of this reading, if anything.",
}
"""Column of ``readings.csv`` -> what it holds."""


def conductor_rows(found: Survey, left: Survey) -> Rows:
    """Return every conductor of the house with its landings as found and as left, under a head."""
    rows = [tuple(LANDING_COLUMNS)]
    for cable, _, name, conductor in left.conductors():
        before = found.cables[cable].conductors.get(name) if cable in found.cables else None
        was = ("", "") if before is None else (_landing(before.from_), _landing(before.to))
        ends = (was[0], _landing(conductor.from_), was[1], _landing(conductor.to))
        rows.append((cable, name, *conductor.colours, *ends))
    return tuple(rows)


def _landing(value: str | Unknown) -> str:
    return "not known" if isinstance(value, Unknown) else value


def reading_rows(readings: Sequence[ExpectedReading]) -> Rows:
    """Return every expected reading under a head, volts to a hundredth."""
    rows = [tuple(READING_COLUMNS)]
    rows += [(r.state, *r.between, f"{r.volts:.2f}", f"{r.low_v:.2f}", f"{r.high_v:.2f}", r.note) for r in readings]
    return tuple(rows)
