"""Signing in and out. Wrong names and wrong passwords are answered alike, in wording and in time."""

from __future__ import annotations

import hashlib
import math
import secrets
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from subbase.journal import accounts as who
from subbase.journal.accounts import Account
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, PersonHere, audit_of, go
from subbase.web.callers import KNOWN, LONG_S, SESSION, Caller, caller_of, cookie, drop_cookie, network_of, set_cookie
from subbase.web.form_tokens import signed, unsigned
from subbase.web.jobs import Office
from subbase.web.looks import secret_page
from subbase.web.throttle import Tries
from subbase.words import _

router = APIRouter()
Name = Annotated[str, Form(max_length=200)]
Password = Annotated[str, Form(max_length=500)]
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
        seconds = max(1, math.ceil(wait))
        said = _("There were too many wrong tries. Wait {seconds} s, then try again.").format(seconds=seconds)
        answer = _asking(request, caller, wanted, said=said, status=429)
        answer.headers["Retry-After"] = str(seconds)
        return answer
    account = who.check_password(office.journal, name, password)
    if account is None:
        # A name that is none may be a password typed into the wrong field: it is not written down.
        known = who.account_named(office.journal, name)
        audit_of(request).did(caller, "sign-in refused", name=known.name if known else "?")
        said = _("This name and this password do not go together.")
        return _asking(request, caller, wanted, said=said, status=401)
    tries.right(keys)
    audit_of(request).did(caller, "signed in", name=account.name)
    return begin_session(request, office, account, to="/account" if account.first else inside(wanted))


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


def inside(wanted: str) -> str:
    """Return a page of ours to go on to; anything else is the list of jobs."""
    plain = wanted.isascii() and wanted.isprintable() and "\\" not in wanted
    return wanted if plain and wanted.startswith("/") and not wanted.startswith("//") else "/"


def _asking(request: Request, caller: Caller, wanted: str, *, said: str = "", status: int = 200) -> Response:
    return secret_page(
        request, "sign_in.html", status=status, said=said, wanted=inside(wanted), in_clear=caller.in_clear
    )


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
