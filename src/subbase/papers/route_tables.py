"""What was looked at and what is needed: routes side by side, refusals with reasons, parts, tools, cautions."""

from __future__ import annotations

from collections.abc import Sequence

from subbase.papers.figures import share
from subbase.papers.tables import Table, calls_words
from subbase.plan import Plan, Route
from subbase.words import _, mark


def route_table(routes: Sequence[Route], chosen: Route | None = None) -> Table:
    """Return the routes that would work, side by side."""
    rows = tuple(
        (
            _("chosen") if route == chosen else "",
            route.title,
            calls_words(route.lost) or _("nothing"),
            str(sum(part.count for part in route.parts)),
            str(route.moved),
            f"{route.minutes}",
            share(route.proof.margin) if route.proof else "",
        )
        for route in routes
        if route.offered
    )
    head = (_("Which"), _("Route"), _("Gives up"), _("Parts"), _("Landings"), _("Minutes"), _("Margin"))
    note = _("Minutes are judgement, for comparing. Margin: distance to the nearest limit at the worst corner.")
    return Table(_("Routes that would work"), head, rows, (0.8, 3.4, 1.4, 0.6, 0.9, 0.9, 0.8), note)


def refusal_table(routes: Sequence[Route]) -> Table:
    """Return the routes that were refused, with every reason; routes refused for the same reason together."""
    by_reason: dict[str, list[str]] = {}
    for route in routes:
        if not route.offered:
            by_reason.setdefault(" ".join(route.reasons), []).append(route.title)
    rows = tuple(("; ".join(titles), reason) for reason, titles in by_reason.items())
    return Table(_("Routes refused, and why"), (_("Route"), _("Why")), rows, (2.2, 5.0))


def parts_table(plan: Plan) -> Table:
    """Return what to bring."""
    counts: dict[str, int] = {}
    for item in plan.controls:
        for part in item.chosen.parts:
            counts[part.what] = counts.get(part.what, 0) + part.count
    rows = [(str(count), what) for what, count in counts.items()] or [("", _("no parts beside the new control"))]
    return Table(_("Parts"), (_("Count"), _("Part")), tuple(rows), (0.5, 6.0))


TOOLS = (
    mark(
        "digital multimeter with a range for millivolts, its rating on it (at least CAT III where it touches fixed mains)"
    ),
    mark("known live source to prove the meter on"),
    mark("lock and tag for the disconnect"),
    mark("screwdrivers, stripper, small pliers"),
    mark("wire nuts or splices for 18 to 22 AWG, caps for spare conductors"),
    mark("level, drill and anchors for the wall plate; sealant for the hole behind it"),
    mark("labels of this packet, scissors, clear tape"),
)
"""What such a job needs (common practice, no source; meter categories: IEC 61010-1)."""


def caution_table(plan: Plan) -> Table:
    """Return every caution with its source."""
    rows = tuple((caution.text, caution.source) for caution in plan.cautions)
    return Table(_("Cautions"), (_("Caution"), _("Source")), rows, (4.6, 2.0))
