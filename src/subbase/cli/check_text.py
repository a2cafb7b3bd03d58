"""The sheet of what to take, as YAML that is filled in and fed back; and what was taken, judged, as text."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence

from subbase.cli.plan_text import wrapped
from subbase.names import named
from subbase.papers.data_check import place_words, what_words
from subbase.plan import Plan
from subbase.wiring import State, build_house
from subbase.words import _, mark, plural
from subbase.work.air_and_water import makers
from subbase.work.call_sequences import CallSequence
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan, supply_checks
from subbase.work.explanations import Explanation
from subbase.work.meter_words import bounds_words
from subbase.work.reading_verdicts import ReadingVerdict
from subbase.work.seen import SeenVerdict
from subbase.work.verdicts import Report

MOST_SHOWN = 8
_PLAIN = re.compile(r"[A-Za-z][\w ./'-]*")
_HEAD = (
    mark("Fill in what you take, in any order, and feed it back:  subbase check FILE --readings THIS"),
    mark("Leave a value empty when it was not taken; write: don't know. A display that shows OL is written OL."),
    mark(
        "A value may bear its unit: 26.4 V, 320 mV, 1.2 kohm. Of two readings of one place the later counts; both are kept."
    ),
    mark(
        "To be added where it helps: setting: ac | dc | ohms, meter: digital | low-impedance, range: 200, when:, who:, note:"
    ),
)
"""What the sheet says of itself; words with a colon, and what may follow them, are the file's own and stay English."""
_DEAD = (
    mark(
        "DEAD, SUPPLY LOCKED OUT AND PROVED DEAD: try the meter on a live point, then here, then on the live point again (NFPA 70E 120.5(7), 2018 and 2021; 120.6(7), 2024)."
    ),
    mark("Take every clip off again before supply goes on."),
)
_LIVE = (mark("LIVE: covers that guard line voltage stay on; one call at a time; let each call come to rest."),)
_SUPPLY = (
    mark(
        "SUPPLY UNDER LOAD, at the control, in each call. 24 to 28 V is usual; below 20.4 V coils may not pull in (common practice, no source)."
    ),
)
_STEPS = (
    mark(
        "WHAT COMES WHEN, counted from the call; of 'after the call' from its end. 'at' is seconds, or never, or empty."
    ),
    mark("Let a compressor rest 3 to 5 min first. Smell of gas: stop, leave, call the supplier."),
)
_AIR = (
    mark("AIR, after the call has run 10 to 15 min. 'feels' is warm, cold or neither, by hand at a register."),
    mark(
        "With 'rise: [LEAST, MOST]' from the nameplate it is held against that; 'flow', 'input' and 'efficiency' cross-check it."
    ),
)
_WATER = (mark("WATER, after 10 to 15 min."),)


def _comments(sentences: Sequence[str], indent: str = "") -> list[str]:
    """Return marked sentences as comments of the sheet."""
    return [line for sentence in sentences for line in wrapped(_(sentence), f"{indent}# ", f"{indent}# ")]


def sheet_yaml(plan: Plan, checks: CheckPlan, sequences: Sequence[CallSequence]) -> str:
    """Return what to take as YAML: dead readings, live ones, the supply, the steps of each call, air and water."""
    if plan.left is None:
        raise ValueError("The plan leaves no house, so there is nothing to take; answer what it asks.")
    chosen = [item.check for item in checks.checks]
    several = len(plan.left.controls) > 1
    lines = [
        "# " + _("{name}: what to take.").format(name=plan.survey.name),
        *_comments(_HEAD),
        "readings taken: 1",
        f"house: {_quoted(plan.survey.name)}",
        "",
    ]
    lines.append("readings:")
    number = 0
    asked: set[tuple[object, ...]] = set()
    for title, group in (
        (_DEAD, [check for check in chosen if check.unit == "ohm"]),
        (_LIVE, [check for check in chosen if check.unit == "V"]),
        (_SUPPLY, supply_checks(plan.left, plan.catalog)),
    ):
        new = [check for check in group if (frozenset(check.between), check.clip, check.unit, check.state) not in asked]
        if new:
            lines += _comments(title, "  ")
        for check in new:
            asked.add((frozenset(check.between), check.clip, check.unit, check.state))
            number += 1
            lines += _entry(check, number, several=several)
    lines += ["", *_sequence_lines(sequences, several=several)]
    lines += _air_lines(plan, sequences, several=several)
    return "\n".join(lines) + "\n"


def _entry(check: Check, number: int, *, several: bool) -> Iterator[str]:
    yield "  # " + _("{number}. at {site}: must be {bounds}").format(
        number=number, site=check.site, bounds=bounds_words(check.low, check.high, check.unit)
    )
    yield f"  - between: [{_quoted(check.between[0])}, {_quoted(check.between[1])}]"
    if check.clip:
        yield f"    clip: [{_quoted(check.clip[0])}, {_quoted(check.clip[1])}]"
    if check.state is not None:
        yield from (f"    {line}" for line in _state_lines(check.state, several=several))
    yield f"    unit: {check.unit}"
    yield "    value:"


def _state_lines(state: State, *, several: bool) -> Iterator[str]:
    if not state.calls:
        yield "call: off"
        return
    control, calls = state.calls[0]
    yield f"call: {next(iter(calls))}"
    if several:
        yield f"control: {_quoted(control)}"
    if state.condition is not None:
        yield f"during: {_quoted(state.condition[1])}"


def _sequence_lines(sequences: Sequence[CallSequence], *, several: bool) -> Iterator[str]:
    asked = [sequence for sequence in sequences if sequence.state.condition is None and sequence.steps]
    if not asked:
        return
    yield from _comments(_STEPS)
    yield "sequences:"
    for sequence in asked:
        first, *rest = _state_lines(sequence.state, several=several)
        yield f"  - {first}"
        yield from (f"    {line}" for line in rest)
        yield "    seen:"
        for step in sequence.steps:
            bounds = _("{least:.0f} to {most:.0f} s").format(least=step.earliest_s, most=step.latest_s)
            # The file's own word for a step is English; who reads another language has it beside.
            said = "" if step.words == step.label else f"{step.words}: "
            yield f"      # {said}{bounds} ({step.place})"
            yield f"      - what: {_quoted(step.label)}"
            yield "        at:"
    yield ""


def _air_lines(plan: Plan, sequences: Sequence[CallSequence], *, several: bool) -> Iterator[str]:
    if plan.left is None:
        return
    house = build_house(plan.left, plan.catalog)
    states = [sequence.state for sequence in sequences if sequence.state.condition is None]
    air: list[State] = []
    water: list[State] = []
    for call in solved_calls(house, states):
        made = makers(house, call.coils_in)
        if any(house.kind(place).group != "hydronic" for place in made):
            air.append(call.state)
        elif made:
            water.append(call.state)
    for title, word, group in ((_AIR, "air", air), (_WATER, "water", water)):
        if group:
            yield from _comments(title)
            yield f"{word}:"
        for state in group:
            first, *rest = _state_lines(state, several=several)
            yield f"  - {first}"
            yield from (f"    {line}" for line in (*rest, "return:", "supply:", "minutes:"))
            if word == "air":
                yield "    feels:"


def _quoted(text: str) -> str:
    return text if _PLAIN.fullmatch(text) and text == text.strip() else json.dumps(text, ensure_ascii=False)


def report_text(name: str, report: Report) -> str:
    """Return what was taken, judged, worst first; then where the house stands."""
    lines = [name, "=" * len(name), ""]
    if report.stop:
        lines += [_("STOP: POWER OFF NOW, AND IT STAYS OFF UNTIL THE CAUSE IS FOUND."), ""]
    for title, kind in (
        (_("FAILS"), "fail"),
        (_("METER OR LEAD SUSPECT: TAKE AGAIN"), "meter or lead suspect"),
        (_("NOT JUDGED"), "not judged"),
        (_("PASSES"), "pass"),
    ):
        found = report.marked(kind)
        if found:
            lines += [title, *(line for item in found for line in _verdict_lines(item)), ""]
    for earlier, later in report.replaced:
        text = _("line {line}: {place} read {written}; line {later_line}, {later}, counts in its place").format(
            line=earlier.line,
            place=place_words(earlier),
            written=earlier.written,
            later_line=later.line,
            later=later.written,
        )
        lines += wrapped(text, "    ", "  - ")
    if report.not_taken:
        count = len(report.not_taken)
        lines.append(
            "  "
            + plural(
                "{count} reading is listed without a value.", "{count} readings are listed without a value.", count
            ).format(count=count)
        )
    lines += ["", *_standing(report)]
    return "\n".join(lines)


def _verdict_lines(item: ReadingVerdict | SeenVerdict) -> Iterator[str]:
    yield from wrapped(f"{what_words(item)}: {item.judged.why}", "    ", "  - ")
    for explanation in item.explained_by:
        yield from wrapped(_("would give it: {cause}").format(cause=_explained(explanation)), "        ", "      ")
    if item.more:
        yield "      " + _("and {count} more; 'subbase diagnose' says what to measure next to tell them apart").format(
            count=item.more
        )


def _explained(item: Explanation) -> str:
    return f"{item.words}: {item.does}" if item.does else item.words


def _standing(report: Report) -> Iterator[str]:
    yield _("WHERE THE HOUSE STANDS")
    checks = len(report.plan.checks)
    if report.proved:
        yield "  " + _(
            "PROVED: {count} of {checks} checks passed, {excluded} slips excluded; none that a reading can tell is left."
        ).format(count=len(report.done), checks=checks, excluded=report.excluded)
    else:
        yield "  " + _("{count} of {checks} checks passed; {excluded} of {told} slips excluded.").format(
            count=len(report.done), checks=checks, excluded=report.excluded, told=report.plan.told
        )
        if report.marked("fail") or report.marked("meter or lead suspect"):
            yield "  " + _("Nothing is proved while a reading fails or is in doubt: put it right, and take it again.")
    if report.remaining:
        yield "  " + _("To take yet:")
        for chosen in report.remaining[:MOST_SHOWN]:
            yield from wrapped(
                _("{check}, at {site}").format(check=chosen.check.words(), site=chosen.check.site), "      ", "    - "
            )
        yield from _more(len(report.remaining))
    if report.possible:
        yield "  " + _("Still possible, worst first:")
        for outcome in report.possible[:MOST_SHOWN]:
            does = f"{outcome.worst.text} ({outcome.worst.call})" if outcome.worst else named(outcome.severity)
            yield from wrapped(f"{outcome.slip.words}: {does}", "      ", "    - ")
        yield from _more(len(report.possible))
    if report.plan.untold:
        yield "  " + _("No reading tells {count} slips: look, and try by hand:").format(count=len(report.plan.untold))
        for outcome in report.plan.untold[:MOST_SHOWN]:
            yield from wrapped(outcome.slip.words, "      ", "    - ")
        yield from _more(len(report.plan.untold))


def _more(count: int) -> Iterator[str]:
    if count > MOST_SHOWN:
        yield "    " + _("and {count} more (--json lists all)").format(count=count - MOST_SHOWN)


__all__ = ["report_text", "sheet_yaml"]
