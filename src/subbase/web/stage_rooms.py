"""Rooms and places for the control: sketched by tapping, corrected by typing, and judged."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from subbase.journal import new_key
from subbase.journal.merge import text_hash
from subbase.papers.drawing import svg
from subbase.papers.site_drawing import numbered
from subbase.papers.site_page import head_words, site_drawings
from subbase.siting.verdict import SiteVerdict, judge_site
from subbase.survey.rooms_reading import SiteFile
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.jobs import JobView, Office
from subbase.web.looks import drawing, page
from subbase.web.rooms_form import house_fields, room_forms, with_room_fields
from subbase.web.rooms_plan import legend, sheet_of, sketch_svg
from subbase.web.rooms_sketch import BY_NAME, TOOLS, act_on_rooms, grid, rooms_of, unit_m
from subbase.web.slow import Told
from subbase.web.stage_survey import Typed
from subbase.web.survey_document import document_text, read_document
from subbase.words import _, current_language

router = APIRouter()
STOREYS = range(-2, 10)
WORDS = {"place": "planned", "elsewhere": "planned", "none": "stopped", "question": "question"}


@router.get("/jobs/{job}/survey/rooms")
def rooms_page(request: Request, view: JobHere, storey: str = "1", tool: str = "", said: str = "") -> Response:
    """Show the sketch of one storey, and everything on it as fields."""
    document = read_document(view.state.survey.text, view.state.name)
    if document is None:
        return go(f"/jobs/{view.id}/survey/text")
    house, faults = rooms_of(document)
    site, floor = house.site if house is not None else None, _storey(storey)
    sheet = sheet_of(site, unit_m(document))
    storeys = sorted({floor, 1, *(room.floor for room in site.rooms.values())} if site is not None else {floor, 1})
    context: dict[str, Any] = {
        "sketch": sketch_svg(site, sheet, storey=floor),
        "grid": grid(document),
        "unit": _("metres") if document.get("units") == "si" else _("feet"),
        "tools": TOOLS,
        "tool": tool if tool in BY_NAME else ("place" if site is not None else "room"),
        "legend": legend(site, floor),
        "house": house_fields(document) if site is not None else (),
        "rooms": room_forms(document, site, storey=floor) if site is not None else (),
        "faults": faults,
        "storey": floor,
        "storeys": storeys,
        "said": said[:200],
        "drawn": site is not None,
        "places": site is not None and any(True for _found in site.candidates()),
    }
    return page(request, "rooms.html", job=view, **context)


@router.post("/jobs/{job}/survey/rooms")
def save_rooms(request: Request, view: JobHere, office: OfficeHere, fields: Typed) -> Response:
    """Keep what the fields say, do what the button says, and show the sketch again."""
    inputs = dict(fields)
    text = view.state.survey.text
    document = read_document(text, view.state.name)
    if document is None:
        return go(f"/jobs/{view.id}/survey/text")
    floor = _storey(inputs.get("x/storey", "1"))
    made = with_room_fields(document, fields)
    made, said = act_on_rooms(made, inputs.get("do", ""), inputs, floor=floor)
    if made != document:
        after = document_text(made)
        body = {
            "kind": "survey_edited",
            "text": after,
            "base": text_hash(text) if text else "",
            "what": _("rooms and places for the control"),
        }
        keep(request, office, view, {inputs.get("key") or new_key(): body})
    tool = inputs.get("x/tool", "")
    query = f"storey={floor}" + (f"&tool={tool.replace(' ', '+')}" if tool in BY_NAME else "")
    query += f"&said={said.replace(' ', '+')}" if said else ""
    anchor = "#sketch" if inputs.get("do", "").startswith(("tap", "room", "rectangle")) else "#rooms"
    return go(f"/jobs/{view.id}/survey/rooms?{query}{anchor}")


@router.get("/jobs/{job}/survey/rooms/verdict")
def verdict_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show where the control goes, best first, with reasons and drawings to scale."""
    document = read_document(view.state.survey.text, view.state.name)
    house = rooms_of(document)[0] if document is not None else None
    if house is None:
        return go(f"/jobs/{view.id}/survey/rooms")
    found = verdict_of(office, view, house)
    context: dict[str, Any] = {
        "found": found,
        "word": WORDS[found.outcome],
        "line": head_words(found),
        "places": numbered(found),
        "drawings": [drawing(svg(each)) for each in site_drawings(found)],
    }
    return page(request, "rooms_verdict.html", job=view, **context)


def verdict_of(office: Office, view: JobView, house: SiteFile) -> SiteVerdict:
    """Return where the control goes in a house.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> SiteVerdict:
        told(_("Following the sun through a year, and weighing heat, draughts, reach and radio at every place."))
        return judge_site(house)

    key = f"{current_language()} {view.state.survey.sha256}"
    return office.slow.get("site", key, make, what=_("Where the control goes"))


def _storey(text: str) -> int:
    number = int(text) if text.lstrip("-").isdigit() and len(text) < 4 else 1
    return number if number in STOREYS else 1
