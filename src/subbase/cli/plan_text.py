"""A plan as text for a terminal: what to do first, then why it holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from subbase.plan import ControlPlan, Plan, Route
from subbase.plan.proof import Proof

WIDTH = 96


def plan_text(plan: Plan) -> str:
    """Return the plan as a page of text."""
    lines = [plan.survey.name, "=" * len(plan.survey.name), ""]
    match plan.verdict:
        case "planned":
            lines += _planned(plan)
        case "question":
            lines += _questions(plan)
        case "stopped":
            lines += _stopped(plan)
    if plan.indifferent:
        lines += ["", "NOT KNOWN, AND IT DOES NOT MATTER", *_bullets(plan.indifferent)]
    if plan.trusted:
        lines += ["", "TAKEN ON TRUST", *_bullets(plan.trusted)]
    lines += ["", "CAUTIONS", *_bullets([caution.text for caution in plan.cautions])]
    return "\n".join(lines)


def table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """Return a table of text with aligned columns."""
    widths = [max(len(row[i]) for row in (head, *rows)) for i in range(len(head))]
    rule = ["-" * width for width in widths]
    return [
        "  " + "  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip()
        for row in (head, rule, *rows)
    ]


def wrapped(text: str, indent: str, first: str) -> list[str]:
    """Return text broken at words, the first line with its own indent."""
    import textwrap

    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=indent)


def _bullets(texts: Sequence[str]) -> list[str]:
    return [line for text in texts for line in wrapped(text, "    ", "  - ")]


def _planned(plan: Plan) -> Iterator[str]:
    for item in plan.controls:
        yield from _control(item)
    if plan.proof is not None:
        yield from _proof(plan.proof)
    yield from _readings(plan)
    for item in plan.controls:
        yield from _routes(item)


def _control(item: ControlPlan) -> Iterator[str]:
    route = item.chosen
    yield f"PLAN FOR {item.control.upper()}: {route.title}"
    lost = ", ".join(route.lost)
    yield f"  Keeps: {', '.join(c for c in item.wanted if c not in route.lost)}." + (
        f"  Gives up: {lost}." if lost else ""
    )
    yield f"  About {route.minutes} minutes; parts: {_parts(route)}."
    for reason in route.reasons:
        yield from wrapped(reason, "  ", "  ")
    yield ""
    yield "WHERE EACH CONDUCTOR GOES (known by both ends, never by colour)"
    rows = []
    for x in route.landings:
        shown = not any(x.colours) or x.conductor in x.colours
        colour = "" if shown else f" ({' / '.join(dict.fromkeys(x.colours))})"
        far = x.far_left if x.far_found == x.far_left else f"{x.far_left}  (was {x.far_found})"
        wall = x.wall_left if x.wall_found == x.wall_left else f"{x.wall_left}  (was {x.wall_found})"
        rows.append((f"{x.cable} {x.conductor}{colour}", x.carries, wall, far))
    yield from table(("Conductor", "Carries", "At the wall", "At the equipment"), rows)
    changes = [change for change in route.jumpers if change.action != "keep"]
    if route.jumpers:
        yield ""
        yield "JUMPERS AND LINKS"
        for change in changes:
            yield f"  {change.action.upper():<7} {change.jumper.between[0]} to {change.jumper.between[1]}: {change.why}"
        kept = len(route.jumpers) - len(changes)
        if kept:
            yield f"  {'The other' if changes else 'All'} {kept} stay as they are."
    yield ""
    yield "SET THE CONTROL"
    settings = item.settings
    yield f"  Compressor heats: {'yes (heat pump)' if settings.compressor_heats else 'no'}."
    if settings.changeover:
        yield f"  Changeover valve energised in {settings.changeover}."
    heating = "furnace or strip heating" if settings.compressor_heats else "heating"
    yield f"  In {heating} the fan is run by {'the control' if settings.fan_with_heat else 'the equipment'}."
    yield ""


def _parts(route: Route) -> str:
    return ", ".join(f"{part.count} x {part.what}" if part.count > 1 else part.what for part in route.parts) or "none"


def _proof(proof: Proof) -> Iterator[str]:
    yield "PROOF (line -10 % to +10 %, loads, regulation and copper at their worst corners)"
    rows = []
    for state in proof.states:
        if state.waived or (state.state.calls and all(len(calls) > 1 for _, calls in state.state.calls)):
            continue
        supply = max(state.supplies, key=lambda s: s.draw_va / s.rated_va, default=None)
        control = min(state.controls, key=lambda c: c.low_v / c.least_v, default=None)
        judged = [load for load in state.loads if load.pull_in_v]
        worst = min(judged, key=lambda load: min(load.low_v, load.inrush_v) / load.pull_in_v, default=None)
        rows.append(
            (
                state.words,
                f"{supply.draw_va:.0f} of {supply.rated_va:g} VA" if supply else "",
                f"{control.low_v:.1f} to {control.high_v:.1f} V" if control else "no common",
                f"{worst.words}: {min(worst.low_v, worst.inrush_v):.1f} V, needs {worst.pull_in_v:.1f}"
                if worst
                else "all off",
            )
        )
    yield from table(("Call", "Supply", "At the control", "Weakest load, line 10 % low"), rows)
    yield f"  Nearest limit: {proof.margin_words}, {proof.margin:.0%} away."
    yield ""


def _readings(plan: Plan) -> Iterator[str]:
    yield "WHAT THE METER MUST READ (V AC; all of them are in the packet)"
    wall = {f"{item.control}.{t}" for item in plan.controls for t in ("R", "Rc", "Rh", "C")}
    rows = [
        (r.state, f"{r.between[0]} to {r.between[1]}", f"{r.volts:.1f}", f"{r.low_v:.1f} to {r.high_v:.1f}")
        for r in plan.readings
        if wall & set(r.between) and (r.state == "off" or r.volts > 1.0)
    ]
    yield from table(("Call", "Between", "Expect", "Accept"), rows[:24])
    yield ""


def _routes(item: ControlPlan) -> Iterator[str]:
    yield "EVERY ROUTE LOOKED AT"
    rows = [
        (
            route.title,
            ", ".join(route.lost) or "nothing",
            str(sum(p.count for p in route.parts)),
            f"{route.minutes} min",
            f"{route.proof.margin:.0%}" if route.proof else "",
        )
        for route in item.routes
        if route.offered
    ]
    yield from table(("Route", "Loses", "Parts", "Time", "Margin"), rows)
    yield from _refusals(item.routes)


def _refusals(routes: Sequence[Route]) -> Iterator[str]:
    titles: dict[tuple[str, ...], list[str]] = {}
    for route in routes:
        if not route.offered:
            titles.setdefault(route.reasons, []).append(route.title)
    for reasons, alike in titles.items():
        yield from wrapped(f"Refused: {'; '.join(alike)}. {' '.join(reasons)}", "    ", "  ")


def _questions(plan: Plan) -> Iterator[str]:
    for contradiction in plan.contradictions:
        yield from wrapped(f"CONTRADICTION: {contradiction.text}", "  ", "")
        if contradiction.would_agree:
            yield "  It would agree if:"
            yield from _bullets(contradiction.would_agree)
        yield ""
    yield "ANSWER FIRST" if len(plan.questions) == 1 else "ANSWER FIRST (the first one is worth most)"
    for number, question in enumerate(plan.questions, start=1):
        yield from wrapped(f"{number}. {question.text}", "   ", "")
        yield from wrapped(f"How: {question.how}", "   ", "   ")
        for answer in question.answers:
            yield from wrapped(f"{answer.value}: {answer.leads_to}", "       ", "   - ")
        yield f"   In the survey: {question.field}"


def _stopped(plan: Plan) -> Iterator[str]:
    for stop in plan.stops:
        yield from wrapped(f"STOP: {stop.seen}", "  ", "")
        yield from wrapped(stop.instead, "  ", "  ")
    if not plan.stops:
        yield "STOP: no way was found to wire the new control that the circuit proves."
        yield from _refusals(plan.refused)
        yield from _bullets(plan.notes)
