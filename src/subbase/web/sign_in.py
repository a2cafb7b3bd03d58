"""Signing in and out, with a device's code after the password where the account has one.

Wrong names and wrong passwords are answered alike, in wording and in time.
"""

from __future__ import annotations

import hashlib
import math
import secrets
import time
from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request, Response

from subbase.journal import accounts as who
from subbase.journal.accounts import Account
from subbase.journal.second_factor import is_code
from subbase.web.account_news import deeds, last_sign_in, worth_telling
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, PersonHere, audit_of, go
from subbase.web.callers import (
    KNOWN,
    LONG_S,
    SESSION,
    Caller,
    caller_of,
    cookie,
    drop_cookie,
    network_of,
    set_cookie,
    shortened,
)
from subbase.web.form_tokens import signed, unsigned
from subbase.web.jobs import Office
from subbase.web.looks import secret_page
from subbase.web.throttle import Tries
from subbase.words import _

router = APIRouter()
Name = Annotated[str, Form(max_length=200)]
Password = Annotated[str, Form(max_length=500)]
Half = Annotated[str, Form(max_length=200)]
Code = Annotated[str, Form(max_length=60)]
CODE_WAIT_S = 600
"""How long after a right password the code may come."""
Wanted = Annotated[str, Form(alias="next", max_length=2000)]


@router.get("/sign-in")
def sign_in_page(
    request: Request, caller: CallerHere, wanted: Annotated[str, Query(alias="next", max_length=2000)] = "/"
) -> Response:
    """Ask for name and password."""
    if caller.kind in ("local", "session"):
        return go(inside(wanted))
    return _asking(request, caller, wanted)


@router.post("/sign-in")
def sign_in(
    request: Request, office: OfficeHere, caller: CallerHere, name: Name, password: Password, wanted: Wanted = "/"
) -> Response:
    """Begin a session when name and password go together."""
    if caller.kind == "local":
        return go(inside(wanted))
    tries: Tries = request.app.state.tries
    keys = _keys(request, caller, name)
    wait = tries.begin(keys)
    if wait:
        return _later(_asking(request, caller, wanted, said=wait_words(wait), status=429), wait)
    account = who.check_password(office.journal, name, password)
    if account is None:
        # A name that is none may be a password typed into the wrong field: it is not written down.
        known = who.account_named(office.journal, name)
        audit_of(request).did(caller, "sign-in refused", name=known.name if known else "?")
        said = _("This name and this password do not go together.")
        return _asking(request, caller, wanted, said=said, status=401)
    tries.right(keys)
    if account.codes:
        return _asking_code(request, account, wanted)
    return _signed_in(request, office, account, wanted)


@router.post("/sign-in/code")
def sign_in_code(
    request: Request, office: OfficeHere, caller: CallerHere, half: Half, code: Code, wanted: Wanted = "/"
) -> Response:
    """Begin a session when the code of a device, or a spare one, follows a right password."""
    if caller.kind == "local":
        return go(inside(wanted))
    account = who.account_of_id(office.journal, _half_done(request, half))
    if account is None:
        said = _("That took too long. Sign in again from the beginning.")
        return _asking(request, caller, wanted, said=said, status=401)
    tries: Tries = request.app.state.tries
    keys = tuple(f"code {key}" for key in _keys(request, caller, account.name))
    wait = tries.begin(keys)
    if wait:
        return _later(_asking_code(request, account, wanted, said=wait_words(wait), status=429), wait)
    known = is_code(office.journal, account.id, code)
    if known is None:
        audit_of(request).did(caller, "code refused", name=account.name)
        said = _("This code is not the one of now, or was used before. Wait for the next one.")
        return _asking_code(request, account, wanted, said=said, status=401)
    tries.right(keys)
    return _signed_in(request, office, known, wanted)


@router.post("/sign-out")
def sign_out(office: OfficeHere, caller: CallerHere, audit: AuditHere, _person: PersonHere) -> Response:
    """End this session."""
    who.end_session(office.journal, caller.session)
    audit.did(caller, "signed out")
    return _gone(caller)


@router.post("/sign-out-everywhere")
def sign_out_everywhere(office: OfficeHere, caller: CallerHere, audit: AuditHere, person: PersonHere) -> Response:
    """End every session of this person, on every machine."""
    who.end_sessions(office.journal, person.id)
    audit.did(caller, "signed out everywhere")
    return _gone(caller)


def _signed_in(request: Request, office: Office, account: Account, wanted: str) -> Response:
    """Begin a session, by way of what was done with the account since the last one where its person should know."""
    caller, to = caller_of(request), inside(wanted)
    since = last_sign_in(office.journal, account.name)
    news = deeds(office.journal, account.name, after=since) if since else ()
    audit_of(request).did(caller, "signed in", name=account.name)
    if account.first:
        to = "/account"
    elif worth_telling(news, shortened(caller.address)):
        to = f"/account?since={since}&next={quote(to)}"
    return begin_session(request, office, account, to=to)


def begin_session(request: Request, office: Office, account: Account, *, to: str) -> Response:
    """Return the way to a page with a new session, whatever session was there before."""
    caller = caller_of(request)
    if caller.session:
        who.end_session(office.journal, caller.session)
    token = who.start_session(office.journal, account)
    lasts = who.OFFICE_LASTS if account.role == "office" else who.SESSION_LASTS
    answer = go(to)
    answer.headers["Cache-Control"] = "no-store"
    set_cookie(answer, SESSION, token, secure=caller.secure, lasts_s=int(lasts.total_seconds()))
    known = signed(request.app.state.secret, "known", f"{_folded(account.name)}-{secrets.token_hex(16)}")
    if not _device(request, caller, account.name):
        set_cookie(answer, KNOWN, known, secure=caller.secure, lasts_s=LONG_S)
    return answer


def wait_words(wait_s: float) -> str:
    """Return how long somebody has to wait after too many wrong tries."""
    seconds = max(1, math.ceil(wait_s))
    return _("There were too many wrong tries. Wait {seconds} s, then try again.").format(seconds=seconds)


def _later(answer: Response, wait_s: float) -> Response:
    answer.headers["Retry-After"] = str(max(1, math.ceil(wait_s)))
    return answer


def inside(wanted: str) -> str:
    """Return a page of ours to go on to; anything else is the list of jobs."""
    plain = wanted.isascii() and wanted.isprintable() and "\\" not in wanted
    return wanted if plain and wanted.startswith("/") and not wanted.startswith("//") else "/"


def _asking(request: Request, caller: Caller, wanted: str, *, said: str = "", status: int = 200) -> Response:
    return secret_page(
        request, "sign_in.html", status=status, said=said, wanted=inside(wanted), in_clear=caller.in_clear
    )


def _asking_code(request: Request, account: Account, wanted: str, *, said: str = "", status: int = 200) -> Response:
    """Ask for the code; the page bears that the password was right, for a while."""
    half = signed(request.app.state.secret, "half", f"{account.id} {int(time.time()) + CODE_WAIT_S}")
    return secret_page(request, "sign_in_code.html", status=status, said=said, wanted=inside(wanted), half=half)


def _half_done(request: Request, half: str) -> str:
    """Return the id of the account whose password was right a while ago; empty when that is no longer good."""
    account, _space, until = unsigned(request.app.state.secret, "half", half).partition(" ")
    return account if until.isdecimal() and int(until) >= time.time() else ""


def _keys(request: Request, caller: Caller, name: str) -> tuple[str, ...]:
    """Return by what the tries are counted: this browser, if the account was opened from it before, or account and address."""
    device = _device(request, caller, name)
    if device:
        return (f"device {device}",)
    return (f"account {_folded(name)}", f"address {network_of(caller.address)}")


def _device(request: Request, caller: Caller, name: str) -> str:
    told = unsigned(request.app.state.secret, "known", cookie(request, KNOWN, caller.secure))
    return told if told.partition("-")[0] == _folded(name) else ""


def _folded(name: str) -> str:
    return hashlib.sha256(name.replace("\x00", "").strip().encode("utf-8", "replace")).hexdigest()[:32]


def _gone(caller: Caller) -> Response:
    answer = go("/sign-in")
    drop_cookie(answer, SESSION, secure=caller.secure)
    # Not "storage": entries that a phone has not sent yet lie there.
    answer.headers["Clear-Site-Data"] = '"cache"'
    return answer
