"""Work steps as text to be read by torchlight."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.cli.plan_text import wrapped
from subbase.names import named
from subbase.words import _
from subbase.work.progress import Progress, Status, StepState
from subbase.work.steps import FOR_WHOM, PHASE_TITLES, Step, WorkPlan

MARKS: dict[Status, str] = {"done": "[x]", "failed": "[!]", "skipped": "[-]", "open": "[ ]", "blocked": "[.]"}


def work_text(plan: WorkPlan, now: Progress | None = None) -> str:
    """Return every step, numbered, phase by phase; with marks and reasons when progress is given."""
    lines = [plan.survey, "=" * len(plan.survey), ""]
    beyond = sum(not step.may_do for step in plan.steps)
    lines += wrapped(
        _("{count} steps. Every step is a gate: not met, nothing behind it may begin.").format(count=len(plan.steps))
        + (" " + _("{beyond} of them are for licensed people.").format(beyond=beyond) if beyond else ""), "", "",
    )  # fmt: skip
    if not plan.order.safe:
        lines += wrapped(_("No order of the moves is safe by itself in this house: the locks are all that stands between."), "", _("STOP AND THINK:") + " ")  # fmt: skip
    if now is not None:
        lines += [f"{tally(now)}.", _("[x] done  [!] not met  [-] left out  [ ] may be done now  [.] waits")]
    number = 0
    for phase, steps in plan.phases():
        lines += ["", _(PHASE_TITLES[phase]).upper()]
        for step in steps:
            number += 1
            lines += _step(plan, step, f"{number:>3}.", now.of(step.id) if now is not None else None)
    return "\n".join(lines)


def _step(plan: WorkPlan, step: Step, number: str, state: StepState | None) -> Iterator[str]:
    mark = f" {MARKS[state.status]}" if state is not None else ""
    indent = "       "
    if step.caution:
        yield from wrapped(_("CAUTION: {caution}").format(caution=step.caution), indent, indent)
    yield from wrapped(f"{step.title}  ({step.where})", indent, f" {number}{mark} ")
    if step.expected is not None:
        yield from wrapped(
            _must_read(plan, step),
            indent,
            indent,
        )
    for line in step.lines:
        yield from wrapped(line, f"{indent}  ", f"{indent}- ")
    if not step.may_do:
        yield indent + _(FOR_WHOM[step.who])
    if step.otherwise:
        yield from wrapped(_("If not: {otherwise}").format(otherwise=step.otherwise), indent, indent)
    if state is not None and state.status in ("failed", "blocked", "skipped"):
        yield from wrapped(f"{named(state.status).upper()}: {state.why}", indent, indent)


def _must_read(plan: WorkPlan, step: Step) -> str:
    bounds = step.expected.words(plan.units) if step.expected is not None else ""
    return _("Must read {bounds}.").format(bounds=bounds) + _meaning(step)


def _meaning(step: Step) -> str:
    expected = step.expected
    if expected is None:
        return ""
    said = [_("Lower: {if_low}.").format(if_low=expected.if_low) if expected.if_low else "", _("Higher: {if_high}.").format(if_high=expected.if_high) if expected.if_high else ""]  # fmt: skip
    return "".join(f" {text}" for text in said if text)


def step_lines(plan: WorkPlan, step: Step, state: StepState) -> list[str]:
    """Return one step for the walk: the caution first, then what, where, why, what it must read."""
    number = next(i for i, other in enumerate(plan.steps, start=1) if other.id == step.id)
    lines = [
        _("--- {number} of {count}: {phase} ---").format(
            number=number, count=len(plan.steps), phase=_(PHASE_TITLES[step.phase]).upper()
        )
    ]
    if step.caution:
        lines += wrapped(_("CAUTION: {caution}").format(caution=step.caution), "  ", "  ")
    if not step.may_do:
        lines += wrapped(_(FOR_WHOM[step.who]), "  ", "  ")
    if state.status == "failed":
        lines += wrapped(_("NOT MET YET. {why}").format(why=state.why), "  ", "  ")
    if state.status == "blocked":
        lines += wrapped(_("CANNOT BE DONE NOW. {why}").format(why=state.why), "  ", "  ")
    lines += wrapped(step.title, "  ", "  ")
    lines += wrapped(_("Where: {where}").format(where=step.where), "  ", "  ")
    lines += wrapped(_("Why: {why}").format(why=step.why), "  ", "  ")
    for line in step.lines:
        lines += wrapped(line, "    ", "  - ")
    if step.expected is not None:
        lines += wrapped(
            _must_read(plan, step),
            "  ",
            "  ",
        )
    if step.otherwise:
        lines += wrapped(_("If not: {otherwise}").format(otherwise=step.otherwise), "  ", "  ")
    return lines


def tally(now: Progress) -> str:
    """Return how far the work has come, in one line."""
    said = _("{count} of {all} done").format(count=now.count("done"), all=len(now.states))
    parts = [_("{count} left out").format(count=now.count("skipped"))] if now.count("skipped") else []
    parts += [_("{count} not met").format(count=now.count("failed"))] if now.count("failed") else []
    return ", ".join([said, *parts])


__all__ = ["step_lines", "tally", "work_text"]
