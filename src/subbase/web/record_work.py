"""The day of the work and the results of its steps, as the journal's events keep them."""

from __future__ import annotations

import math
from typing import Any, get_args

from subbase.journal import Event, JobState
from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.journal.bodies import StepDone, StepReopened
from subbase.web.record import Mine
from subbase.web.record_check import item_fields, measured_body
from subbase.web.sheet import Day, Item, Sheet
from subbase.work.progress import Result
from subbase.work.steps import LICENCES, Season, Step

DAY = "day of the work"
"""Name of the setting that holds season, outdoor temperature and licences."""
COLDEST_C, HOTTEST_C = -60.0, 60.0


def day_of(state: JobState) -> Day:
    """Return the weather and the licences that were told last."""
    record = state.settings.get(("", DAY))
    told = record.body.value if record is not None else None
    if not isinstance(told, dict):
        return Day()
    season, outdoor, licences = told.get("season"), told.get("outdoor_c"), told.get("licences")
    known: Season | None = next((word for word in get_args(Season) if word == season), None)
    is_number = isinstance(outdoor, int | float) and not isinstance(outdoor, bool)
    outdoor_c = float(outdoor) if is_number and COLDEST_C <= float(outdoor) <= HOTTEST_C else None  # type: ignore[arg-type]
    held = frozenset(word for word in LICENCES if isinstance(licences, list) and word in licences)
    return Day(known, outdoor_c, held, asked=True)


def day_body(day: Day) -> dict[str, Any]:
    """Return the event that keeps the weather and the licences."""
    value = {"season": day.season, "outdoor_c": day.outdoor_c, "licences": sorted(day.licences)}
    return {"kind": "setting_made", "name": DAY, "value": value}


def results_of(mine: Mine) -> tuple[Result, ...]:
    """Return the results of work steps, in the order of the journal."""
    return tuple(result for event in mine.events() if (result := _result(mine, event)) is not None)


def left_behind(mine: Mine) -> int:
    """Return how many step results belong to another wiring."""
    bodies = (event.body for event in mine.events())
    told = (body for body in bodies if isinstance(body, StepDone) or (isinstance(body, ReadingEvent) and body.step))
    return sum(not mine.counts(body) for body in told)


def _result(mine: Mine, event: Event) -> Result | None:
    body = event.body
    if isinstance(body, StepDone) and mine.counts(body):
        return Result(body.step, body.did, reason=body.note)
    if isinstance(body, StepReopened) and mine.counts(body):
        return Result(body.step, "undone", reason=body.note)
    if isinstance(body, ReadingEvent) and body.step and mine.counts(body):
        return Result(body.step, "read", math.inf if body.value is None else body.value, body.note)
    return None


def result_body(mine: Mine, step: Step, result: Result) -> dict[str, Any]:
    """Return the event that keeps the result of a step."""
    common = {"step": step.id, "note": result.reason, **mine.stamp()}
    if result.did == "undone":
        del common["survey"]
        return {"kind": "step_reopened", **common}
    if result.did == "read" and step.expected is not None:
        item = step_item(mine.sheet, step)
        between = step.expected.between or (step.site[:200] or "house", step.title[:200])
        read = measured_body(between, step.expected.unit, result.value, (step.expected.low, step.expected.high))
        return {**read, **(item_fields(item) if item is not None else {}), **common}
    return {"kind": "step_done", "did": result.did, **common}


def step_item(sheet: Sheet, step: Step) -> Item | None:
    """Return the line of the sheet of checks that a reading step answers, if any."""
    if step.check is not None:
        return sheet.item_of(step.check)
    if step.expected is None or step.expected.between is None or not step.id.startswith("load/"):
        return None
    several = len(sheet.left.controls) > 1
    for item in sheet.items:
        state = item.check.state
        if item.group == "dead" or state is None or set(item.check.between) != set(step.expected.between):
            continue
        if step.id.startswith(f"load/{state.name(name_controls=several)} "):
            return item
    return None


__all__ = [
    "COLDEST_C",
    "DAY",
    "HOTTEST_C",
    "day_body",
    "day_of",
    "left_behind",
    "result_body",
    "results_of",
    "step_item",
]  # fmt: skip
