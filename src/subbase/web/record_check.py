"""Readings of the sheet of checks, and what was seen in the calls, as the journal's events keep them."""

from __future__ import annotations

import math
from typing import Any

from subbase.journal import Event
from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.web.record import Mine
from subbase.web.sheet import Item, SeenItem
from subbase.wiring import OFF, State
from subbase.work.air_and_water import Air, Water
from subbase.work.taken import METERS, AirTaken, ReadingTaken, SequenceSeen, StepSeen, Taken, WaterTaken


def reading_body(mine: Mine, item: Item, value: float, meter: str = "") -> dict[str, Any]:
    """Return the event that keeps a reading of the sheet of checks."""
    check = item.check
    read = measured_body(check.between, check.unit, value, (check.low, check.high))
    return {**read, **item_fields(item), **mine.stamp(), "meter": "" if meter == "digital" else meter}


def measured_body(
    between: tuple[str, str], unit: str, value: float | None, bounds: tuple[float, float]
) -> dict[str, Any]:
    """Return the event that keeps what a meter showed; null for OL, and for no upper bound."""
    ends = {name: None if math.isinf(end) else round(end, 3) for name, end in zip(("low", "high"), bounds, strict=True)}
    shown = None if value is None or math.isinf(value) else value
    return {"kind": "reading_taken", "between": list(between), "unit": unit, "value": shown, **ends}


def item_fields(item: Item) -> dict[str, Any]:
    """Return what an event tells of the line of the sheet that it answers."""
    control, call = call_of(item.check.state)
    found: dict[str, Any] = {"check": item.id, "call": call, "control": control}
    return found | ({"clip": list(item.check.clip)} if item.check.clip else {})


def call_of(state: State | None) -> tuple[str, str]:
    """Return (control, call) of a state with one call; empty where nothing is called."""
    if state is None or not state.calls:
        return "", "off" if state is not None else ""
    control, calls = state.calls[0]
    return control, next(iter(calls))


def seen_body(mine: Mine, item: SeenItem, value: float | None) -> dict[str, Any]:
    """Return the event that keeps what was seen: seconds, null for never; temperatures in °C."""
    control, call = call_of(item.sequence.state)
    return {
        "kind": "reading_taken",
        "between": [item.place, item.label[:200]],
        "unit": "s" if item.kind in ("step", "minutes") else "degC",
        "value": value,
        "check": item.id,
        "call": call,
        "control": control,
        **mine.stamp(),
    }


def taken_of(mine: Mine) -> Taken:
    """Return the readings of the sheet that count, and what was seen in the calls."""
    renewed = mine.renewed
    later = (event for event in mine.events() if event.sequence > renewed)
    readings = tuple(reading for event in later if (reading := reading_of(mine, event)) is not None)
    seen = seen_of(mine)
    sequences: list[SequenceSeen] = []
    air: list[AirTaken] = []
    water: list[WaterTaken] = []
    for sequence in mine.sheet.sequences:
        own = [(item, seen[item.id]) for item in mine.sheet.seen if item.sequence is sequence and item.id in seen]
        steps = tuple(StepSeen(item.label, value, True, line) for item, (value, line) in own if item.kind == "step")
        if steps:
            sequences.append(SequenceSeen(sequence.state, steps, steps[0].line))
        told = {item.kind: value for item, (value, _line) in own if item.kind != "step"}
        line = max((line for item, (_value, line) in own if item.kind != "step"), default=0)
        minutes = told.get("minutes")
        run = None if minutes is None else minutes / 60.0
        if told and any(item.medium == "air" for item, _value in own):
            air.append(AirTaken(sequence.state, Air(told.get("return"), told.get("supply"), minutes=run), line))
        elif told:
            water.append(WaterTaken(sequence.state, Water(told.get("return"), told.get("supply"), run), line))
    return Taken(readings, tuple(air), tuple(water), tuple(sequences))


def seen_of(mine: Mine) -> dict[str, tuple[float | None, int]]:
    """Return id of what is to be seen -> (its last value, null for never; sequence of the event)."""
    found: dict[str, tuple[float | None, int]] = {}
    renewed = mine.renewed
    for event in mine.events():
        body = event.body
        if not isinstance(body, ReadingEvent) or body.check not in mine.sheet.seen_by_id:
            continue
        if event.sequence > renewed and mine.counts(body):
            found[body.check] = (body.value, event.sequence)
    return found


def taken_before(mine: Mine) -> int:
    """Return how many readings of the sheet were taken before wires were touched again."""
    renewed = mine.renewed
    events = (e for e in mine.events() if e.sequence <= renewed)
    return sum(isinstance(e.body, ReadingEvent) and e.body.check in mine.sheet.by_id for e in events)


def reading_of(mine: Mine, event: Event) -> ReadingTaken | None:
    """Return what an event tells of a line of the sheet; None when it tells nothing of this wiring's."""
    body = event.body
    if not isinstance(body, ReadingEvent) or not mine.counts(body):
        return None
    item = mine.sheet.by_id.get(body.check)
    if item is None:
        return None
    check = item.check
    value = math.inf if body.value is None else body.value
    return ReadingTaken(
        check.between,
        check.state if check.state is not None else OFF,
        check.unit,
        value,
        shown(value, check.unit),
        event.sequence,
        check.clip,
        power="on" if check.unit == "V" else "off",
        setting="ac" if check.unit == "V" else "ohms",
        meter=body.meter if body.meter in METERS else None,
        who=event.actor,
        note=body.note,
    )


def shown(value: float, unit: str) -> str:
    """Return a reading as it stood on the display."""
    return "OL" if math.isinf(value) else f"{value:.4g} {unit}"


__all__ = [
    "call_of",
    "item_fields",
    "measured_body",
    "reading_body",
    "reading_of",
    "seen_body",
    "seen_of",
    "shown",
    "taken_before",
    "taken_of",
]  # fmt: skip
