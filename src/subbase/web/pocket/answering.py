"""An open question answered: the survey's text with one field filled in, and everything else left as it was typed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from subbase.catalog import Catalog
from subbase.errors import Fault, InputError
from subbase.journal.merge import written
from subbase.plan.unknowns import OpenFact, open_facts
from subbase.survey import Survey
from subbase.survey.read import read_survey
from subbase.web.survey_document import Document, document_text, put, read_document
from subbase.words import _


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be given."""

    index: int
    """Its place among the candidates of the question."""
    words: str


def answers_of(fact: OpenFact) -> tuple[Choice, ...]:
    """Return what can be answered to an open question, as people say it."""
    return tuple(Choice(index, fact.words(value)) for index, value in enumerate(fact.candidates))


def answered(text: str, field: str, index: int, catalog: Catalog) -> str:
    """Return a survey's text with one open field answered.

    Comments go, as they do with every form. Where the field stands in a short way of writing that has no room for the
    answer, the whole survey is written out anew; either way the text reads as the survey that was meant, or is refused.

    Raises
    ------
    InputError
        When the survey cannot be read, or the question or the answer is none of its own.
    """
    survey = read_survey(text.encode(), "survey", catalog)
    fact = next((item for item in open_facts(survey, catalog) if item.field == field), None)
    if fact is None or not 0 <= index < len(fact.candidates):
        raise InputError((Fault(_("This question is not open any more; look at the plan again."), where=field),))
    value = fact.candidates[index]
    wanted = fact.put(survey, value)
    document = read_document(text)
    if document is not None:
        filled = _filled(document, field, _as_typed(fact, value))
        if _reads_as(filled, wanted, catalog):
            return filled
    whole = written(wanted.model_dump(mode="json", by_alias=True, exclude_defaults=True))
    if not _reads_as(whole, wanted, catalog):
        raise InputError((Fault(_("Write this answer into the survey's text yourself: {field}.").format(field=field)),))
    return whole


def _filled(document: Document, field: str, value: str) -> str:
    steps = field.split(".")
    if steps[0] == "jumpers" and steps[1:2] and steps[1].isdigit():
        steps[1] = str(int(steps[1]) - 1)  # people count from 1
    return document_text(put(document, tuple(steps), value))


def _as_typed(fact: OpenFact, value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if fact.feet is not None:
        return f"{float(value)!r} m"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _reads_as(text: str, wanted: Survey, catalog: Catalog) -> bool:
    try:
        return read_survey(text.encode(), "survey", catalog) == wanted
    except InputError:
        return False


__all__ = ["Choice", "answered", "answers_of"]
