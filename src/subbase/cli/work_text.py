"""Work steps as text to be read by torchlight, and as plain data."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from subbase.cli.plan_text import wrapped
from subbase.names import named
from subbase.words import _
from subbase.work.progress import Progress, Status, StepState, digest
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


def work_data(plan: WorkPlan, now: Progress | None = None) -> dict[str, Any]:
    """Return the steps as plain data, SI, OL as null; with states when progress is given."""
    return {
        "format": 1,
        "survey": plan.survey,
        "plan": digest(plan),
        "season": plan.season,
        "outdoor_c": plan.outdoor_c,
        "licences": sorted(plan.licences),
        "walks": plan.walks,
        "moves_safe": plan.order.safe,
        "steps": [_step_data(step, now.of(step.id) if now is not None else None) for step in plan.steps],
        **({"finished": now.finished, "open": list(now.open)} if now is not None else {}),
    }


def _step_data(step: Step, state: StepState | None) -> dict[str, Any]:
    data: dict[str, Any] = {
        "id": step.id,
        "phase": step.phase,
        "kind": step.kind,
        "title": step.title,
        "site": step.site,
        "where": step.where,
        "why": step.why,
        "lines": list(step.lines),
        "expected": None,
        "otherwise": step.otherwise,
        "caution": step.caution,
        "who": step.who,
        "may_do": step.may_do,
        "may_skip": step.may_skip,
        "live": step.live,
        "after": list(step.after),
        "needs": list(step.needs),
        "covers": list(step.covers),
        "source": step.source,
    }
    if step.expected is not None:
        data["expected"] = {
            "between": list(step.expected.between) if step.expected.between else None,
            "unit": step.expected.unit,
            "low": _finite(step.expected.low),
            "high": _finite(step.expected.high),
            "if_low": step.expected.if_low,
            "if_high": step.expected.if_high,
        }
    if state is not None:
        data["state"] = {"status": state.status, "why": state.why, "waits_for": list(state.waits_for)}
        data["state"]["value"] = _shown(state.value)
    return data


def _finite(value: float) -> float | None:
    return None if math.isinf(value) else round(value, 3)


def _shown(value: float | None) -> float | str | None:
    return "OL" if value is not None and math.isinf(value) else value


__all__ = ["step_lines", "tally", "work_data", "work_text"]
