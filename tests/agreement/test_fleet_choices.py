"""The short way to a choice, which a fleet takes, comes to the choice of the long way, and passes over no route that could win."""

from __future__ import annotations

from random import Random

import pytest

from subbase.catalog import load_catalog
from subbase.plan.choose import choose, least_rank, rank, try_route
from subbase.plan.proposal import Refused, case_of
from subbase.plan.routes import ROUTES
from subbase.survey import Survey
from tests.agreement.random_houses import CONTROL, random_house
from tests.houses import BUILDABLE, circuits_of

SEEDS = range(7100, 7118)


@pytest.mark.parametrize("first", range(SEEDS.start, SEEDS.stop, 6))
def test_a_brief_choice_is_the_choice(first: int) -> None:
    """Of random houses: the same route with all its landings, parts and proof, or the same reasons why there is none."""
    shorter = 0
    for seed in range(first, first + 6):
        shorter += _compared(random_house(Random(seed)))
    assert shorter, "nothing was left out, so nothing was tested"


@pytest.mark.parametrize("name", BUILDABLE)
def test_a_brief_choice_is_the_choice_for_the_examples(name: str) -> None:
    """Also with several controls, boilers, oil burners, heat pumps and zones."""
    _compared(circuits_of(name)[0])


def _compared(house: Survey) -> int:
    """Hold the brief choice against the whole one and return how many routes it left out."""
    catalog = load_catalog()
    whole, brief = choose(house, catalog), choose(house, catalog, brief=True)
    assert [item.chosen for item in brief.controls] == [item.chosen for item in whole.controls]
    assert [item.settings for item in brief.controls] == [item.settings for item in whole.controls]
    assert (brief.left, brief.proof) == (whole.left, whole.proof)
    assert brief.refused == whole.refused, "where no route is left, every one says why"
    return sum(len(item.routes) for item in whole.controls) - sum(len(item.routes) for item in brief.controls)


def test_no_route_ranks_before_what_was_foretold_of_it() -> None:
    """The rank that is foretold before landings are chosen is never worse than the route's own."""
    catalog = load_catalog()
    held = 0
    for seed in SEEDS[::2]:
        case = case_of(random_house(Random(seed)), catalog, CONTROL)
        for route in ROUTES:
            try:
                proposal = route[2](case)
            except Refused:
                continue
            made = try_route(case, *route)
            if made.left is not None:
                held += 1
                assert least_rank(case, proposal) <= rank(made)
    assert held > len(SEEDS)
