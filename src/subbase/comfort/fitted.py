"""Houses that fit the answers and lose and store what a log says, however far that is from what their age lets one guess.

Insulation, glass and air changes are scaled together until the loss is right, contents and mass until the time constant is.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np

from subbase.comfort.house import MOST_GLASS_U_W_M2K, HouseBelief, HouseFacts, Mass, Quantities, building_of, drawn
from subbase.comfort.learn import Z95, Bounded
from subbase.comfort.network import Plant, plant_of

_MASSES = (Mass.LIGHT, Mass.MEDIUM, Mass.HEAVY)
ROUNDS = 8
NEAR = 0.01
"""A loss or time constant within this part of its target is right."""
LEAST, MOST = 0.15, 7.0
"""How far a house may be scaled either way [judgement]."""


@dataclass(frozen=True, slots=True)
class Target:
    """What one house must do."""

    loss_w_k: float
    slow_h: float


def targets_of(loss_w_k: Bounded, slow_h: Bounded, count: int, seed: int) -> tuple[Target, ...]:
    """Return targets spread as the bounds of a log are: losses evenly by rank, time constants by another order."""
    steps = [NormalDist().inv_cdf((rank + 0.5) / count) for rank in range(count)]
    order = np.random.default_rng(seed).permutation(count)
    return tuple(
        Target(_at(loss_w_k, z), _at(slow_h, steps[int(other)])) for z, other in zip(steps, order, strict=True)
    )


def fitted(belief: HouseBelief, targets: Sequence[Target], wind_m_s: float, seed: int) -> tuple[Plant, ...]:
    """Return one house for each target, drawn from a belief and scaled to it."""
    bases = drawn(belief, len(targets), seed)
    return tuple(fit(belief.facts, base, target, wind_m_s) for base, target in zip(bases, targets, strict=True))


def fit(facts: HouseFacts, base: Quantities, target: Target, wind_m_s: float) -> Plant:
    """Return a house scaled to a target; the nearest that the scaling reaches where it does not reach it.

    Masonry walls alone may store more than the log says; then the house is of a lighter make than was answered.
    """
    lighter = _MASSES[: _MASSES.index(facts.mass) + 1][::-1]
    found = [_scaled_to(replace(facts, mass=mass), base, target, wind_m_s) for mass in lighter[:1]]
    for mass in lighter[1:]:
        if _off(found[-1], target) < 2.0 * NEAR:
            break
        found.append(_scaled_to(replace(facts, mass=mass), base, target, wind_m_s))
    return min(found, key=lambda plant: _off(plant, target))


def _off(plant: Plant, target: Target) -> float:
    """Return how far a house is from its target, as a logarithm."""
    loss, slow = target.loss_w_k / plant.loss_w_k, target.slow_h * 3600.0 / plant.time_constant_s
    return max(abs(math.log(loss)), abs(math.log(slow)))


def _scaled_to(facts: HouseFacts, base: Quantities, target: Target, wind_m_s: float) -> Plant:
    lossier = heavier = 1.0
    plant = plant_of(building_of(facts, base), wind_m_s)
    for _round in range(ROUNDS):
        if _off(plant, target) < NEAR:
            break
        loss, slow = target.loss_w_k / plant.loss_w_k, target.slow_h * 3600.0 / plant.time_constant_s
        lossier = min(max(lossier * loss, LEAST), MOST)
        # A house that loses more cools faster by as much.
        heavier = min(max(heavier * slow * loss, LEAST), MOST)
        plant = plant_of(building_of(facts, scaled(base, lossier, heavier)), wind_m_s)
    return plant


def scaled(base: Quantities, lossier: float, heavier: float) -> Quantities:
    """Return quantities of a house that loses and stores so many times as much."""
    return replace(
        base,
        wall_m2k_w=base.wall_m2k_w / lossier,
        ceiling_m2k_w=base.ceiling_m2k_w / lossier,
        floor_m2k_w=base.floor_m2k_w / lossier,
        window_u_w_m2k=min(base.window_u_w_m2k * lossier, MOST_GLASS_U_W_M2K),
        air_changes_per_h=base.air_changes_per_h * lossier,
        contents=max(base.contents * heavier, 1.0),
        mass=base.mass * heavier,
    )


def _at(bounded: Bounded, z: float) -> float:
    """Return a value so many standard deviations from the middle, on a logarithmic scale."""
    low, high = max(bounded.low, 1e-6), max(bounded.high, 2e-6)
    return bounded.value * math.exp(z * math.log(high / low) / (2.0 * Z95))
