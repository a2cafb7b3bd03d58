"""The Hand over stage: what was read against what must be, what is left open, the papers, the field file, the whole job."""

from __future__ import annotations

import datetime
import hashlib
import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, File, Form, HTTPException, Request, Response, UploadFile

from subbase.errors import InputError
from subbase.journal.bodies import HandedOver
from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.journal.bundle import export_job
from subbase.journal.events import Event, Kept
from subbase.papers.job_record import JobRecord, Read
from subbase.papers.write import PAPER_NAMES, paper_makers
from subbase.plan import Plan
from subbase.web.asking import JobHere, KeyField, OfficeHere, go, keep
from subbase.web.field_file import MOST_BYTES, field_file, read_entries_file
from subbase.web.job_papers import day_words, record_of
from subbase.web.jobs import JobView, Office
from subbase.web.looks import page
from subbase.web.record import Mine
from subbase.web.record_check import shown
from subbase.web.slow import PATIENCE_S
from subbase.web.stage_check import Checked, checked
from subbase.web.stage_tune import settings_known
from subbase.web.stage_work import standing_of
from subbase.web.standing import Standing
from subbase.words import _, mark
from subbase.work.meter_words import bounds_words, temperature_words
from subbase.work.steps import WorkPlan, shown_value

router = APIRouter()
_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "csv": "text/csv; charset=utf-8"}
PAPER_WORDS = {
    "packet.pdf": mark("The packet: everything on paper"),
    "owner.pdf": mark("One page for the people who live there"),
    "wiring-found.svg": mark("Wiring as found"),
    "wiring-left.svg": mark("Wiring as left"),
    "ladder-left.svg": mark("Ladder diagram as left"),
    "landings.csv": mark("Landings, as a table"),
    "readings.csv": mark("What the meter must read, as a table"),
}
MOST_SHOWN = 12


@router.get("/jobs/{job}/hand-over")
def hand_over_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show what the next one in this basement needs to know, and everything that can be taken along."""
    plan = office.plan(view, patience_s=PATIENCE_S)
    standing, found = standing_of(office, view), checked(office, view)
    return page(request, "hand_over.html", job=view, plan=plan, said=(), came=None, **_context(view, standing, found))


@router.post("/jobs/{job}/hand-over")
def hand_over(
    request: Request,
    view: JobHere,
    office: OfficeHere,
    key: KeyField,
    to: Annotated[str, Form(max_length=120)] = "",
    note: Annotated[str, Form(max_length=2000)] = "",
) -> Response:
    """Keep that the job was handed over, with the checksums of the papers that were left."""
    plan = office.plan(view)
    made = {} if plan is None else _makers(view, office, plan)
    papers = {name: hashlib.sha256(make()).hexdigest() for name, make in made.items()}
    body = HandedOver(to=to, papers=papers, note=note).model_dump(mode="json")
    keep(request, office, view, {key: body})
    return go(f"/jobs/{view.id}/hand-over#handed")


@router.get("/jobs/{job}/papers/{name}")
def paper(view: JobHere, office: OfficeHere, name: str) -> Response:
    """Return one paper of the job."""
    made = office.plan(view)
    make = _makers(view, office, made).get(name) if made is not None else None
    if make is None:
        raise HTTPException(404, _("There is no such paper"))
    headers = {"Content-Disposition": f'inline; filename="{name}"'}
    return Response(make(), media_type=_TYPES[name.rpartition(".")[2]], headers=headers)


def _makers(view: JobView, office: Office, plan: Plan) -> dict[str, Callable[[], bytes]]:
    """Return what makes each paper of a job."""
    record, work = record_and_work(view, office)
    return paper_makers(plan, date=today(), record=record, work=work)


def record_and_work(view: JobView, office: Office) -> tuple[JobRecord | None, WorkPlan | None]:
    """Return what a job's papers take from its journal, and its work steps; None each when there is nothing to work by."""
    standing = standing_of(office, view, patience_s=None)
    if standing is None:
        return None, None
    points = tuple(_open_points(view, standing, checked(office, view, patience_s=None)))
    record = record_of(office, view, standing, tuple(_rows(standing)), points)
    return replace(record, tunings=settings_known(office, view)), standing.steps


@router.get("/jobs/{job}/field-file")
def field_file_download(view: JobHere, office: OfficeHere) -> Response:
    """Return Work and Hand over as one file for a phone without a server."""
    standing, found = standing_of(office, view, patience_s=None), checked(office, view, patience_s=None)
    if standing is None or found is None:
        raise HTTPException(404, _("There is no work to take along"))
    text = field_file(view, standing, found.taken, date=today())
    headers = {"Content-Disposition": f'attachment; filename="subbase-{view.id[:8]}.html"'}
    return Response(text, media_type="text/html; charset=utf-8", headers=headers)


@router.get("/jobs/{job}/job-file")
def job_file(view: JobHere, office: OfficeHere) -> Response:
    """Return the whole job as one file with checksums."""
    data = export_job(office.journal, view.id)
    headers = {"Content-Disposition": f'attachment; filename="subbase-{view.id[:8]}.job"'}
    return Response(data, media_type="application/zip", headers=headers)


@router.post("/jobs/{job}/entries-file")
def bring_in(request: Request, view: JobHere, office: OfficeHere, entries: Annotated[UploadFile, File()]) -> Response:
    """Take in what a field file saved; entries that are here already change nothing."""
    came: dict[str, Any] | None = None
    said: tuple[str, ...] = ()
    try:
        good, bad = read_entries_file(entries.file.read(MOST_BYTES + 1), view.id)
        kept = office.journal.append(view.id, good)
        fresh = sum(isinstance(result, Kept) and not result.already for result in kept)
        refused = [*bad, *(result for result in kept if not isinstance(result, Kept))]
        here = len(kept) - fresh - sum(not isinstance(result, Kept) for result in kept)
        came = {"fresh": fresh, "here": here, "refused": [result.reason for result in refused]}
    except InputError as error:
        said = tuple(fault.message for fault in error.faults)
    view = office.job(view.id)
    plan, standing, found = (
        office.plan(view),
        standing_of(office, view, patience_s=None),
        checked(office, view, patience_s=None),
    )
    context = _context(view, standing, found)
    return page(
        request, "hand_over.html", status=422 if said else 200, job=view, plan=plan, said=said, came=came, **context
    )


def today() -> datetime.date:
    """Return the date of this day."""
    return datetime.datetime.now(tz=datetime.UTC).date()


def _context(view: JobView, standing: Standing | None, found: Checked | None) -> dict[str, Any]:
    last = view.state.handovers[-1] if view.state.handovers else None
    changed = last is not None and any(line.event.sequence > last.event.sequence for line in view.state.history)
    rows = list(_rows(standing)) if standing is not None else []
    points = list(_open_points(view, standing, found))
    return {
        "standing": standing,
        "checked": found,
        "rows": rows,
        "outside": sum(not row.within for row in rows),
        "points": points,
        "handed": last,
        "changed": changed,
        "names": [name for name in PAPER_NAMES if _is_there(name, standing)],
        "paper_words": PAPER_WORDS,
        "most": MOST_SHOWN,
    }


def _is_there(name: str, standing: Standing | None) -> bool:
    return standing is not None or name in ("packet.pdf", "owner.pdf")


def _rows(standing: Standing) -> Iterator[Read]:
    """Yield the last reading of each place and call, in the order in which they were taken."""
    mine, units = standing.mine, standing.steps.units
    untouched = {
        step.id: step.title for step in standing.steps.steps if step.expected and step.expected.between is None
    }
    numbers = {chosen.check: number for number, chosen in enumerate(standing.steps.checks.checks, start=1)}
    latest: dict[tuple[Any, ...], tuple[ReadingEvent, Event]] = {}
    for event in mine.events():
        body = event.body
        if isinstance(body, ReadingEvent) and (body.step or body.check in mine.sheet.by_id) and mine.counts(body):
            key = (body.check or body.step,)
            latest.pop(key, None)
            latest[key] = (body, event)
    for body, event in latest.values():
        value = math.inf if body.value is None else body.value
        low, high = _bounds(mine, body)
        item = mine.sheet.by_id.get(body.check)
        yield Read(
            _what(body, untouched),
            _must(low, high, body.unit, units),
            _read(value, body.unit, units),
            low <= value <= high,
            event.actor,
            day_words(event),
            numbers.get(item.check, 0) if item is not None else 0,
        )


def _bounds(mine: Mine, body: ReadingEvent) -> tuple[float, float]:
    item = mine.sheet.by_id.get(body.check)
    if item is not None:
        return item.check.low, item.check.high
    return (-math.inf if body.low is None else body.low), (math.inf if body.high is None else body.high)


def _what(body: ReadingEvent, untouched: dict[str, str]) -> str:
    """Return where and in which call; of a step that touches no terminal its title."""
    if body.step in untouched:
        return untouched[body.step]
    said = _("{a} to {b}").format(a=body.between[0], b=body.between[1])
    if body.clip:
        said += ", " + _("clipped")
    call = ": ".join(part for part in (body.control, body.call) if part and body.call != "off")
    return said + (f", {call}" if call else "")


def _must(low: float, high: float, unit: str, units: Any) -> str:
    if unit != "degC":
        return bounds_words(low, high, unit)
    least, most = (shown_value(end, "degC", units) for end in (low, high))
    return temperature_words(least, most, _unit(unit, units))


def _read(value: float, unit: str, units: Any) -> str:
    return f"{shown_value(value, 'degC', units):.0f} {_unit(unit, units)}" if unit == "degC" else shown(value, unit)


def _unit(unit: str, units: Any) -> str:
    return ("°F" if units == "us" else "°C") if unit == "degC" else unit


def _open_points(view: JobView, standing: Standing | None, found: Checked | None) -> Iterator[str]:
    """Yield what is not settled, the worst first."""
    if found is not None:
        yield from _unproved(found)
    if standing is not None:
        yield from _undone(standing)
    if view.state.survey.conflicts:
        yield _("{count} fields of the survey have two values.").format(count=len(view.state.survey.conflicts))


def _unproved(found: Checked) -> Iterator[str]:
    report = found.report
    if report.stop:
        yield _("Power off: a reading says that the house is not safe.")
    for mark_, words in (("fail", _("Fails: {what}")), ("meter or lead suspect", _("In doubt: {what}"))):
        for item in report.readings:
            if item.judged.mark == mark_:
                ends = _("{a} to {b}").format(a=item.taken.between[0], b=item.taken.between[1])
                yield words.format(what=f"{ends}, {item.taken.written}")
    for seen in report.seen:
        if seen.judged.mark == "fail":
            yield _("Fails: {what}").format(what=f"{seen.call}, {seen.what}. {seen.judged.why}")
    if not report.proved and not report.marked("fail") and not report.marked("meter or lead suspect"):
        yield _("The wiring is not proved by readings: {excluded} of {told} wrong landings are excluded.").format(
            excluded=report.excluded, told=report.plan.told
        )


def _undone(standing: Standing) -> Iterator[str]:
    for step in standing.steps.steps:
        state = standing.now.of(step.id)
        if state.status == "failed":
            yield _("Not met: {title}").format(title=step.title)
        if state.status == "skipped":
            yield _("Left out: {title} ({reason})").format(title=step.title, reason=state.why)
    left = standing.now.count("open") + standing.now.count("blocked")
    if left:
        yield _("{count} work steps are not done.").format(count=left)


__all__ = ["router"]
