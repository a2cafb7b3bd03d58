"""Somebody's own account: password, signing out, tokens for scripts."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, Response

from subbase.errors import InputError
from subbase.journal import accounts as who
from subbase.journal.accounts import Account
from subbase.journal.passwords import LONGEST, SHORTEST
from subbase.journal.second_factor import spare_codes_left
from subbase.journal.store import Journal
from subbase.journal.tokens import end_token, make_token, tokens
from subbase.web.account_news import deeds
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, PersonHere, audit_of, go
from subbase.web.audit import what_words
from subbase.web.callers import caller_of
from subbase.web.jobs import Office
from subbase.web.looks import secret_page
from subbase.web.sign_in import Password, begin_session, inside, wait_words
from subbase.web.throttle import Tries
from subbase.words import _

router = APIRouter()
LATELY = 8
"""Lines of what was done with the account, on its own page."""


@router.get("/account")
def account_page(request: Request, office: OfficeHere, __: PersonHere) -> Response:
    """Show who is signed in, and what can be changed about that."""
    return account_answer(request, office.journal)


@router.post("/account/password")
def change_password(
    request: Request, office: OfficeHere, person: PersonHere, current: Password, new: Password, again: Password
) -> Response:
    """Change the password, end every session and token, and begin a new session here."""
    refused = password_refused(request, office, person, current)
    if refused is not None:
        return refused
    if new != again:
        return account_answer(
            request, office.journal, status=422, said=_("The new password was not the same both times.")
        )
    if new == current:
        return account_answer(request, office.journal, status=422, said=_("The new password is the present one."))
    try:
        who.set_password(office.journal, person.id, new)
    except InputError as error:
        return account_answer(request, office.journal, status=422, said=error.faults[0].message)
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
        return account_answer(request, office.journal, status=422, said=error.faults[0].message)
    audit.did(caller_of(request), f"made token: {name}")
    return account_answer(request, office.journal, token=token)


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


def account_answer(request: Request, journal: Journal, *, status: int = 200, said: str = "", **shown: Any) -> Response:
    """Return somebody's own page; ``shown`` has what is shown this once: a token, a key to set up, spare codes."""
    person, query = request.state.person, request.query_params
    since = query.get("since", "")
    return secret_page(
        request, "account.html", status=status, said=said, tokens=tokens(journal, person.id),
        least=SHORTEST, most=LONGEST, changed="changed" in query, in_clear=caller_of(request).in_clear,
        news=deeds(journal, person.name, after=int(since)) if since.isdecimal() and len(since) < 16 else (),
        onward=inside(query.get("next", "/")), lately=deeds(journal, person.name)[:LATELY], what=what_words,
        spare_left=spare_codes_left(journal, person.id) if person.codes else 0,
        codes_needed=request.app.state.settings.asks_for_codes(person),
        **{"token": "", "setting_up": None, "spare": (), **shown},
    )  # fmt: skip


def password_refused(request: Request, office: Office, person: Account, told: str) -> Response | None:
    """Return the page that says why a change must wait; None when the present password was told."""
    tries: Tries = request.app.state.tries
    keys = (f"account change {person.id}",)
    wait = tries.begin(keys)
    if wait:
        return account_answer(request, office.journal, status=429, said=wait_words(wait))
    if who.check_password(office.journal, person.name, told) is None:
        return account_answer(request, office.journal, status=422, said=_("The present password is another."))
    tries.right(keys)
    return None
