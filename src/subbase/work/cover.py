"""Exact set cover with shared fixed costs: the cheapest sets that hold everything wanted, proven by branch and bound."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import reduce

from subbase.work.cover_programme import least_by_programme

MOST_BRANCHES = 1000
"""A search that takes more is handed to an integer programme (``cover_programme``); alike zones make many."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One set of a cover: what it holds, its own cost, and the fixed costs that it shares with others."""

    holds: frozenset[int]
    seconds: int
    groups: tuple[tuple[str, int], ...] = ()


def cover_seconds(offers: Iterable[Offer]) -> int:
    """Return what offers cost together, each shared cost once [s]."""
    taken = list(offers)
    shared = {name: seconds for offer in taken for name, seconds in offer.groups}
    return sum(offer.seconds for offer in taken) + sum(shared.values())


def least_cover(wanted: frozenset[int], offers: Sequence[Offer]) -> tuple[int, ...]:
    """Return the positions of the offers that together hold all of ``wanted`` at the least cost, proven.

    Branch and bound on the element with the fewest offers left. The bound is a dual ascent of the linear relaxation in
    which shared costs are pools that elements draw from (in the manner of Erlenkotter, Operations Research 26
    (1978) 992-1009; from memory), rounded up to the greatest common divisor of all costs. A search that grows too long is
    handed to an integer programme where there is a solver for one; either way the cover is proven least.

    Raises
    ------
    ValueError
        When some element is in no offer, or a cost is negative.
    """
    if any(cost < 0 for offer in offers for cost in (offer.seconds, *(s for _, s in offer.groups))):
        raise ValueError("A check cannot cost less than nothing.")
    missing = sorted(wanted.difference(*(offer.holds for offer in offers)))
    if missing:
        raise ValueError(f"No check holds: {', '.join(map(str, missing))}.")
    return _Search(wanted, offers).best


class _TooMany(Exception):
    """The search has taken more branches than it may."""


class _Search:
    """The state of one branch and bound; built, run and thrown away by ``least_cover``."""

    def __init__(self, wanted: frozenset[int], offers: Sequence[Offer]) -> None:
        kept = _undominated(wanted, offers)
        self.offers = offers
        self.names = [tuple(name for name, _ in offer.groups) for offer in offers]
        self.by_element = _hardest({e: frozenset(i for i in kept if e in offers[i].holds) for e in sorted(wanted)})
        self.holds = {i: frozenset(e for e, by in self.by_element.items() if i in by) for i in kept}
        costs = [c for offer in offers for c in (offer.seconds, *(s for _, s in offer.groups))]
        self.step = reduce(math.gcd, costs, 0) or 1
        self.best = self._greedy()
        self.best_cost = cover_seconds(offers[i] for i in self.best)
        self.left = MOST_BRANCHES
        """Branches to go until the search is handed over; none after that, where there is nobody to hand it to."""
        try:
            self._branch((), frozenset(self.by_element), frozenset())
        except _TooMany:
            self._hand_over()

    def _extra(self, offer: int, opened: frozenset[str]) -> int:
        item = self.offers[offer]
        return item.seconds + sum(seconds for name, seconds in item.groups if name not in opened)

    def _opened(self, chosen: Iterable[int]) -> frozenset[str]:
        return frozenset(name for i in chosen for name in self.names[i])

    def _greedy(self) -> tuple[int, ...]:
        chosen: list[int] = []
        left = set(self.by_element)
        while left:
            opened = self._opened(chosen)
            useful = [i for i in self.holds if self.holds[i] & left]
            chosen.append(min(useful, key=lambda i: (self._extra(i, opened) / len(self.holds[i] & left), i)))
            left -= self.holds[chosen[-1]]
        for i in sorted(chosen, key=lambda i: -self.offers[i].seconds):
            if all(any(e in self.holds[k] for k in chosen if k != i) for e in self.holds[i]):
                chosen.remove(i)
        return tuple(sorted(chosen))

    def _branch(self, chosen: tuple[int, ...], left: frozenset[int], banned: frozenset[int]) -> None:
        self.left -= 1
        if self.left == 0:
            raise _TooMany
        cost = cover_seconds(self.offers[i] for i in chosen)
        if not left:
            if cost < self.best_cost:
                self.best, self.best_cost = tuple(sorted(chosen)), cost
            return
        opened = self._opened(chosen)
        options = {e: self.by_element[e] - banned for e in left}
        bound, beyond = self._bound(options, opened)
        if not self._may_improve(cost + bound):
            return
        banned |= {i for i, extra in beyond.items() if not self._may_improve(cost + bound + extra)}
        options = {e: self.by_element[e] - banned for e in left}
        element = min(options, key=lambda e: (len(options[e]), e))
        ranked = sorted(options[element], key=lambda i: (self._extra(i, opened) / len(self.holds[i] & left), i))
        for offer in ranked:
            self._branch((*chosen, offer), left - self.holds[offer], banned)
            banned |= {offer}

    def _hand_over(self) -> None:
        """Leave the proof to an integer programme; where there is no solver for one, begin again and go to the end."""
        try:
            found = least_by_programme(
                {e: sorted(by) for e, by in self.by_element.items()}, self.offers, self.best_cost
            )
        except (ImportError, RuntimeError):
            self._branch((), frozenset(self.by_element), frozenset())
        else:
            self.best = self.best if found is None else found

    def _may_improve(self, least: float) -> bool:
        """Tell whether a cover of at least so many seconds can still beat the best one."""
        return math.isfinite(least) and math.ceil(least / self.step - 1e-6) * self.step < self.best_cost

    def _bound(self, options: Mapping[int, frozenset[int]], opened: frozenset[str]) -> tuple[float, dict[int, float]]:
        """Return (seconds that any cover still costs at least, offer -> how much more any cover with it does)."""
        slack: dict[int, float] = {}
        pools: dict[str, float] = {}
        for offer in frozenset().union(*options.values()):
            slack[offer] = float(self.offers[offer].seconds)
            pools.update((name, float(s)) for name, s in self.offers[offer].groups if name not in opened)
        total = 0.0
        for element in sorted(options, key=lambda e: (len(options[e]), e)):
            if not options[element]:
                return math.inf, {}
            total += self._raised(sorted(options[element]), slack, pools)
        return total, {i: slack[i] + sum([pools.get(name, 0.0) for name in self.names[i]]) for i in slack}

    def _raised(self, offers: Sequence[int], slack: dict[int, float], pools: dict[str, float]) -> float:
        """Raise one element's price until some offer that holds it has neither slack nor a pool left.

        Of the offers that share a cost an element needs one, so it draws once on the pool for all of them.
        """
        price = 0.0
        while True:
            drawn: set[str] = set()
            for i in offers:
                if slack[i] > 1e-9 or not drawn.isdisjoint(self.names[i]):
                    continue
                most, pool = 0.0, ""
                for name in self.names[i]:
                    if pools.get(name, 0.0) > most:
                        most, pool = pools[name], name
                if most <= 1e-9:
                    return price
                drawn.add(pool)
            paying = [i for i in offers if drawn.isdisjoint(self.names[i])]
            step = min([slack[i] for i in paying] + [pools[name] for name in drawn])
            for i in paying:
                slack[i] -= step
            for name in drawn:
                pools[name] -= step
            price += step


def _undominated(wanted: frozenset[int], offers: Sequence[Offer]) -> tuple[int, ...]:
    """Return the offers that no other matches in all it holds, at no more cost and no shared cost beside its own."""
    kept: list[int] = []
    for i in sorted(range(len(offers)), key=lambda i: (-len(offers[i].holds & wanted), offers[i].seconds, i)):
        held = offers[i].holds & wanted
        if held and not any(
            held <= offers[k].holds
            and offers[k].seconds <= offers[i].seconds
            and set(offers[k].groups) <= set(offers[i].groups)
            for k in kept
        ):
            kept.append(i)
    return tuple(sorted(kept))


def _hardest(by_element: Mapping[int, frozenset[int]]) -> dict[int, frozenset[int]]:
    """Return the elements whose offers include no other element's: to hold those is to hold all."""
    kept: dict[int, frozenset[int]] = {}
    for element, offers in sorted(by_element.items(), key=lambda item: (len(item[1]), item[0])):
        if not any(other <= offers for other in kept.values()):
            kept[element] = offers
    return kept
