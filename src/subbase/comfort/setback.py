"""What a night's setback costs or saves at every depth: for a heat pump, where strips eat the saving.

The same year runs once for each depth and each way of coming back: at the hour, with everything that the equipment has;
early, with everything; early, with the compressor alone while it recovers. A deeper setback always takes less heat and
may still cost more, because strips give one unit of heat for one of electricity where the compressor gives two or three.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from subbase.comfort.habits import ASLEEP, HOME, Habits, Pattern, Wishes
from subbase.comfort.loop import SLOTS_PER_H, Case, Control, Years, run_many
from subbase.comfort.outcomes import ALLOWED_MORE_H, OUTSIDE_K, Scene, year_of
from subbase.comfort.prices import yearly_costs
from subbase.comfort.recovery import early_start
from subbase.comfort.weather import Floats

DEPTHS_K = tuple(0.5 * k for k in range(13))
WORTH = 0.002
"""A part of the flat year's cost; savings closer than this are the same."""


class Recovery(StrEnum):
    """How the house is brought back in the morning."""

    AT_THE_HOUR = "at the hour"
    EARLY = "early"
    EARLY_COMPRESSOR_ONLY = "early, compressor only"


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One way of coming back, by depth; arrays are (depths,)."""

    recovery: Recovery
    cost: Floats
    """A year of heating and cooling."""
    heat_kwh: Floats
    """Given to the house."""
    strip_h: Floats
    strip_kwh: Floats
    cold_h: Floats
    """Hours with people home more than 1 K under their wish."""

    @property
    def saving(self) -> Floats:
        """Return what each depth saves against no setback at all with the same control, (depths,)."""
        return np.asarray(self.cost[0] - self.cost)


@dataclass(frozen=True, slots=True, eq=False)
class SetbackStudy:
    """Cost against depth, for every way of coming back."""

    depths_k: Floats
    curves: tuple[Curve, ...]
    most_k: float = math.inf
    """Deeper is colder than people accept asleep."""

    def curve(self, recovery: Recovery) -> Curve:
        """Return one curve."""
        return next(curve for curve in self.curves if curve.recovery is recovery)

    def best_k(self, recovery: Recovery) -> float:
        """Return the least depth that saves as much as any, within ``WORTH``; 0 when none saves."""
        curve = self.curve(recovery)
        return float(self.depths_k[_first(curve.cost <= curve.cost.min() + WORTH * curve.cost[0])])

    def eaten_k(self, recovery: Recovery) -> float | None:
        """Return the depth from which a setback costs more than none; None when every depth saves."""
        return crossing(self.depths_k, self.curve(recovery).saving)

    @property
    def advice(self) -> tuple[Recovery, float]:
        """Return the cheapest way and depth of those that leave nobody cold for long, asleep or at breakfast."""
        found = (Recovery.AT_THE_HOUR, 0.0)
        best = float(self.curve(Recovery.AT_THE_HOUR).cost[0])
        for curve in self.curves:
            allowed = (curve.cold_h <= self.curves[0].cold_h[0] + ALLOWED_MORE_H) & (
                self.depths_k <= self.most_k + 0.25
            )
            costs = np.where(allowed, curve.cost, np.inf)
            # Shallow wins where it is as good.
            if float(costs.min()) < best - WORTH * curve.cost[0]:
                best = float(costs.min())
                at = _first(costs <= best + WORTH * curve.cost[0])
                found = (curve.recovery, float(self.depths_k[at]))
        return found


def setback_study(scene: Scene, *, has_strips: bool) -> SetbackStudy:
    """Return cost against depth of the night's setback; the last way only where there are strips to spare."""
    wishes, night = scene.wishes, replace(scene.habits, away_days=())
    ways: list[tuple[Recovery, Control]] = [(Recovery.AT_THE_HOUR, scene.control)]
    for recovery, spare in ((Recovery.EARLY, False), (Recovery.EARLY_COMPRESSOR_ONLY, True)):
        if spare and not has_strips:
            continue
        control = early_start(scene.control, scene.plant, scene.equipment, set_c=wishes.heat_c, spare_auxiliary=spare)
        ways.append((recovery, control))
    patterns = [_night(night, wishes, depth) for depth in DEPTHS_K]
    setpoints = [pattern.setpoints() for pattern in patterns]
    cases = [Case(scene.plant, scene.equipment, one, control) for _, control in ways for one in setpoints]
    years = run_many(cases, scene.drive, hourly=True)
    count = len(DEPTHS_K)
    curves = tuple(
        _curve(scene, years, recovery, slice(n * count, (n + 1) * count)) for n, (recovery, _) in enumerate(ways)
    )
    return SetbackStudy(np.array(DEPTHS_K), curves, wishes.heat_c - wishes.heat_asleep_c)


def crossing(depths_k: Sequence[float] | Floats, saving: Floats) -> float | None:
    """Return where a saving that was above 0 (or begins at 0) falls under it, by straight lines; None when it never does."""
    for k in range(1, len(saving)):
        if saving[k] < 0.0:
            before, after = float(saving[k - 1]), float(saving[k])
            low, high = float(depths_k[k - 1]), float(depths_k[k])
            return low + (high - low) * before / (before - after) if before > 0.0 else low
    return None


def _night(habits: Habits, wishes: Wishes, depth_k: float) -> Pattern:
    asleep = habits.week() == ASLEEP
    heat_c = np.where(asleep, wishes.heat_c - depth_k, wishes.heat_c)
    return Pattern(heat_c, np.full(len(heat_c), wishes.cool_c))


def _curve(scene: Scene, years: Years, recovery: Recovery, part: slice) -> Curve:
    assert years.hourly is not None
    awake = year_of(scene.habits.week() == HOME)
    cold = years.hourly.quarter_air_c[part] < np.float32(scene.wishes.heat_c - OUTSIDE_K)
    return Curve(
        recovery=recovery,
        cost=yearly_costs(years.hourly, scene.prices)[part],
        heat_kwh=years.heat_j[part] / 3.6e6,
        strip_h=years.strip_on_h[part].copy(),
        strip_kwh=years.strip_j[part] / 3.6e6,
        cold_h=np.asarray(cold @ awake) / SLOTS_PER_H,
    )


def _first(where: np.ndarray) -> int:
    return int(np.flatnonzero(where)[0])
