"""The compiled loop: houses one after another, each a year of minutes.

The five modes are plain variables, not an array, so that they stay in registers: a step is a chain of a few
multiplications from air temperature to decision to air temperature. The rules are those of ``loop_reference``.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from subbase.comfort.sun_on_windows import N_INSTANT
from subbase.comfort.weather import HOURS, Floats

MODES = 5
"""Modes of a plant; unused ones are 0."""
MOST_LEVELS = 10
GRID_FROM_C = -50.0
GRID_LAST = 109
"""Last whole degree from which a table can be read by a straight line."""
SUMS = (
    "heat_j",
    "cool_j",
    "heat_electric_j",
    "strip_j",
    "fuel_j",
    "cool_electric_j",
    "heat_starts",
    "cool_starts",
    "heat_on_h",
    "cool_on_h",
    "strip_on_h",
    "cold_h",
    "hot_h",
    "cold_k_h",
    "hot_k_h",
    "lowest_c",
    "highest_c",
    "mean_c",
)
TRACES = ("air_c", "heat_w", "cool_w", "electric_w", "strip_w", "fuel_w")
TRACE_ROWS = len(TRACES) + 4
"""After the hourly means come those of the air in the four quarters of each hour."""

Ints = NDArray[np.int64]
Floats32 = NDArray[np.float32]
F = TypeVar("F", bound=Callable[..., Any])


class Pack(NamedTuple):
    """Cases as arrays; n cases, s schedules, e kinds of equipment."""

    drive: Floats
    """(8760, 14)"""
    outdoor_c: Floats
    """(8760,) means."""
    plants: Floats
    """(n, 3, MODES) decay over a minute, its integral [s], K of air per J of heat and mode."""
    drive_to_mode: Floats
    """(n, MODES, 14)"""
    controls: Floats
    """(n, 11) as ``loop._control_row`` writes it."""
    picks: Ints
    """(n, 2) which schedule, which equipment."""
    heat_c: Floats
    """(s, 35040)"""
    cool_c: Floats
    rise_to_c: Floats
    """(s, 35040) the setpoint after its next rise."""
    rise_in: Ints
    """(s, 35040) slots until then."""
    heat_levels: Floats
    """(e, levels, 4, 111) heat, electricity, strips, fuel [W]."""
    heat_limits: Floats
    """(e, levels, 3) runs at or above, runs below [°C], part of the lacking heat that is given back after a stop."""
    cool_levels: Floats
    cool_limits: Floats
    kinds: Floats
    """(e, 3) start time constants for heating and cooling [s], least share."""


def compiled(function: F) -> F:
    """Compile a function; a product and a sum may be fused."""
    return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract", "nsz"})(function))


def inlined(function: F) -> F:
    """Compile a function into its callers."""
    return cast(F, numba.njit(inline="always", error_model="numpy", fastmath={"contract", "nsz"})(function))


@compiled
def climb(levels: Floats, limits: Floats, outdoor_c: float, ladder: Floats) -> int:
    """Write the levels allowed at an outdoor temperature into ``ladder`` from row 1; return how many.

    A level that gives no more heat than the one below it is left out, so that climbing always helps.
    """
    count = 0
    place = min(max(outdoor_c - GRID_FROM_C, 0.0), float(GRID_LAST) + 1.0)
    low = min(int(place), GRID_LAST)
    part = place - low
    for k in range(levels.shape[0]):
        if outdoor_c < limits[k, 0] or outdoor_c >= limits[k, 1]:
            continue
        heat_w = levels[k, 0, low] + part * (levels[k, 0, low + 1] - levels[k, 0, low])
        if heat_w <= ladder[count, 0] or count + 1 >= ladder.shape[0]:
            continue
        count += 1
        ladder[count, 0] = heat_w
        for q in range(1, 4):
            ladder[count, q] = levels[k, q, low] + part * (levels[k, q, low + 1] - levels[k, q, low])
        ladder[count, 4] = limits[k, 2]
    return count


@compiled
def force(pack: Pack, house: int, hour: int, at: Floats) -> None:
    """Write what the drives do to each mode at the start of an hour and how it changes in a minute, (2, MODES)."""
    before = (hour - 1) % HOURS
    for mode in range(MODES):
        start, end = 0.0, 0.0
        for d in range(N_INSTANT):
            factor = pack.drive_to_mode[house, mode, d]
            start += factor * pack.drive[before, d]
            end += factor * pack.drive[hour, d]
        steady = 0.0
        for d in range(N_INSTANT, pack.drive.shape[1]):
            steady += pack.drive_to_mode[house, mode, d] * pack.drive[hour, d]
        change = (end - start) / 60.0
        at[0, mode] = start + steady + 0.5 * change
        at[1, mode] = change


@compiled
def steady_modes(pack: Pack, house: int, hour: int, air_c: float, x: Floats) -> None:
    """Write the modes at rest at an air temperature under one hour's drives."""
    at = np.zeros((2, MODES))
    force(pack, house, hour, at)
    free, gain = 0.0, 0.0
    for mode in range(MODES):
        rest = 1.0 - pack.plants[house, 0, mode]
        scale = pack.plants[house, 1, mode] / rest if rest > 0.0 else 0.0
        free += at[0, mode] * scale
        gain += pack.plants[house, 2, mode] * scale
    heat_w = (air_c - free) / gain
    for mode in range(MODES):
        rest = 1.0 - pack.plants[house, 0, mode]
        scale = pack.plants[house, 1, mode] / rest if rest > 0.0 else 0.0
        x[mode] = (at[0, mode] + pack.plants[house, 2, mode] * heat_w) * scale


@inlined
def _change(
    level: tuple[int, int], off_k: float, since: tuple[float, float], limits: tuple[float, float, float, float]
) -> tuple[int, float, float]:
    """Return the level of what runs, and the minutes since it started and since the level changed.

    ``level`` is (now, top), ``off_k`` how far the air is from its setpoint, ``limits`` (half band, least time on, how far
    off the next level joins, delay).
    """
    if off_k < -limits[0] and since[0] >= limits[1]:
        return 0, 0.0, since[1]
    if level[0] < level[1] and off_k > limits[2] and since[1] >= limits[3]:
        return level[0] + 1, since[0], 0.0
    if level[0] > 1 and off_k < 0.0:
        return level[0] - 1, since[0], 0.0
    return level[0], since[0], since[1]


@compiled
def run_range(
    pack: Pack, bounds: tuple[int, int], hours: tuple[int, int, int], sums: Floats, traces: Floats32, minutes: Floats
) -> None:
    """Run houses ``bounds[0]`` to ``bounds[1]``; hours are (first, how many, warm-up before them).

    ``sums`` (n, SUMS) is filled; ``traces`` (n or 0, TRACE_ROWS, 8760) and ``minutes`` (60 × hours or 0, 3) where they have room:
    air, heat, and 1 while heating runs, -1 while cooling does.
    """
    for house in range(bounds[0], bounds[1]):
        run_house(
            pack, house, hours, sums[house], traces[house] if traces.shape[0] else traces[:0].reshape(0, 0), minutes
        )


@compiled
def run_house(  # noqa: PLR0912, PLR0915 (one loop: its state must stay in registers, and a call would spill it)
    pack: Pack, house: int, hours: tuple[int, int, int], sums: Floats, trace: Floats32, minutes: Floats
) -> None:
    """Run one house."""
    first_hour, n_hours, warm_up_h = hours
    schedule, kind = pack.picks[house, 0], pack.picks[house, 1]
    control = pack.controls[house]
    heat_half, cool_half, least_on, least_off = control[0], control[1], control[2], control[3]
    delay, up_k = control[4], control[5]
    lowest = pack.kinds[kind, 2]
    heat_start_s, cool_start_s = pack.kinds[kind, 0], pack.kinds[kind, 1]
    heat_fade = np.exp(-60.0 / heat_start_s) if heat_start_s > 0.0 else 0.0
    cool_fade = np.exp(-60.0 / cool_start_s) if cool_start_s > 0.0 else 0.0
    heat_lack, cool_lack = (1.0 - heat_fade) * heat_start_s / 60.0, (1.0 - cool_fade) * cool_start_s / 60.0
    a0, a1, a2, a3, a4 = pack.plants[house, 0]
    g0, g1, g2, g3, g4 = pack.plants[house, 1]
    p0, p1, p2, p3, p4 = pack.plants[house, 1] * pack.plants[house, 2]
    gain = p0 + p1 + p2 + p3 + p4
    per_k = 1.0 / gain
    x = np.zeros(MODES)
    start_hour = (first_hour - warm_up_h) % HOURS
    steady_modes(pack, house, start_hour, pack.heat_c[schedule, start_hour * 4], x)
    x0, x1, x2, x3, x4 = x
    air = x0 + x1 + x2 + x3 + x4
    at = np.zeros((2, MODES))
    heat_ladder, cool_ladder = np.zeros((MOST_LEVELS, 5)), np.zeros((MOST_LEVELS, 5))
    # ``fade`` is the part of the heat still lacking after a start, ``warm_w`` what comes yet after a stop.
    heating, cooling, since, stage_since, fade, warm_w = 0, 0, 1e6, 1e6, 0.0, 0.0
    recovering = False
    lowest_c, highest_c, mean_c = 1e9, -1e9, 0.0
    for step_h in range(-warm_up_h, n_hours):
        hour = (first_hour + step_h) % HOURS
        counts = step_h >= 0
        force(pack, house, hour, at)
        f0, f1, f2, f3, f4 = at[0, 0] * g0, at[0, 1] * g1, at[0, 2] * g2, at[0, 3] * g3, at[0, 4] * g4
        d0, d1, d2, d3, d4 = at[1, 0] * g0, at[1, 1] * g1, at[1, 2] * g2, at[1, 3] * g3, at[1, 4] * g4
        outdoor_c = pack.outdoor_c[hour]
        n_heat = climb(pack.heat_levels[kind], pack.heat_limits[kind], outdoor_c, heat_ladder)
        n_cool = climb(pack.cool_levels[kind], pack.cool_limits[kind], outdoor_c, cool_ladder)
        heating, cooling = min(heating, n_heat), min(cooling, n_cool)
        heat_w, cool_w, electric_w, cool_electric_w, strip_w, fuel_w, air_sum = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        heat_on, cool_on, strip_on, cold, hot, cold_k, hot_k = 0, 0, 0, 0, 0, 0.0, 0.0
        starts_heat, starts_cool = 0, 0
        for quarter in range(4):
            slot = hour * 4 + quarter
            told_heat_c, told_cool_c = pack.heat_c[schedule, slot], pack.cool_c[schedule, slot]
            heat_c = told_heat_c
            most_heat = n_heat
            if control[6] > 0.0:
                rise_c, away_h = pack.rise_to_c[schedule, slot], 0.25 * pack.rise_in[schedule, slot]
                pace = max(control[7] + control[8] * outdoor_c, 0.1)
                if away_h > control[9] or rise_c <= told_heat_c:
                    recovering = False
                elif (rise_c - air) / pace >= away_h:
                    recovering = True
                if recovering:
                    heat_c = rise_c
                    if control[10] > 0.0:
                        most_heat = min(n_heat, 1)
            heating = min(heating, most_heat)
            before_sum = air_sum
            for minute in range(15):
                under, over = heat_c - air, air - told_cool_c
                y0, y1, y2, y3, y4 = a0 * x0 + f0, a1 * x1 + f1, a2 * x2 + f2, a3 * x3 + f3, a4 * x4 + f4
                # In pairs: each sum waits for the one before it, and this chain is what a minute costs.
                free = (y0 + y1) + ((y2 + y3) + y4)
                q = 0.0
                if lowest <= 0.0:
                    need_w = (heat_c - free) * per_k
                    spare_w = (free - told_cool_c) * per_k
                    heating = most_heat if need_w > 0.0 else 0
                    cooling = n_cool if heating == 0 and spare_w > 0.0 else 0
                    if heating > 0:
                        q = min(need_w, heat_ladder[heating, 0])
                        share = q / heat_ladder[heating, 0]
                        electric_w += share * heat_ladder[heating, 1]
                        strip_w += share * heat_ladder[heating, 2]
                        fuel_w += share * heat_ladder[heating, 3]
                        heat_w += q
                        heat_on += 1
                    elif cooling > 0:
                        q = -min(spare_w, cool_ladder[cooling, 0])
                        cool_electric_w -= q / cool_ladder[cooling, 0] * cool_ladder[cooling, 1]
                        cool_w -= q
                        cool_on += 1
                else:
                    if heating > 0:
                        heating, since, stage_since = _change(
                            (heating, most_heat), under, (since, stage_since), (heat_half, least_on, up_k, delay)
                        )
                    elif cooling > 0:
                        cooling, since, stage_since = _change(
                            (cooling, n_cool), over, (since, stage_since), (cool_half, least_on, up_k, delay)
                        )
                    elif since >= least_off:
                        if under > heat_half and most_heat > 0:
                            heating, since, stage_since = 1, 0.0, 0.0
                            fade = 1.0 - min(warm_w / heat_ladder[1, 0], 1.0)
                            starts_heat += 1
                        elif over > cool_half and n_cool > 0:
                            cooling, since, stage_since, fade = 1, 0.0, 0.0, 1.0
                            starts_cool += 1
                    since += 1.0
                    stage_since += 1.0
                    if heating > 0:
                        full_w = heat_ladder[heating, 0]
                        share = 1.0
                        if lowest < 1.0:
                            share = min(max((heat_c - free) / (gain * full_w), lowest), 1.0)
                        q = share * full_w * (1.0 - fade * heat_lack)
                        fade *= heat_fade
                        warm_w = share * full_w * (1.0 - fade) * heat_ladder[heating, 4]
                        electric_w += share * heat_ladder[heating, 1]
                        strip_w += share * heat_ladder[heating, 2]
                        fuel_w += share * heat_ladder[heating, 3]
                        heat_w += q
                        heat_on += 1
                        strip_on += heat_ladder[heating, 2] > 0.0
                    elif cooling > 0:
                        full_w = cool_ladder[cooling, 0]
                        share = 1.0
                        if lowest < 1.0:
                            share = min(max((free - told_cool_c) / (gain * full_w), lowest), 1.0)
                        taken_w = share * full_w * (1.0 - fade * cool_lack)
                        fade *= cool_fade
                        q = -taken_w
                        cool_electric_w += share * cool_ladder[cooling, 1]
                        cool_w += taken_w
                        cool_on += 1
                    elif warm_w > 0.0:
                        q = warm_w * heat_lack
                        warm_w *= heat_fade
                        heat_w += q
                x0, x1, x2, x3, x4 = y0 + p0 * q, y1 + p1 * q, y2 + p2 * q, y3 + p3 * q, y4 + p4 * q
                f0, f1, f2, f3, f4 = f0 + d0, f1 + d1, f2 + d2, f3 + d3, f4 + d4
                air = free + gain * q
                air_sum += air
                lack, excess = told_heat_c - air, air - told_cool_c
                cold_k += max(lack, 0.0)
                hot_k += max(excess, 0.0)
                cold += lack > 1.0
                hot += excess > 1.0
                if counts:
                    lowest_c, highest_c = min(lowest_c, air), max(highest_c, air)
                    if minutes.shape[0] > 0:
                        row = step_h * 60 + quarter * 15 + minute
                        minutes[row, 0], minutes[row, 1] = air, q
                        minutes[row, 2] = 1.0 if heating > 0 else (-1.0 if cooling > 0 else 0.0)
            if counts and trace.shape[0] > 0:
                trace[6 + quarter, hour] = (air_sum - before_sum) / 15.0
        if counts:
            sums[0] += heat_w * 60.0
            sums[1] += cool_w * 60.0
            sums[2] += electric_w * 60.0
            sums[3] += strip_w * 60.0
            sums[4] += fuel_w * 60.0
            sums[5] += cool_electric_w * 60.0
            sums[6] += starts_heat
            sums[7] += starts_cool
            sums[8] += heat_on / 60.0
            sums[9] += cool_on / 60.0
            sums[10] += strip_on / 60.0
            sums[11] += cold / 60.0
            sums[12] += hot / 60.0
            sums[13] += cold_k / 60.0
            sums[14] += hot_k / 60.0
            mean_c += air_sum / 60.0
            if trace.shape[0] > 0:
                trace[0, hour] = air_sum / 60.0
                trace[1, hour] = heat_w / 60.0
                trace[2, hour] = cool_w / 60.0
                trace[3, hour] = (electric_w + strip_w + cool_electric_w) / 60.0
                trace[4, hour] = strip_w / 60.0
                trace[5, hour] = fuel_w / 60.0
    sums[15], sums[16], sums[17] = lowest_c, highest_c, mean_c / n_hours
