"""Somebody's own account: password, signing out, tokens for scripts."""

from __future__ import annotations

import math
from typing import Annotated

from fastapi import APIRouter, Form, Request, Response

from subbase.errors import InputError
from subbase.journal import accounts as who
from subbase.journal.passwords import LONGEST, SHORTEST
from subbase.journal.store import Journal
from subbase.journal.tokens import end_token, make_token, tokens
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, PersonHere, audit_of, go
from subbase.web.callers import caller_of
from subbase.web.looks import secret_page
from subbase.web.sign_in import Password, begin_session
from subbase.web.throttle import Tries
from subbase.words import _

router = APIRouter()


@router.get("/account")
def account_page(request: Request, office: OfficeHere, __: PersonHere) -> Response:
    """Show who is signed in, and what can be changed about that."""
    return _account(request, office.journal)


@router.post("/account/password")
def change_password(
    request: Request, office: OfficeHere, person: PersonHere, current: Password, new: Password, again: Password
) -> Response:
    """Change the password, end every session and token, and begin a new session here."""
    tries: Tries = request.app.state.tries
    keys = (f"account change {person.id}",)
    wait = tries.begin(keys)
    if wait:
        seconds = max(1, math.ceil(wait))
        said = _("There were too many wrong tries. Wait {seconds} s, then try again.").format(seconds=seconds)
        return _account(request, office.journal, status=429, said=said)
    if who.check_password(office.journal, person.name, current) is None:
        return _account(request, office.journal, status=422, said=_("The present password is another."))
    tries.right(keys)
    if new != again:
        return _account(request, office.journal, status=422, said=_("The new password was not the same both times."))
    if new == current:
        return _account(request, office.journal, status=422, said=_("The new password is the present one."))
    try:
        who.set_password(office.journal, person.id, new)
    except InputError as error:
        return _account(request, office.journal, status=422, said=error.faults[0].message)
    audit_of(request).did(caller_of(request), "changed password")
    fresh = who.account_named(office.journal, person.name) or person
    return begin_session(request, office, fresh, to="/account?changed=1")


@router.post("/account/tokens")
def new_token(
    request: Request,
    office: OfficeHere,
    person: PersonHere,
    audit: AuditHere,
    name: Annotated[str, Form(max_length=80)],
    days: Annotated[int, Form(ge=1, le=366)] = 90,
) -> Response:
    """Make a token, which is shown this once."""
    try:
        token = make_token(office.journal, person.id, name, days=days)
    except InputError as error:
        return _account(request, office.journal, status=422, said=error.faults[0].message)
    audit.did(caller_of(request), f"made token: {name}")
    return _account(request, office.journal, token=token)


@router.post("/account/tokens/end")
def take_token_back(
    office: OfficeHere,
    caller: CallerHere,
    person: PersonHere,
    audit: AuditHere,
    token: Annotated[str, Form(max_length=40)],
) -> Response:
    """Take a token back."""
    end_token(office.journal, person.id, token)
    audit.did(caller, "ended token")
    return go("/account#tokens")


def _account(request: Request, journal: Journal, *, status: int = 200, said: str = "", token: str = "") -> Response:
    person = request.state.person
    return secret_page(
        request, "account.html", status=status, said=said, token=token, tokens=tokens(journal, person.id),
        least=SHORTEST, most=LONGEST, changed="changed" in request.query_params, in_clear=caller_of(request).in_clear,
    )  # fmt: skip
