"""The shapes of checks: the fewest that tell every wrong landing, what each call must show, and what was taken, judged."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.names import named
from subbase.papers.data_shape import Bound, Name, Pair, Shape, Slips, Texts, Told, Words, rounded
from subbase.words import _
from subbase.work.checks import CheckPlan, ChosenCheck
from subbase.work.double_report import DoubleOutcome, DoubleReport
from subbase.work.double_slips import RULE
from subbase.work.outcomes import Outcome
from subbase.work.reading_verdicts import ReadingVerdict
from subbase.work.seen import SeenVerdict
from subbase.work.taken import ReadingTaken
from subbase.work.verdicts import Report

Called = Annotated[str | None, BeforeValidator(lambda s: s.name(name_controls=True) if hasattr(s, "name") else s)]
"""What is called, by its name for programs; null when dead."""
Seconds = Annotated[float, rounded(1)]
Verdict = ReadingVerdict | SeenVerdict


# What to take.


class CheckShape(Shape):
    """One reading to take."""

    kind: Literal["dead", "dead, clipped", "live"]
    between: Pair
    clip: Pair | None = Field(description="Terminals joined at the far end meanwhile.")
    state: Called = Field(description="What is called; null when dead.")
    site: str
    unit: Literal["V", "ohm"]
    low: Bound = Field(description="Null is OL.")
    high: Bound = Field(description="Null is OL.")
    tells: Slips = Field(description="Wrong landings that it shows.")


class FindingShape(Shape):
    """One thing that a wrong landing does in one call."""

    call: str
    severity: str
    text: str


class SlipShape(Shape):
    """One wrong landing."""

    slip: Words
    severity: str
    first_shown_by: str | None
    findings: tuple[FindingShape, ...]


class ChecksShape(Told):
    """The fewest readings that tell the plan from every wrong landing."""

    survey: Name
    seconds: int = Field(description="Judgement.")
    checks: tuple[CheckShape, ...]
    slips: tuple[SlipShape, ...]
    untold: Slips = Field(description="No reading shows these.")
    only_live: Slips = Field(description="These show only with supply on.")

    @classmethod
    def of(cls, found: CheckPlan, **more: Any) -> Self:
        """Return checks as they are told; ``more`` names the survey, and what a shape of its own adds."""
        shown = {slip: chosen.check.words() for slip, chosen in found.first_shown_by.items()}
        told = {
            "checks": _checks(found.checks),
            "slips": [SlipShape.filled(x, first_shown_by=shown.get(x.slip.words)) for x in found.outcomes],
            "untold": _slips(found.untold),
            "only_live": _slips(found.only_live),
        }
        return cls.filled(found, **(told | more))


class WithDoublesShape(ChecksShape):
    """``subbase checks --json``."""

    doubles: dict[str, Any] | None = Field(default=None, description="With --doubles: two slips at once.")


def doubles_data(found: DoubleReport) -> dict[str, Any]:
    """Return what two slips at once do, and which of them no check tells."""

    def both(items: Iterable[DoubleOutcome]) -> list[str]:
        return [each.double.both.words for each in items]

    return {
        "looked_at": RULE,
        "pairs": found.pairs,
        "told": found.told,
        "harmless": found.harmless,
        "slips": [
            {
                "slips": [each.double.first.words, each.double.second.words],
                "severity": each.outcome.severity,
                "worst": worst_words(each.outcome),
                "first_shown_by": each.shown_by.words() if each.shown_by else None,
            }
            for each in found.doubles
        ],
        "masked": both(found.masked),
        "shown_live": both(found.shown_live),
        "extra_seconds": found.extra_seconds,
        "extra_checks": [check.plain() for check in _checks(found.extra)],
        "untold": both(found.untold),
        "only_live": both(found.only_live),
    }


def worst_words(outcome: Outcome) -> str:
    """Return the worst that a slip does, and in which call."""
    return f"{outcome.worst.text} ({outcome.worst.call})" if outcome.worst else named(outcome.severity)


def _checks(chosen: Iterable[ChosenCheck]) -> list[CheckShape]:
    return [CheckShape.filled(item.check, tells=item.tells) for item in chosen]


def _slips(outcomes: Iterable[Outcome]) -> list[str]:
    return [outcome.slip.words for outcome in outcomes]


class SequenceStepShape(Shape):
    """One thing that must be seen or heard in a call."""

    what: str = Field(validation_alias="label")
    place: str
    earliest_s: Seconds
    latest_s: Seconds
    after_the_call: bool = Field(validation_alias="ends")
    source: str


class PullsInShape(Shape):
    """A coil that pulls in."""

    what: str = Field(validation_alias="words")
    at_s: float


class SequenceShape(Shape):
    """What one call must show, in order."""

    call: str = Field(validation_alias="words")
    steps: tuple[SequenceStepShape, ...]
    pulls_in: tuple[PullsInShape, ...]
    notes: Texts


class ToTakeShape(Told):
    """``subbase check FILE --json``, without readings."""

    survey: Name
    sheet: str = Field(description="The sheet to fill in, as YAML text.")
    sequences: tuple[SequenceShape, ...]


# What was taken, judged.


class ExplanationShape(Shape):
    """A wrong landing that would read so."""

    what: str = Field(validation_alias="words")
    does: str
    damaging: bool


class JudgedShape(Shape):
    """What is said of one reading or sight."""

    verdict: Literal["pass", "fail", "meter or lead suspect", "not judged"] = Field(validation_alias="mark")
    why: str
    low: Bound = Field(description="Null is OL, or nothing to compare with.")
    high: Bound = Field(description="Null is OL, or nothing to compare with.")
    unit: str
    source: str
    stop: bool = Field(description="Power off now.")
    explained_by: tuple[ExplanationShape, ...]


class TakenShape(Shape):
    """What was read or seen, and where that stands."""

    what: str
    line: int


# Fields of the last base come first.
class VerdictShape(JudgedShape, TakenShape):
    """One reading or sight, judged."""


class ReplacedShape(Shape):
    """Of two readings of one place, the later counts."""

    line: int
    read: str
    by_line: int
    by: str


class PossibleShape(Shape):
    """A wrong landing that every reading so far allows."""

    slip: Words
    severity: str


class StandsShape(Told):
    """Where the house stands by what was taken."""

    survey: Name
    stop: bool = Field(description="Power off now.")
    proved: bool = Field(description="Whether the house is as planned, as far as any check can show it.")
    verdicts: tuple[JudgedShape, ...]

    @classmethod
    def of(cls, report: Report, what: Callable[[Verdict], Mapping[str, Any]], **more: Any) -> Self:
        """Return a report as it is told: ``what`` says of each thing that is judged what it was."""
        told = {
            "verdicts": [
                {**asdict(item.judged), "explained_by": item.explained_by, **what(item)} for item in report.everything
            ],
            "slips_excluded": report.excluded,
            "slips_possible": report.possible,
            "slips_untold": _slips(report.plan.untold),
        }
        return cls.filled(report, **(told | more))


class ProgressShape(Shape):
    """What was replaced, and which checks have passed."""

    replaced: tuple[ReplacedShape, ...]
    not_taken: Texts
    checks: int
    passed: Texts


class SlipsLeftShape(Shape):
    """What is still to be taken, and which wrong landings that leaves."""

    remaining: Texts = Field(description="Checks that still tell a possible wrong landing.")
    slips_excluded: int
    slips_possible: tuple[PossibleShape, ...]
    slips_untold: Texts = Field(description="No reading tells these.")


class CheckedShape(SlipsLeftShape, ProgressShape, StandsShape):
    """``subbase check FILE --readings R.yaml --json``."""

    verdicts: tuple[VerdictShape, ...]

    @classmethod
    def by_line(cls, report: Report, survey: str) -> Self:
        """Return a report on a file of readings, by its lines."""
        return cls.of(
            report,
            lambda x: {"what": what_words(x), "line": x.taken.line if isinstance(x, ReadingVerdict) else x.line},
            survey=survey,
            replaced=[
                {"line": earlier.line, "read": earlier.written, "by_line": later.line, "by": later.written}
                for earlier, later in report.replaced
            ],
            not_taken=[place_words(reading) for reading in report.not_taken],
            checks=len(report.plan.checks),
            passed=[chosen.check.words() for chosen in report.done],
            remaining=[chosen.check.words() for chosen in report.remaining],
        )


def place_words(reading: ReadingTaken) -> str:
    """Return where a reading was taken, as people say it."""
    a, b = reading.between
    state = reading.state.words(name_controls=True)
    if reading.clip:
        said = (
            _("{a} to {b} with {first} and {second} clipped dead")
            if reading.unit == "ohm"
            else _("{a} to {b} with {first} and {second} clipped at {state}")
        )
        return said.format(a=a, b=b, first=reading.clip[0], second=reading.clip[1], state=state)
    said = _("{a} to {b} dead") if reading.unit == "ohm" else _("{a} to {b} at {state}")
    return said.format(a=a, b=b, state=state)


def what_words(item: Verdict) -> str:
    """Return what was read and where, or what was seen in which call."""
    if isinstance(item, ReadingVerdict):
        return f"{place_words(item.taken)}, {item.taken.written}"
    return f"{item.call}, {item.what}"
