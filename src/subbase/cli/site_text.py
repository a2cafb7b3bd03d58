"""Where the control goes, as text for a terminal and as plain data."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from subbase.cli.plan_text import wrapped
from subbase.siting.finding import MONTHS, Finding, clock, told
from subbase.siting.verdict import Place, SiteVerdict
from subbase.words import _, mark

HEADS = {
    "place": mark("A GOOD PLACE: {place}"),
    "elsewhere": mark("NONE OF THE PLACES NAMED IS GOOD; ANOTHER ONE IS: {place}"),
    "none": mark("NO PLACE IS GOOD"),
    "question": mark("THE SUN IS NOT KNOWN YET; WITHOUT IT THE BEST IS: {place}"),
}
SIGNS = {"rules out": "x", "against": "-", "for": "+", "note": "."}


def site_text(verdict: SiteVerdict) -> str:
    """Return the verdict as a page of text: the answer first, then every place with its reasons."""
    name, best = verdict.house.name, verdict.best
    head = _(HEADS[verdict.outcome]).format(place=best.name) if best is not None else _(HEADS["none"])
    lines = [name, "=" * len(name), "", *wrapped(head, "  ", "")]
    for advice in verdict.advice:
        lines += wrapped(advice, "    ", "  - ")
    if verdict.questions:
        lines += ["", _("TO FIND OUT")]
        for question in verdict.questions:
            lines += wrapped(question, "    ", "  - ")
    lines += ["", _("PLACES, BEST FIRST (x rules out, - against, + for)")]
    for place in (*verdict.places, *verdict.searched):
        lines += _place(place, verdict.house.units)
    if best is not None:
        lines += ["", _("THE CABLE TO {place}").format(place=best.name.upper())]
        for number, step in enumerate(best.fish, start=1):
            lines += wrapped(step, "     ", f"  {number}. ")
    lines += ["", _("CAUTIONS, AND WHAT THE NUMBERS REST ON")]
    for caution in verdict.cautions:
        lines += wrapped(f"{caution.text} ({caution.source})", "    ", "  - ")
    for taken in verdict.taken:
        lines += wrapped(taken, "    ", "  - ")
    for source in verdict.sources():
        lines += wrapped(source, "    ", "  - ")
    return "\n".join(lines)


def _place(place: Place, units: str) -> Iterator[str]:
    state = _("ruled out") if place.ruled_out else _("found by trying") if place.searched else _("good")
    where = _("{along} from the left end, {height} up").format(
        along=told(place.candidate.along_m, units), height=told(place.height_m, units)
    )
    yield from wrapped(f"{place.name} ({where}): {state}", "    ", "  ")
    for weight, sign in SIGNS.items():
        for finding in place.of(weight):
            yield from wrapped(finding.text, "        ", f"      {sign} ")


def site_data(verdict: SiteVerdict) -> dict[str, Any]:
    """Return the same as plain data, every reason with its source, sun by month and hour included."""
    best = verdict.best
    return {
        "format": 1,
        "name": verdict.house.name,
        "outcome": verdict.outcome,
        "best": best.name if best is not None else None,
        "advice": list(verdict.advice),
        "questions": list(verdict.questions),
        "places": [_place_data(place) for place in verdict.places],
        "found": [_place_data(place) for place in verdict.searched],
        "cautions": [_finding_data(caution) for caution in verdict.cautions],
        "taken": list(verdict.taken),
    }


def _place_data(place: Place) -> dict[str, Any]:
    radio = place.radio
    return {
        "name": place.name,
        "room": place.room,
        "wall": place.candidate.wall,
        "along_m": round(place.candidate.along_m, 3),
        "height_m": round(place.height_m, 3),
        "ruled_out": place.ruled_out,
        "findings": [_finding_data(finding) for finding in place.findings],
        "sun": _sun_data(place),
        "radio": None
        if radio is None
        else {
            "grade": radio.grade,
            "measured": radio.measured,
            "level_dbm": [round(radio.level_dbm.low), round(radio.level_dbm.high)],
            "walls": list(radio.walls),
            "floors": radio.floors,
        },
        "cable": list(place.fish),
    }


def _sun_data(place: Place) -> dict[str, Any] | None:
    sun = place.sun
    if sun is None:
        return None
    return {
        "hours": round(sun.hours, 1),
        "bright_hours": None if sun.bright_hours is None else round(sun.bright_hours, 1),
        "days": sun.days,
        "worst": [
            {
                "date": day.date.isoformat(),
                "minutes": day.minutes,
                "from": clock(day.first_min),
                "to": clock(day.last_min),
            }
            for day in sun.worst
        ],
        "shaded_along_m": None if place.shaded_along_m is None else round(place.shaded_along_m, 3),
        "by_month_and_hour": {
            MONTHS[month]: [round(float(h), 1) for h in sun.possible_h[month]] for month in range(12)
        },
    }


def _finding_data(finding: Finding) -> dict[str, str]:
    return {"weight": finding.weight, "about": finding.subject, "text": finding.text, "source": finding.source}
