"""The cheapest day under comfort limits and a price that changes with the hour, as a linear programme.

A house of one resistance and one capacity (``closed_form.OneNode``) takes heat at any share of full load. Heat bought
early is stored in the house; what it costs is straight in the share, so the cheapest day is found exactly, by the HiGHS
solver in ``scipy.optimize``. Equipment that only runs on or off comes within a few per cent of it. The weekly table and
the calendar are in ``weekly``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from subbase.comfort.closed_form import OneNode
from subbase.comfort.weather import Floats
from subbase.errors import NoSolution

DISCOMFORT_PER_K_STEP = 10.0
"""Penalty for each kelvin and step under the lower limit: far above any price of heat, so limits yield only when they must."""
J_PER_KWH = 3.6e6
MOST_SECONDS = 60.0


class NoSchedule(NoSolution):
    """No share of running keeps the house under its upper limit or brings it back to where it began."""


@dataclass(frozen=True, slots=True, eq=False)
class PricedDay:
    """What a day brings, in steps of equal length; every array is (steps,)."""

    step_s: float
    outdoor_c: Floats
    """With the lift of sun and gains, if there is any: T_o + gains/UA."""
    price_per_kwh: Floats
    """Of what the equipment draws."""
    cop: Floats
    """Heat per energy drawn; an efficiency for a burner."""
    lowest_c: Floats
    """At the end of each step, as the next."""
    highest_c: Floats


@dataclass(frozen=True, slots=True, eq=False)
class HeatedDay:
    """A day as it was run."""

    indoor_c: Floats
    """(steps + 1,): at the start and at the end of every step."""
    share: Floats
    """(steps,), 0 to 1 of full load."""
    short_k: Floats
    """(steps,): how far under the lower limit at each step's end."""
    heat_kwh: float
    cost: float
    """In the currency of the price, without the penalty."""


def cheapest_day(house: OneNode, day: PricedDay, start_c: float) -> HeatedDay:
    """Return the cheapest day that keeps the limits and ends no colder than it began.

    The lower limit yields where full load cannot hold it, at ``DISCOMFORT_PER_K_STEP``; the upper one never does.

    Raises
    ------
    NoSchedule
        Nothing keeps the house under the upper limit, or full load cannot bring it back to ``start_c``.
    """
    steps = len(day.outdoor_c)
    cost, limit, balance, drive, bounds = _programme(house, day, start_c)
    found = linprog(cost, limit, -day.lowest_c, balance, drive, bounds, method="highs")
    if found.status != 0:
        raise NoSchedule(
            f"No way to run the equipment keeps the house under its upper limit and ends the day at {start_c:g} °C."
        )
    share = np.clip(found.x[:steps], 0.0, 1.0)
    return _run(house, day, start_c, share)


def held_day(house: OneNode, day: PricedDay, setpoint_c: float | Floats, start_c: float) -> HeatedDay:
    """Return a day that follows a setpoint, one number or (steps,), as closely as full load and outdoors let it."""
    keep, lift_k = _step(house, day.step_s)
    wanted = np.broadcast_to(np.asarray(setpoint_c, dtype=np.float64), day.outdoor_c.shape)
    share = np.empty(len(wanted))
    now_c = start_c
    for k, outdoor_c in enumerate(day.outdoor_c):
        adrift_c = keep * now_c + (1.0 - keep) * outdoor_c
        share[k] = min(max((wanted[k] - adrift_c) / lift_k, 0.0), 1.0)
        now_c = adrift_c + lift_k * share[k]
    return _run(house, day, start_c, share)


def hourly_setpoints_c(day: PricedDay, run: HeatedDay) -> Floats:
    """Return a setpoint for each whole hour (hours,) that makes an ordinary control do much the same.

    Where heat is given, the warmest temperature reached in the hour; where the house coasts, the lower limit, so that
    nothing runs. Steps must divide the hour.

    Raises
    ------
    ValueError
        The steps do not make whole hours.
    """
    per_hour = 3600.0 / day.step_s
    if per_hour != math.floor(per_hour) or len(run.share) % int(per_hour):
        raise ValueError(f"Steps of {day.step_s:g} s, {len(run.share)} of them, do not make whole hours.")
    wanted = np.where(run.share > 1e-6, run.indoor_c[1:], day.lowest_c)
    return np.asarray(wanted.reshape(-1, int(per_hour)).max(axis=1))


def _step(house: OneNode, step_s: float) -> tuple[float, float]:
    """Return what is left of a temperature difference after a step, and what full load adds in it [K]."""
    keep = math.exp(-step_s / house.time_constant_s)
    return keep, (1.0 - keep) * house.heat_w / house.loss_w_k


def _programme(house: OneNode, day: PricedDay, start_c: float) -> tuple[Floats, Any, Any, Floats, Floats]:
    """Return costs, the matrix under minus the lower limits, the balance and its drive, and bounds (n, 2)."""
    steps = len(day.outdoor_c)
    keep, lift_k = _step(house, day.step_s)
    # Unknowns: share (steps), temperature at each step's end (steps), kelvins short (steps).
    one = sparse.identity(steps, format="csr")
    before = sparse.eye(steps, k=-1, format="csr")
    balance = sparse.hstack([-lift_k * one, one - keep * before, sparse.csr_matrix((steps, steps))])
    drive = (1.0 - keep) * day.outdoor_c
    drive[0] += keep * start_c
    limit = sparse.hstack([sparse.csr_matrix((steps, steps)), -one, -one])
    price = day.price_per_kwh / day.cop * house.heat_w * day.step_s / J_PER_KWH
    cost = np.concatenate([price, np.zeros(steps), np.full(steps, DISCOMFORT_PER_K_STEP)])
    lowest = np.full(steps, -np.inf)
    lowest[-1] = start_c
    low = np.concatenate([np.zeros(steps), lowest, np.zeros(steps)])
    high = np.concatenate([np.ones(steps), np.maximum(day.highest_c, lowest), np.full(steps, np.inf)])
    bounds = np.column_stack([low, high])
    return cost, limit, balance, drive, bounds


def _run(house: OneNode, day: PricedDay, start_c: float, share: Floats) -> HeatedDay:
    keep, lift_k = _step(house, day.step_s)
    indoor_c = np.empty(len(share) + 1)
    indoor_c[0] = start_c
    for k, outdoor_c in enumerate(day.outdoor_c):
        indoor_c[k + 1] = keep * indoor_c[k] + (1.0 - keep) * outdoor_c + lift_k * share[k]
    heat_kwh = share * house.heat_w * day.step_s / J_PER_KWH
    short_k = np.maximum(day.lowest_c - indoor_c[1:], 0.0)
    cost = float(np.sum(heat_kwh / day.cop * day.price_per_kwh))
    return HeatedDay(indoor_c, share, short_k, float(heat_kwh.sum()), cost)


def cheapest_on_off_day(house: OneNode, day: PricedDay, start_c: float, *, gap: float = 0.02) -> HeatedDay:
    """Return the cheapest day of equipment that in each step either runs or rests, as a mixed-integer programme.

    ``gap`` is how far from the best possible the answer may be, as a part of its cost; near 0 the search takes minutes.

    Raises
    ------
    NoSchedule
        As ``cheapest_day``.
    """
    steps = len(day.outdoor_c)
    cost, limit, balance, drive, bounds = _programme(house, day, start_c)
    constraints = (
        LinearConstraint(limit, -np.inf, -day.lowest_c),
        LinearConstraint(balance, drive, drive),
    )
    whole = np.concatenate([np.ones(steps), np.zeros(2 * steps)])
    found = milp(
        cost,
        integrality=whole,
        bounds=Bounds(bounds[:, 0], bounds[:, 1]),
        constraints=constraints,
        options={"mip_rel_gap": gap, "time_limit": MOST_SECONDS},
    )
    if found.x is None:
        raise NoSchedule(
            f"No way to switch the equipment keeps the house under its upper limit and ends the day at {start_c:g} °C."
        )
    return _run(house, day, start_c, np.round(found.x[:steps]))
