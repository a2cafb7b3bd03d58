"""What Work, Check and the search for a fault are made from: the sheet of checks, the work plan, the judgement, the odds."""

from __future__ import annotations

import hashlib
import threading
from contextlib import suppress

from subbase.diagnose.advice import Advice, Options, next_test
from subbase.diagnose.costs import Situation
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence
from subbase.diagnose.session import start
from subbase.diagnose.weigh import Belief, weigh
from subbase.web.jobs import JobView, Office
from subbase.web.record import Mine
from subbase.web.sheet import Day, Sheet, make_sheet
from subbase.web.slow import PATIENCE_S, NotYet, Told
from subbase.web.standing import steps_of
from subbase.wiring import State
from subbase.words import _, current_language
from subbase.work.steps import WorkPlan
from subbase.work.taken import Taken
from subbase.work.verdicts import Report, judge


def sheet_of(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Sheet | None:
    """Return the sheet of a job's checks; None when it has no plan to work by.

    Raises
    ------
    NotYet
    """
    if view.survey is None:
        return None

    def make(told: Told) -> Sheet | None:
        plan = office.plan(view)
        if plan is None or plan.left is None:
            return None
        told(_("Building and solving every wrong landing, and choosing the checks that tell them."))
        return make_sheet(plan)

    return office.slow.get("sheet", _key(view), make, what=_("The checks of this house"), patience_s=patience_s)


def mine_of(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Mine | None:
    """Return the sheet of a job's checks with which of its events count; None when it has no plan to work by.

    Raises
    ------
    NotYet
    """
    sheet = sheet_of(office, view, patience_s=patience_s)
    return None if sheet is None else Mine(sheet, view.state)


def work_of(
    office: Office, view: JobView, sheet: Sheet, day: Day, *, patience_s: float | None = PATIENCE_S
) -> WorkPlan:
    """Return the work steps of a job.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> WorkPlan:
        told(_("Finding an order of the moves that is safe at every moment."))
        return steps_of(sheet, day)

    key = f"{_key(view)} {day.season} {day.outdoor_c} {sorted(day.licences)}"
    return office.slow.get("work", key, make, what=_("The work steps"), patience_s=patience_s)


def report_of(
    office: Office, view: JobView, sheet: Sheet, taken: Taken, *, patience_s: float | None = PATIENCE_S
) -> Report:
    """Return what was taken, judged.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> Report:
        told(_("Holding every reading against the house as planned, and against every wrong landing."))
        return judge(sheet.plan, taken, sheet.checks, sheet.sequences)

    key = f"{_key(view)} {_hash(taken)}"
    return office.slow.get("report", key, make, what=_("The judgement of the readings"), patience_s=patience_s)


def predictions_of(
    office: Office, view: JobView, sheet: Sheet, *, patience_s: float | None = PATIENCE_S
) -> Predictions:
    """Return all that can be wrong with a house and what each test would show.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> Predictions:
        return start(sheet.left, sheet.plan.catalog, progress=told)

    return office.slow.get(
        "diagnosis", _key(view), make, what=_("What can be wrong in this house"), patience_s=patience_s
    )


# A house's predictions remember what was asked of them, and that is not made for two threads at once.
_ONE_AT_A_TIME = threading.Lock()


def advice_of(
    office: Office,
    view: JobView,
    predictions: Predictions,
    asked: tuple[Evidence, Situation],
    *,
    patience_s: float | None = PATIENCE_S,
) -> tuple[Belief, Advice]:
    """Return what is believed after some evidence, and what to do next.

    Raises
    ------
    NotYet
    """
    evidence, situation = asked

    def make(told: Told) -> tuple[Belief, Advice]:
        told(_("Weighing every cause, and what every further test would tell."))
        with _ONE_AT_A_TIME:
            belief = weigh(predictions, evidence)
            return belief, next_test(belief, Options(situation))

    key = f"{_key(view)} {_hash((evidence, situation))}"
    belief, advice = office.slow.get("advice", key, make, what=_("The likeliest causes"), patience_s=patience_s)
    if advice.offer is not None:
        _settle_ahead(office, view, predictions, advice.offer.probe.state)
    return belief, advice


def _settle_ahead(office: Office, view: JobView, predictions: Predictions, state: State) -> None:
    """Work out the call of the next test while the person walks to it, so that the answer finds it ready."""

    def make(_told: Told) -> None:
        with _ONE_AT_A_TIME:
            predictions.block(state)

    with suppress(NotYet):
        key = f"{_key(view)} {state.name(name_controls=True)}"
        office.slow.get("ahead", key, make, what=_("The likeliest causes"), patience_s=0.0)


def _key(view: JobView) -> str:
    return f"{current_language()} {view.state.survey.sha256}"


def _hash(data: object) -> str:
    return hashlib.sha256(repr(data).encode()).hexdigest()


__all__ = [
    "advice_of", "mine_of", "predictions_of", "report_of", "sheet_of", "work_of",
]  # fmt: skip
