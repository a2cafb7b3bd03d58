"""The pages to work by: the steps, what a wrong landing would do, and the sheet of checks with room for what was read."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from subbase.papers import blocks
from subbase.papers.blocks import Block
from subbase.papers.tables import Table, terminal_words
from subbase.work.checks import Check, CheckPlan
from subbase.work.outcomes import DAMAGING, SEVERITIES, Outcome
from subbase.work.steps import PHASE_TITLES, Step, WorkPlan

MOST_IN_ROW = 10
"""Slips in one row of the hazard table, so that no row is taller than a page."""
_SEVERITY_WORDS = {
    "damage to the control": "Damages the control",
    "fuse opens or supply overloaded": "Opens a fuse or overloads a supply",
    "supplies tied": "Ties two supplies",
    "strips without fan": "Strips without fan",
}


def step_blocks(work: WorkPlan) -> Iterator[Block]:
    """Yield every step of the work, phase by phase, with room for a tick."""
    yield blocks.heading("The work, step by step")
    yield blocks.text(
        f"{len(work.steps)} steps. Every step is a gate: not met, nothing behind it may begin.", sticky=True
    )
    if not work.order.safe:
        yield blocks.text(
            "No order of the moves is safe by itself in this house: the locks are all that stands between."
        )
    number = 0
    for phase, steps in work.phases():
        shared = {step.caution for step in steps}
        caution = shared.pop() if len(shared) == 1 else ""
        yield blocks.subheading(PHASE_TITLES[phase])
        if caution:
            yield blocks.text(f"Caution: {caution}", sticky=True)
        rows = []
        for step in steps:
            number += 1
            rows.append((str(number), _what(step, caution), _must(work, step), ""))
        head = ("", "What to do, and where", "Must be so; if not", "Done")
        yield from blocks.table(Table("", head, tuple(rows), (0.4, 4.4, 3.2, 0.6)), titled=0, look="steps")


def _what(step: Step, said: str) -> str:
    caution = [f"Caution: {step.caution}"] if step.caution and step.caution != said else []
    lines = [f"{step.title} ({step.where})", *caution, *(f"\N{EN DASH} {line}" for line in step.lines)]
    return "\n".join(lines if step.may_do else [*lines, f"For a {step.who}."])


def _must(work: WorkPlan, step: Step) -> str:
    lines = []
    if step.expected is not None:
        lines.append(f"{step.expected.words(work.units)}.")
        meanings = (("Lower", step.expected.if_low), ("Higher", step.expected.if_high))
        lines += [f"{which}: {meaning}." for which, meaning in meanings if meaning]
    return "\n".join([*lines, *([step.otherwise] if step.otherwise else [])])


def hazard_blocks(found: CheckPlan) -> Iterator[Block]:
    """Yield what the dangerous wrong landings would do, in the house's own words, each with the check that shows it."""
    damaging = [outcome for outcome in found.outcomes if outcome.severity in DAMAGING]
    yield blocks.heading("What a wrong landing would do")
    solved = f"{len(found.outcomes)} single wrong landings of this house were built and solved."
    if not damaging:
        yield blocks.text(f"{solved} None of them does damage.")
        return
    yield blocks.text(
        f"{solved} These {len(damaging)} do damage. In brackets stands the check of the check sheet that shows it first: "
        "do not put supply on before every dead check has passed.",
        sticky=True,
    )
    yield from blocks.table(_hazard_table(found, damaging), titled=0, look="led")
    if found.only_live:
        yield blocks.subheading("Shows only with supply on: look twice before power")
        yield blocks.bullets(outcome.slip.words for outcome in found.only_live)
    if found.untold:
        yield blocks.subheading("No reading tells these: look, and try them by hand")
        yield blocks.bullets(outcome.slip.words for outcome in found.untold)


def _hazard_table(found: CheckPlan, damaging: Sequence[Outcome]) -> Table:
    number = {id(chosen): n for n, chosen in enumerate(found.checks, start=1)}
    first = {words: number[id(chosen)] for words, chosen in found.first_shown_by.items()}
    alike: dict[tuple[str, str], list[Outcome]] = {}
    for outcome in sorted(damaging, key=lambda item: SEVERITIES.index(item.severity)):
        assert outcome.worst is not None, "a damaging slip has a finding"
        alike.setdefault((outcome.severity, f"{outcome.worst.text} ({outcome.worst.call})"), []).append(outcome)
    rows = tuple(
        (_SEVERITY_WORDS[severity], text, "\n".join(f"{o.slip.words} [{_shown_by(first, o)}]" for o in some))
        for (severity, text), outcomes in alike.items()
        for some in (outcomes[start : start + MOST_IN_ROW] for start in range(0, len(outcomes), MOST_IN_ROW))
    )
    return Table("", ("", "What happens", "When this is done [check that shows it]"), rows, (1.4, 2.8, 4.0))


def _shown_by(first: dict[str, int], outcome: Outcome) -> str:
    number = first.get(outcome.slip.words)
    return f"check {number}" if number else "look"


def check_sheet_blocks(found: CheckPlan) -> Iterator[Block]:
    """Yield the checks in the order of the work, with room for what was read."""
    yield blocks.heading("Check sheet")
    dead = [(n, c.check) for n, c in enumerate(found.checks, start=1) if c.check.state is None]
    live = [(n, c.check) for n, c in enumerate(found.checks, start=1) if c.check.state is not None]
    yield blocks.text(
        f"{len(found.checks)} readings, about {math.ceil(found.seconds / 60)} minutes (judgement). Together they tell "
        f"{found.told} of the {found.told + len(found.untold)} single wrong landings that do something.",
        sticky=True,
    )
    if dead:
        yield from blocks.table(_check_table("Dead: supply locked out and proved dead", dead), look="sheet")
        if any(check.clip for _, check in dead):
            yield blocks.text("Take every clip off again, and count them, before supply is put on.")
    if live:
        yield from blocks.table(_check_table("With supply on, in this call", live), look="sheet")


def _check_table(title: str, checks: Sequence[tuple[int, Check]]) -> Table:
    rows = tuple(
        (str(number), check.site, between_words(check), state_words(check), bounds_words(check), "")
        for number, check in checks
    )
    head = ("", "Stand at", "Leads on", "Set", "Must read", "Was read")
    return Table(title, head, rows, (0.4, 1.1, 2.2, 1.8, 1.7, 1.2))


def between_words(check: Check) -> str:
    """Return where the leads go."""
    return " and ".join(map(terminal_words, check.between))


def state_words(check: Check) -> str:
    """Return what is called meanwhile, or what is clipped together at the far end."""
    if check.state is not None:
        return check.state.words(name_controls=True)
    return f"clip {' and '.join(map(terminal_words, check.clip))} together" if check.clip else ""


def bounds_words(check: Check) -> str:
    """Return what the reading must be."""
    if check.unit == "V":
        return f"{check.low:.1f} to {check.high:.1f} V"
    if math.isinf(check.low):
        return "OL"
    return f"{check.low:.1f} ohm to OL" if math.isinf(check.high) else f"{check.low:.1f} to {check.high:.1f} ohm"
