"""What a request asks for: its job, and what a form sends, as entries for the journal."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Any

from fastapi import Depends, Form, Path, Request
from fastapi.responses import RedirectResponse

from subbase.journal import Entry, read_entry
from subbase.journal.events import Refused
from subbase.journal.trouble import JournalTrouble
from subbase.web.jobs import JobView, Office

SEE_OTHER = 303


def office_of(request: Request) -> Office:
    """Return the journal with the catalogue."""
    found: Office = request.app.state.office
    return found


OfficeHere = Annotated[Office, Depends(office_of)]


def job_of(office: OfficeHere, job: Annotated[str, Path(max_length=40)]) -> JobView:
    """Return the job that the address names.

    Raises
    ------
    NoSuchJob
    """
    return office.job(job)


JobHere = Annotated[JobView, Depends(job_of)]
KeyField = Annotated[str, Form(alias="key", max_length=40)]
SeenField = Annotated[int, Form(alias="seen", ge=0, le=2**53)]


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
            "made_at": datetime.now(tz=UTC).isoformat(),
            "actor": person.name if person else "",
            "device": "page",
            "seen": seen,
            "body": body,
        }
    )


def keep(office: Office, job: str, *entries: Entry) -> None:
    """Put entries into the journal.

    Raises
    ------
    JournalTrouble
        When one of them is refused.
    """
    for result in office.journal.append(job, entries):
        if isinstance(result, Refused):
            raise JournalTrouble(result.reason)


def go(path: str) -> RedirectResponse:
    """Return the answer to a form: look at this page now."""
    return RedirectResponse(path, status_code=SEE_OTHER)
