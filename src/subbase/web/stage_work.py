"""The Work stage: one step at a time, the caution first; every step with its state; what was done is an event."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args
from urllib.parse import quote

from fastapi import APIRouter, Query, Request, Response

from subbase.errors import Fault, InputError
from subbase.web.asking import JobHere, OfficeHere, entry_from, go, keep
from subbase.web.forms import FormFields, form_key, read_number
from subbase.web.jobs import JobView, Office
from subbase.web.looks import page
from subbase.web.record import (
    COLDEST_C,
    HOTTEST_C,
    Mine,
    changed_meanwhile,
    day_body,
    day_of,
    further_key,
    left_behind,
    result_body,
    results_of,
)
from subbase.web.slow import PATIENCE_S
from subbase.web.work_words import LICENCE_WORDS, PHASE_WORDS, SEASON_WORDS, STATUS_SIGNS, STATUS_WORDS
from subbase.web.workbench import Day, sheet_of, work_of
from subbase.words import _
from subbase.work.progress import Progress, Result, back_to_dead, progress, with_result
from subbase.work.steps import LICENCES, Season, Step, WorkPlan, inner_value, shown_value

router = APIRouter()
NEXT_SHOWN = 4
Act = Literal["done", "read", "ol", "not so", "skip", "undo", "lock out"]


@dataclass(frozen=True, slots=True)
class Standing:
    """A job's work: its steps, how far they have come, and how its events are read."""

    mine: Mine
    steps: WorkPlan
    now: Progress
    day: Day


@dataclass(frozen=True, slots=True)
class Refusal:
    """A form that was not taken: why, and what it gave."""

    said: tuple[str, ...]
    given: dict[str, str]


def standing_of(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Standing | None:
    """Return how a job's work stands; None when there is no plan to work by.

    Raises
    ------
    NotYet
    """
    sheet = sheet_of(office, view, patience_s=patience_s)
    if sheet is None:
        return None
    day, mine = day_of(view.state), Mine(sheet, view.state)
    steps = work_of(office, view, sheet, day, patience_s=patience_s)
    return Standing(mine, steps, progress(steps, results_of(mine)), day)


@router.get("/jobs/{job}/work")
def work_page(
    request: Request, view: JobHere, office: OfficeHere, step: Annotated[str, Query(max_length=200)] = ""
) -> Response:
    """Show one step: the one asked for, else the next that may be done."""
    found = standing_of(office, view)
    if found is None:
        return page(request, "work_none.html", job=view, plan=office.plan(view), stage=_("Work"))
    return _one_step(request, view, found, step)


@router.get("/jobs/{job}/work/steps")
def steps_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show every step with its state."""
    found = standing_of(office, view)
    if found is None:
        return go(f"/jobs/{view.id}/work")
    return page(request, "work_steps.html", job=view, **_shared(found))


@router.post("/jobs/{job}/work/day")
def tell_day(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep the weather of the day and the licences."""
    units = view.survey.units if view.survey is not None else "us"
    day = Day(_season(fields), _outdoor_c(fields, units), _licences(fields), asked=True)
    keep(office, view.id, entry_from(request, form_key(fields), day_body(day), seen=view.state.sequence))
    return go(f"/jobs/{view.id}/work")


@router.post("/jobs/{job}/work/result")
def tell_result(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep what came of a step; what its gates do not allow is refused with the reason."""
    found = standing_of(office, view, patience_s=None)
    key = form_key(fields)
    if found is None or any(line.event.key in (key, further_key(key, "0")) for line in view.state.history):
        return go(f"/jobs/{view.id}/work")
    step_id, act = fields.get("step", ""), fields.get("act", "")
    try:
        if not found.mine.is_seen_in(fields):
            raise changed_meanwhile()
        step = _step_of(found.steps, step_id)
        results = _results(found, step, act, fields)
        if _says_nothing_new(found, step, results[0]):
            return go(f"/jobs/{view.id}/work")
        now = found.now
        for result in results:
            now = with_result(found.steps, now, result)
    except InputError as error:
        said = tuple(fault.message for fault in error.faults)
        return _one_step(request, view, found, step_id, Refusal(said, fields))
    several = len(results) > 1
    entries = [
        entry_from(
            request,
            further_key(key, str(at)) if several else key,
            result_body(found.mine, found.steps.step(result.step), result),
            seen=view.state.sequence,
        )
        for at, result in enumerate(results)
    ]
    keep(office, view.id, *entries)
    stays = f"?step={quoted(step.id)}" if act == "undo" else ""
    return go(f"/jobs/{view.id}/work{stays}")


def _says_nothing_new(found: Standing, step: Step, result: Result) -> bool:
    """Return whether a step that is met is told as met again, from a page that another phone has overtaken.

    Kept, it would be a step done anew, and all behind it would have to be done again.
    """
    if result.step != step.id or found.now.of(step.id).status not in ("done", "skipped"):
        return False
    if result.did == "read" and step.expected is not None:
        return step.expected.holds(result.value if result.value is not None else math.nan)
    return result.did in ("done", "skipped")


def _step_of(steps: WorkPlan, step_id: str) -> Step:
    try:
        return steps.step(step_id)
    except KeyError:
        raise InputError((Fault(_("This step is not in the plan any more; go on with the one shown.")),)) from None


def _results(found: Standing, step: Step, act: str, fields: dict[str, str]) -> tuple[Result, ...]:
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


def _season(fields: dict[str, str]) -> Season | None:
    return next((word for word in get_args(Season) if word == fields.get("season")), None)


def _licences(fields: dict[str, str]) -> Any:
    return frozenset(word for word in LICENCES if fields.get(f"licence {word}"))


def _outdoor_c(fields: dict[str, str], units: Literal["us", "si"]) -> float | None:
    text = fields.get("outdoor", "").strip()
    if not text:
        return None
    value = inner_value(read_number(text, open_allowed=False), "degC", units)
    if not COLDEST_C <= value <= HOTTEST_C:
        least, most = (shown_value(end, "degC", units) for end in (COLDEST_C, HOTTEST_C))
        message = _("An outdoor temperature lies between {least:.0f} and {most:.0f} degrees.")
        raise InputError((Fault(message.format(least=least, most=most), where="outdoor"),))
    return value


# What pages show.


def _one_step(
    request: Request, view: JobView, found: Standing, wanted: str, refusal: Refusal | None = None
) -> Response:
    step = _shown_step(found, wanted)
    context = _shared(found)
    if step is not None:
        at = found.steps.steps.index(step)
        waiting = [s for s in found.steps.steps[at + 1 :] if found.now.of(s.id).status in ("open", "blocked")]
        context |= {
            "number": at + 1,
            "state": found.now.of(step.id),
            "coming": [(s, found.now.of(s.id)) for s in waiting[:NEXT_SHOWN]],
            "waits_for": [s for s in found.steps.steps if s.id in found.now.of(step.id).waits_for][:NEXT_SHOWN],
            "must_read": step.expected.words(found.steps.units) if step.expected is not None else "",
            "unit": _unit(step, found.steps.units),
            "can_lock": step.live and bool(back_to_dead(found.steps, found.now)),
        }
    # The weather and the licences are asked once, alone on the page, before the first step.
    begun = found.day.asked or wanted or found.now.results or step is None
    context |= {
        "asked_first": not begun,
        "said": refusal.said if refusal else (),
        "given": refusal.given if refusal else {},
        "last": _last(found),
    }
    return page(request, "work.html", status=422 if refusal else 200, job=view, step=step, **context)


def _shown_step(found: Standing, wanted: str) -> Step | None:
    """Return the step asked for; else what is wrong, what is open, what may be left out though it is blocked."""
    ids = {step.id for step in found.steps.steps}
    if wanted in ids:
        return found.steps.step(wanted)
    if found.now.open:
        return found.steps.step(found.now.open[0])
    waiting = (s for s in found.steps.steps if s.may_skip and found.now.of(s.id).status == "blocked")
    return next(waiting, None)


def _last(found: Standing) -> Step | None:
    """Return the step whose result came last and still holds: the one to take back."""
    states = dict(found.now.states)
    for result in reversed(found.now.results):
        if result.step in states and states[result.step].status in ("done", "skipped", "failed"):
            return found.steps.step(result.step)
    return None


def _shared(found: Standing) -> dict[str, Any]:
    units = found.steps.units
    outdoor = found.day.outdoor_c
    return {
        "steps": found.steps,
        "now": found.now,
        "day": found.day,
        "outdoor": "" if outdoor is None else f"{shown_value(outdoor, 'degC', units):.0f}",
        "degrees": "°F" if units == "us" else "°C",
        "phase_words": PHASE_WORDS,
        "status_words": STATUS_WORDS,
        "status_signs": STATUS_SIGNS,
        "season_words": SEASON_WORDS,
        "licence_words": LICENCE_WORDS,
        "met": found.now.count("done") + found.now.count("skipped"),
        "mark": found.mine.sheet.mark,
        "left_behind": left_behind(found.mine),
        "shown": lambda step, value: _shown(step, value, units),
    }


def _unit(step: Step, units: Literal["us", "si"]) -> str:
    if step.expected is None:
        return ""
    return {"V": "V", "ohm": "ohm", "degC": "°F" if units == "us" else "°C"}[step.expected.unit]


def _shown(step: Step, value: float | None, units: Literal["us", "si"]) -> str:
    if value is None or step.expected is None:
        return ""
    if math.isinf(value):
        return "OL"
    return f"{shown_value(value, step.expected.unit, units):.4g} {_unit(step, units)}"


def quoted(text: str) -> str:
    """Return a text as it may stand in an address."""
    return quote(text, safe="")


__all__ = ["Standing", "quoted", "router", "standing_of"]
