"""The application: pages, static files, and one shape for everything that goes wrong."""

from __future__ import annotations

import logging
import secrets
from collections.abc import Awaitable, Callable

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.middleware.gzip import GZipMiddleware

from subbase import __version__
from subbase.catalog import load_catalog
from subbase.errors import Fault, InputError
from subbase.journal.store import open_journal
from subbase.journal.trouble import JournalTrouble, NoSuchJob
from subbase.web import (
    stage_calls,
    stage_check,
    stage_diagnose,
    stage_hand_over,
    stage_plan,
    stage_survey,
    stage_tune,
    stage_work,
    start_pages,
    static_pages,
    survey_history,
    survey_photos,
)
from subbase.web.jobs import Office
from subbase.web.looks import page
from subbase.web.settings import Settings
from subbase.web.slow import NotYet
from subbase.words import _, language, nearest_language

log = logging.getLogger("subbase.web")
ROUTERS = (
    static_pages.router, start_pages.router, stage_plan.router, stage_work.router, stage_check.router, stage_calls.router,
    stage_diagnose.router, stage_tune.router, stage_hand_over.router,
    stage_survey.router, survey_photos.router, survey_history.router,
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
        When a folder of kinds cannot be read, or others than this machine could reach the app.
    """
    if not settings.is_local:
        message = "The app has no accounts yet, so it answers on this machine only: use --host 127.0.0.1, without --behind-proxy."
        raise InputError((Fault(message),))
    app = FastAPI(title="subbase", version=__version__, docs_url=None, redoc_url=None)
    app.state.settings = settings
    app.state.office = Office(open_journal(settings.journal), load_catalog(settings.catalogue))
    for router in ROUTERS:
        app.include_router(router)
    app.middleware("http")(_with_headers)
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_exception_handler(HTTPException, _http_trouble)
    app.add_exception_handler(RequestValidationError, _bad_request)
    app.add_exception_handler(InputError, _bad_input)
    app.add_exception_handler(NoSuchJob, _no_such_job)
    app.add_exception_handler(JournalTrouble, _journal_trouble)
    app.add_exception_handler(NotYet, _not_yet)
    return app


async def _with_headers(request: Request, call_next: Callable[[Request], Awaitable[Response]]) -> Response:
    wanted = request.cookies.get("language") or request.headers.get("accept-language", "")
    with language(nearest_language(wanted)):
        try:
            response = await call_next(request)
        except Exception:
            # Nobody but the log sees what it was; the number joins the two.
            number = secrets.token_hex(4)
            log.exception("trouble %s at %s", number, request.url.path)
            line = _("It was written to the log as {number}.").format(number=number)
            response = _trouble(request, 500, _("Something went wrong here"), line)
    for name, value in HEADERS.items():
        response.headers.setdefault(name, value)
    if "cache-control" not in response.headers:
        response.headers["Cache-Control"] = "no-cache, private"
    return response


def _trouble(request: Request, status: int, title: str, *lines: str) -> Response:
    return page(request, "trouble.html", status=status, title=title, lines=lines)


def _http_trouble(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    words = {404: (_("There is no such page"), _("The address may be mistyped, or the job was deleted."))}
    title, line = words.get(error.status_code, (str(error.detail), ""))
    return _trouble(request, error.status_code, title, *([line] if line else []))


def _bad_request(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    fields = sorted({".".join(str(step) for step in item["loc"][1:]) for item in error.errors()})
    return _trouble(
        request,
        422,
        _("That could not be read"),
        _("Look at: {fields}.").format(fields=", ".join(fields)),
        _("Nothing was changed."),
    )


def _bad_input(request: Request, error: Exception) -> Response:
    assert isinstance(error, InputError)
    return _trouble(request, 422, _("That could not be read"), *(str(fault) for fault in error.faults))


def _no_such_job(request: Request, __: Exception) -> Response:
    return _trouble(request, 404, _("There is no such job"), _("It may have been deleted, or the address is mistyped."))


def _journal_trouble(request: Request, error: Exception) -> Response:
    return _trouble(request, 503, _("The journal cannot be used now"), str(error), _("What was sent before is kept."))


def _not_yet(request: Request, error: Exception) -> Response:
    assert isinstance(error, NotYet)
    again = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    job = request.path_params.get("job")
    view = request.app.state.office.job(job) if job else None
    told = {"what": error.what, "said": error.said, "seconds": error.seconds, "again": again}
    answer = page(request, "not_yet.html", status=202, job=view, **told)
    answer.headers["Refresh"] = "1"
    return answer
