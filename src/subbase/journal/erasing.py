"""Erasing a job for good, when its owner asks for it: only after its name was typed, so that no other is meant."""

from __future__ import annotations

from subbase.errors import Fault, InputError
from subbase.journal.accounts import record
from subbase.journal.store import Journal
from subbase.words import _


def erase_job(journal: Journal, job: str, typed: str, *, who: str, address: str = "") -> None:
    """Erase a job and write down who did; the record keeps the job's number alone.

    Raises
    ------
    NoSuchJob
    InputError
        When what was typed is not the job's name; nothing is erased then.
    """
    if _plain(typed) != _plain(journal.job(job).name):
        raise InputError((Fault(_("That is not the name of this job. Nothing was erased.")),))
    journal.forget_job(job)
    record(journal, who, "erased job", job=job, address=address)


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
