"""The cheapest weekly schedule that a plain control can follow, found by running the year.

A search over a few numbers that people understand: how far back asleep and away, how long before waking and coming home
to begin, how much heat or cold to store before a dear hour. Each candidate is a whole year of the control in the loop, so
that strips, minimum times and start-up losses are in its price. The search looks for what goes well together, then changes one
thing at a time; it finds a good schedule, not a proof that no better one exists. ``schedule.cheapest_day`` gives such a proof, for a
house of one node and equipment that can run at any share.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.habits import Moves, Pattern, moved
from subbase.comfort.outcomes import ALLOWED_MORE_H, Scene, costs
from subbase.comfort.recovery import pace_k_per_h
from subbase.comfort.weather import Floats

PENALTY_PER_H = 1000.0
BACK_K = (0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 8.0, 11.0)
LEAD_H = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
SLOW_LEAD_H = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0)
"""How long before; for a house that comes back slowly."""
QUICK_H_PER_K, SLOWEST_H_PER_K = 0.7, 2.0
COLD_C = -4.0
"""Outdoors at which the way back is timed to see which leads are worth a try [judgement]."""
STORED = ((0.0, 0.0), (0.5, 1.0), (1.0, 1.0), (1.0, 2.0), (1.0, 3.0), (1.5, 2.0), (1.5, 4.0))
"""(K, h): how much, how long before."""
PRICES_PER_H = np.concatenate([[0.0], np.geomspace(2e-5, 2e-1, 40)])
"""Of an hour outside comfort, as parts of the year's cost."""
MOST_MIXES = 12
GAIN = 0.001
"""A move that saves less than this part of the cost is not worth a line in the table."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """What the search found."""

    pattern: Pattern
    heat: Moves
    cool: Moves
    years_run: int


def cheapest_week(scene: Scene) -> Found:
    """Return the cheapest schedule of those searched, no less comfortable than holding the wishes but for a few hours."""
    search = _Search(scene)
    best = search.together()
    heat, cool = search.one_by_one(*best)
    return Found(moved(scene.habits, scene.wishes, heat, cool, search.dear), heat, cool, search.runs)


Both = tuple[Moves, Moves]
"""Moves of heating and of cooling."""


class _Search:
    """Runs candidates and counts them."""

    def __init__(self, scene: Scene) -> None:
        self.scene = scene
        self.dear = dear_slots(scene)
        self.slow = _h_per_k(scene)
        self.runs = 0
        cost, outside = self.run([(Moves(), Moves())])
        self.base_cost, self.most_outside = float(cost[0]), float(outside[0]) + ALLOWED_MORE_H
        equipment = scene.equipment
        self.sides = [side for side, has in (("heat", equipment.heating), ("cool", equipment.cooling)) if has]

    def run(self, candidates: Sequence[Both]) -> tuple[Floats, Floats]:
        """Return cost and hours outside comfort of candidates."""
        self.runs += len(candidates)
        habits, wishes = self.scene.habits, self.scene.wishes
        return costs(self.scene, [moved(habits, wishes, heat, cool, self.dear) for heat, cool in candidates])

    def sets(self, heat: Moves, cool: Moves) -> Iterator[list[Both]]:
        """Yield sets of candidates that change one thing each."""
        for side in self.sides:
            for tries in _tries(heat if side == "heat" else cool, self.scene, side, self.dear, self.slow):
                yield [(one, cool) if side == "heat" else (heat, one) for one in tries]

    def together(self) -> Both:
        """Return the best of some combinations, made of what each change does alone.

        What two changes save, and the hours they leave people cold, nearly add up; so each is run alone, an hour
        outside comfort is given one price after another, and at each price every set gives its best.
        """
        nothing = (Moves(), Moves())
        sets = [candidates for candidates in self.sets(*nothing) if candidates]
        if not sets:
            return nothing
        alone = [self.run(candidates) for candidates in sets]
        found = {nothing: (0.0, 0.0)}
        least_outside = self.most_outside - ALLOWED_MORE_H
        for price in self.base_cost * PRICES_PER_H:
            mix, saves, hours = nothing, 0.0, 0.0
            for candidates, (cost, outside) in zip(sets, alone, strict=True):
                more_h = np.maximum(outside - least_outside, 0.0)
                dearer = cost - self.base_cost + GAIN * self.base_cost
                pick = int(np.argmin(dearer + price * more_h))
                if dearer[pick] + price * more_h[pick] < 0.0:
                    mix = _added(mix, candidates[pick])
                    saves, hours = saves - float(dearer[pick]), hours + float(more_h[pick])
            found[mix] = (saves, hours)
        likely = [mix for mix, (_saves, hours) in found.items() if hours <= 2.0 * ALLOWED_MORE_H]
        likely = sorted(likely, key=lambda mix: -found[mix][0])[:MOST_MIXES]
        return likely[self.pick(likely)[0]]

    def one_by_one(self, heat: Moves, cool: Moves) -> Both:
        """Return what is left when no single change helps any more."""
        _at, best = self.pick([(heat, cool)])
        for number in range(sum(1 for _one in self.sets(heat, cool))):
            candidates = list(self.sets(heat, cool))[number]
            at, worth = self.pick(candidates)
            if worth < best - GAIN * self.base_cost:
                best, (heat, cool) = worth, candidates[at]
        return heat, cool

    def pick(self, candidates: Sequence[Both]) -> tuple[int, float]:
        """Return which candidate is worth most, and what it costs with its penalty."""
        cost, outside = self.run(candidates)
        worth = cost + PENALTY_PER_H * np.maximum(outside - self.most_outside, 0.0)
        at = int(np.argmin(worth))
        return at, float(worth[at])


def _added(one: Both, other: Both) -> Both:
    """Return moves of two sets that change different things."""
    heat, cool = (
        Moves(*(getattr(a, field.name) + getattr(b, field.name) for field in fields(Moves)))
        for a, b in zip(one, other, strict=True)
    )
    return heat, cool


def dear_slots(scene: Scene) -> NDArray[np.bool_] | None:
    """Return the quarter hours of the week that cost clearly more than the cheapest, (672,); None at one price."""
    week = scene.prices.electricity_per_kwh
    if not scene.prices.changes:
        return None
    low, high = min(week), max(week)
    return np.repeat(np.asarray(week) > low + 0.6 * (high - low), 4)


def _h_per_k(scene: Scene) -> float:
    """Return how long a kelvin takes to come back on a cold morning, the auxiliary heat held off."""
    equipment = scene.equipment
    if not equipment.heating:
        return QUICK_H_PER_K
    levels = 1 if any(level.strip_w.any() for level in equipment.heating[1:]) else len(equipment.heating)
    pace = pace_k_per_h(scene.plant, equipment, COLD_C, set_c=scene.wishes.heat_c, levels=levels)
    return min(max(1.0 / pace, QUICK_H_PER_K), SLOWEST_H_PER_K)


def _tries(now: Moves, scene: Scene, side: str, dear: NDArray[np.bool_] | None, slow: float) -> Sequence[list[Moves]]:
    """Return sets of candidates, one set after another; a setback goes together with its lead.

    ``slow`` is how many hours a kelvin of heating takes to come back.
    """
    per_k = slow if side == "heat" else QUICK_H_PER_K
    wishes = scene.wishes
    asleep = abs(wishes.heat_c - wishes.heat_asleep_c) if side == "heat" else wishes.cool_asleep_c - wishes.cool_c
    away = abs(wishes.heat_c - wishes.heat_away_c) if side == "heat" else wishes.cool_away_c - wishes.cool_c
    sets = []
    if asleep > 0.0:
        sets.append([replace(now, asleep_k=back, lead_wake_h=lead) for back, lead in _pairs(_depths(asleep), per_k)])
    if away > 0.0 and scene.habits.away_days:
        sets.append([replace(now, away_k=back, lead_return_h=lead) for back, lead in _pairs(_depths(away), per_k)])
    if dear is not None:
        sets.append([replace(now, stored_k=kelvin, stored_h=hours) for kelvin, hours in STORED])
    return sets


def _depths(most_k: float) -> list[float]:
    return [k for k in BACK_K if k < most_k - 0.25] + [most_k]


def _pairs(depths: list[float], h_per_k: float) -> list[tuple[float, float]]:
    """Return (depth, lead): a level night needs no lead, a shallow one no long lead."""
    leads = LEAD_H if h_per_k <= QUICK_H_PER_K else SLOW_LEAD_H
    return [(k, lead) for k in depths for lead in leads if (k > 0.0 or lead == 0.0) and lead <= 0.5 + h_per_k * k]
