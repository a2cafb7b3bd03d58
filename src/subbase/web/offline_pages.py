"""What a phone needs to go on without network: the service worker, the manifest, a job's pages made to be kept, a few pages of help."""

from __future__ import annotations

import hashlib
import json
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from fastapi.responses import JSONResponse

from subbase.papers.write import PAPER_NAMES
from subbase.web.asking import JobHere, OfficeHere
from subbase.web.check_words import call_id
from subbase.web.field_file import item_data, phone_words, step_data
from subbase.web.looks import STAGES, page, static_files, static_version
from subbase.web.stage_check import checked, kept_check
from subbase.web.stage_work import kept_steps, quoted, standing_of
from subbase.web.work_words import STATUS_SIGNS
from subbase.words import _, current_language
from subbase.work.progress import result_data
from subbase.work.reading_verdicts import TOO_HIGH_V

router = APIRouter()
WORKER = ("shelf.js", "fold.js", "walk.js")
KEPT_FIRST = ("/help/not-kept", "/help/offline", "/unsent", "/")
LOOKED_AT = ("survey", "survey/text", "plan", "work/steps", "tune", "hand-over", "history")


@router.get("/keeper.js", include_in_schema=False)
def keeper() -> Response:
    """Return the service worker; it stands at the root because it may only serve what is below itself."""
    static, files = f"/static/{static_version()}", static_files()
    first = {"files": [name for name in files if name != "keeper.js"], "pages": KEPT_FIRST}
    head = f"const STATIC = {json.dumps(static)};\nconst FIRST = {json.dumps(first)};\n"
    head += "".join(f"importScripts({json.dumps(f'{static}/{name}')});\n" for name in WORKER)
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/"}
    return Response(head + files["keeper.js"].decode(), media_type="text/javascript; charset=utf-8", headers=headers)


@router.get("/subbase.webmanifest", include_in_schema=False)
def manifest() -> Response:
    """Return what makes the app installable."""
    icons = [
        {"src": f"/static/{static_version()}/icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"}
        for size in (192, 512)
    ]
    icons.append({"src": f"/static/{static_version()}/icon.svg", "sizes": "any", "type": "image/svg+xml"})
    told = {
        "name": "subbase",
        "short_name": "subbase",
        "description": _("From the old thermostat's wires to a connected control that is proved to work"),
        "id": "/",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#fbfaf6",
        "theme_color": "#141414",
        "icons": icons,
    }
    return Response(json.dumps(told), media_type="application/manifest+json", headers={"Cache-Control": "no-cache"})


@router.get("/unsent")
def unsent(request: Request) -> Response:
    """Show what is on this phone only; its script fills the list."""
    return page(request, "unsent.html")


@router.get("/unsent/token", include_in_schema=False)
def token(request: Request) -> Response:
    """Return what forms that waited must bear to be taken, and whose name they would be kept under."""
    person = getattr(request.state, "person", None)
    told = {"csrf": getattr(request.state, "csrf", ""), "person": person.name if person else ""}
    return JSONResponse(told, headers={"Cache-Control": "no-store"})


@router.get("/help/offline")
def help_offline(request: Request) -> Response:
    """Say what works without network, and at which addresses."""
    return page(request, "help_offline.html")


@router.get("/help/not-kept")
def not_kept(request: Request) -> Response:
    """Show what stands in place of a page that is not on the phone."""
    return page(request, "not_kept.html")


@router.get("/jobs/{job}/kept.json", include_in_schema=False)
def kept(
    request: Request, view: JobHere, office: OfficeHere, have: Annotated[str, Query(max_length=40)] = ""
) -> Response:
    """Return what a phone keeps of a job: which pages to look at, its steps and checks as data, pages to walk them by.

    The pages of the steps are left out when the phone has them already, by the ``made`` of an earlier answer.

    Raises
    ------
    NotYet
    """
    here = f"/jobs/{view.id}"
    look_at = [f"{here}/{name}" for name in LOOKED_AT]
    told: dict[str, Any] = {
        "sequence": view.state.sequence,
        "mark": "",
        "made": "",
        "pages": {},
        "work": None,
        "look_at": look_at,
    }
    if office.plan(view) is not None:
        look_at += [f"{here}/papers/{name}" for name in PAPER_NAMES]
    standing, found = standing_of(office, view), checked(office, view)
    if standing is None or found is None:
        look_at += [f"{here}/{stage.slug}" for stage in STAGES if stage.slug in ("work", "check")]
        return JSONResponse(told)
    calls = dict.fromkeys(call_id(item.sequence) for item in found.sheet.seen)
    look_at += [f"{here}/check/call?of={quoted(of)}" for of in calls]
    told["mark"] = found.sheet.mark
    mine = standing.mine
    steps = [_step(step_data(mine, step), step.where, step.phase) for step in standing.steps.steps]
    told["made"] = _hash([told["mark"], steps, standing.steps.units, static_version(), current_language()])
    if have != told["made"]:
        told["pages"] = {f"{here}/work/{name}": html for name, html in kept_steps(request, view, standing)}
    told["pages"][f"{here}/check"] = kept_check(request, view, found)
    told["work"] = {
        "mark": found.sheet.mark,
        "units": standing.steps.units,
        "too_high_v": TOO_HIGH_V,
        "steps": steps,
        "results": [result_data(result) for result in standing.now.results],
        "checks": [_without(item_data(mine, item), "body") for item in found.sheet.items],
        "words": phone_words()
        | {
            "signs": STATUS_SIGNS,
            "unsent": _("Not yet sent."),
            "not_taken": _("Not taken"),
        },
    }
    return JSONResponse(told)


def _step(data: dict[str, Any], where: str, phase: str) -> dict[str, Any]:
    return _without(data, "body") | {"where": where, "looks_twice": phase == "look twice"}


def _hash(told: Any) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:16]


def _without(data: dict[str, Any], name: str) -> dict[str, Any]:
    return {key: value for key, value in data.items() if key != name}
