"""A job on the phone: its entries folded, its survey read, its plan, sheet, steps and judgement made and remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, TypeVar

from subbase.catalog import Catalog
from subbase.journal import Event, JobState, fold
from subbase.plan import Plan, make_plan
from subbase.web.record import Mine
from subbase.web.record_check import taken_of
from subbase.web.record_work import day_of
from subbase.web.sheet import Sheet, make_sheet
from subbase.web.standing import Standing, standing_at, steps_of
from subbase.web.survey_document import read_document
from subbase.web.survey_text import Read, read_text
from subbase.words import current_language
from subbase.work.verdicts import Report, judge

T = TypeVar("T")
MOST_KEPT = 12
"""Things remembered; a phone has little room."""


@dataclass(frozen=True, slots=True)
class Job:
    """A job, as its entries leave it."""

    id: str
    state: JobState


def job_from(job: str, entries: Sequence[Mapping[str, Any]]) -> Job:
    """Return the job that entries make, in the order in which the phone kept them.

    The phone is their journal until they are handed over: it numbers them as a journal would, from 1.

    Raises
    ------
    pydantic.ValidationError
        When an entry is none; the phone keeps only what was checked.
    """
    now = datetime.now(tz=UTC)
    events = (
        Event.model_validate({**entry, "job": job, "sequence": number, "received_at": now})
        for number, entry in enumerate(entries, start=1)
    )
    return Job(job, fold(events))


class Bench:
    """The catalogue, and what was made of the jobs asked for last."""

    def __init__(self, catalog: Catalog) -> None:
        self.catalog = catalog
        self._kept: dict[tuple[Any, ...], Any] = {}

    def read(self, job: Job) -> Read:
        """Return a job's survey, or what is wrong with it."""
        return self._once("read", (job.state.survey.sha256,), lambda: read_text(job.state.survey.text, self.catalog))

    def name_in(self, text: str) -> str:
        """Return the name that a survey text gives its house; empty when it gives none."""
        document = read_document(text)
        name = document.get("name") if document is not None else None
        return name if isinstance(name, str) and text.strip() else ""

    def plan(self, job: Job) -> Plan | None:
        """Return the plan; None when the survey cannot be read."""
        survey = self.read(job).survey
        if survey is None:
            return None
        return self._once("plan", (job.state.survey.sha256,), lambda: make_plan(survey, self.catalog))

    def sheet(self, job: Job) -> Sheet | None:
        """Return the sheet of checks; None when there is no plan to check by."""
        plan = self.plan(job)
        if plan is None:
            return None
        return self._once("sheet", (job.state.survey.sha256,), lambda: make_sheet(plan))

    def standing(self, job: Job) -> Standing | None:
        """Return how the work stands; None when there is no plan to work by."""
        sheet = self.sheet(job)
        if sheet is None:
            return None
        day, mine = day_of(job.state), Mine(sheet, job.state)
        steps = self._once("work", (job.state.survey.sha256, day), lambda: steps_of(sheet, day))
        return standing_at(mine, steps, day)

    def report(self, standing: Standing) -> Report:
        """Return the readings, judged against the house as planned and every wrong landing."""
        sheet, taken = standing.mine.sheet, taken_of(standing.mine)
        return self._once(
            "report", (sheet.mark, repr(taken)), lambda: judge(sheet.plan, taken, sheet.checks, sheet.sequences)
        )

    def _once(self, what: str, key: tuple[Any, ...], make: Callable[[], T]) -> T:
        whole = (what, current_language(), *key)
        if whole in self._kept:
            found: T = self._kept.pop(whole)
        else:
            found = make()
        self._kept[whole] = found
        while len(self._kept) > MOST_KEPT:
            del self._kept[next(iter(self._kept))]
        return found


__all__ = ["Bench", "Job", "job_from"]
