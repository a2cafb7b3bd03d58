"""The cheapest weekly schedule that a plain control can follow, found by running the year.

A search over a few numbers that people understand: how far back asleep and away, how long before waking and coming home
to begin, how much heat or cold to store before a dear hour. Each candidate is a whole year of the control in the loop, so
that strips, minimum times and start-up losses are in its price. The search goes one number at a time until none of them
helps; it finds a good schedule, not a proof that no better one exists. ``schedule.cheapest_day`` gives such a proof, for a
house of one node and equipment that can run at any share.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.habits import Moves, Pattern, flat, moved
from subbase.comfort.outcomes import Scene, costs
from subbase.comfort.weather import Floats

ALLOWED_MORE_H = 10.0
"""Hours outside comfort that a schedule may have a year beyond those of holding the wishes all the time [judgement]."""
PENALTY_PER_H = 1000.0
BACK_K = (0.0, 1.0, 2.0, 3.0, 4.5, 6.0, 8.0, 11.0)
LEAD_H = (0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 3.0)
STORED = ((0.0, 0.0), (0.5, 1.0), (1.0, 1.0), (1.0, 2.0), (1.0, 3.0), (1.5, 2.0), (1.5, 4.0))
"""(K, h): how much, how long before."""
ROUNDS = 2
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
    dear = dear_slots(scene)
    heat = cool = Moves()
    base_cost, base_outside = (float(values[0]) for values in costs(scene, [flat(scene.wishes)]))
    best, runs = base_cost, 1
    allowed = 0.0
    for _ in range(ROUNDS):
        before = best
        for side in ("heat", "cool"):
            if not (scene.equipment.heating if side == "heat" else scene.equipment.cooling):
                continue
            for tries in _tries(heat if side == "heat" else cool, scene, side, dear):
                # The first moves must leave some of the cold hours to the others.
                allowed = min(allowed + ALLOWED_MORE_H / 4.0, ALLOWED_MORE_H)
                options = [
                    moved(scene.habits, scene.wishes, *((one, cool) if side == "heat" else (heat, one)), dear)
                    for one in tries
                ]
                cost, outside = costs(scene, options)
                runs += len(options)
                worth = _worth(cost, outside, base_outside + allowed)
                pick = int(np.argmin(worth))
                if worth[pick] < best - GAIN * base_cost:
                    best = float(worth[pick])
                    heat, cool = (tries[pick], cool) if side == "heat" else (heat, tries[pick])
        if best >= before - GAIN * base_cost:
            break
    return Found(moved(scene.habits, scene.wishes, heat, cool, dear), heat, cool, runs)


def dear_slots(scene: Scene) -> NDArray[np.bool_] | None:
    """Return the quarter hours of the week that cost clearly more than the cheapest, (672,); None at one price."""
    week = scene.prices.electricity_per_kwh
    if not scene.prices.changes:
        return None
    low, high = min(week), max(week)
    return np.repeat(np.asarray(week) > low + 0.6 * (high - low), 4)


def _worth(cost: Floats, outside: Floats, most_outside: float) -> Floats:
    return np.asarray(cost + PENALTY_PER_H * np.maximum(outside - most_outside, 0.0))


def _tries(now: Moves, scene: Scene, side: str, dear: NDArray[np.bool_] | None) -> Sequence[list[Moves]]:
    """Return sets of candidates, one set after another; a setback goes together with its lead."""
    wishes = scene.wishes
    asleep = abs(wishes.heat_c - wishes.heat_asleep_c) if side == "heat" else wishes.cool_asleep_c - wishes.cool_c
    away = abs(wishes.heat_c - wishes.heat_away_c) if side == "heat" else wishes.cool_away_c - wishes.cool_c
    sets = []
    if asleep > 0.0:
        sets.append([replace(now, asleep_k=back, lead_wake_h=lead) for back, lead in _pairs(_depths(asleep))])
    if away > 0.0 and scene.habits.away_days:
        sets.append([replace(now, away_k=back, lead_return_h=lead) for back, lead in _pairs(_depths(away))])
    if dear is not None:
        sets.append([replace(now, stored_k=kelvin, stored_h=hours) for kelvin, hours in STORED])
    return sets


def _depths(most_k: float) -> list[float]:
    return [k for k in BACK_K if k < most_k - 0.25] + [most_k]


def _pairs(depths: list[float]) -> list[tuple[float, float]]:
    """Return (depth, lead): a level night needs no lead, a shallow one no long lead."""
    return [(k, lead) for k in depths for lead in LEAD_H if (k > 0.0 or lead == 0.0) and lead <= 0.5 + 0.7 * k]
