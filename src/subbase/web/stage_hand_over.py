"""The Hand over stage: the papers of a job."""

from __future__ import annotations

import datetime

from fastapi import APIRouter, HTTPException, Request, Response

from subbase.papers.write import PAPER_NAMES, papers_of
from subbase.web.asking import JobHere, OfficeHere
from subbase.web.looks import page

router = APIRouter()
_TYPES = {"pdf": "application/pdf", "svg": "image/svg+xml", "csv": "text/csv; charset=utf-8"}


@router.get("/jobs/{job}/hand-over")
def hand_over_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """List the papers that the job has."""
    return page(request, "hand_over.html", job=view, plan=office.plan(view), names=PAPER_NAMES)


@router.get("/jobs/{job}/papers/{name}")
def paper(view: JobHere, office: OfficeHere, name: str) -> Response:
    """Return one paper of the job."""
    made = office.plan(view)
    if made is None or name not in PAPER_NAMES:
        raise HTTPException(404, "There is no such paper")
    today = datetime.datetime.now(tz=datetime.UTC).date()
    for found, data in papers_of(made, date=today):
        if found == name:
            headers = {"Content-Disposition": f'inline; filename="{name}"'}
            return Response(data, media_type=_TYPES[name.rpartition(".")[2]], headers=headers)
    raise HTTPException(404, "There is no such paper")
