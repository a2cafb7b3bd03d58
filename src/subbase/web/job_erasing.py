"""Erasing a job for good, when its owner asks for it: the office does it, after typing the job's name."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request, Response

from subbase.errors import InputError
from subbase.journal.erasing import erase_job
from subbase.web.asking import CallerHere, JobHere, OfficeHere, go
from subbase.web.callers import Caller, shortened
from subbase.web.jobs import JobView
from subbase.web.looks import page

router = APIRouter()


def may_erase(caller: Caller) -> bool:
    """Return whether somebody may erase jobs: the office at a browser, or whoever has the app to themselves."""
    of_office = caller.kind == "session" and caller.person is not None and caller.person.role == "office"
    return caller.kind == "local" or of_office


@router.get("/jobs/{job}/erase")
def ask(request: Request, view: JobHere, office: OfficeHere, caller: CallerHere) -> Response:
    """Say what would go and what would stay."""
    _require(caller)
    return _page(request, view, office)


@router.post("/jobs/{job}/erase")
def erase(
    request: Request, view: JobHere, office: OfficeHere, caller: CallerHere,
    name: Annotated[str, Form(max_length=400)] = "",
) -> Response:  # fmt: skip
    """Erase a job whose name was typed."""
    _require(caller)
    try:
        erase_job(office.journal, view.id, name, who=caller.name, address=shortened(caller.address))
    except InputError as error:
        return _page(request, view, office, status=422, said=error.faults[0].message)
    return go("/")


def _require(caller: Caller) -> None:
    if not may_erase(caller):
        raise HTTPException(404)


def _page(request: Request, view: JobView, office: OfficeHere, *, status: int = 200, said: str = "") -> Response:
    photos = len(office.journal.photo_hashes(view.id))
    return page(request, "erase.html", status=status, job=view, photos=photos, said=said)
