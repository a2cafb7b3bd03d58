"""A plan as text for a terminal: what to do first, then why it holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from subbase.names import carried_words, colour_words, conductor_words, landing_words, list_words, named
from subbase.plan import ControlPlan, Plan, Route
from subbase.plan.proven import Proof
from subbase.plan.result import Landing, known_end
from subbase.words import _, mark, plural

WIDTH = 96
_ACTIONS = {"add": mark("ADD"), "remove": mark("REMOVE"), "keep": mark("KEEP")}
"""What is done with a link."""


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
        lines += ["", _("NOT KNOWN, AND IT DOES NOT MATTER"), *_bullets(plan.indifferent)]
    if plan.trusted:
        lines += ["", _("TAKEN ON TRUST"), *_bullets(plan.trusted)]
    lines += ["", _("CAUTIONS"), *_bullets([caution.text for caution in plan.cautions])]
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
        yield from _control(plan, item)
    if plan.proof is not None:
        yield from _proof(plan.proof)
    yield from _readings(plan)
    for item in plan.controls:
        yield from _routes(item)


def _end(plan: Plan, landing: Landing, *, at_wall: bool) -> str:
    """Return what an end is on, with what it was on where that is another and known."""
    now, before = (landing.wall_left, landing.wall_found) if at_wall else (landing.far_left, landing.far_found)
    if not known_end(plan.survey, landing, at_wall=at_wall):
        return _("{now}  (was {before})").format(now=landing_words(now), before=_("not known"))
    if now == before:
        return landing_words(now)
    return _("{now}  (was {before})").format(now=landing_words(now), before=landing_words(before))


def _control(plan: Plan, item: ControlPlan) -> Iterator[str]:
    route = item.chosen
    yield _("PLAN FOR {control}: {title}").format(control=item.control.upper(), title=route.title)
    lost = list_words(map(named, route.lost))
    keeps = _("Keeps: {calls}.").format(calls=list_words(named(c) for c in item.wanted if c not in route.lost))
    yield "  " + keeps + ("  " + _("Gives up: {calls}.").format(calls=lost) if lost else "")
    yield "  " + _("About {minutes} minutes; parts: {parts}.").format(minutes=route.minutes, parts=_parts(route))
    for reason in route.reasons:
        yield from wrapped(reason, "  ", "  ")
    yield ""
    yield _("WHERE EACH CONDUCTOR GOES (known by both ends, never by colour)")
    rows = []
    for x in route.landings:
        shown = not any(x.colours) or x.conductor in x.colours
        colour = "" if shown else f" ({' / '.join(map(colour_words, dict.fromkeys(x.colours)))})"
        far = _end(plan, x, at_wall=False)
        wall = _end(plan, x, at_wall=True)
        rows.append((f"{x.cable} {conductor_words(x.conductor)}{colour}", carried_words(x.carries), wall, far))
    yield from table((_("Conductor"), _("Carries"), _("At the wall"), _("At the equipment")), rows)
    changes = [change for change in route.jumpers if change.action != "keep"]
    if route.jumpers:
        yield ""
        yield _("JUMPERS AND LINKS")
        for change in changes:
            a, b = change.jumper.between
            link = _("{a} to {b}").format(a=a, b=b)
            yield f"  {_(_ACTIONS[change.action]):<7} {link}: {change.why}"
        kept = len(route.jumpers) - len(changes)
        if kept:
            if changes:
                said = plural("The other one stays as it is.", "The other {count} stay as they are.", kept)
            else:
                said = plural("The one that is there stays as it is.", "All {count} stay as they are.", kept)
            yield "  " + said.format(count=kept)
    yield ""
    yield _("SET THE CONTROL")
    settings = item.settings
    yield "  " + (_("Compressor heats: yes (heat pump).") if settings.compressor_heats else _("Compressor heats: no."))
    if settings.changeover:
        yield "  " + (
            _("Changeover valve energised in cooling.")
            if settings.changeover == "cooling"
            else _("Changeover valve energised in heating.")
        )
    if settings.compressor_heats:
        fan = (
            _("In furnace or strip heating the fan is run by the control.")
            if settings.fan_with_heat
            else _("In furnace or strip heating the fan is run by the equipment.")
        )
    else:
        fan = (
            _("In heating the fan is run by the control.")
            if settings.fan_with_heat
            else _("In heating the fan is run by the equipment.")
        )
    yield f"  {fan}"
    yield from wrapped(item.wired_words, "  ", "  ")
    yield ""


def _parts(route: Route) -> str:
    return ", ".join(f"{part.count} x {part.what}" if part.count > 1 else part.what for part in route.parts) or _(
        "none"
    )


def _proof(proof: Proof) -> Iterator[str]:
    yield _("PROOF (line -10 % to +10 %, loads, regulation and copper at their worst corners)")
    rows = []
    for state in proof.states:
        if state.waived or (state.state.calls and all(len(calls) > 1 for __, calls in state.state.calls)):
            continue
        supply = max(state.supplies, key=lambda s: s.draw_va / s.rated_va, default=None)
        control = min(state.controls, key=lambda c: c.low_v / c.least_v, default=None)
        judged = [load for load in state.loads if load.pull_in_v]
        worst = min(judged, key=lambda load: min(load.low_v, load.inrush_v) / load.pull_in_v, default=None)
        rows.append(
            (
                state.words,
                _("{draw_va:.0f} of {rated_va:g} VA").format(draw_va=supply.draw_va, rated_va=supply.rated_va)
                if supply
                else "",
                _("{low_v:.1f} to {high_v:.1f} V").format(low_v=control.low_v, high_v=control.high_v)
                if control
                else _("no common"),
                _("{load}: {volts:.1f} V, needs {pull_in_v:.1f}").format(
                    load=worst.words, volts=min(worst.low_v, worst.inrush_v), pull_in_v=worst.pull_in_v
                )
                if worst
                else _("all off"),
            )
        )
    yield from table((_("Call"), _("Supply"), _("At the control"), _("Weakest load, line 10 % low")), rows)
    yield "  " + _("Nearest limit: {margin_words}, {margin:.0%} away.").format(
        margin_words=proof.margin_words, margin=proof.margin
    )
    yield ""


def _readings(plan: Plan) -> Iterator[str]:
    yield _("WHAT THE METER MUST READ (V AC; all of them are in the packet)")
    wall = {f"{item.control}.{t}" for item in plan.controls for t in ("R", "Rc", "Rh", "C")}
    rows = [
        (
            r.words,
            _("{first} to {second}").format(first=r.between[0], second=r.between[1]),
            f"{r.volts:.1f}",
            _("{low_v:.1f} to {high_v:.1f}").format(low_v=r.low_v, high_v=r.high_v),
        )
        for r in plan.readings
        if wall & set(r.between) and (r.state == "off" or r.volts > 1.0)
    ]
    yield from table((_("Call"), _("Between"), _("Expect"), _("Accept")), rows[:24])
    yield ""


def _routes(item: ControlPlan) -> Iterator[str]:
    yield _("EVERY ROUTE LOOKED AT")
    rows = [
        (
            route.title,
            list_words(map(named, route.lost)) or named("nothing"),
            str(sum(p.count for p in route.parts)),
            _("{minutes} min").format(minutes=route.minutes),
            f"{route.proof.margin:.0%}" if route.proof else "",
        )
        for route in item.routes
        if route.offered
    ]
    yield from table((_("Route"), _("Loses"), _("Parts"), _("Time"), _("Margin")), rows)
    yield from _refusals(item.routes)


def _refusals(routes: Sequence[Route]) -> Iterator[str]:
    titles: dict[tuple[str, ...], list[str]] = {}
    for route in routes:
        if not route.offered:
            titles.setdefault(route.reasons, []).append(route.title)
    for reasons, alike in titles.items():
        yield from wrapped(
            f"{_('Refused: {routes}.').format(routes='; '.join(alike))} {' '.join(reasons)}", "    ", "  "
        )


def _questions(plan: Plan) -> Iterator[str]:
    for contradiction in plan.contradictions:
        yield from wrapped(_("CONTRADICTION: {contradiction}").format(contradiction=contradiction.text), "  ", "")
        if contradiction.would_agree:
            yield "  " + _("It would agree if:")
            yield from _bullets(contradiction.would_agree)
        yield ""
    yield _("ANSWER FIRST") if len(plan.questions) == 1 else _("ANSWER FIRST (the first one is worth most)")
    for number, question in enumerate(plan.questions, start=1):
        yield from wrapped(f"{number}. {question.text}", "   ", "")
        yield from wrapped(_("How: {how}").format(how=question.how), "   ", "   ")
        for answer in question.answers:
            yield from wrapped(f"{answer.value}: {answer.leads_to}", "       ", "   - ")
        yield "   " + _("In the survey: {field}").format(field=question.field)


def _stopped(plan: Plan) -> Iterator[str]:
    for stop in plan.stops:
        yield from wrapped(_("STOP: {seen}").format(seen=stop.seen), "  ", "")
        yield from wrapped(stop.instead, "  ", "  ")
    if not plan.stops:
        yield _("STOP: no way was found to wire the new control that the circuit proves.")
        yield from _refusals(plan.refused)
        yield from _bullets(plan.notes)
