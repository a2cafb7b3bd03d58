"""From a plan to its work steps: the chapters in order, each behind the gate of the one before."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from subbase.plan import Plan
from subbase.words import current_language, language
from subbase.work.checks import CheckPlan, checks_for
from subbase.work.step_calls import call_steps, hand_over_steps, set_up_steps
from subbase.work.step_checks import close_steps, dead_check_steps, look_twice_steps, power_steps
from subbase.work.step_dead import label_steps, lock_steps, look_steps, off_steps, prove_steps, tell_steps
from subbase.work.step_job import Job, last_of
from subbase.work.step_moves import move_steps
from subbase.work.step_order import move_order
from subbase.work.steps import Licence, Season, Step, WorkPlan

Chapter = Callable[[Job, tuple[str, ...]], Iterator[Step]]
CHAPTERS: tuple[Chapter, ...] = (
    tell_steps,
    off_steps,
    lock_steps,
    prove_steps,
    label_steps,
    move_steps,
    look_twice_steps,
    dead_check_steps,
    close_steps,
    power_steps,
    set_up_steps,
    call_steps,
    hand_over_steps,
)


def work_plan(
    plan: Plan,
    *,
    season: Season | None = None,
    outdoor_c: float | None = None,
    licences: frozenset[Licence] = frozenset(),
    checks: CheckPlan | None = None,
) -> WorkPlan:
    """Return the work steps of a plan, for the weather of the day and for who does them.

    Parameters
    ----------
    season
        What the weather asks for; without it and without ``outdoor_c`` a step asks for the outdoor temperature where it matters.
    outdoor_c
        Outdoor temperature [°C].
    licences
        What the person is licensed for; steps beyond that are marked, not left out.
    checks
        The checks of this plan where they are known already; chosen anew when left out.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    order = move_order(plan)
    if plan.found is None or plan.left is None:
        raise ValueError("The plan leaves no house, so there is no work; answer what it asks.")
    chosen = checks_for(plan) if checks is None else checks
    job = Job(plan, plan.found, plan.left, order, chosen, season, outdoor_c, licences)
    steps = _steps(job)
    english: tuple[str, ...] = ()
    if current_language() != "en":
        with language("en"):
            english = tuple(step.title for step in _steps(job))
    return WorkPlan(
        plan.survey.name, plan.survey.units, tuple(job.step(step) for step in steps), order, chosen,
        season, outdoor_c, licences, english,
    )  # fmt: skip


def _steps(job: Job) -> list[Step]:
    steps = list(look_steps(job))
    # The outdoor temperature holds up only the calls that depend on it.
    gate = tuple(step.id for step in steps if step.id != "look/outdoor temperature")
    for chapter in CHAPTERS:
        written = tuple(chapter(job, gate))
        steps.extend(written)
        gate = last_of(written) or gate
    locks = tuple(step.id for step in steps if step.phase in ("lock out", "prove dead"))
    return [replace(s, renews=locks) if s.phase == "power up" and s.kind == "do" else s for s in steps]


__all__ = ["work_plan"]
