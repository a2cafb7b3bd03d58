"""The one gate that every request goes through: is it for us, is it small enough, who calls, how often, and may they.

``before`` looks at the request alone. ``enter`` is a dependency of every route, so that none can be forgotten: it lets
strangers through to the few open pages only, and no form or other change without the token of a page of ours.
"""

from __future__ import annotations

import math
import re
from urllib.parse import quote, urlsplit

from fastapi import Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from subbase.journal.trouble import NoSuchJob
from subbase.web.api_problem import is_api
from subbase.web.callers import (
    BROWSER,
    LONG_S,
    SAFE,
    Caller,
    caller_of,
    find_caller,
    form_token,
    is_secure,
    only_reads,
    set_cookie,
)
from subbase.web.form_tokens import is_token
from subbase.web.settings import Settings
from subbase.web.throttle import HEAVY, READS, STRANGERS, WRITES, Goes, Rate
from subbase.web.trouble import send_again, trouble
from subbase.words import _

MOST_BODY = 26_000_000
"""Bytes of any request: a photo of 25 MB and the form around it."""
MOST_STRANGE_BODY = 100_000
"""The same of somebody who has not signed in."""
MOST_FIELDS = 6000
"""Of a form; a large survey has some thousand."""
MOST_FILES = 20
OPEN_ROUTES = frozenset(
    {
        "/static/{_version}/{name}", "/sign-in", "/sign-in/code", "/look/{token}",
        "/keeper.js", "/subbase.webmanifest", "/help/offline", "/help/not-kept",
    }
)  # fmt: skip
"""What strangers may reach. Everything else asks who they are."""
FIRST_ROUTES = frozenset({"/account", "/account/password", "/sign-out"})
"""What somebody may reach whose password was made by another."""
CODE_ROUTES = FIRST_ROUTES | {"/account/codes", "/account/codes/on"}
"""What somebody may reach who must set up the code at sign-in first."""
_HEAVY_PATH = re.compile(
    r"^/jobs/[^/]+/(papers/|field-file|job-file|entries-file|check/fault|hand-over$)"
    r"|^/api/v1/(jobs/[^/]+/(papers/|export$|diagnosis$|site$)|import$)"
)
_UNCOUNTED = re.compile(r"^/static/|^/jobs/[^/]+/photos/")


SIMPLE_TYPES = ("", "application/x-www-form-urlencoded", "multipart/form-data", "text/plain")
"""Kinds of body that a browser sends for any site without asking."""


class SignInNeeded(Exception):
    """Nobody is signed in, and the page is not for strangers."""


class PasswordFirst(Exception):
    """The password was made by somebody else: it has to be changed before anything else."""


class CodesFirst(Exception):
    """This app asks for a code at sign-in, and the account has none yet: it has to be set up before anything else."""


class StaleForm(Exception):
    """The form did not come from a page of ours, or from one of an earlier sign-in."""


async def before(request: Request) -> Response | None:
    """Look at a request before anything is read of it; return the answer when it ends here."""
    settings: Settings = request.app.state.settings
    if not settings.answers_to(_host_name(request)):
        return trouble(
            request,
            421,
            _("This address is not one of mine"),
            _("The app answers at {address}.").format(address=_own_address(settings)),
        )
    if request.method not in SAFE and _is_foreign(request):
        return trouble(
            request,
            403,
            _("That came from another site"),
            _("Nothing was changed. Forms are taken from pages of this app only."),
        )
    size = _told_size(request)
    if size > MOST_BODY:
        return too_large(request)
    if request.url.path.startswith("/static/"):
        return None
    caller = await run_in_threadpool(_found, request)
    _introduce(request, caller)
    if caller.kind == "local":
        return None
    wait = _wait_s(request, caller)
    if wait:
        return too_often(request, wait)
    if caller.kind in ("nobody", "link") and request.method not in SAFE and size > MOST_STRANGE_BODY:
        return sign_in_needed(request)
    return None


def after(request: Request, response: Response) -> None:
    """Put what a browser needs to come back onto an answer.

    A new secret goes only to who can send a form of the page back: a script's answer, late, would take the place of the secret
    of a sign-in page that is being filled in.
    """
    caller: Caller | None = getattr(request.state, "caller", None)
    is_page = response.headers.get("content-type", "").startswith("text/html")
    by_script = request.headers.get("sec-fetch-dest") == "empty" and "text/html" not in request.headers.get(
        "accept", ""
    )
    to_fill_in = not by_script or "X-Form-Token" in response.headers
    if caller is not None and caller.browser and is_page and to_fill_in:
        set_cookie(response, BROWSER, caller.browser, secure=caller.secure, lasts_s=LONG_S)
    if is_secure(request, request.app.state.settings):
        response.headers.setdefault("Strict-Transport-Security", "max-age=31536000")


async def enter(request: Request) -> None:
    """Let the caller through to this route, or not.

    Raises
    ------
    SignInNeeded, PasswordFirst, CodesFirst, StaleForm
    NoSuchJob
        When an owner's link is asked for more than it shows.
    """
    route = str(getattr(request.scope.get("route"), "path", ""))
    if route == "/static/{_version}/{name}":
        return
    caller = caller_of(request)
    safe = request.method in SAFE
    told = request.headers.get("x-form-token", "")
    if not safe and caller.kind != "token":
        form = await request.form(max_fields=MOST_FIELDS, max_files=MOST_FILES)
        request.state.sent = [(name, value) for name, value in form.multi_items() if isinstance(value, str)]
        request.state.sent_files = any(not isinstance(value, str) for value in form.values())
        field = form.get("csrf")
        told = told or (field if isinstance(field, str) else "")
    if route not in OPEN_ROUTES:
        _may_pass(request, caller, route)
    if (
        not safe
        and caller.kind != "token"
        and not is_token(caller.form_token, told)
        and not _is_script(request, caller)
    ):
        raise StaleForm


def _is_script(request: Request, caller: Caller) -> bool:
    """Return whether a program on this machine asks the API, and no browser, where nobody signs in.

    A browser says where a request that changes something comes from, and sends none of these kinds of body for another site
    without asking first, to which it gets no yes (Fetch standard: Origin, Sec-Fetch-Site, requests that are no simple ones).
    """
    from_browser = any(name in request.headers for name in ("origin", "sec-fetch-site", "cookie", "x-form-token"))
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    return caller.kind == "local" and is_api(request) and not from_browser and kind not in SIMPLE_TYPES


def _may_pass(request: Request, caller: Caller, route: str) -> None:
    if caller.kind == "nobody":
        raise SignInNeeded
    if caller.is_reader and not only_reads(request):
        job = request.path_params.get("job")
        raise NoSuchJob(str(job)) if job else SignInNeeded
    if caller.person is not None and caller.person.first and route not in FIRST_ROUTES:
        raise PasswordFirst
    settings: Settings = request.app.state.settings
    if (
        caller.person is not None
        and not caller.person.codes
        and settings.asks_for_codes(caller.person)
        and route not in CODE_ROUTES
    ):
        raise CodesFirst


def sign_in_needed(request: Request) -> Response:
    """Return the way to the sign-in; what was sent is held on a page, so that it can be sent again afterwards."""
    if is_api(request):
        told = _("Send a token that is good: Authorization: Bearer TOKEN.")
        answer = trouble(request, 401, _("You are not signed in"), told)
        answer.headers["WWW-Authenticate"] = "Bearer"
        return answer
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    if request.method in SAFE and "authorization" not in request.headers and "x-part" not in request.headers:
        return Response(status_code=303, headers={"Location": f"/sign-in?next={quote(here)}"})
    lines = (
        _("Nothing was changed, and nothing is lost: what you sent is held on this page."),
        _("Sign in in another tab, come back here, and send it again."),
    )
    answer = _held(request, 401, _("You are signed out"), lines)
    answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


def stale_form(request: Request) -> Response:
    """Return what was sent with a token that is good now; the form's own key makes sending it twice harmless."""
    if is_api(request):
        told = _("Send the form token of a page as X-Form-Token, or a token of your own instead of the session.")
        return trouble(request, 403, _("The form token is missing or no longer good"), told)
    lines = (
        _("Nothing was changed, and nothing is lost: what you sent is held on this page."),
        _("You may have signed in anew since the page was loaded. Look at the address, and send it again."),
    )
    answer = _held(request, 403, _("That page was from an earlier sign-in"), lines)
    if _is_own(request):
        # A script of ours sends again by itself; no other site can read this.
        answer.headers["X-Form-Token"] = form_token(request)
    return answer


def _held(request: Request, status: int, title: str, lines: tuple[str, ...]) -> Response:
    fields = [(name, value) for name, value in getattr(request.state, "sent", ()) if name != "csrf"]
    own = _is_own(request) and bool(fields) and not request.url.path.startswith("/sign-in")
    if not own:
        return trouble(request, status, title, _("Nothing was changed. Load the page again, and send it from there."))
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    files = bool(getattr(request.state, "sent_files", False))
    return send_again(request, status, title, lines, fields=fields, action=here, files=files, signed_out=status == 401)


def password_first(request: Request) -> Response:
    """Return that a password made by somebody else has to be changed first."""
    title = _("The password has to be changed first")
    return _account_first(request, title, _("Change the password in another tab, come back here, and send it again."))


def codes_first(request: Request) -> Response:
    """Return that the code at sign-in has to be set up first."""
    title = _("The code at sign-in has to be set up first")
    return _account_first(request, title, _("Set it up in another tab, come back here, and send it again."))


def _account_first(request: Request, title: str, line: str) -> Response:
    if is_api(request):
        return trouble(request, 403, title, _("Sign in at a browser and do it there."))
    if request.method in SAFE:
        return Response(status_code=303, headers={"Location": "/account"})
    # No redirect: a phone that sends what it had kept would take that for a yes.
    return _held(
        request, 403, title, (_("Nothing was changed, and nothing is lost: what you sent is held on this page."), line)
    )


def too_large(request: Request) -> Response:
    """Return that a request is larger than anything that belongs here."""
    line = _("At most {most} MB are taken at once; a photo may have 25 MB. Nothing was changed.")
    return trouble(request, 413, _("That is too large"), line.format(most=MOST_BODY // 1_000_000))


def too_often(request: Request, wait_s: float) -> Response:
    """Return that somebody asks more than one person can."""
    seconds = max(1, math.ceil(wait_s))
    line = _("Wait {seconds} s, then go on. Nothing is lost: what was not taken can be sent again.")
    answer = trouble(request, 429, _("That was too often"), line.format(seconds=seconds))
    answer.headers["Retry-After"] = str(seconds)
    return answer


class BodyLimit:
    """Stops a request whose body goes on beyond what is taken, however long it said it would be."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, counting."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        caller: Caller | None = scope.get("state", {}).get("caller")
        most = MOST_STRANGE_BODY if caller is not None and caller.kind in ("nobody", "link") else MOST_BODY
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:
                raise HTTPException(413)
            return message

        await self._app(scope, counted, send)


def path_without_secret(path: str) -> str:
    """Return an address as a log may have it: an owner's link is cut short, and nothing begins a line of its own."""
    return "/look/..." if path.startswith("/look/") else quote(path)


def _found(request: Request) -> Caller:
    state = request.app.state
    return find_caller(request, state.settings, state.office.journal, state.secret)


def _introduce(request: Request, caller: Caller) -> None:
    request.state.caller = caller
    request.state.person = caller.person
    request.state.csrf = form_token(request)


def _wait_s(request: Request, caller: Caller) -> float:
    path, goes = request.url.path, request.app.state.goes
    assert isinstance(goes, Goes)
    if caller.kind == "nobody":
        return goes.wait_s(caller.key, STRANGERS)
    if request.method not in SAFE:
        wait = goes.wait_s(f"write {caller.key}", WRITES)
    else:
        wait = 0.0 if _UNCOUNTED.match(path) else goes.wait_s(f"read {caller.key}", READS)
    rate: Rate = HEAVY
    return wait or (goes.wait_s(f"heavy {caller.key}", rate) if _HEAVY_PATH.match(path) else 0.0)


def _host_name(request: Request) -> str:
    try:
        return urlsplit(f"//{request.headers.get('host', '')}").hostname or ""
    except ValueError:
        return ""


def _own_address(settings: Settings) -> str:
    return settings.names[0] if settings.names else f"http://127.0.0.1:{settings.port}/"


def _is_foreign(request: Request) -> bool:
    """Return whether a browser says that another site sent this."""
    origin = request.headers.get("origin")
    if origin is not None:
        return not _same_origin(request, origin)
    return request.headers.get("sec-fetch-site", "none") not in ("same-origin", "none")


def _is_own(request: Request) -> bool:
    """Return whether a browser says that a page of ours sent this; silence is no."""
    origin = request.headers.get("origin")
    if origin is not None:
        return _same_origin(request, origin)
    return request.headers.get("sec-fetch-site") == "same-origin"


def _same_origin(request: Request, origin: str) -> bool:
    try:
        told = urlsplit(origin)
    except ValueError:
        return False
    # The scheme is not compared: what a proxy says of it is not known to everybody, and a name has one owner.
    return told.scheme in ("http", "https") and told.netloc.lower() == request.headers.get("host", "").lower()


def _told_size(request: Request) -> int:
    told = request.headers.get("content-length", "0")
    return int(told) if told.isdecimal() and len(told) < 16 else (0 if not told else MOST_BODY + 1)
