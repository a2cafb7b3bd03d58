"""How a job's work stands, and what a form tells of a step or of the day: read here, whoever sent it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from subbase.errors import Fault, InputError
from subbase.web.display import read_number
from subbase.web.record import Mine
from subbase.web.record_work import COLDEST_C, HOTTEST_C, results_of
from subbase.web.sheet import Day, Sheet
from subbase.words import _
from subbase.work.progress import Progress, Result, back_to_dead, progress
from subbase.work.step_plan import work_plan
from subbase.work.steps import LICENCES, Licence, Season, Step, WorkPlan, inner_value, shown_value


@dataclass(frozen=True, slots=True)
class Standing:
    """A job's work: its steps, how far they have come, and how its events are read."""

    mine: Mine
    steps: WorkPlan
    now: Progress
    day: Day


def steps_of(sheet: Sheet, day: Day) -> WorkPlan:
    """Return the work steps of a planned house on a day; slow to make."""
    return work_plan(sheet.plan, season=day.season, outdoor_c=day.outdoor_c, licences=day.licences, checks=sheet.checks)


def standing_at(mine: Mine, steps: WorkPlan, day: Day) -> Standing:
    """Return how work stands after the results that count."""
    return Standing(mine, steps, progress(steps, results_of(mine)), day)


def says_nothing_new(found: Standing, step: Step, result: Result) -> bool:
    """Return whether a step that is met is told as met again, from a page that another phone has overtaken.

    Kept, it would be a step done anew, and all behind it would have to be done again.
    """
    if result.step != step.id or found.now.of(step.id).status not in ("done", "skipped"):
        return False
    if result.did == "read" and step.expected is not None:
        return step.expected.holds(result.value if result.value is not None else math.nan)
    return result.did in ("done", "skipped")


def step_named(steps: WorkPlan, step_id: str) -> Step:
    """Return a step by its id.

    Raises
    ------
    InputError
        When the plan has none such any more.
    """
    try:
        return steps.step(step_id)
    except KeyError:
        raise InputError((Fault(_("This step is not in the plan any more; go on with the one shown.")),)) from None


def results_told(found: Standing, step: Step, act: str, fields: Mapping[str, str]) -> tuple[Result, ...]:
    """Return what a form says came of a step."""
    reason, who = fields.get("reason", "").strip(), fields.get("who", "").strip()
    match act:
        case "done":
            return (Result(step.id, "done", reason=who),)
        case "not so":
            return (Result(step.id, "not so", reason=reason),)
        case "skip":
            return (Result(step.id, "skipped", reason=reason),)
        case "undo":
            return (Result(step.id, "undone"),)
        case "lock out":
            back = back_to_dead(found.steps, found.now)
            if not back:
                raise InputError((Fault(_("Nothing is to be taken back: supply is not on by this record.")),))
            return back
        case "read" | "ol" if step.expected is not None:
            text = "OL" if act == "ol" else fields.get("value", "")
            if not text.strip():
                raise InputError((Fault(_("Enter what the meter shows.")),))
            value = read_number(text, open_allowed=step.expected.unit == "ohm")
            return (Result(step.id, "read", inner_value(value, step.expected.unit, found.steps.units), who),)
    raise InputError((Fault(_("The form does not say what came of the step.")),))


def _season(fields: Mapping[str, str]) -> Season | None:
    return next((word for word in get_args(Season) if word == fields.get("season")), None)


def _licences(fields: Mapping[str, str]) -> frozenset[Licence]:
    return frozenset(word for word in LICENCES if fields.get(f"licence {word}"))


def _outdoor_c(fields: Mapping[str, str], units: Literal["us", "si"]) -> float | None:
    text = fields.get("outdoor", "").strip()
    if not text:
        return None
    value = inner_value(read_number(text, open_allowed=False), "degC", units)
    if not COLDEST_C <= value <= HOTTEST_C:
        least, most = (shown_value(end, "degC", units) for end in (COLDEST_C, HOTTEST_C))
        message = _("An outdoor temperature lies between {least:.0f} and {most:.0f} degrees.")
        raise InputError((Fault(message.format(least=least, most=most), where="outdoor"),))
    return value


def day_told(fields: Mapping[str, str], units: Literal["us", "si"]) -> Day:
    """Return the weather of the day and the licences that a form tells.

    Raises
    ------
    InputError
        When the outdoor temperature is no number, or none that weather has.
    """
    return Day(_season(fields), _outdoor_c(fields, units), _licences(fields), asked=True)


__all__ = ["Standing", "day_told", "results_told", "says_nothing_new", "standing_at", "step_named", "steps_of"]
