"""A larger transformer, when that alone is what a route lacks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from subbase.catalog import Catalog, TransformerPart
from subbase.plan.proven import Failure
from subbase.plan.result import Part
from subbase.survey import Survey
from subbase.words import _

LARGER_VA = 75.0
"""The largest common size that stays Class 2 (common practice, no source)."""
CURABLE = frozenset({"starved", "overload", "control starved"})
"""Failures of a proof that a larger transformer may lift."""
MINUTES = 40


@dataclass(frozen=True, slots=True)
class Remedy:
    """A house with one transformer exchanged for a larger one."""

    survey: Survey
    title: str
    part: Part
    note: str


def curable(failures: tuple[Failure, ...]) -> bool:
    """Return whether everything that failed may be lifted by a larger transformer."""
    return bool(failures) and all(failure.rule in CURABLE for failure in failures)


def remedies(survey: Survey, catalog: Catalog) -> Iterator[Remedy]:
    """Yield the house with each of its smaller transformers exchanged in turn."""
    for place, item in survey.equipment.items():
        for part in catalog[str(item.kind)].parts:
            if not isinstance(part, TransformerPart) or part.id in item.without:
                continue
            plate = item.nameplate.get(part.id, {})
            if plate.get("va", part.va) < LARGER_VA:
                nameplate = {**item.nameplate, part.id: {**plate, "va": LARGER_VA}}
                changed = item.model_copy(update={"nameplate": nameplate})
                yield _remedy(survey.model_copy(update={"equipment": {**survey.equipment, place: changed}}), place)
    for place, transformer in survey.transformers.items():
        if isinstance(transformer.va, float) and transformer.va < LARGER_VA:
            larger = transformer.model_copy(update={"va": LARGER_VA})
            yield _remedy(survey.model_copy(update={"transformers": {**survey.transformers, place: larger}}), place)


def _remedy(survey: Survey, place: str) -> Remedy:
    return Remedy(
        survey,
        _("with a {larger_va:g} VA transformer at {place}").format(larger_va=LARGER_VA, place=place),
        Part(
            _("{larger_va:g} VA Class 2 transformer, 24 V, in place of the one of {place}").format(
                larger_va=LARGER_VA, place=place
            )
        ),
        exchange_note(place),
    )


def exchange_note(place: str) -> str:
    """Return what a route says of a transformer that is exchanged."""
    return _(
        "The transformer of {place} is exchanged for one of {larger_va:g} VA, Class 2. Its primary is line voltage: work for a licensed person where the code says so."
    ).format(place=place, larger_va=LARGER_VA)
