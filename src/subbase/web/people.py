"""The office's pages: who has an account, who sees a job, who saw what."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Query, Request, Response

from subbase.errors import InputError
from subbase.journal import accounts as who
from subbase.journal.accounts import Account, Role
from subbase.journal.passwords import first_password
from subbase.journal.second_factor import turn_codes_off
from subbase.journal.store import Journal
from subbase.journal.trouble import NoSuchJob
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, OfficePersonHere, go, office_person_of, person_of
from subbase.web.audit import what_words
from subbase.web.callers import Caller
from subbase.web.looks import page, secret_page
from subbase.words import _, mark

router = APIRouter()
ROLE_WORDS = {"installer": mark("installer"), "office": mark("office")}
LINES = 100
"""Of the record, on one page."""
AccountField = Annotated[str, Form(alias="account", max_length=40)]


@router.get("/people")
def people(request: Request, office: OfficeHere, __: OfficePersonHere) -> Response:
    """Show every account."""
    return _people(request, office.journal)


@router.post("/people")
def add(
    request: Request,
    office: OfficeHere,
    caller: CallerHere,
    audit: AuditHere,
    name: Annotated[str, Form(max_length=80)],
    role: Annotated[Role, Form()],
) -> Response:
    """Make an account, with a first password that is shown this once."""
    _office_only(caller)
    password = first_password()
    try:
        made = who.add_account(office.journal, name, role, password, first=True)
    except InputError as error:
        return _people(request, office.journal, status=422, said=error.faults[0].message)
    audit.did(caller, f"made account: {made.name}")
    return _people(request, office.journal, made=(made.name, password))


@router.post("/people/password")
def new_first_password(
    request: Request, office: OfficeHere, caller: CallerHere, audit: AuditHere, account: AccountField
) -> Response:
    """Give somebody who forgot theirs a first password; their sessions and tokens end."""
    _office_only(caller)
    found = _account(office.journal, account)
    password = first_password()
    who.set_password(office.journal, found.id, password, first=True)
    audit.did(caller, f"made first password: {found.name}")
    return _people(request, office.journal, made=(found.name, password))


@router.post("/people/active")
def close_or_open(
    request: Request, office: OfficeHere, caller: CallerHere, audit: AuditHere, account: AccountField,
    active: Annotated[bool, Form()],
) -> Response:  # fmt: skip
    """Close an account, or open it again."""
    mine = _office_only(caller)
    found = _account(office.journal, account)
    if found.id == mine.id:
        said = _("You cannot close your own account: somebody of the office must stay.")
        return _people(request, office.journal, status=422, said=said)
    who.set_active(office.journal, found.id, active)
    audit.did(caller, f"{'opened' if active else 'closed'} account: {found.name}")
    return go("/people")


@router.post("/people/codes-off")
def codes_off(office: OfficeHere, caller: CallerHere, audit: AuditHere, account: AccountField) -> Response:
    """Ask somebody for no code at sign-in any more: their device is lost."""
    _office_only(caller)
    found = _account(office.journal, account)
    turn_codes_off(office.journal, found.id)
    audit.did(caller, f"turned codes off: {found.name}")
    return go("/people")


@router.get("/record")
def record(
    request: Request,
    office: OfficeHere,
    __: OfficePersonHere,
    before: Annotated[int, Query(ge=0, le=2**53)] = 0,
    job: Annotated[str, Query(max_length=40)] = "",
) -> Response:
    """Show who saw and did what, the newest first."""
    found = who.recorded(office.journal, job=job, most=LINES + 1, before=before)
    lines = found[:LINES]
    names = {line.job: _job_name(office.journal, line.job) for line in lines if line.job}
    older = lines[-1].number if len(found) > LINES else 0
    return page(request, "record.html", lines=lines, names=names, older=older, only=job, before=before, what=what_words)


def _people(
    request: Request, journal: Journal, *, status: int = 200, said: str = "", made: tuple[str, str] | None = None
) -> Response:
    return secret_page(
        request, "people.html", status=status, people=who.accounts(journal), roles=ROLE_WORDS, said=said, made=made,
        days=who.FIRST_LASTS.days,
    )  # fmt: skip


def _office_only(caller: Caller) -> Account:
    return office_person_of(person_of(caller))


def _account(journal: Journal, account: str) -> Account:
    found = who.account_of_id(journal, account)
    if found is None:
        raise HTTPException(404)
    return found


def _job_name(journal: Journal, job: str) -> str:
    try:
        return journal.job(job).name
    except NoSuchJob:
        return ""
