"""What was taken, held against the house as planned: every reading and all that was seen judged, then what is left to do.

``proved`` is said only when nothing failed, nothing is in doubt, and every slip that any check can tell is excluded by a
reading.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.plan import Plan
from subbase.survey import Survey
from subbase.work.call_sequences import CallSequence, call_sequences
from subbase.work.checks import CheckPlan, ChosenCheck, checks_for
from subbase.work.explanations import Reading, SlipCause, agrees, within
from subbase.work.outcomes import SEVERITIES, Outcome
from subbase.work.reading_verdicts import ReadingVerdict, check_of, reading_verdicts
from subbase.work.seen import SeenVerdict, air_excludes, air_verdicts, step_verdicts, water_verdicts
from subbase.work.taken import ReadingTaken, Taken


@dataclass(frozen=True, slots=True)
class Report:
    """Everything taken, judged, and where the house stands."""

    plan: CheckPlan
    readings: tuple[ReadingVerdict, ...]
    seen: tuple[SeenVerdict, ...]
    replaced: tuple[tuple[ReadingTaken, ReadingTaken], ...]
    """(earlier reading, the later one that counts)."""
    not_taken: tuple[ReadingTaken, ...]
    done: tuple[ChosenCheck, ...]
    """Checks of the plan that passed."""
    remaining: tuple[ChosenCheck, ...]
    """Checks of the plan that still tell a possible slip."""
    possible: tuple[Outcome, ...]
    """Slips that do something and that no reading excludes, though some check can; worst first."""

    @property
    def everything(self) -> tuple[ReadingVerdict | SeenVerdict, ...]:
        """Return every verdict."""
        return (*self.readings, *self.seen)

    @property
    def excluded(self) -> int:
        """Return how many slips that do something the readings exclude."""
        return self.plan.told - len(self.possible)

    def marked(self, mark: str) -> tuple[ReadingVerdict | SeenVerdict, ...]:
        """Return everything with one mark."""
        return tuple(item for item in self.everything if item.judged.mark == mark)

    @property
    def stop(self) -> bool:
        """Whether power goes off, and stays off, now."""
        return any(item.judged.stop for item in self.everything)

    @property
    def proved(self) -> bool:
        """Whether the readings show that the house is as planned, as far as any check can."""
        clean = not self.marked("fail") and not self.marked("meter or lead suspect")
        return clean and bool(self.readings) and not self.possible


def judge(
    plan: Plan, taken: Taken, checks: CheckPlan | None = None, sequences: Sequence[CallSequence] | None = None
) -> Report:
    """Return everything that was taken, judged against the house that a plan leaves.

    Parameters
    ----------
    checks, sequences
        Of the same plan, when they are there already; made here when left out.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    checks = checks_for(plan) if checks is None else checks
    if plan.left is None:
        raise ValueError("The plan leaves no house, so there is nothing to judge; answer what it asks.")
    sequences = call_sequences(plan.left, plan.catalog) if sequences is None else sequences
    readings = reading_verdicts(plan.left, plan.catalog, checks, taken)
    possible = _possible(plan.left, plan.catalog, checks, readings)
    seen = (
        *air_verdicts(plan.left, plan.catalog, taken.air, possible),
        *water_verdicts(plan.left, taken.water),
        *step_verdicts(taken.sequences, sequences),
    )
    possible = tuple(o for o in possible if not air_excludes(plan.left, plan.catalog, taken.air, o.slip))
    passed = {v.taken.key for v in readings if v.judged.mark == "pass"}
    left_slips = {outcome.slip.words for outcome in possible}
    done = tuple(chosen for chosen in checks.checks if chosen.check.key in passed)
    remaining = tuple(
        chosen
        for chosen in checks.checks
        if chosen.check.key not in passed and left_slips & {slip.words for slip in chosen.tells}
    )
    return Report(checks, readings, seen, taken.replaced(), taken.not_taken(), done, remaining, possible)


def _possible(
    left: Survey, catalog: Catalog, checks: CheckPlan, readings: Sequence[ReadingVerdict]
) -> tuple[Outcome, ...]:
    """Return the slips that some check can tell and that no reading excludes, worst first."""
    untold = {outcome.slip.words for outcome in checks.untold}
    usable = [v for v in readings if v.judged.mark in ("pass", "fail")]
    value_of = {v.taken.key: v.taken.value for v in usable if v.judged.mark == "pass" and v.taken.value is not None}
    told: set[str] = set()
    if all(v.judged.mark != "fail" for v in readings):
        for chosen in checks.checks:
            value = value_of.get(chosen.check.key)
            if value is not None and within(value, (chosen.check.low, chosen.check.high)):
                told.update(slip.words for slip in chosen.tells)
    asked = [Reading(check_of(left, v.taken), v.taken.value) for v in usable if v.taken.value is not None]
    found = [
        outcome
        for outcome in checks.outcomes
        if outcome.severity != "nothing"
        and outcome.slip.words not in untold | told
        and (not asked or agrees(SlipCause(outcome, catalog), asked))
    ]
    return tuple(sorted(found, key=lambda outcome: SEVERITIES.index(outcome.severity)))


__all__ = ["Report", "judge"]
