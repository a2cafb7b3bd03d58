"""The application: pages, static files, and one shape for everything that goes wrong."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote

from fastapi import Depends, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware
from starlette.routing import Match, Route

from subbase import __version__
from subbase.catalog import load_catalog
from subbase.errors import Fault, InputError, expected_words
from subbase.journal.accounts import accounts
from subbase.journal.store import Journal, open_journal
from subbase.journal.tokens import server_secret
from subbase.journal.trouble import JournalTrouble, JournalUnreachable, NoSuchJob
from subbase.web import (
    account_pages,
    api_schema,
    code_pages,
    gate,
    job_erasing,
    live_ladder,
    offline_pages,
    owner_link,
    people,
    phone_files,
    sign_in,
    stage_calls,
    stage_check,
    stage_diagnose,
    stage_hand_over,
    stage_plan,
    stage_rooms,
    stage_survey,
    stage_tune,
    stage_work,
    start_pages,
    static_pages,
    survey_history,
    survey_photos,
)
from subbase.web.api_problem import ApiProblem, is_api, problem
from subbase.web.api_problem import answer as _api_problem
from subbase.web.api_shapes import Working
from subbase.web.audit import Audit
from subbase.web.gate import BodyLimit, CodesFirst, PasswordFirst, SignInNeeded, StaleForm
from subbase.web.jobs import Office
from subbase.web.looks import page
from subbase.web.settings import Settings
from subbase.web.slow import NotYet
from subbase.web.throttle import Goes, Tries
from subbase.web.trouble import trouble as _trouble
from subbase.words import _, language, nearest_language

log = logging.getLogger("subbase.web")
ROUTERS = (
    static_pages.router, offline_pages.router, start_pages.router, phone_files.router, stage_plan.router, stage_work.router, stage_check.router,
    stage_calls.router, live_ladder.router, stage_diagnose.router, stage_tune.router, stage_hand_over.router,
    stage_survey.router, stage_rooms.router, survey_photos.router, survey_history.router, job_erasing.router,
    sign_in.router, account_pages.router, code_pages.router, people.router, owner_link.router, *api_schema.ROUTERS,
)  # fmt: skip
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), camera=(self)",
}


def create_app(settings: Settings) -> FastAPI:
    """Return the application over one journal.

    Raises
    ------
    JournalTrouble
        When the journal cannot be opened.
    InputError
        When a folder of kinds cannot be read, or people have to sign in and there is no account.
    """
    catalog = load_catalog(settings.catalogue)
    journal = _journal(settings)
    app = FastAPI(
        title="subbase", version=__version__, docs_url=None, redoc_url=None, openapi_url=None,
        dependencies=[Depends(gate.enter)],
    )  # fmt: skip
    app.state.settings = settings
    app.state.office = Office(journal, catalog)
    app.state.secret = server_secret(journal)
    app.state.audit = Audit(journal)
    app.state.goes, app.state.tries = Goes(), Tries()
    for router in ROUTERS:
        app.include_router(router)
    app.add_middleware(BodyLimit)
    app.middleware("http")(_with_headers)
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_exception_handler(HTTPException, _http_trouble)
    app.add_exception_handler(RequestValidationError, _bad_request)
    app.add_exception_handler(InputError, _bad_input)
    app.add_exception_handler(NoSuchJob, _no_such_job)
    app.add_exception_handler(JournalTrouble, _journal_trouble)
    app.add_exception_handler(NotYet, _not_yet)
    app.add_exception_handler(ApiProblem, _api_problem)
    app.add_exception_handler(SignInNeeded, lambda request, _error: gate.sign_in_needed(request))
    app.add_exception_handler(StaleForm, lambda request, _error: gate.stale_form(request))
    app.add_exception_handler(PasswordFirst, lambda request, _error: gate.password_first(request))
    app.add_exception_handler(CodesFirst, lambda request, _error: gate.codes_first(request))
    return app


def _journal(settings: Settings) -> Journal:
    """Return the journal; where people have to sign in, somebody must be able to."""
    needed = Fault(
        _(
            "Others can reach that address, so people have to sign in, and there is no account yet. Make the first one with: subbase people add NAME --role office"
        )
    )
    try:
        journal = open_journal(settings.journal, create=not settings.sign_in)
    except JournalUnreachable:
        if not settings.sign_in or "://" in str(settings.journal) or Path(settings.journal).exists():
            raise
        raise InputError((needed,)) from None
    if settings.sign_in and not any(item.active for item in accounts(journal)):
        journal.close()
        raise InputError((needed,))
    return journal


async def _with_headers(request: Request, call_next: Callable[[Request], Awaitable[Response]]) -> Response:
    wanted = request.cookies.get("language") or request.headers.get("accept-language", "")
    with language(nearest_language(wanted)):
        try:
            response = await gate.before(request) or await call_next(request)
        except JournalTrouble as error:
            response = _journal_trouble(request, error)
        except Exception:
            # Nobody but the log sees what it was; the number joins the two.
            number = secrets.token_hex(4)
            log.exception("trouble %s at %s", number, gate.path_without_secret(request.url.path))
            line = _("It was written to the log as {number}.").format(number=number)
            response = _trouble(request, 500, _("Something went wrong here"), line)
    gate.after(request, response)
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if "cache-control" not in response.headers:
        response.headers["Cache-Control"] = "no-cache, private"
    return response


def _http_trouble(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    if error.status_code == 413:
        return gate.too_large(request)
    words = {
        404: (_("There is no such page"), _("The address may be mistyped, or the job was deleted.")),
        405: (_("That cannot be done at this address"), ""),
        400: (_("That could not be read"), _("It was cut off, or is not what it says it is. Nothing was changed.")),
    }
    title, line = words.get(error.status_code, (str(error.detail), ""))
    answer = _trouble(request, error.status_code, title, *([line] if line else []))
    answer.headers.update(error.headers or {})
    if error.status_code == 405:
        answer.headers["Allow"] = ", ".join(_methods(request))
    return answer


def _methods(request: Request) -> list[str]:
    """Return every method that an address knows; the router itself names those of the first operation there only."""
    found: set[str] = set()
    for route in (route for router in ROUTERS for route in router.routes if isinstance(route, Route)):
        if route.matches(request.scope)[0] is not Match.NONE:
            found |= route.methods or set()
    return sorted(found)


def _bad_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    if is_api(request):
        faults = [Fault(_sentence(item), ".".join(str(step) for step in item["loc"][1:])) for item in error.errors()]
        return problem(422, _("That could not be read"), [_("Nothing was changed.")], faults)
    fields = sorted({".".join(str(step) for step in item["loc"][1:]) for item in error.errors()})
    return _trouble(
        request,
        422,
        _("That could not be read"),
        _("Look at: {fields}.").format(fields=", ".join(fields)),
        _("Nothing was changed."),
    )


def _sentence(item: Any) -> str:
    said = expected_words(item)
    return f"{said[:1].upper()}{said[1:]}."


def _bad_input(request: Request, error: Exception) -> Response:
    assert isinstance(error, InputError)
    return _trouble(request, 422, _("That could not be read"), faults=error.faults)


def _no_such_job(request: Request, __: Exception) -> Response:
    return _trouble(request, 404, _("There is no such job"), _("It may have been deleted, or the address is mistyped."))


def _journal_trouble(request: Request, error: Exception) -> Response:
    return _trouble(request, 503, _("The journal cannot be used now"), str(error), _("What was sent before is kept."))


def _not_yet(request: Request, error: Exception) -> Response:
    assert isinstance(error, NotYet)
    again = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    if is_api(request):
        told = Working(what=error.what, said=error.said, seconds=error.seconds, again=again)
        return JSONResponse(told.model_dump(), status_code=202, headers={"Retry-After": "1"})
    job = request.path_params.get("job")
    view = request.app.state.office.job(job) if job else None
    shown = {"what": error.what, "said": error.said, "seconds": error.seconds, "again": again}
    answer = page(request, "not_yet.html", status=202, job=view, **shown)
    # With its address: where a page was come to by '#place', looking again without one stays in it.
    answer.headers["Refresh"] = f"1; url={quote(again, safe='/?&=%')}"
    return answer
