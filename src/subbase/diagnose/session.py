"""A diagnosis from a survey in one call, and one step of it at a time."""

from __future__ import annotations

from collections.abc import Callable

from subbase.catalog import Catalog, load_catalog
from subbase.diagnose.costs import offers
from subbase.diagnose.hypotheses import hypotheses_of
from subbase.diagnose.inseparable import groups_of
from subbase.diagnose.odds import Odds
from subbase.diagnose.predictions import Predictions, predict
from subbase.survey import Survey
from subbase.wiring import build_house
from subbase.words import _


def start(
    survey: Survey,
    catalog: Catalog | None = None,
    *,
    odds: Odds | None = None,
    progress: Callable[[str], None] = lambda said: None,  # noqa: ARG005,
) -> Predictions:
    """Return all that is to be known of a house before its first reading: the slow part, done once.

    Parameters
    ----------
    survey
        As found or as left, without unknowns.
    odds
        Prior odds of every kind of fault; those that come with the package when left out.
    progress
        Told in a sentence what is being done.
    """
    house = build_house(survey, load_catalog() if catalog is None else catalog)
    progress(_("Breaking every part and conductor in thought ..."))
    hypotheses = hypotheses_of(house, odds=odds)
    predictions = predict(house, hypotheses, odds=odds, progress=progress)
    progress(_("Working out what every test would show, and which causes none can tell apart ..."))
    offers(predictions)
    groups_of(predictions)
    return predictions


__all__ = ["start"]
