"""The Plan stage: the verdict, what to do, the proof, every way looked at, the wiring drawn."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Request, Response

from subbase.papers.tables import (
    caution_table,
    changed_conductors,
    landing_table,
    parts_table,
    proof_table,
    reading_tables,
    refusal_table,
    route_table,
    settings_rows,
    steps,
    supply_table,
)
from subbase.papers.wiring_map import wiring_map_svg
from subbase.plan import Plan
from subbase.web.asking import JobHere, OfficeHere
from subbase.web.looks import drawing, page

router = APIRouter()


@router.get("/jobs/{job}/plan")
def plan_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the plan; a survey that cannot be read is said so instead."""
    made = office.plan(view)
    if made is None:
        return page(request, "plan_none.html", job=view)
    return page(request, "plan.html", job=view, plan=made, **_context(made))


def _context(made: Plan) -> dict[str, Any]:
    tables: dict[str, Any] = {
        "cautions": caution_table(made),
        "steps": steps,
        "landings": lambda item: landing_table(made, item),
        "settings": settings_rows,
        "refused": refusal_table,
        "routes": route_table,
        "map": None,
    }
    if made.proof is None or made.left is None:
        return tables | {"proof": None, "supply": None, "readings": (), "parts": None}
    svg = wiring_map_svg(made.left, made.catalog, title="Wiring as left", changed=changed_conductors(made))
    return tables | {
        "map": drawing(svg),
        "proof": proof_table(made.proof),
        "supply": supply_table(made.proof),
        "readings": reading_tables(made.readings),
        "parts": parts_table(made),
    }
