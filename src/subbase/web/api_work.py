"""Checks, work steps and judged readings as the API gives them; SI, OL as null, the same names as ``--json`` uses."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field

from subbase.web.api_shapes import Bound, Shape, Texts
from subbase.web.stage_check import Checked, ends_words
from subbase.web.stage_work import Standing
from subbase.web.workbench import Group, Sheet
from subbase.work.check_bounds import Check
from subbase.work.steps import Phase, Step, Unit
from subbase.work.taken import ReadingTaken

Pair = tuple[str, str]


def _words(items: Any) -> Any:
    return tuple(getattr(item, "words", item) for item in items)


def _slip(value: Any) -> Any:
    return value.words if hasattr(value, "words") else value


Slips = Annotated[tuple[str, ...], BeforeValidator(_words)]
Slip = Annotated[str, BeforeValidator(_slip)]


# Checks.


class CheckShape(Shape):
    """One reading to be taken; send its id as 'check' with the reading."""

    id: str
    group: Group = Field(description="Dead ones come first, with supply locked out and proved dead.")
    between: Pair
    clip: Pair | None = Field(description="Terminals joined by a clip lead meanwhile.")
    state: str | None = Field(description="What is called; null when dead.")
    words: str = Field(description="Where the probes go, and in which call.")
    site: str = Field(description="Where a person stands.")
    unit: Literal["ohm", "V"]
    low: Bound
    high: Bound
    tells: Slips = Field(default=(), description="Wrong landings that it tells.")


class FindingShape(Shape):
    """What a wrong landing does in one call."""

    call: str
    severity: str
    text: str


class SlipShape(Shape):
    """One wrong landing."""

    slip: Slip
    severity: str
    findings: tuple[FindingShape, ...]


class StepSeenShape(Shape):
    """One thing that comes in a call."""

    what: str = Field(validation_alias="label")
    place: str
    earliest_s: Bound
    latest_s: Bound
    after_the_call: bool = Field(validation_alias="ends")
    source: str


class SequenceShape(Shape):
    """What comes when in one call."""

    call: str = Field(validation_alias="words")
    steps: tuple[StepSeenShape, ...]
    notes: Texts


class SheetShape(Shape):
    """The sheet of checks of a house as planned."""

    format: Literal[1] = 1
    survey: str = Field(description="SHA-256 of the survey's text that it was made for.")
    mark: str = Field(description="Of the wiring; send it with every reading, so that it counts for this wiring alone.")
    seconds: int = Field(description="What all checks take.")
    checks: tuple[CheckShape, ...]
    sequences: tuple[SequenceShape, ...]
    slips: tuple[SlipShape, ...] = Field(description="Every single wrong landing that was solved.")
    untold: Texts = Field(description="Those that no reading tells.")
    only_live: Texts = Field(description="Those whose damage shows only with supply on.")

    @classmethod
    def of(cls, sheet: Sheet, survey: str) -> SheetShape:
        """Return a sheet as it is shown."""
        tells = {check: chosen.tells for chosen in sheet.checks.checks if (check := sheet.item_of(chosen.check))}
        several = len(sheet.left.controls) > 1
        return cls(
            survey=survey,
            mark=sheet.mark,
            seconds=sheet.checks.seconds,
            checks=tuple(
                _check(item.id, item.group, item.check, tells.get(item, ()), several=several) for item in sheet.items
            ),
            sequences=tuple(map(SequenceShape.model_validate, sheet.sequences)),
            slips=tuple(map(SlipShape.model_validate, sheet.checks.outcomes)),
            untold=tuple(item.slip.words for item in sheet.checks.untold),
            only_live=tuple(item.slip.words for item in sheet.checks.only_live),
        )


def _check(check_id: str, group: Group, check: Check, tells: Any, *, several: bool) -> CheckShape:
    return CheckShape(
        id=check_id,
        group=group,
        between=check.between,
        clip=check.clip,
        state=_state(check.state),
        words=ends_words(check, several=several),
        site=check.site,
        unit=check.unit,
        low=check.low,
        high=check.high,
        tells=tells,
    )


def _state(state: Any) -> str | None:
    return None if state is None else str(state.name(name_controls=True))


# Work steps.


class ExpectedShape(Shape):
    """What a meter or thermometer must read."""

    between: Pair | None
    unit: Unit
    low: Bound
    high: Bound
    if_low: str
    if_high: str


class StepStateShape(Shape):
    """Where one step stands."""

    status: Literal["done", "failed", "skipped", "open", "blocked"]
    why: str
    value: Bound = Field(description="What was read; null when nothing was, or OL.")
    waits_for: Texts


class StepShape(Shape):
    """One thing to do, to look at, or to read; a gate for whatever names it in 'after'."""

    id: str
    phase: Phase
    kind: Literal["do", "look", "read"]
    title: str
    site: str
    where: str
    why: str
    lines: Texts
    expected: ExpectedShape | None
    otherwise: str
    caution: str
    who: str
    may_do: bool
    may_skip: bool
    live: bool
    after: Texts
    needs: Texts
    covers: Texts
    source: str
    state: StepStateShape | None = None


class WorkShape(Shape):
    """Every step of the job, in an order that may be followed, with where each stands."""

    format: Literal[1] = 1
    survey: str = Field(description="SHA-256 of the survey's text that they were made for.")
    mark: str = Field(description="Of the wiring; send it with every result.")
    season: Literal["heating", "cooling"] | None
    outdoor_c: float | None
    licences: Texts
    walks: int
    moves_safe: bool
    steps: tuple[StepShape, ...]
    open: Texts = Field(description="Steps that may be done now, those to be put right first.")
    finished: bool

    @classmethod
    def of(cls, found: Standing, survey: str) -> WorkShape:
        """Return work steps as they are shown."""
        plan, states = found.steps, dict(found.now.states)

        def step_of(step: Step) -> StepShape:
            state = StepStateShape.model_validate(states[step.id])
            return StepShape.model_validate(step).model_copy(update={"state": state})

        return cls(
            survey=survey,
            mark=found.mine.sheet.mark,
            season=plan.season,
            outdoor_c=plan.outdoor_c,
            licences=tuple(sorted(plan.licences)),
            walks=plan.walks,
            moves_safe=plan.order.safe,
            steps=tuple(map(step_of, plan.steps)),
            open=found.now.open,
            finished=found.now.finished,
        )


# What was read, judged.


class ExplanationShape(Shape):
    """Something that would give a reading and every other so far."""

    what: str = Field(validation_alias="words")
    does: str
    damaging: bool


class VerdictShape(Shape):
    """One reading, or one thing seen, and what is said of it."""

    about: Literal["reading", "seen"]
    sequence: int = Field(description="Of the event that it was kept by.")
    check: str | None = Field(description="Id of the check that it answers.")
    between: Pair | None
    call: str = Field(description="What was called; empty when dead.")
    what: str = Field(description="As it was read, or what was to be seen.")
    verdict: Literal["pass", "fail", "meter or lead suspect", "not judged"]
    why: str
    low: Bound
    high: Bound
    unit: str
    source: str
    stop: bool = Field(description="Whether power goes off, and stays off, before anything else.")
    explained_by: tuple[ExplanationShape, ...]


class PossibleShape(Shape):
    """A wrong landing that no reading excludes yet."""

    slip: Slip
    severity: str


class ReportShape(Shape):
    """Everything that was read and counts, judged, and where the house stands."""

    format: Literal[1] = 1
    survey: str = Field(description="SHA-256 of the survey's text that it was judged by.")
    mark: str
    stop: bool = Field(description="Whether power goes off now, and stays off until the cause is found.")
    proved: bool = Field(description="Whether the readings show that the house is as planned, as far as any check can.")
    verdicts: tuple[VerdictShape, ...]
    remaining: Texts = Field(description="Ids of the checks that still tell a possible wrong landing.")
    slips_excluded: int
    slips_told: int = Field(description="How many the checks can exclude.")
    slips_possible: tuple[PossibleShape, ...]
    slips_untold: Texts

    @classmethod
    def of(cls, found: Checked, survey: str) -> ReportShape:
        """Return a judgement as it is shown."""
        report, sheet = found.report, found.sheet
        remaining = (sheet.item_of(chosen.check) for chosen in report.remaining)
        return cls(
            survey=survey,
            mark=sheet.mark,
            stop=report.stop,
            proved=report.proved,
            verdicts=tuple(_verdict(found, item) for item in report.everything),
            remaining=tuple(item.id for item in remaining if item is not None),
            slips_excluded=report.excluded,
            slips_told=report.plan.told,
            slips_possible=tuple(map(PossibleShape.model_validate, report.possible)),
            slips_untold=tuple(item.slip.words for item in report.plan.untold),
        )


def _verdict(found: Checked, item: Any) -> VerdictShape:
    judged, taken = item.judged, getattr(item, "taken", None)
    told: dict[str, Any]
    if isinstance(taken, ReadingTaken):
        check = next((each for each in found.sheet.items if _key(each.check) == taken.key), None)
        told = {
            "about": "reading",
            "sequence": taken.line,
            "check": check.id if check is not None else None,
            "between": taken.between,
            "call": taken.state.name(name_controls=True) if taken.unit == "V" else "",
            "what": taken.written,
        }
    else:
        told = {
            "about": "seen",
            "sequence": item.line,
            "check": None,
            "between": None,
            "call": item.call,
            "what": item.what,
        }
    return VerdictShape(
        **told,
        verdict=judged.mark,
        why=judged.why,
        low=judged.low,
        high=judged.high,
        unit=judged.unit,
        source=judged.source,
        stop=judged.stop,
        explained_by=tuple(map(ExplanationShape.model_validate, item.explained_by)),
    )


def _key(check: Check) -> tuple[object, ...]:
    """Return a check as ``ReadingTaken.key`` names its reading."""
    clip = frozenset(check.clip) if check.clip else None
    return frozenset(check.between), clip, check.unit, check.state if check.unit == "V" else None


__all__ = ["ReportShape", "SheetShape", "WorkShape"]
