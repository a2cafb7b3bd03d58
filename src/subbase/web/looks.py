"""Templates filled in, and what every page needs: the six stages, a fresh key for its forms, static files by content."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from subbase import __version__
from subbase.journal import new_key
from subbase.web.jobs import JobView
from subbase.words import LANGUAGES, _, current_language, mark, plural


@dataclass(frozen=True, slots=True)
class Stage:
    """One of the six stages of a job."""

    number: int
    slug: str
    title: str
    asks: str
    """What it settles, in a few words."""


STAGES = (
    Stage(1, "survey", mark("Survey"), mark("what is there")),
    Stage(2, "plan", mark("Plan"), mark("how it will be wired and fed")),
    Stage(3, "work", mark("Work"), mark("one step at a time")),
    Stage(4, "check", mark("Check"), mark("every call by meter")),
    Stage(5, "tune", mark("Tune"), mark("settings and schedule")),
    Stage(6, "hand-over", mark("Hand over"), mark("papers that stay")),
)


@cache
def static_version() -> str:
    """Return a short hash over every static file: it changes when one of them does."""
    digest = hashlib.sha256()
    for name, data in sorted(static_files().items()):
        digest.update(name.encode())
        digest.update(data)
    return digest.hexdigest()[:12]


@cache
def static_files() -> dict[str, bytes]:
    """Return file name -> bytes of every script, style sheet and font."""
    from fontpkg_atkinson_hyperlegible import ROOT

    found = {
        item.name: item.read_bytes()
        for item in resources.files("subbase.web").joinpath("static").iterdir()
        if item.is_file()
    }
    for face in ("Regular", "Bold"):
        name = f"AtkinsonHyperlegible-{face}.ttf"
        found[name] = next(ROOT.joinpath("files").rglob(name)).read_bytes()
    return found


@cache
def environment() -> Environment:
    """Return the templates; a name that is not there is an error, and every text is escaped."""
    made = Environment(
        loader=PackageLoader("subbase.web", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {"stages": STAGES, "version": __version__, "new_key": new_key, "_": _, "plural": plural}
    return made


def page(
    request: Request, template: str, *, status: int = 200, job: JobView | None = None, **context: Any
) -> HTMLResponse:
    """Return a page; ``job`` puts the stages above it."""
    return HTMLResponse(html(request, template, job=job, **context), status_code=status)


def secret_page(
    request: Request, template: str, *, status: int = 200, job: JobView | None = None, **context: Any
) -> HTMLResponse:
    """Return a page of which nobody on the way keeps a copy: it shows what is for this person alone."""
    answer = page(request, template, status=status, job=job, **context)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def html(request: Request, template: str, *, job: JobView | None = None, **context: Any) -> str:
    """Return a page as text."""
    shared = {
        "job": job,
        "static": f"/static/{static_version()}",
        "person": getattr(request.state, "person", None),
        "csrf": getattr(request.state, "csrf", ""),
        "here": request.url.path,
        "language": current_language(),
        "languages": LANGUAGES,
    }
    return environment().get_template(template).render(shared | context)


def drawing(svg: str) -> Markup:
    """Return an SVG of our own as markup; its texts were escaped when it was made."""
    return Markup(svg[svg.index("<svg") :])


def script_json(data: Any) -> Markup:
    """Return JSON that may stand inside a script element: no '<' can end it."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    text = text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
    return Markup(text)
