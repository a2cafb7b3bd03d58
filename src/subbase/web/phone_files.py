"""A file that a phone saved, taken in at the list of jobs: its job is begun from it where the journal has none such."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Annotated

from fastapi import APIRouter, File, Response, UploadFile

from subbase.errors import Fault, InputError
from subbase.journal import Entry, Kept
from subbase.journal.bodies import Named
from subbase.journal.job_rows import is_job_id
from subbase.journal.trouble import NoSuchJob
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, go
from subbase.web.field_file import MOST_BYTES, read_entries_file
from subbase.words import _, plural

router = APIRouter()


@router.post("/jobs/entries-file")
def bring_in_job(
    office: OfficeHere, caller: CallerHere, audit: AuditHere, entries: Annotated[UploadFile, File()]
) -> Response:
    """Take in the entries of a phone and go to their job; what is here already changes nothing."""
    data = entries.file.read(MOST_BYTES + 1)
    job = _job_in(data)
    good, bad = read_entries_file(data, job)
    person = caller.person
    if not _is_there(office, job):
        given = person.id if person is not None and person.role != "office" else ""
        actor = person.name if person is not None else ""
        office.journal.create_job(_name_in(good), job=job, actor=actor, device="pocket", given_to=given)
        if person is not None:
            audit.did(caller, "began job", job=job)
    if not caller.sees(office.journal, job):
        raise NoSuchJob(job)
    kept = office.journal.append(job, good)
    refused = [*bad, *(result for result in kept if not isinstance(result, Kept))]
    if refused:
        line = plural(
            "{count} entry was not taken; the others were.",
            "{count} entries were not taken; the others were.",
            len(refused),
        )
        raise InputError((Fault(line.format(count=len(refused))), *(Fault(item.reason) for item in refused[:20])))
    return go(f"/jobs/{job}")


def _is_there(office: OfficeHere, job: str) -> bool:
    try:
        office.journal.job(job)
    except NoSuchJob:
        return False
    return True


def _job_in(data: bytes) -> str:
    """Return the id of the job that a file is of; everything else about the file is read afterwards.

    Raises
    ------
    InputError
    """
    try:
        found = json.loads(data[:MOST_BYTES])
    except (ValueError, RecursionError):
        found = None
    job = found.get("job") if isinstance(found, dict) else None
    if not isinstance(job, str) or not is_job_id(job):
        raise InputError((Fault(_("This is no file of entries. Choose the file that the phone saved.")),))
    return job


def _name_in(entries: Iterable[Entry]) -> str:
    names = [entry.body.name for entry in entries if isinstance(entry.body, Named)]
    return names[-1] if names else _("A house")


__all__ = ["router"]
