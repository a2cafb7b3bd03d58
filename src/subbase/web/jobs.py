"""A job as the pages show it: its state, its survey read, its plan made. What is made from a text is remembered by its hash and the language that it speaks."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from subbase.catalog import Catalog
from subbase.journal import JobState
from subbase.journal.store import Journal
from subbase.plan import Plan, make_plan
from subbase.survey import Survey
from subbase.web.slow import Slow, Told
from subbase.web.survey_text import Read, read_text
from subbase.words import _, current_language

T = TypeVar("T")
REMEMBERED = 128


@dataclass(frozen=True, slots=True)
class JobView:
    """One job, as far as it has come."""

    id: str
    state: JobState
    read: Read

    @property
    def survey(self) -> Survey | None:
        """Return the survey; None when there is none, or it cannot be read."""
        return self.read.survey


class Remembered(Generic[T]):
    """Results by key, the oldest let go first; two threads that ask for one at once may both make it."""

    def __init__(self, most: int = REMEMBERED) -> None:
        self._most = most
        self._kept: OrderedDict[str, T] = OrderedDict()
        self._guard = threading.Lock()

    def get(self, key: str, make: Callable[[], T]) -> T:
        """Return what is remembered, or make it."""
        with self._guard:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]
        made = make()
        with self._guard:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made


class Office:
    """The journal with the catalogue: everything that pages need to show a job. May be called from any thread."""

    def __init__(self, journal: Journal, catalog: Catalog) -> None:
        self.journal = journal
        self.catalog = catalog
        self._read: Remembered[Read] = Remembered()
        self.shown: Remembered[Any] = Remembered(3 * REMEMBERED)
        """What pages make of a survey's text alone: drawings, the form's fields, what is said of it (``shown_once``)."""
        self._planning = Slow()
        """Apart from what else is slow, because that waits for a plan."""
        self.slow = Slow()
        """What takes seconds: checks, work steps, diagnoses (``workbench``)."""

    def job(self, job: str) -> JobView:
        """Return a job.

        Raises
        ------
        NoSuchJob
        """
        state = self.journal.state(job)
        return JobView(job, state, self.read(state.survey.text, state.survey.sha256))

    def shown_once(self, kind: str, view: JobView, make: Callable[[], T]) -> T:
        """Return what pages show of a job's survey, made once for each text and language; it may depend on nothing else."""
        made: T = self.shown.get(f"{kind} {current_language()} {view.state.survey.sha256}", make)
        return made

    def read(self, text: str, sha256: str) -> Read:
        """Return a survey text as it can be read."""
        return self._read.get(f"{current_language()} {sha256}", lambda: read_text(text, self.catalog))

    def plan(self, view: JobView, *, patience_s: float | None = None) -> Plan | None:
        """Return the plan of a job; None when its survey cannot be read.

        Parameters
        ----------
        patience_s
            How long to wait for a survey with many unknowns; None as long as it takes.

        Raises
        ------
        NotYet
            When it is not there in that time.
        """
        survey = view.survey
        if survey is None:
            return None
        key = f"{current_language()} {view.state.survey.sha256}"

        def make(told: Told) -> Plan:
            told(_("Planning and proving the house for every answer that its unknowns may have."))
            return make_plan(survey, self.catalog)

        return self._planning.get("plan", key, make, what=_("The plan of this house"), patience_s=patience_s)
