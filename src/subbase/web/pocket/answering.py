"""An open question answered: the survey's text with one field filled in, and everything else left as it was typed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from subbase.catalog import Catalog
from subbase.errors import Fault, InputError
from subbase.journal.merge import written
from subbase.plan import Plan, Question
from subbase.plan.unknowns import OpenFact, count_possibilities, open_facts, possibilities
from subbase.survey import Survey
from subbase.survey.file_form import file_form
from subbase.survey.read import read_survey
from subbase.web.survey_document import Document, at, document_text, put, read_document
from subbase.words import _

MOST_GONE_THROUGH = 20_000
"""Combinations of unknowns, each a short walk over the landings."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be given."""

    index: int
    """Its place among the candidates of the question."""
    words: str
    leads_to: str
    """What the plan would then be; empty where it does not say."""


@dataclass(frozen=True, slots=True)
class Asked:
    """A question of a plan, with everything that can be answered to it."""

    field: str
    text: str
    how: str
    answers: tuple[Choice, ...]


def asked_of(plan: Plan) -> tuple[Asked, ...]:
    """Return the questions of a plan, the one worth most first; an answer that is a kind of equipment bears its title."""
    facts = {fact.field: fact for fact in open_facts(plan.survey, plan.catalog)}
    return tuple(
        Asked(item.field, item.text, item.how, tuple(_choices(plan, item, facts.get(item.field))))
        for item in plan.questions
    )


def _choices(plan: Plan, question: Question, fact: OpenFact | None) -> Iterator[Choice]:
    told = {answer.value: answer.leads_to for answer in question.answers}
    for index, value in enumerate(fact.candidates if fact is not None else ()):
        words = fact.words(value) if fact is not None else ""
        kind = plan.catalog.get(str(value)) if question.field.endswith(".kind") else None
        yield Choice(index, kind.title if kind is not None else words, told.get(words, ""))


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
    answers = ((fact, fact.candidates[index]), *_settled_by(survey, catalog, fact, index))
    wanted = survey
    document = read_document(text)
    for item, value in answers:
        wanted = item.put(wanted, value)
        document = None if document is None else _filled(document, item.field, _as_typed(item, value))
    if document is not None and _reads_as(filled := document_text(document), wanted, catalog):
        return filled
    whole = written(_texts(file_form(wanted)))
    if not _reads_as(whole, wanted, catalog):
        raise InputError((Fault(_("Write this answer into the survey's text yourself: {field}.").format(field=field)),))
    return whole


def _settled_by(survey: Survey, catalog: Catalog, fact: OpenFact, index: int) -> Iterator[tuple[OpenFact, Any]]:
    """Yield what else can be one thing only once a question is answered: a terminal that its equipment has.

    Nothing where the unknowns are too many to go through.
    """
    facts = open_facts(survey, catalog)
    answered_so = tuple(
        replace(item, candidates=(item.candidates[index],)) if item.field == fact.field else item for item in facts
    )
    if count_possibilities(answered_so) > MOST_GONE_THROUGH:
        return
    left = [
        set(values) for values in zip(*(p.values for p in possibilities(survey, catalog, answered_so)), strict=True)
    ]
    for item, values in zip(answered_so, left, strict=False):
        if item.field != fact.field and len(values) == 1 < len(item.candidates):
            yield item, next(iter(values))


def _filled(document: Document, field: str, value: str) -> Document:
    steps = field.split(".")
    if steps[0] == "jumpers" and steps[1:2] and steps[1].isdigit():
        steps[1] = str(int(steps[1]) - 1)  # people count from 1
    if steps[2:3] == ["conductors"] and not isinstance(short := at(document, *steps[:4]), dict):
        document = put(document, tuple(steps[:4]), {"from": short, "to": short})  # 'red: unknown' is both its ends
    return put(document, tuple(steps), value)


def _texts(data: Any) -> Any:
    """Return plain data with every scalar as a file has it."""
    if isinstance(data, dict):
        return {key: _texts(value) for key, value in data.items()}
    if isinstance(data, list):
        return [_texts(value) for value in data]
    if isinstance(data, bool):
        return "yes" if data else "no"
    return str(data)


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


__all__ = ["Asked", "Choice", "answered", "asked_of"]
