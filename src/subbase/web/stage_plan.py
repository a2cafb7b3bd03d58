"""The Plan stage: the verdict, what to do, the proof, every way looked at, the wiring drawn."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from subbase.papers.proof_tables import load_table, proof_table, reading_tables, supply_table
from subbase.papers.route_tables import caution_table, parts_table, refusal_table, route_table
from subbase.papers.tables import landing_table, settings_rows, steps
from subbase.plan import Plan
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView, Office
from subbase.web.looks import page
from subbase.web.maps import maps_of
from subbase.web.pocket.answering import answered, asked_of
from subbase.web.slow import PATIENCE_S
from subbase.words import _

router = APIRouter()


@router.get("/jobs/{job}/plan")
def plan_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the plan; a survey that cannot be read is said so instead."""
    made = office.plan(view, patience_s=PATIENCE_S)
    if made is None:
        return page(request, "plan_none.html", job=view)
    return page(request, "plan.html", job=view, plan=made, **_context(office, view, made))


@router.post("/jobs/{job}/plan/answer")
def answer_question(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Write the answer to an open question into the survey, and show the plan that follows.

    Raises
    ------
    InputError
        When the question is not open any more.
    """
    key = form_key(fields)
    if any(line.event.key == key for line in view.state.history):
        return go(f"/jobs/{view.id}/plan")
    field, index = fields.get("field", ""), fields.get("index", "")
    text = answered(view.state.survey.text, field, int(index) if index.isdecimal() else -1, office.catalog)
    body = {
        "kind": "survey_edited",
        "text": text,
        "base": view.state.survey.sha256,
        "what": _("Answered: {field}").format(field=field)[:200],
    }
    keep(request, office, view, {key: body})
    return go(f"/jobs/{view.id}/plan")


def _context(office: Office, view: JobView, made: Plan) -> dict[str, Any]:
    tables: dict[str, Any] = {
        "cautions": caution_table(made),
        "asked": asked_of(made),
        "steps": steps,
        "landings": lambda item: landing_table(made, item),
        "settings": settings_rows,
        "refused": refusal_table,
        "routes": route_table,
        "map": None,
    }
    if made.proof is None or made.left is None:
        return tables | {"proof": None, "loads": None, "supply": None, "readings": (), "parts": None}
    return tables | {
        "map": office.shown_once("maps", view, lambda: maps_of(made)),
        "proof": proof_table(made.proof),
        "loads": load_table(made.proof),
        "supply": supply_table(made.proof),
        "readings": reading_tables(made.readings),
        "parts": parts_table(made),
    }
