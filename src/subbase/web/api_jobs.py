"""The API of jobs: the list, a new one, its entries, the state that follows from them."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Iterable
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request, Response

from subbase.errors import Fault, InputError
from subbase.journal import Entry, Event, new_key, read_entries
from subbase.journal.events import Kept, Refused
from subbase.journal.fold import Conflict, Record
from subbase.journal.store import JobLine
from subbase.journal.trouble import NoSuchJob
from subbase.web.api_asking import IfNoneMatch, JsonBytes, body_schema, etag, is_known, read_json, unchanged
from subbase.web.api_problem import ROOT, ApiProblem, responses
from subbase.web.api_shapes import (
    MOST_ENTRIES,
    Came,
    CameList,
    ConflictShape,
    EventList,
    JobList,
    JobShape,
    NewJob,
    StateShape,
)
from subbase.web.asking import AuditHere, CallerHere, JobHere, OfficeHere
from subbase.words import _

router = APIRouter(prefix=ROOT, tags=["jobs"])
MOST_LISTED = 200
MOST_EVENTS = 500
Limit = Annotated[int, Query(ge=1, le=MOST_LISTED, description="Most jobs of one page.")]
ENTRY_EXAMPLE = {
    "key": "0b8f5a52-6f0e-4b0c-8d7d-2f6a4f0f2b11",
    "made_at": "2026-03-05T12:00:00Z",
    "body": {"kind": "note_made", "text": "Blue is loose behind the furnace board."},
}


@router.get("/jobs", response_model=JobList, summary="List the jobs that are yours to see", responses=responses(422))
def list_jobs(
    office: OfficeHere,
    caller: CallerHere,
    limit: Limit = 50,
    cursor: Annotated[str, Query(max_length=200, description="From 'next' of the page before.")] = "",
    search: Annotated[str, Query(max_length=100, description="Words that must all stand in the name.")] = "",
) -> JobList:
    """The last changed comes first. A job that is changed while you page moves to the top."""
    given = caller.person.id if caller.person is not None and caller.person.role != "office" else ""
    after = _place(cursor) if cursor else None
    found = office.journal.jobs(per_page=limit, search=search, account=given, after=after)
    more = found.total > len(found.jobs) and bool(found.jobs)
    jobs = tuple(map(_job, found.jobs))
    query = {"limit": limit, "cursor": _cursor(found.jobs[-1]) if more else "", "search": search}
    told = urlencode({name: value for name, value in query.items() if value})
    return JobList(jobs=jobs, next=f"{ROOT}/jobs?{told}" if more else None)


@router.post(
    "/jobs", response_model=JobShape, status_code=201, summary="Begin a job",
    responses={200: {"description": "It had been begun before, under this id.", "model": JobShape}, **responses(409, 422)},
)  # fmt: skip
def begin_job(new: NewJob, office: OfficeHere, caller: CallerHere, audit: AuditHere, response: Response) -> JobShape:
    """With an id of your making, a request that is sent twice begins one job. It is yours to see at once."""
    person = caller.person
    job = new.id or new_key()
    there = _is_there(office.journal.job, job)
    given = person.id if person is not None and person.role != "office" else ""
    if not there:
        office.journal.create_job(new.name, job=job, actor=person.name if person else "", device="api", given_to=given)
    if not caller.sees(office.journal, job):
        raise ApiProblem(409, _("This id is taken"), _("Make another UUID, or leave it out."))
    if there:
        response.status_code = 200
    elif person is not None:
        audit.did(caller, "began job", job=job)
    response.headers["Location"] = f"{ROOT}/jobs/{job}"
    return _job(office.journal.job(job))


def _is_there(ask: Any, job: str) -> bool:
    try:
        ask(job)
    except NoSuchJob:
        return False
    return True


@router.get("/jobs/{job}", response_model=JobShape, summary="Read one job's line", responses=responses(404))
def read_job(view: JobHere, office: OfficeHere) -> JobShape:
    """Its name, how many events it has, and when it was changed last."""
    return _job(office.journal.job(view.id))


@router.get(
    "/jobs/{job}/entries", response_model=EventList, summary="Read a job's events", responses=responses(404, 422)
)
def read_events(
    view: JobHere,
    office: OfficeHere,
    after: Annotated[int, Query(ge=0, le=2**53, description="Only those after this sequence number.")] = 0,
    limit: Annotated[int, Query(ge=1, le=MOST_EVENTS, description="Most events of one page.")] = 200,
) -> EventList:
    """In their order; they are never changed, so reading on after the last that you have is enough."""
    events = office.journal.events(view.id, after, limit)
    last = view.state.sequence
    more = bool(events) and events[-1].sequence < last
    query = urlencode({"after": events[-1].sequence, "limit": limit}) if more else ""
    return EventList(events=events, sequence=last, next=f"{ROOT}/jobs/{view.id}/entries?{query}" if more else None)


@router.post(
    "/jobs/{job}/entries", response_model=CameList, summary="Add entries to a job",
    responses=responses(400, 404, 415, 422),
    openapi_extra=body_schema(
        application_json={"$ref": "#/components/schemas/EntryList", "examples": [{"entries": [ENTRY_EXAMPLE]}]}
    ),
)  # fmt: skip
def add_entries(request: Request, view: JobHere, data: JsonBytes, office: OfficeHere) -> CameList:
    """Each bears a key of your making: sent again it is answered with 'already', so a queue may be sent until it is taken.

    An entry that is refused holds up no other. Who is signed in is put in as the actor.
    """
    items = _items(read_json(data))
    person = getattr(request.state, "person", None)
    good: list[tuple[int, Entry]] = []
    came: list[Came | None] = [None] * len(items)
    for at, item in enumerate(items):
        read, bad = read_entries([item])
        if read:
            entry = read[0] if person is None else read[0].model_copy(update={"actor": person.name})
            good.append((at, entry))
        else:
            came[at] = Came(key=bad[0].key[:200], result="refused", reason=bad[0].reason.removeprefix("entry 1: "))
    results = office.journal.append(view.id, [entry for _at, entry in good]) if good else ()
    for (at, _entry), result in zip(good, results, strict=True):
        came[at] = _came(result)
    told = tuple(item for item in came if item is not None)
    last = max((item.sequence or 0 for item in told), default=0)
    return CameList(results=told, sequence=max(view.state.sequence, last))


def _items(data: Any) -> list[Any]:
    entries = data.get("entries") if isinstance(data, dict) else None
    if not isinstance(entries, list) or not entries or set(data) != {"entries"}:
        raise InputError((Fault(_("Expected one field 'entries' with a list of entries."), "entries"),))
    if len(entries) > MOST_ENTRIES:
        raise InputError((Fault(_("At most {most} entries are taken at once.").format(most=MOST_ENTRIES), "entries"),))
    return entries


def _came(result: Kept | Refused) -> Came:
    if isinstance(result, Refused):
        return Came(key=result.key, result="refused", reason=result.reason)
    return Came(key=result.key, result="already" if result.already else "kept", sequence=result.sequence)


@router.get("/jobs/{job}/state", response_model=StateShape, summary="Read a job as it stands", responses=responses(404))
def read_state(view: JobHere, response: Response, if_none_match: IfNoneMatch = None) -> StateShape | Response:
    """What follows from its events: edits brought together, the last result of each step, what was taken back left out."""
    tag = etag(view, "state")
    if is_known(if_none_match, tag):
        return unchanged(tag)
    response.headers["ETag"] = tag
    state = view.state
    return StateShape(
        job=view.id,
        name=state.name,
        sequence=state.sequence,
        survey=state.survey.sha256,
        conflicts=conflicts(state.survey.conflicts),
        plan=state.plan.event if state.plan is not None else None,
        plan_is_stale=state.plan_is_stale,
        controls=_events(state.controls.values()),
        steps=_events(state.steps.values()),
        readings=_events(state.readings),
        answers=_events(state.answers),
        verdicts=_events(state.verdicts.values()),
        photos=_events(state.photos),
        notes=_events(state.notes),
        people=_events(state.people),
        settings=_events(state.settings.values()),
        handovers=_events(state.handovers),
        unrecognised=_events(state.unrecognised),
    )


def _events(records: Iterable[Record[Any]]) -> tuple[Event, ...]:
    return tuple(record.event for record in records)


def conflicts(found: Iterable[Conflict]) -> tuple[ConflictShape, ...]:
    """Return fields with two values as they are shown."""
    return tuple(
        ConflictShape(
            field=item.clash.field,
            ours=item.clash.ours,
            theirs=item.clash.theirs,
            edit=item.edit.key,
            sequence=item.edit.sequence,
        )
        for item in found
    )


def _job(line: JobLine) -> JobShape:
    return JobShape.model_validate(line)


def _cursor(line: JobLine) -> str:
    return base64.urlsafe_b64encode(f"{line.changed_at.isoformat()} {line.id}".encode()).decode().rstrip("=")


def _place(cursor: str) -> tuple[datetime, str]:
    """Return the place in the list that a cursor names.

    Raises
    ------
    InputError
    """
    try:
        told = base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)).decode()
        at, _space, job = told.partition(" ")
        changed = datetime.fromisoformat(at)
        if changed.tzinfo is None or not job or "\x00" in job:
            raise ValueError
        changed.astimezone()
    except (ValueError, OverflowError, binascii.Error):
        message = _("This is no cursor of this list; take it from 'next' of the page before.")
        raise InputError((Fault(message, "cursor"),)) from None
    return changed, job


__all__ = ["router"]
