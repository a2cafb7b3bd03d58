"""The Check stage: the sheet of checks, readings entered in any order and judged at once, and whether the house is proved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from subbase.errors import InputError
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.check_words import (
    GROUP_CAUTIONS,
    GROUP_NOTES,
    GROUP_WORDS,
    MARK_LOOKS,
    MARK_WORDS,
    METER_WORDS,
    call_id,
    ends_words,
    must_words,
)
from subbase.web.display import read_number
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView, Office
from subbase.web.looks import html, page
from subbase.web.record import Mine, further_key
from subbase.web.record_check import reading_body, taken_before, taken_of
from subbase.web.sheet import Group, Item, Sheet
from subbase.web.slow import PATIENCE_S
from subbase.web.workbench import mine_of, report_of
from subbase.words import _
from subbase.work.reading_verdicts import ReadingVerdict, check_of
from subbase.work.taken import METERS, Taken
from subbase.work.verdicts import Report

router = APIRouter()
MOST_SHOWN = 8


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the sheet as it stands."""

    item: Item
    number: int
    verdict: ReadingVerdict | None
    """What is said of its last reading; None when there is none."""
    opened: bool
    """Whether a reading is to be entered here."""


@dataclass(frozen=True, slots=True)
class Checked:
    """A job's checks as far as they were made."""

    mine: Mine
    taken: Taken
    report: Report

    @property
    def sheet(self) -> Sheet:
        """Return the sheet of checks."""
        return self.mine.sheet


def checked(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Checked | None:
    """Return how a job's checks stand; None when there is no plan to check by.

    Raises
    ------
    NotYet
    """
    mine = mine_of(office, view, patience_s=patience_s)
    if mine is None:
        return None
    taken = taken_of(mine)
    return Checked(mine, taken, report_of(office, view, mine.sheet, taken, patience_s=patience_s))


@router.get("/jobs/{job}/check")
def check_page(
    request: Request, view: JobHere, office: OfficeHere, again: Annotated[str, Query(max_length=20)] = ""
) -> Response:
    """Show the sheet, what was read, and where the house stands."""
    found = checked(office, view)
    if found is None:
        return page(request, "work_none.html", job=view, plan=office.plan(view), stage=_("Check"))
    return page(request, "check.html", job=view, **_context(found, again, {}, {}))


@router.post("/jobs/{job}/check/readings")
def take_readings(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep every reading that was filled in; when one of them cannot be read, none is kept and all are shown again."""
    mine = mine_of(office, view, patience_s=None)
    if mine is None:
        return go(f"/jobs/{view.id}/check")
    key = form_key(fields)
    mine.refuse_changed(fields)
    meter = fields.get("meter", "") if fields.get("meter") in METERS else ""
    values: dict[str, float] = {}
    faults: dict[str, str] = {}
    for item, text in _filled(mine.sheet, fields):
        try:
            values[item.id] = read_number(text, open_allowed=item.check.unit == "ohm")
            if values[item.id] < 0.0:
                faults[item.id] = _("Volts AC and ohms are never negative; look at the meter's range.")
        except InputError as error:
            faults[item.id] = error.faults[0].message
    if faults:
        found = checked(office, view, patience_s=None)
        assert found is not None  # there was a sheet a moment ago
        context = _context(found, fields.get("again", ""), faults, fields)
        return page(request, "check.html", status=422, job=view, **context)
    told = {
        further_key(key, name): reading_body(mine, mine.sheet.by_id[name], value, meter)
        for name, value in values.items()
    }
    keep(request, office, view, told)
    anchor = f"#c-{next(iter(values))}" if len(values) == 1 else ""
    return go(f"/jobs/{view.id}/check{anchor}")


def _filled(sheet: Sheet, fields: dict[str, str]) -> Iterator[tuple[Item, str]]:
    """Yield each line with what was entered there; the button OL counts for its line."""
    for item in sheet.items:
        text = "OL" if fields.get("ol") == item.id else fields.get(f"v-{item.id}", "").strip()
        if text:
            yield item, text


def kept_check(request: Request, view: JobView, found: Checked) -> str:
    """Return the page for a phone to keep: every line can be read anew, which its script judges by the line's bounds."""
    context = _context(found, "", {}, {}, kept=True)
    return html(request, "check.html", job=view, here=f"/jobs/{view.id}/check", **context)


def _context(
    found: Checked, again: str, faults: dict[str, str], given: dict[str, str], *, kept: bool = False
) -> dict[str, Any]:
    sheet, report = found.sheet, found.report
    verdicts = {
        item.id: verdict
        for verdict in report.readings
        if (item := sheet.item_of(check_of(sheet.left, verdict.taken))) is not None
    }  # fmt: skip
    lines: dict[Group, list[Line]] = {}
    for number, item in enumerate(sheet.items, start=1):
        verdict = verdicts.get(item.id)
        opened = kept or verdict is None or item.id == again or item.id in faults or bool(given.get(f"v-{item.id}"))
        lines.setdefault(item.group, []).append(Line(item, number, verdict, opened))
    several = len(sheet.left.controls) > 1
    return {
        "sheet": sheet,
        "mark": sheet.mark,
        "kept": kept,
        "report": report,
        "lines": lines,
        "failing": [v for v in report.readings if v.judged.mark == "fail"],
        "doubtful": [v for v in report.readings if v.judged.mark == "meter or lead suspect"],
        "passed": sum(v.judged.mark == "pass" for v in verdicts.values()),
        "excluded": report.excluded,
        "taken_before": taken_before(found.mine),
        "again": again,
        "faults": faults,
        "given": given,
        "meter_words": METER_WORDS,
        "mark_words": MARK_WORDS,
        "mark_looks": MARK_LOOKS,
        "group_words": GROUP_WORDS,
        "group_cautions": GROUP_CAUTIONS,
        "group_notes": GROUP_NOTES,
        "possible": report.possible[:MOST_SHOWN],
        "untold": sheet.checks.untold[:MOST_SHOWN],
        "seen_failing": [v for v in report.seen if v.judged.mark == "fail"],
        "seen_count": len(report.seen),
        "call_id": call_id,
        "sequences": [s for s in sheet.sequences if s.state.condition is None and s.steps],
        "must": must_words,
        "ends": lambda check: ends_words(check, several=several),
        "check_of": lambda verdict: check_of(sheet.left, verdict.taken),
    }


__all__ = [
    "Checked",
    "checked",
    "kept_check",
    "router",
]
