"""The list of jobs, and beginning a new one."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Query, Request, Response

from subbase.journal import new_key
from subbase.web.asking import AuditHere, CallerHere, JobHere, OfficeHere, go
from subbase.web.looks import page

router = APIRouter()
PER_PAGE = 25


@router.get("/")
def jobs(
    request: Request,
    office: OfficeHere,
    caller: CallerHere,
    number: Annotated[int, Query(alias="page", ge=1, le=100_000)] = 1,
    search: Annotated[str, Query(max_length=100)] = "",
) -> Response:
    """Show the jobs that are the caller's to see, the last changed first."""
    given = caller.person.id if caller.person is not None and caller.person.role != "office" else ""
    found = office.journal.jobs(page=number, per_page=PER_PAGE, search=search, account=given)
    last = max(1, -(-found.total // PER_PAGE))
    return page(request, "jobs.html", found=found, search=search, last=last)


@router.post("/jobs")
def begin(
    office: OfficeHere,
    caller: CallerHere,
    audit: AuditHere,
    name: Annotated[str, Form(min_length=1, max_length=120)],
    key: Annotated[str, Form(max_length=40)] = "",
) -> Response:
    """Begin a job, which is then its beginner's to see, and go to its survey."""
    person = caller.person
    actor = person.name if person is not None else ""
    given = person.id if person is not None and person.role != "office" else ""
    job = office.journal.create_job(name, job=key or new_key(), actor=actor, given_to=given)
    if person is not None and caller.sees(office.journal, job):
        audit.did(caller, "began job", job=job)
    return go(f"/jobs/{job}/survey")


@router.get("/jobs/{job}")
def job_start(view: JobHere) -> Response:
    """Go to the stage that comes next: the survey until it can be read, then the plan."""
    stage = "survey" if view.survey is None else "plan"
    return go(f"/jobs/{view.id}/{stage}")
