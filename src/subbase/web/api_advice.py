"""The search for a fault, and where the control goes, of a job: the shapes of ``--json``, with what an answer must bear."""

from __future__ import annotations

from typing import Any, Self

from pydantic import Field

from subbase.papers import data_diagnosis, data_site
from subbase.siting.verdict import SiteVerdict
from subbase.web.record_search import answer_entry
from subbase.web.stage_diagnose import Search


class TestShape(data_diagnosis.TestShape):
    """One test to make."""

    entry: dict[str, Any] = Field(
        description="Put your value in place of 'unknown' and send it as the entry of a 'test_answered' event."
    )


class NextShape(data_diagnosis.NextShape):
    """What to do next, and why."""

    test: TestShape | None
    others: tuple[TestShape, ...] = Field(description="What comes next to it.")


class DiagnosisShape(data_diagnosis.DiagnosisShape):
    """What may be wrong, how likely, and the next best test."""

    survey: str = Field(description="SHA-256 of the survey's text.")
    mark: str = Field(description="Of the wiring; send it with every answer.")
    repaired: tuple[str, ...] = Field(
        default=(),
        description="Ids of causes that were put right while something stayed wrong; told by a 'test_answered' event whose entry is {repaired: [ids]}.",
    )
    next: NextShape

    @classmethod
    def on(cls, found: Search, survey: str) -> Self:
        """Return a search as it is shown."""
        mark = found.mine.sheet.mark
        return cls.of(found.belief, found.advice, lambda p: {"entry": answer_entry(p)}, survey=survey, mark=mark)


class SiteShape(data_site.SiteShape):
    """Where the control goes, best first."""

    survey: str = Field(description="SHA-256 of the survey's text.")

    @classmethod
    def on(cls, verdict: SiteVerdict, survey: str) -> Self:
        """Return a verdict as it is shown."""
        return cls.of(verdict, survey=survey)


__all__ = ["DiagnosisShape", "SiteShape"]
