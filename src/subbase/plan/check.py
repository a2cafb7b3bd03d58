"""A survey looked over without planning: what is open in it, and which readings it cannot give."""

from __future__ import annotations

from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.plan.look_again import look_again, proof_as_found
from subbase.plan.readings import disagreements
from subbase.plan.unknowns import (
    MOST_POSSIBILITIES,
    NOTHING_FITS,
    OpenFact,
    count_possibilities,
    open_facts,
    possibilities,
)
from subbase.survey import Survey


@dataclass(frozen=True, slots=True)
class SurveyCheck:
    """What is open in a survey and what contradicts it."""

    open_facts: tuple[OpenFact, ...]
    disagreements: tuple[str, ...]
    """Readings that no possibility can give; empty when too many possibilities are left to try."""
    look_again: tuple[str, ...] = ()
    """What is likelier a slip than a fact; empty while facts are open."""


def check_survey(survey: Survey, catalog: Catalog) -> SurveyCheck:
    """Return what is open and what contradicts; a reading is held against every possibility the unknowns leave."""
    facts = open_facts(survey, catalog)
    if count_possibilities(facts) > MOST_POSSIBILITIES:
        return SurveyCheck(facts, ())
    found = [disagreements(item.survey, catalog) for item in possibilities(survey, catalog, facts)]
    if not found:
        return SurveyCheck(facts, (NOTHING_FITS,))
    again = () if facts else look_again(survey, catalog, proof_as_found(survey, catalog))
    texts = tuple(caution.text for caution in again)
    return SurveyCheck(facts, () if any(not texts for texts in found) else found[0], texts)
