"""The differential that makes a control cycle by the cycling curve, for this house and this equipment.

At half load equipment runs half the time: so long on, so long off. The air then swings by an amount that the house's modes
and the lag of the heat decide; a control that switches over just that swing makes just those cycles.
"""

from __future__ import annotations

import math

import numpy as np

from subbase.comfort.equipment import GRID_C, Level, on_off_s
from subbase.comfort.network import Plant
from subbase.comfort.weather import Floats

LEAST_K, MOST_K = 0.2, 1.4
"""Narrower is within a sensor's noise, wider is felt [judgement]."""
STEP_S, LOOP_STEP_S = 10.0, 60.0
CYCLES = 12
"""After so many the swing repeats itself."""
WARM_C = 30.0
"""Outdoors at which cooling's differential is found [judgement]."""


def half_load_w(level: Level, plant: Plant, no_heat_c: float) -> float:
    """Return a level's full heat at the outdoor temperature at which it would run half the time [W]."""
    load_w = plant.loss_w_k * np.maximum(no_heat_c - GRID_C, 0.0)
    allowed = (level.above_c <= GRID_C) & (level.below_c > GRID_C) & (level.heat_w > 0.0)
    if not allowed.any():
        return float(level.heat_w.max())
    off = np.where(allowed, np.abs(load_w - 0.5 * level.heat_w), np.inf)
    return float(level.heat_w[int(np.argmin(off))])


def band_k(plant: Plant, full_w: float, most_cycles_per_h: float, *, start_s: float, given_back: float) -> float:
    """Return the band from on to off that gives ``most_cycles_per_h`` at half load [K].

    ``start_s`` and ``given_back`` are those of ``equipment``: how the heat comes up, and what of it comes after the stop.
    """
    on_s, _off_s = on_off_s(0.5, most_cycles_per_h)
    # A control that looks once a minute switches half a minute late in the mean.
    half = max(round((on_s - 0.5 * LOOP_STEP_S) / STEP_S), 1)
    kept = np.exp(-plant.decay_per_s * STEP_S)
    per_w = (1.0 - kept) / plant.decay_per_s * plant.heat_to_mode
    heat_w = _cycle_w(full_w, half, start_s, given_back)
    modes = np.zeros(len(kept))
    at_stop = at_start = 0.0
    for _cycle in range(CYCLES):
        for step, now_w in enumerate(heat_w):
            if step == half:
                at_stop = float(plant.air_of_mode @ modes)
            modes = kept * modes + per_w * now_w
        at_start = float(plant.air_of_mode @ modes)
    return min(max(at_stop - at_start, LEAST_K), MOST_K)


def _cycle_w(full_w: float, half: int, start_s: float, given_back: float) -> Floats:
    """Return the heat of a cycle about its mean, (2 half,), once the cycles are all alike."""
    left = math.exp(-STEP_S / start_s) if start_s > 0.0 else 0.0
    found = np.zeros(2 * half)
    now = 0.0
    for _cycle in range(CYCLES):
        for step in range(2 * half):
            if step == half:
                now *= given_back
            wanted = full_w if step < half else 0.0
            now = wanted + (now - wanted) * left
            found[step] = now
        if given_back <= 0.0:
            now = 0.0
    return np.asarray(found - found.mean())


__all__ = ["band_k", "half_load_w"]
