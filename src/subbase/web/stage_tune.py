"""The Tune stage: how each control is to be set for its equipment, from the plan."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from subbase.papers.tables import settings_rows
from subbase.web.asking import JobHere, OfficeHere
from subbase.web.looks import page
from subbase.words import _

router = APIRouter()


@router.get("/jobs/{job}/tune")
def tune_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the settings that follow from the equipment."""
    made = office.plan(view)
    if made is None or made.left is None:
        return page(request, "work_none.html", job=view, plan=made, stage=_("Tune"))
    return page(request, "tune.html", job=view, plan=made, settings=settings_rows)
