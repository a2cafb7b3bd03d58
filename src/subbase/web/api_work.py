"""Checks, work steps and judged readings of a job: the shapes of ``--json``, with what an answer to them must bear."""

from __future__ import annotations

from typing import Any, Literal, Self

from pydantic import Field

from subbase.papers import data_check, data_work
from subbase.papers.data_check import JudgedShape, SequenceShape, SlipsLeftShape, StandsShape
from subbase.papers.data_shape import Pair
from subbase.web.check_words import ends_words
from subbase.web.sheet import Group, Sheet
from subbase.web.stage_check import Checked
from subbase.web.standing import Standing
from subbase.work.reading_verdicts import ReadingVerdict


class CheckShape(data_check.CheckShape):
    """One reading to be taken; send its id as 'check' with the reading."""

    id: str
    group: Group = Field(description="Dead ones come first, with supply locked out and proved dead.")
    words: str = Field(description="Where the probes go, and in which call.")


class SheetShape(data_check.ChecksShape):
    """The sheet of checks of a house as planned."""

    survey: str = Field(description="SHA-256 of the survey's text that it was made for.")
    mark: str = Field(description="Of the wiring; send it with every reading, so that it counts for this wiring alone.")
    checks: tuple[CheckShape, ...]
    sequences: tuple[SequenceShape, ...]

    @classmethod
    def on(cls, sheet: Sheet, survey: str) -> Self:
        """Return a sheet as it is shown."""
        tells = {check: chosen.tells for chosen in sheet.checks.checks if (check := sheet.item_of(chosen.check))}
        several = len(sheet.left.controls) > 1
        checks = [
            CheckShape.filled(
                item.check,
                id=item.id,
                group=item.group,
                words=ends_words(item.check, several=several),
                tells=tells.get(item, ()),
            )
            for item in sheet.items
        ]
        return cls.of(sheet.checks, survey=survey, mark=sheet.mark, checks=checks, sequences=sheet.sequences)


class WorkShape(data_work.WorkShape):
    """Every step of the job, in an order that may be followed, with where each stands."""

    survey: str = Field(description="SHA-256 of the survey's text that they were made for.")
    mark: str = Field(description="Of the wiring; send it with every result.")
    finished: bool
    open: tuple[str, ...] = Field(description="Steps that may be done now, those to be put right first.")

    @classmethod
    def on(cls, found: Standing, survey: str) -> Self:
        """Return work steps as they are shown."""
        return cls.of(found.steps, found.now, survey=survey, mark=found.mine.sheet.mark)


class VerdictShape(JudgedShape):
    """One reading, or one thing seen, and what is said of it."""

    about: Literal["reading", "seen"]
    sequence: int = Field(description="Of the event that it was kept by.")
    check: str | None = Field(description="Id of the check that it answers.")
    between: Pair | None
    call: str = Field(description="What was called; empty when dead.")
    what: str = Field(description="As it was read, or what was to be seen.")


class ReportShape(SlipsLeftShape, StandsShape):
    """Everything that was read and counts, judged, and where the house stands."""

    survey: str = Field(description="SHA-256 of the survey's text that it was judged by.")
    mark: str
    verdicts: tuple[VerdictShape, ...]
    remaining: tuple[str, ...] = Field(description="Ids of the checks that still tell a possible wrong landing.")
    slips_told: int = Field(description="How many the checks can exclude.")

    @classmethod
    def on(cls, found: Checked, survey: str) -> Self:
        """Return a judgement as it is shown."""
        report, sheet = found.report, found.sheet
        remaining = (sheet.item_of(chosen.check) for chosen in report.remaining)
        return cls.of(
            report,
            lambda item: _what(sheet, item),
            survey=survey,
            mark=sheet.mark,
            remaining=[item.id for item in remaining if item is not None],
            slips_told=report.plan.told,
        )


def _what(sheet: Sheet, item: data_check.Verdict) -> dict[str, Any]:
    if not isinstance(item, ReadingVerdict):
        told = {"about": "seen", "check": None, "between": None}
        return told | {"call": item.call, "what": item.what, "sequence": item.line}
    taken = item.taken
    check = next((each for each in sheet.items if each.check.key == taken.key), None)
    return {
        "about": "reading",
        "sequence": taken.line,
        "check": check.id if check is not None else None,
        "between": taken.between,
        "call": taken.state.name(name_controls=True) if taken.unit == "V" else "",
        "what": taken.written,
    }


__all__ = ["ReportShape", "SheetShape", "WorkShape"]
