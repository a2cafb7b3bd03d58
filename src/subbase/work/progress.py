"""How far a work plan has come: a pure fold of results over its steps.

Results are kept as they were given, in their order, and nothing else is: what is done, open or blocked follows from them.
A result that comes too early, or that its step does not allow, is refused and changes nothing. When a step that was met
is taken back, or a reading of it turns out wrong, everything behind it must be done again: a gate that opens late lets
nothing through that went by before. Likewise tests with a meter that fails its second proof were never made.
Once supply has been on and is to be off again, locks and proofs are to be made anew; what was moved stays moved.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from subbase.errors import Fault, InputError
from subbase.words import _, mark
from subbase.work.steps import Step, Who, WorkPlan

Did = Literal["done", "read", "not so", "skipped", "undone"]
DEEDS: tuple[Did, ...] = get_args(Did)
Status = Literal["done", "failed", "skipped", "open", "blocked"]
FORMAT = 1
_WHO_DID: dict[Who, str] = {
    "anyone": mark("Say in the reason who did it."),
    "licensed electrician": mark("This is for a licensed electrician: say in the reason who did it."),
    "licensed gas fitter": mark("This is for a licensed gas fitter: say in the reason who did it."),
    "certified for refrigerant": mark("This is for a person certified for refrigerant: say in the reason who did it."),
}


@dataclass(frozen=True, slots=True)
class Result:
    """What came of one step; an event of the job."""

    step: str
    did: Did
    value: float | None = None
    """Of readings: SI (V, ohm, °C); infinite is OL."""
    reason: str = ""
    """Why it was left out, or what was seen instead."""


@dataclass(frozen=True, slots=True)
class StepState:
    """Where one step stands."""

    status: Status
    why: str = ""
    """What it waits for, or what to do, or the reason it was left out."""
    value: float | None = None
    waits_for: tuple[str, ...] = ()
    """Steps that block it."""


@dataclass(frozen=True, slots=True)
class Progress:
    """Where a whole work plan stands."""

    results: tuple[Result, ...]
    states: tuple[tuple[str, StepState], ...]
    """Every step with its state, in the plan's order."""
    refused: tuple[tuple[Result, str], ...] = ()
    """Results that changed nothing, each with the reason."""

    def of(self, step_id: str) -> StepState:
        """Return the state of one step.

        Raises
        ------
        KeyError
            When the plan has no such step.
        """
        return dict(self.states)[step_id]

    @property
    def open(self) -> tuple[str, ...]:
        """Return the steps that may be done now, failed ones (to be put right) first."""
        failed = tuple(step for step, state in self.states if state.status == "failed")
        return (*failed, *(step for step, state in self.states if state.status == "open"))

    @property
    def finished(self) -> bool:
        """Whether every step is done or rightly left out."""
        return all(state.status in ("done", "skipped") for __, state in self.states)

    def count(self, status: Status) -> int:
        """Return how many steps stand so."""
        return sum(1 for __, state in self.states if state.status == status)


def progress(plan: WorkPlan, results: Iterable[Result]) -> Progress:
    """Return where a plan stands after results, taken one after the other."""
    given = tuple(results)
    by_id = {step.id: step for step in plan.steps}
    before = _all_before(plan)
    held: dict[str, Result] = {}
    refused: list[tuple[Result, str]] = []
    for result in given:
        reason = _refusal(by_id, before, held, result)
        if reason:
            refused.append((result, reason))
            continue
        on = {step.id for step in plan.steps if step.renews and _meets(step, held.get(step.id))}
        was_met = result.step in held and _meets(by_id[result.step], held[result.step])
        if result.did == "undone":
            held.pop(result.step, None)
        else:
            held[result.step] = result
        for void in by_id[result.step].voids if not _meets(by_id[result.step], held.get(result.step)) else ():
            held.pop(void, None)
        if was_met:
            # Done anew or done no longer: either way what went through this gate went through the old one.
            for behind in plan.behind(result.step):
                held.pop(behind, None)
        for off in on - held.keys():
            for again in by_id[off].renews:
                held.pop(again, None)
    return Progress(given, tuple((step.id, _state(by_id, before, held, step)) for step in plan.steps), tuple(refused))


def with_result(plan: WorkPlan, before: Progress, result: Result) -> Progress:
    """Return where a plan stands after one more result.

    Raises
    ------
    InputError
        When the step may not be done yet, may not be left out, or the result is not one for it.
    """
    after = progress(plan, (*before.results, result))
    if len(after.refused) > len(before.refused):
        raise InputError((Fault(after.refused[-1][1], where=result.step),))
    return after


def _meets(step: Step, result: Result | None) -> bool:
    """Tell whether a result opens the gate: done, seen to be so, read within bounds, or left out where that is allowed."""
    if result is None:
        return False
    if result.did == "skipped":
        return step.may_skip
    if step.expected is not None:
        return result.did == "read" and result.value is not None and step.expected.holds(result.value)
    return result.did == "done"


def _all_before(plan: WorkPlan) -> dict[str, tuple[str, ...]]:
    """Return every step -> all that must be met before it, nearest gates first."""
    found: dict[str, tuple[str, ...]] = {}
    for step in plan.steps:
        further = (other for gate in step.after for other in found[gate])
        found[step.id] = tuple(dict.fromkeys((*step.after, *further)))
    return found


def _waits(
    by_id: Mapping[str, Step], before: Mapping[str, tuple[str, ...]], held: Mapping[str, Result], step: Step
) -> Iterator[str]:
    """Yield what blocks a step; with supply on, also whatever just turned out wrong anywhere."""
    if step.live:
        wrong = (name for name, result in held.items() if by_id[name].live and not _meets(by_id[name], result))
        yield from (name for name in wrong if name != step.id and held[name].did != "skipped")
    for name in before[step.id]:
        result = held.get(name)
        left_out = result is not None and result.did == "skipped"
        if not _meets(by_id[name], result) or (left_out and name in step.needs):
            yield name


def _refusal(
    by_id: Mapping[str, Step], before: Mapping[str, tuple[str, ...]], held: Mapping[str, Result], result: Result
) -> str:
    """Return why a result changes nothing; empty when it does."""
    step = by_id.get(result.step)
    if step is None:
        return _("There is no step '{step}' in this plan.").format(step=result.step)
    if result.did == "undone":
        return "" if result.step in held else _("There is nothing to take back: this step has no result.")
    if result.did == "skipped":
        if not step.may_skip:
            return _("This step guards what follows; it may not be left out.")
        return "" if result.reason.strip() else _("Say why it is left out: the reason goes on the papers.")
    blocked = tuple(_waits(by_id, before, held, step))
    if blocked:
        return _("Not yet: first {title}.").format(title=by_id[blocked[0]].title)
    if not step.may_do and result.did != "not so" and not result.reason.strip():
        return _(_WHO_DID[step.who])
    if step.expected is not None:
        if result.did == "done":
            return _("Enter the reading: it must be {expected}.").format(expected=step.expected.words())
        if result.did == "read" and (result.value is None or math.isnan(result.value)):
            return _("A reading needs a number, or OL.")
        if result.did == "read" and step.expected.unit != "degC" and (result.value or 0.0) < 0.0:
            return _("Volts AC and ohms are never negative; look at the meter's range.")
        if result.did == "read" and step.expected.unit != "ohm" and math.isinf(result.value or 0.0):
            return _("OL is a reading of ohms; of volts it says that the range is too small.")
    elif result.did == "read":
        return _("Nothing is read at this step; say done, or what is not so.")
    return ""


def _state(
    by_id: Mapping[str, Step], before: Mapping[str, tuple[str, ...]], held: Mapping[str, Result], step: Step
) -> StepState:
    result = held.get(step.id)
    if result is not None and _meets(step, result):
        return StepState("skipped" if result.did == "skipped" else "done", result.reason, result.value)
    blocked = tuple(_waits(by_id, before, held, step))
    if blocked:
        failed = [name for name in blocked if held.get(name) and held[name].did != "skipped"]
        first = by_id[(failed or blocked)[0]]
        why = _("Not so: {title}") if failed else _("Not done yet: {title}")
        return StepState("blocked", why.format(title=first.title), waits_for=blocked)
    if result is not None:
        return StepState("failed", _what_to_do(step, result), result.value)
    return StepState("open")


def _what_to_do(step: Step, result: Result) -> str:
    """Return what a reading means and what to do now."""
    said = result.reason.strip()
    if result.value is not None and step.expected is not None:
        low = result.value < step.expected.low
        meaning = step.expected.if_low if low else step.expected.if_high
        if meaning:
            off = _("Lower than it must be: {meaning}.") if low else _("Higher than it must be: {meaning}.")
        else:
            off = _("Lower than it must be.") if low else _("Higher than it must be.")
        said = f"{off.format(meaning=meaning)} {said}".strip()
    return " ".join(text for text in (said, step.otherwise) if text)


def back_to_dead(plan: WorkPlan, now: Progress) -> tuple[Result, ...]:
    """Return the results that take the job back behind the locks: read back, look and meter again before supply."""
    return tuple(
        Result(step.id, "undone", reason=_("locked out again"))
        for step in plan.steps
        if step.phase == "look twice" and now.of(step.id).status == "done"
    )


# What is kept.


def digest(plan: WorkPlan) -> str:
    """Return a short mark of a plan's steps: results of one plan must not be read into another."""
    told = [
        (s.id, title, s.after, s.needs, s.may_skip, (s.expected.low, s.expected.high) if s.expected else None)
        for s, title in zip(plan.steps, plan.titles, strict=True)
    ]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:16]


def progress_data(plan: WorkPlan, now: Progress) -> dict[str, Any]:
    """Return what is to be kept as plain data; an infinite reading is the word OL."""
    return {
        "format": FORMAT,
        "survey": plan.survey,
        "plan": digest(plan),
        "season": plan.season,
        "outdoor_c": plan.outdoor_c,
        "licences": sorted(plan.licences),
        "results": [result_data(result) for result in now.results],
    }


def result_data(result: Result) -> dict[str, Any]:
    """Return one result as plain data."""
    data: dict[str, Any] = {"step": result.step, "did": result.did}
    if result.value is not None:
        data["value"] = "OL" if math.isinf(result.value) else result.value
    if result.reason:
        data["reason"] = result.reason
    return data


def results_from(data: Any, plan: WorkPlan, *, file: str = "") -> tuple[Result, ...]:
    """Return the results that ``progress_data`` wrote.

    Raises
    ------
    InputError
        When the data is no such thing, or was kept of another plan.
    """
    if not isinstance(data, dict) or data.get("format") != FORMAT or not isinstance(data.get("results"), list):
        raise InputError((Fault(_("This is no record of work steps, format 1; name another file."), file=file),))
    if data.get("plan") != digest(plan):
        message = _(
            "This record belongs to other steps: the survey, the weather or the licences have changed since. Start a new record; prove dead again before you touch anything."
        )
        raise InputError((Fault(message, file=file),))
    return tuple(_result_from(item, number, file) for number, item in enumerate(data["results"]))


def _result_from(item: Any, number: int, file: str) -> Result:
    where = f"results.{number}"
    if not isinstance(item, dict) or not isinstance(item.get("step"), str) or item.get("did") not in DEEDS:
        message = _("A result needs a 'step' and a 'did' of: {deeds}.").format(deeds=", ".join(DEEDS))
        raise InputError((Fault(message, where, file),))
    value, reason = item.get("value"), item.get("reason", "")
    if value == "OL":
        value = math.inf
    if isinstance(value, bool) or not isinstance(value, int | float | None) or not isinstance(reason, str):
        raise InputError((Fault(_("A 'value' is a number or OL, a 'reason' is text."), where, file),))
    return Result(item["step"], item["did"], None if value is None else float(value), reason)


__all__ = [
    "DEEDS", "Did", "Progress", "Result", "Status", "StepState", "back_to_dead", "digest", "progress", "progress_data", "result_data",
    "results_from", "with_result",
]  # fmt: skip
