"""The least set of checks against trying every set, and against an integer programme on sets too many to try."""

from __future__ import annotations

import sys
from itertools import combinations
from random import Random

import pytest

from subbase.work import checks, cover
from subbase.work.cover import Offer, cover_seconds, least_cover
from tests.agreement.cover_by_highs import least_by_highs
from tests.houses import plan_of


def random_offers(random: Random, *, elements: int, offers: int, groups: int) -> tuple[frozenset[int], list[Offer]]:
    """Return elements and offers that can hold them all, with shared costs as walks and calls share theirs."""
    names = [(f"walk {g}", random.choice((0, 10, 30, 60, 120))) for g in range(groups)]
    density = random.uniform(0.1, 0.5)
    made = [
        Offer(
            frozenset(e for e in range(elements) if random.random() < density),
            random.choice((0, 10, 20, 20, 30, 40)),
            tuple(sorted(random.sample(names, random.randint(0, min(2, groups))))),
        )
        for _ in range(offers)
    ]
    return frozenset().union(*(offer.holds for offer in made)), made


def least_by_trying(wanted: frozenset[int], offers: list[Offer]) -> int:
    """Return the least cost by trying every set of offers."""
    best = None
    for count in range(len(offers) + 1):
        for chosen in combinations(offers, count):
            if wanted <= frozenset().union(*(offer.holds for offer in chosen)):
                cost = cover_seconds(chosen)
                best = cost if best is None else min(best, cost)
    assert best is not None
    return best


def held(wanted: frozenset[int], offers: list[Offer], chosen: tuple[int, ...]) -> bool:
    """Tell whether chosen offers hold all that is wanted."""
    return wanted <= frozenset().union(*(offers[i].holds for i in chosen))


@pytest.mark.parametrize("block", range(4))
def test_the_least_cover_costs_what_trying_every_set_finds(block: int) -> None:
    """On 400 small random cases the chosen offers hold everything and nothing cheaper does."""
    for seed in range(100 * block, 100 * block + 100):
        random = Random(seed)
        wanted, offers = random_offers(
            random, elements=random.randint(1, 9), offers=random.randint(1, 12), groups=random.randint(0, 4)
        )
        chosen = least_cover(wanted, offers)
        assert held(wanted, offers, chosen)
        assert cover_seconds(offers[i] for i in chosen) == least_by_trying(wanted, offers), f"seed {seed}"


def test_the_least_cover_costs_what_an_integer_programme_says() -> None:
    """On larger random cases, up to 60 elements and 50 offers, HiGHS finds the same least cost."""
    for seed in range(40):
        random = Random(1000 + seed)
        wanted, offers = random_offers(
            random, elements=random.randint(20, 60), offers=random.randint(20, 50), groups=random.randint(0, 12)
        )
        chosen = least_cover(wanted, offers)
        assert held(wanted, offers, chosen)
        assert cover_seconds(offers[i] for i in chosen) == least_by_highs(wanted, offers), f"seed {seed}"


def test_a_search_that_grows_too_long_is_handed_over_and_costs_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    """Handed to an integer programme at its first branches, or begun again where there is no solver, the cost is the same."""
    for seed in range(20):
        random = Random(2000 + seed)
        wanted, offers = random_offers(random, elements=random.randint(10, 30), offers=25, groups=random.randint(0, 8))
        alone = cover_seconds(offers[i] for i in least_cover(wanted, offers))
        with monkeypatch.context() as patch:
            patch.setattr(cover, "MOST_BRANCHES", 2)
            handed = least_cover(wanted, offers)
            patch.setitem(sys.modules, "scipy.optimize", None)
            again = least_cover(wanted, offers)
        for chosen in (handed, again):
            assert held(wanted, offers, chosen)
            assert cover_seconds(offers[i] for i in chosen) == alone, f"seed {seed}"


@pytest.mark.parametrize("name", ["04-three-heat-motor-valves", "12-heat-pump-with-strips", "17-strips-need-the-fan"])
def test_the_checks_of_a_house_cost_what_an_integer_programme_says(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """HiGHS finds no cheaper checks than those chosen, for the very cover that the house makes."""
    asked: list[tuple[frozenset[int], list[Offer]]] = []

    def overheard(wanted: frozenset[int], offers: list[Offer]) -> tuple[int, ...]:
        asked.append((wanted, offers))
        return least_cover(wanted, offers)

    monkeypatch.setattr(checks, "least_cover", overheard)
    found = checks.checks_for(plan_of(name))
    [(wanted, offers)] = asked
    assert found.seconds == least_by_highs(wanted, offers)


def test_a_shared_walk_is_paid_once() -> None:
    """Two checks of one walk beat two cheaper checks that need a walk each."""
    near = [Offer(frozenset({e}), 20, (("walk a", 100),)) for e in (0, 1)]
    apart = [Offer(frozenset({e}), 10, ((f"walk {e}", 90),)) for e in (0, 1)]
    assert least_cover(frozenset({0, 1}), [*apart, *near]) == (2, 3)
    assert cover_seconds(near) == 140


def test_nothing_wanted_needs_no_check() -> None:
    """With nothing to tell apart, no check is chosen."""
    assert least_cover(frozenset(), [Offer(frozenset({1}), 20)]) == ()


def test_what_no_check_holds_is_refused_by_name() -> None:
    """An element that is in no offer is an error that names it."""
    with pytest.raises(ValueError, match=r"No check holds: 2\."):
        least_cover(frozenset({1, 2}), [Offer(frozenset({1}), 20)])


def test_a_cost_below_nothing_is_refused() -> None:
    """Negative seconds are an error, for the bound would not hold."""
    with pytest.raises(ValueError, match="less than nothing"):
        least_cover(frozenset({1}), [Offer(frozenset({1}), -1)])
