"""What a request asks for: its job, and what a form sends, as entries for the journal."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import Depends, Form, HTTPException, Path, Request
from fastapi.responses import RedirectResponse

from subbase.journal import Entry, read_entry
from subbase.journal.accounts import Account
from subbase.journal.events import Refused
from subbase.journal.trouble import JournalTrouble, NoSuchJob
from subbase.web.audit import Audit
from subbase.web.callers import Caller, caller_of, only_reads
from subbase.web.jobs import JobView, Office

SEE_OTHER = 303


def office_of(request: Request) -> Office:
    """Return the journal with the catalogue."""
    found: Office = request.app.state.office
    return found


OfficeHere = Annotated[Office, Depends(office_of)]


CallerHere = Annotated[Caller, Depends(caller_of)]
"""Who asks: the person of a session or of a token, an owner's link, or whoever sits at this machine."""


def audit_of(request: Request) -> Audit:
    """Return the record of who saw and did what."""
    found: Audit = request.app.state.audit
    return found


AuditHere = Annotated[Audit, Depends(audit_of)]


def job_of(
    request: Request, office: OfficeHere, caller: CallerHere, job: Annotated[str, Path(max_length=40)]
) -> JobView:
    """Return the job that the address names, if it is the caller's to see; that it was seen is written down.

    Raises
    ------
    NoSuchJob
        When there is none, or it is not theirs: the two can't be told apart.
    """
    if not caller.sees(office.journal, job, to_read=only_reads(request)):
        raise NoSuchJob(job)
    view = office.job(job)
    audit_of(request).page(request, caller, view.id)
    return view


def person_of(caller: CallerHere) -> Account:
    """Return who is signed in at a browser; a token is for jobs, not for passwords and people.

    Raises
    ------
    HTTPException
        As for a page that is not there.
    """
    if caller.kind != "session" or caller.person is None:
        raise HTTPException(404)
    return caller.person


PersonHere = Annotated[Account, Depends(person_of)]


def office_person_of(person: PersonHere) -> Account:
    """Return who is signed in, of the office; to others the page is not there."""
    if person.role != "office":
        raise HTTPException(404)
    return person


OfficePersonHere = Annotated[Account, Depends(office_person_of)]


JobHere = Annotated[JobView, Depends(job_of)]
KeyField = Annotated[str, Form(alias="key", max_length=40)]


def entry_from(request: Request, key: str, body: dict[str, Any], *, seen: int = 0) -> Entry:
    """Return an entry made from a form; the form's own key makes sending it twice harmless.

    Raises
    ------
    InputError
        When the body does not fit.
    """
    person = getattr(request.state, "person", None)
    return read_entry(
        {
            "key": key,
            "made_at": _made_at(request).isoformat(),
            "actor": person.name if person else "",
            "device": "page",
            "seen": seen,
            "body": body,
        }
    )


def _made_at(request: Request) -> datetime:
    """Return when an entry was made: earlier than now when it waited on a phone for the network."""
    now = datetime.now(tz=UTC)
    try:
        told = datetime.fromisoformat(request.headers.get("x-made-at", ""))
    except ValueError:
        return now
    return min(told, now) if told.tzinfo is not None else now


def keep(
    request: Request, office: Office, view: JobView, told: Mapping[str, dict[str, Any]], *, seen: int | None = None
) -> None:
    """Put what a form tells into the journal, all in one go: key -> body of its entry.

    Parameters
    ----------
    seen
        Sequence of the last event that the sender had seen; of the view's last one when left out.

    Raises
    ------
    InputError
        When a body does not fit.
    JournalTrouble
        When an entry is refused.
    """
    number = view.state.sequence if seen is None else seen
    entries = [entry_from(request, key, body, seen=number) for key, body in told.items()]
    for result in office.journal.append(view.id, entries) if entries else ():
        if isinstance(result, Refused):
            raise JournalTrouble(result.reason)


def go(path: str) -> RedirectResponse:
    """Return the answer to a form: look at this page now."""
    return RedirectResponse(path, status_code=SEE_OTHER)
