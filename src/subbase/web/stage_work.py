"""The Work stage: one step at a time, the caution first; every step with its state; what was done is an event."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any, Literal
from urllib.parse import quote

from fastapi import APIRouter, Query, Request, Response

from subbase.errors import InputError
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView, Office
from subbase.web.looks import html, page
from subbase.web.record import further_key
from subbase.web.record_work import day_body, day_of, left_behind, result_body
from subbase.web.slow import PATIENCE_S
from subbase.web.standing import Standing, day_told, results_told, says_nothing_new, standing_at, step_named
from subbase.web.work_words import LICENCE_WORDS, SEASON_WORDS, STATUS_SIGNS, STATUS_WORDS, unit_words, value_words
from subbase.web.workbench import mine_of, work_of
from subbase.words import _
from subbase.work.progress import back_to_dead, with_result
from subbase.work.steps import PHASE_TITLES, Step, shown_value

router = APIRouter()
NEXT_SHOWN = 4
Act = Literal["done", "read", "ol", "not so", "skip", "undo", "lock out"]


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
    mine = mine_of(office, view, patience_s=patience_s)
    if mine is None:
        return None
    day = day_of(view.state)
    steps = work_of(office, view, mine.sheet, day, patience_s=patience_s)
    return standing_at(mine, steps, day)


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
    day = day_told(fields, units)
    keep(request, office, view, {form_key(fields): day_body(day)})
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
        found.mine.refuse_changed(fields)
        step = step_named(found.steps, step_id)
        results = results_told(found, step, act, fields)
        if says_nothing_new(found, step, results[0]):
            return go(f"/jobs/{view.id}/work")
        now = found.now
        for result in results:
            now = with_result(found.steps, now, result)
    except InputError as error:
        said = tuple(fault.message for fault in error.faults)
        return _one_step(request, view, found, step_id, Refusal(said, fields))
    several = len(results) > 1
    told = {
        further_key(key, str(at)) if several else key: result_body(found.mine, found.steps.step(result.step), result)
        for at, result in enumerate(results)
    }
    keep(request, office, view, told)
    stays = f"?step={quoted(step.id)}" if act == "undo" else ""
    return go(f"/jobs/{view.id}/work{stays}")


# What pages show.


def kept_steps(request: Request, view: JobView, found: Standing) -> Iterator[tuple[str, str]]:
    """Yield (number or ``end``, page) of every step for a phone to keep: each can show any state, which its script chooses."""
    here = {"here": f"/jobs/{view.id}/work", "kept": True}
    for number, step in enumerate(found.steps.steps):
        yield str(number), html(request, "work.html", job=view, **_step_context(found, step, step.id, None) | here)
    yield "end", html(request, "work.html", job=view, **_step_context(found, None, "", None) | here)


def _one_step(
    request: Request, view: JobView, found: Standing, wanted: str, refusal: Refusal | None = None
) -> Response:
    context = _step_context(found, _shown_step(found, wanted), wanted, refusal)
    return page(request, "work.html", status=422 if refusal else 200, job=view, **context)


def _step_context(found: Standing, step: Step | None, wanted: str, refusal: Refusal | None) -> dict[str, Any]:
    context = _shared(found) | {"step": step, "kept": False}
    if step is not None:
        at = found.steps.steps.index(step)
        waiting = [s for s in found.steps.steps[at + 1 :] if found.now.of(s.id).status in ("open", "blocked")]
        context |= {
            "number": at + 1,
            "state": found.now.of(step.id),
            "coming": [(s, found.now.of(s.id)) for s in waiting[:NEXT_SHOWN]],
            "waits_for": [s for s in found.steps.steps if s.id in found.now.of(step.id).waits_for][:NEXT_SHOWN],
            "must_read": step.expected.words(found.steps.units) if step.expected is not None else "",
            "unit": unit_words(step, found.steps.units),
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
    return context


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
        "phase_words": PHASE_TITLES,
        "status_words": STATUS_WORDS,
        "status_signs": STATUS_SIGNS,
        "season_words": SEASON_WORDS,
        "licence_words": LICENCE_WORDS,
        "met": found.now.count("done") + found.now.count("skipped"),
        "mark": found.mine.sheet.mark,
        "left_behind": left_behind(found.mine),
        "shown": lambda step, value: value_words(step, value, units),
    }


def quoted(text: str) -> str:
    """Return a text as it may stand in an address."""
    return quote(text, safe="")


__all__ = ["kept_steps", "quoted", "router", "standing_of"]
