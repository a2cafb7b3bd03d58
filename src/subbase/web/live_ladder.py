"""The live ladder: each call on the drawing, volts at every terminal, and what a meter reads between any two points.

The phasors of every call are worked out here, from the circuit, and sent with the page; the script only takes the size
of a difference. Without a script the same stands in tables, call by call.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request, Response
from markupsafe import Markup

from subbase.papers.drawing import svg
from subbase.papers.ladder import about_ladder, live_ladder, numbers_of
from subbase.papers.ladder_narrow import narrow_ladder
from subbase.papers.live_calls import LiveCall, live_calls, points_of
from subbase.papers.rungs import Ladder, ladder_of
from subbase.plan import Plan
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.web.asking import JobHere, OfficeHere, go
from subbase.web.looks import drawing, page, script_json
from subbase.web.slow import PATIENCE_S
from subbase.words import _
from subbase.work.reading_verdicts import TOO_HIGH_V

router = APIRouter()
DIGITS = 4


@dataclass(frozen=True, slots=True)
class CallRows:
    """One call as tables."""

    words: str
    loads: tuple[tuple[int, str, str, str], ...]
    """(rung, load, volts across it, whether it works)."""
    points: tuple[tuple[str, str, str], ...]
    """(point, volts to its transformer's common, bounds)."""


@dataclass(frozen=True, slots=True)
class Live:
    """Everything that the live ladder shows."""

    wide: Markup
    narrow: Markup
    data: Markup
    """JSON for the script, safe inside a script element."""
    calls: tuple[str, ...]
    points: tuple[tuple[str, str], ...]
    """(name of the node, name as people say it)."""
    rows: tuple[CallRows, ...]
    too_high_v: str
    """More than this no 24 V winding gives."""


@router.get("/jobs/{job}/plan/live")
def live_page(request: Request, view: JobHere, office: OfficeHere) -> Response:
    """Show the live ladder; without a planned wiring there is none, and the plan says why."""
    plan = office.plan(view, patience_s=PATIENCE_S)
    if plan is None or plan.left is None:
        return go(f"/jobs/{view.id}/plan")
    return page(request, "live.html", job=view, live=live_of(plan))


def live_of(plan: Plan) -> Live | None:
    """Return the live ladder of a plan; None when nothing is left to be drawn."""
    left = plan.left
    if left is None:
        return None
    ladder = ladder_of(left, plan.catalog)
    calls, points = live_calls(left, plan.catalog, ladder), points_of(left, ladder)
    title, about = _("Ladder diagram as left"), about_ladder(left, ladder)
    return Live(
        drawing(svg(live_ladder(ladder, title=title, about=about), targets=True)),
        drawing(svg(narrow_ladder(ladder, title=title, about=about, live=True), targets=True)),
        script_json(data_of(calls, points)),
        tuple(call.words for call in calls),
        tuple((node, said(node)) for node in points),
        tuple(_rows(call, points, ladder) for call in calls),
        f"{TOO_HIGH_V:g}",
    )


def said(node: str) -> str:
    """Return a terminal as people say it."""
    place, __, terminal = node.partition(".")
    return f"{place} {terminal}"


def data_of(calls: tuple[LiveCall, ...], points: tuple[str, ...]) -> dict[str, Any]:
    """Return what the script needs of every call; ``v`` is (real, imaginary) nominal, low and high, null where floating."""
    return {
        "share": METER_SHARE,
        "least": METER_V,
        "points": points,
        "calls": [_call_data(call, points) for call in calls],
        "words": {
            "made": _("made"),
            "open": _("open"),
            "on": _("ON"),
            "off": _("off"),
            "between": _("{a} to {b}, meter on AC volts:"),
            "bounds": _("In order from {low} to {high} V."),
            "nothing": _(
                "Nothing joins these two in this call. What a meter shows between them says nothing; it may drift."
            ),
            "second": _("Now tap the second point, or choose it in the list."),
            "first": _("Tap two terminals of the drawing, or choose them in the lists."),
        },
    }


def _call_data(call: LiveCall, points: tuple[str, ...]) -> dict[str, Any]:
    islands = sorted(set(call.island.values()))
    return {
        "words": call.words,
        "on": sorted(call.on),
        "made": sorted(call.made),
        "flows": call.flowing,
        "waits": call.waiting,
        "v": [
            [round(part, DIGITS) for v in call.volts[point] for part in (v.real, v.imag)]
            if point in call.volts
            else None
            for point in points
        ],
        "island": [islands.index(call.island[point]) if point in call.island else -1 for point in points],
    }


def _rows(call: LiveCall, points: tuple[str, ...], ladder: Ladder) -> CallRows:
    numbers = numbers_of(ladder)
    loads = {}
    commons = []
    for supply in ladder.supplies:
        commons.append(supply.common)
        for rung in supply.rungs:
            reading = call.reading(rung.load.hot, rung.load.common)
            across = _("{volts} V").format(volts=f"{reading.nominal:.1f}") if reading else _("nothing joins them")
            works = _("ON") if rung.load.tag in call.on else _("off")
            loads[rung.load.tag] = (numbers[rung.load.tag], rung.load.words, across, works)
    told = []
    for point in points:
        against = (call.reading(point, common) for common in commons if common != point)
        reading = next((found for found in against if found is not None), None)
        if reading is not None:
            bounds = _("{low} to {high} V").format(low=f"{reading.low:.1f}", high=f"{reading.high:.1f}")
            told.append((said(point), _("{volts} V").format(volts=f"{reading.nominal:.1f}"), bounds))
    return CallRows(call.words, tuple(loads.values()), tuple(told))


__all__ = ["Live", "data_of", "live_of", "router"]
