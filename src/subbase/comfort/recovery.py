"""How fast a house warms up again, which a control needs that starts early by itself.

From rest at a lower temperature the air answers a constant heat by the plant's modes alone, in closed form; the pace over
the first few kelvin falls with outdoor temperature nearly on a straight line, and that line is what a control keeps.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from subbase.comfort.equipment import GRID_C, Equipment
from subbase.comfort.loop import Control
from subbase.comfort.network import Plant
from subbase.comfort.weather import Floats

OUTDOORS_C = (-12.0, -4.0, 4.0, 10.0)
RISE_K = 2.5
TIMES_H = np.linspace(0.05, 12.0, 240)
LEAST_PACE_K_PER_H = 0.15
MOST_LEAD_H = 5.0
CAUTION = 0.85
"""Part of the pace that is trusted, for wind and a cold mass after a long setback [judgement]."""


def rise_k(plant: Plant, more_w: float, times_h: Floats) -> Floats:
    """Return how far the air rises after constant extra heat, (n,) [K]."""
    decay = plant.decay_per_s
    grown = -np.expm1(-np.outer(times_h * 3600.0, decay)) / decay
    return np.asarray(more_w * (grown @ (plant.air_of_mode * plant.heat_to_mode)))


def pace_k_per_h(plant: Plant, equipment: Equipment, outdoor_c: float, *, set_c: float, levels: int) -> float:
    """Return the pace of the first ``RISE_K`` with the first ``levels`` of heat that may run at an outdoor temperature."""
    allowed = [level for level in equipment.heating if level.above_c <= outdoor_c < level.below_c]
    if not allowed:
        return LEAST_PACE_K_PER_H
    full_w = max(float(np.interp(outdoor_c, GRID_C, level.heat_w)) for level in allowed[:levels])
    # Sun and people are left out: recovery is in the dark before dawn.
    held_w = plant.loss_w_k * max(set_c - RISE_K - outdoor_c, 0.0)
    risen = rise_k(plant, full_w - held_w, TIMES_H)
    reached = np.flatnonzero(risen >= RISE_K)
    if len(reached) == 0:
        return max(float(risen[-1]) / float(TIMES_H[-1]), LEAST_PACE_K_PER_H)
    return RISE_K / float(TIMES_H[reached[0]])


def early_start(
    control: Control, plant: Plant, equipment: Equipment, *, set_c: float, spare_auxiliary: bool
) -> Control:
    """Return a control that starts early by itself, with the pace of this house; ``spare_auxiliary`` keeps to the first level."""
    levels = 1 if spare_auxiliary else len(equipment.heating)
    paces = [pace_k_per_h(plant, equipment, outdoor_c, set_c=set_c, levels=levels) for outdoor_c in OUTDOORS_C]
    trusted = np.array(paces) * CAUTION
    slope = max(float(np.polyfit(OUTDOORS_C, trusted, 1)[0]), 0.0)
    # The line promises no more than any of the points: a heat pump just above the change to a burner is slower than both.
    at_zero = float((trusted - slope * np.array(OUTDOORS_C)).min())
    return replace(
        control,
        optimum_start=True,
        recovery_k_per_h=max(at_zero, LEAST_PACE_K_PER_H),
        recovery_per_outdoor_k=slope,
        most_lead_h=MOST_LEAD_H,
        spare_auxiliary=spare_auxiliary,
    )
