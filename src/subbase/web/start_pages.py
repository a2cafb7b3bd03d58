"""The list of jobs, and beginning a new one."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from subbase.journal import new_key
from subbase.web.asking import JobHere, OfficeHere, go
from subbase.web.looks import page

router = APIRouter()
PER_PAGE = 25


@router.get("/")
def jobs(
    request: Request,
    office: OfficeHere,
    number: Annotated[int, Query(alias="page", ge=1, le=100_000)] = 1,
    search: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """Show the jobs, the last changed first."""
    found = office.journal.jobs(page=number, per_page=PER_PAGE, search=search)
    last = max(1, -(-found.total // PER_PAGE))
    return page(request, "jobs.html", found=found, search=search, last=last)


@router.post("/jobs")
def begin(
    office: OfficeHere,
    name: Annotated[str, Form(min_length=1, max_length=120)],
    key: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Begin a job and go to its survey."""
    job = office.journal.create_job(name, job=key or new_key())
    return go(f"/jobs/{job}/survey")


@router.get("/jobs/{job}")
def job_start(view: JobHere) -> Response:
    """Go to the stage that comes next: the survey until it can be read, then the plan."""
    stage = "survey" if view.survey is None else "plan"
    return go(f"/jobs/{view.id}/{stage}")
