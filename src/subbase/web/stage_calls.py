"""What is seen in one call: when each step comes, and its air or water; each judged as soon as it is told."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request, Response

from subbase.errors import Fault, InputError
from subbase.web.asking import JobHere, OfficeHere, go, keep
from subbase.web.check_words import MARK_LOOKS, MARK_WORDS, call_id
from subbase.web.display import read_number
from subbase.web.forms import FormFields, form_key
from subbase.web.jobs import JobView
from subbase.web.looks import page
from subbase.web.record import further_key
from subbase.web.record_check import seen_body, seen_of
from subbase.web.sheet import SeenItem, SeenKind
from subbase.web.stage_check import Checked, checked
from subbase.web.stage_work import quoted
from subbase.words import _, mark
from subbase.work.call_sequences import CallSequence
from subbase.work.seen import SeenVerdict
from subbase.work.steps import inner_value, shown_value

router = APIRouter()
KIND_WORDS: dict[tuple[str, SeenKind], str] = {
    ("air", "return"): mark("Air at the return"),
    ("air", "supply"): mark("Air at a supply register"),
    ("air", "minutes"): mark("Minutes that the call had run (10 to 15)"),
    ("water", "return"): mark("Water that returns"),
    ("water", "supply"): mark("Water that leaves"),
    ("water", "minutes"): mark("Minutes that the call had run (10 to 15)"),
}
NEVER = ("never", "no")
COLDEST_C, HOTTEST_C = -40.0, 150.0
LONGEST_S = 7200.0


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to be seen, as it stands."""

    item: SeenItem
    words: str
    bounds: str
    unit: str
    value: str
    """As it was told last; empty when not yet."""
    verdict: SeenVerdict | None


@router.get("/jobs/{job}/check/call")
def call_page(
    request: Request, view: JobHere, office: OfficeHere, of: Annotated[str, Query(max_length=200)]
) -> Response:
    """Show what one call brings on, and what was seen of it."""
    found = checked(office, view)
    if found is None:
        return go(f"/jobs/{view.id}/check")
    return _page(request, view, found, _sequence(found, of), {}, {})


@router.post("/jobs/{job}/check/call")
def tell_seen(request: Request, view: JobHere, office: OfficeHere, fields: FormFields) -> Response:
    """Keep everything that was filled in; when one line cannot be read, none is kept."""
    key, found = form_key(fields), checked(office, view, patience_s=None)
    if found is None:
        return go(f"/jobs/{view.id}/check")
    found.mine.refuse_changed(fields)
    sequence = _sequence(found, fields.get("of", ""))
    values: dict[str, float | None] = {}
    faults: dict[str, str] = {}
    for item in found.sheet.seen:
        text = "never" if fields.get("never") == item.id else fields.get(f"v-{item.id}", "").strip()
        if item.sequence is sequence and text:
            try:
                values[item.id] = _value(item, text, found.sheet.left.units)
            except InputError as error:
                faults[item.id] = error.faults[0].message
    if faults:
        return _page(request, view, found, sequence, faults, fields)
    told = {
        further_key(key, name): seen_body(found.mine, found.sheet.seen_by_id[name], value)
        for name, value in values.items()
    }
    keep(request, office, view, told)
    return go(f"/jobs/{view.id}/check/call?of={quoted(call_id(sequence))}")


def _sequence(found: Checked, of: str) -> CallSequence:
    for item in found.sheet.seen:
        if call_id(item.sequence) == of:
            return item.sequence
    raise HTTPException(404, _("This house has no such call"))


def _value(item: SeenItem, text: str, units: Literal["us", "si"]) -> float | None:
    """Return seconds, None for never, or °C.

    Raises
    ------
    InputError
    """
    if item.kind == "step" and text.lower() in NEVER:
        return None
    value = read_number(text.lower().removesuffix("s").removesuffix("min").strip(), open_allowed=False)
    if item.kind in ("step", "minutes"):
        seconds = value * (60.0 if item.kind == "minutes" else 1.0)
        if not 0.0 <= seconds <= LONGEST_S:
            raise InputError((Fault(_("A time is counted from the call, or from its end: 0 s to two hours.")),))
        return seconds
    celsius = inner_value(value, "degC", units)
    if not COLDEST_C <= celsius <= HOTTEST_C or math.isnan(celsius):
        raise InputError((Fault(_("That is no temperature of air or water in a house.")),))
    return celsius


def _page(
    request: Request,
    view: JobView,
    found: Checked,
    sequence: CallSequence,
    faults: dict[str, str],
    given: dict[str, str],
) -> Response:
    lines = list(_lines(found, sequence))
    context: dict[str, Any] = {
        "sequence": sequence,
        "mark": found.sheet.mark,
        "of": call_id(sequence),
        "steps": [line for line in lines if line.item.kind == "step"],
        "medium": [line for line in lines if line.item.kind != "step"],
        "verdicts": [v for v in found.report.seen if v.call == sequence.words and not _is_step(lines, v)],
        "stop": found.report.stop,
        "faults": faults,
        "given": given,
        "mark_words": MARK_WORDS,
        "mark_looks": MARK_LOOKS,
    }
    return page(request, "call.html", status=422 if faults else 200, job=view, **context)


def _is_step(lines: list[Line], verdict: SeenVerdict) -> bool:
    return any(line.item.kind == "step" and line.item.label == verdict.label for line in lines)


def _lines(found: Checked, sequence: CallSequence) -> list[Line]:
    seen, units = seen_of(found.mine), found.sheet.left.units
    verdicts = {v.label: v for v in found.report.seen if v.call == sequence.words}
    lines = []
    for item in found.sheet.seen:
        if item.sequence is not sequence:
            continue
        value = _shown(item, seen[item.id][0], units) if item.id in seen else ""
        if item.kind == "step":
            step = sequence.step(item.label)
            assert step is not None  # the sheet lists the steps of its own sequences
            bounds = _("{least:.0f} to {most:.0f} s").format(least=step.earliest_s, most=step.latest_s)
            lines.append(Line(item, step.words, bounds, "s", value, verdicts.get(item.label)))
        else:
            unit = "min" if item.kind == "minutes" else "°F" if units == "us" else "°C"
            lines.append(Line(item, _(KIND_WORDS[item.medium, item.kind]), "", unit, value, None))
    return lines


def _shown(item: SeenItem, value: float | None, units: Literal["us", "si"]) -> str:
    if value is None:
        return _("never")
    if item.kind == "step":
        return f"{value:.4g} s"
    if item.kind == "minutes":
        return f"{value / 60.0:.4g} min"
    return f"{shown_value(value, 'degC', units):.4g} {'°F' if units == 'us' else '°C'}"


__all__ = ["router"]
