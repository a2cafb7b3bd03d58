"""Setback and recovery of a house with one resistance and one capacity, in closed form.

The least model that tells how far a house falls in a night, how long it takes to come back and what the night saves. It
knows one time constant only, so it shows too slow a fall in the first hour; it is for understanding and for checks.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OneNode:
    """C dT/dt = UA (T_o' - T) + q, T_o' = T_o + gains/UA."""

    loss_w_k: float
    time_constant_s: float
    heat_w: float
    """What the equipment gives at full load."""

    @property
    def capacity_j_k(self) -> float:
        """C = UA τ [J/K]."""
        return self.loss_w_k * self.time_constant_s


@dataclass(frozen=True, slots=True)
class Setback:
    """One night."""

    lowest_c: float
    """At the end of the night, or the setback itself when it is reached."""
    reached_s: float | None
    """When the setback was reached after the start, or None."""
    recovery_s: float | None
    """Time at full load until the day setpoint, or None when it cannot be reached."""
    saved_j: float
    """Heat saved in the night and its recovery against holding the day setpoint all the while."""


def decay_c(house: OneNode, start_c: float, balance_c: float, after_s: float) -> float:
    """Return the temperature after a time without heat; ``balance_c`` is T_o', outdoors with the gains' lift."""
    return balance_c + (start_c - balance_c) * math.exp(-after_s / house.time_constant_s)


def decay_time_s(house: OneNode, start_c: float, end_c: float, balance_c: float) -> float | None:
    """Return how long the fall takes, or None when the house never falls so far."""
    if end_c <= balance_c:
        return None
    return house.time_constant_s * math.log((start_c - balance_c) / (end_c - balance_c)) if end_c < start_c else 0.0


def recovery_time_s(house: OneNode, start_c: float, end_c: float, balance_c: float) -> float | None:
    """Return how long the rise takes at full load, or None when the equipment cannot get there."""
    most_c = balance_c + house.heat_w / house.loss_w_k
    if end_c <= start_c:
        return 0.0
    if most_c <= end_c:
        return None
    return house.time_constant_s * math.log((most_c - start_c) / (most_c - end_c))


def night(house: OneNode, day_c: float, setback_c: float, balance_c: float, night_s: float) -> Setback:
    """Return what a night at a setback does, from the moment the setpoint falls to the end of recovery.

    Heat saved is that of holding ``day_c`` for the same time less the heat given; it equals UA times the kelvin
    seconds under ``day_c``, because the house ends where it began.
    """
    reached_s = decay_time_s(house, day_c, setback_c, balance_c)
    if reached_s is not None and reached_s >= night_s:
        reached_s = None
    falling_s = night_s if reached_s is None else reached_s
    lowest_c = decay_c(house, day_c, balance_c, falling_s)
    recovery_s = recovery_time_s(house, lowest_c, day_c, balance_c)
    held_w = house.loss_w_k * max(day_c - balance_c, 0.0)
    given_j = house.loss_w_k * max(lowest_c - balance_c, 0.0) * (night_s - falling_s)
    whole_s = night_s
    if recovery_s is not None:
        given_j += house.heat_w * recovery_s
        whole_s += recovery_s
    return Setback(lowest_c, reached_s, recovery_s, held_w * whole_s - given_j)


@dataclass(frozen=True, slots=True)
class StripNight:
    """One night of a heat pump whose recovery strips help."""

    setback: Setback
    strip_j: float
    saved_electric_j: float
    """Against holding the day setpoint by the heat pump alone; below 0 the night costs more than it saves."""


def strip_night(strips_w: float, cop: float, night: Setback) -> StripNight:
    """Return what a night saves in electricity when strips do their part of the recovery at full load.

    ``night`` is that of a house whose full heat is heat pump and strips together. Heat not given is saved at the heat pump's COP; every joule that
    strips give in the heat pump's place costs 1 - 1/COP more. A night without end of recovery has no saving to tell.
    """
    strip_j = strips_w * (night.recovery_s if night.recovery_s is not None else math.inf)
    return StripNight(night, strip_j, night.saved_j / cop - strip_j * (1.0 - 1.0 / cop))
