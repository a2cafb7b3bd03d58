"""A control in the loop with a house and its equipment: a whole year in steps of one minute.

``run_many`` packs cases for the compiled kernel and spreads them over threads; ``loop_reference`` holds the same rules
in readable Python. Within a minute the equipment is constant and the house's step is exact.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.equipment import GRID_C, Equipment
from subbase.comfort.loop_kernel import MODES, SUMS, TRACE_ROWS, TRACES, Pack, run_range
from subbase.comfort.network import Plant
from subbase.comfort.sun_on_windows import Drive
from subbase.comfort.weather import HOURS, Floats

SLOTS_PER_H = 4
"""Setpoints are held for a quarter of an hour."""
SLOTS = HOURS * SLOTS_PER_H
WEEK_SLOTS = 7 * 24 * SLOTS_PER_H
STEP_S = 60.0
WARM_UP_H = 14 * 24
"""The year's last days, run before its first so that the mass is warm."""


@dataclass(frozen=True, slots=True, eq=False)
class Setpoints:
    """What the control is told, (35040,) each, one value for every quarter of an hour of the year."""

    heat_c: Floats
    cool_c: Floats


@dataclass(frozen=True, slots=True)
class Control:
    """How the control acts on the air temperature."""

    heat_band_k: float = 0.6
    """From on to off, half of it on each side of the setpoint."""
    cool_band_k: float = 0.6
    least_on_s: float = 180.0
    least_off_s: float = 300.0
    stage_delay_s: float = 600.0
    """Time at a level before the next one may join."""
    stage_up_k: float = 0.8
    """The next level joins only this far from the setpoint; it leaves at the setpoint."""
    optimum_start: bool = False
    """Start before a rise of the heating setpoint so that the house is warm when it comes."""
    recovery_k_per_h: float = 1.5
    """How quickly the house warms at 0 °C outside, used by optimum start."""
    recovery_per_outdoor_k: float = 0.0
    """Change of that with outdoor temperature [1/h]."""
    most_lead_h: float = 4.0
    spare_auxiliary: bool = False
    """While recovering early, stay on the first level."""


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One house with its equipment and control, to be run for a year."""

    plant: Plant
    equipment: Equipment
    setpoints: Setpoints
    control: Control = field(default_factory=Control)


@dataclass(frozen=True, slots=True, eq=False)
class Years:
    """Sums of a year, (n,) each, one per case."""

    heat_j: Floats
    """Heat given to the house."""
    cool_j: Floats
    """Heat taken out of the house (sensible), > 0."""
    heat_electric_j: Floats
    """Electricity for heating without strips."""
    strip_j: Floats
    fuel_j: Floats
    cool_electric_j: Floats
    heat_starts: Floats
    cool_starts: Floats
    heat_on_h: Floats
    cool_on_h: Floats
    strip_on_h: Floats
    cold_h: Floats
    """Hours more than 1 K under the heating setpoint."""
    hot_h: Floats
    """Hours more than 1 K over the cooling setpoint."""
    cold_k_h: Floats
    """Kelvin hours under the heating setpoint."""
    hot_k_h: Floats
    lowest_c: Floats
    highest_c: Floats
    mean_c: Floats
    hourly: Hourly | None = None

    def __len__(self) -> int:
        return len(self.heat_j)

    @property
    def electric_j(self) -> Floats:
        """All electricity of the equipment, standby left out."""
        return self.heat_electric_j + self.strip_j + self.cool_electric_j


@dataclass(frozen=True, slots=True, eq=False)
class Hourly:
    """Hourly means, (n, 8760) float32 each."""

    air_c: NDArray[np.float32]
    heat_w: NDArray[np.float32]
    cool_w: NDArray[np.float32]
    electric_w: NDArray[np.float32]
    """With strips."""
    strip_w: NDArray[np.float32]
    fuel_w: NDArray[np.float32]
    quarter_air_c: NDArray[np.float32]
    """(n, 35040) means of quarter hours."""


@dataclass(frozen=True, slots=True, eq=False)
class Minutes:
    """Minute by minute, (n_minute,) each."""

    air_c: Floats
    """At the end of the minute."""
    heat_w: Floats
    """Positive heats, negative cools."""
    runs: Floats
    """1 while heating runs, -1 while cooling does; what pipes give after a stop is heat without a run."""


def flat_setpoints(heat_c: float, cool_c: float) -> Setpoints:
    """Return setpoints that never change."""
    return Setpoints(np.full(SLOTS, heat_c), np.full(SLOTS, cool_c))


def weekly_setpoints(heat_c: Floats, cool_c: Floats, first_weekday: int = 0) -> Setpoints:
    """Return a week repeated through the year; (672,) each from Monday midnight, or (96,) for every day alike.

    ``first_weekday`` is the weekday of 1 January, 0 is Monday.
    """

    def year(values: Floats) -> Floats:
        week = np.tile(values, 7) if len(values) == WEEK_SLOTS // 7 else np.asarray(values)
        if len(week) != WEEK_SLOTS:
            raise ValueError(f"A week has {WEEK_SLOTS} quarter hours and a day 96; got {len(values)}.")
        shifted = np.roll(week, -first_weekday * 96)
        return np.tile(shifted, 53)[:SLOTS].astype(np.float64)

    return Setpoints(year(heat_c), year(cool_c))


def run_year(case: Case, drive: Drive, *, hourly: bool = True) -> Years:
    """Return the year of one case (arrays of length 1)."""
    return run_many((case,), drive, hourly=hourly, threads=1)


def run_many(cases: Sequence[Case], drive: Drive, *, hourly: bool = False, threads: int | None = None) -> Years:
    """Return the years of many cases under one weather; ``threads`` is all cores unless given."""
    pack = pack_cases(cases, drive)
    count = len(cases)
    sums = np.zeros((count, len(SUMS)))
    traces = np.zeros((count if hourly else 0, TRACE_ROWS, HOURS), dtype=np.float32)
    minutes = np.zeros((0, 3))
    workers = min(threads or os.cpu_count() or 1, count) or 1
    # Small blocks, so that a slow core does not hold the others up.
    block = max(1, min(64, -(-count // (workers * 4))))
    ranges = [(first, min(first + block, count)) for first in range(0, count, block)]

    def run(bounds: tuple[int, int]) -> None:
        run_range(pack, bounds, (0, HOURS, WARM_UP_H), sums, traces, minutes)

    if workers == 1:
        run((0, count))
    else:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(run, ranges))
    found = dict(zip(SUMS, np.ascontiguousarray(sums.T), strict=True))
    trace = _hourly(traces) if hourly else None
    return Years(**found, hourly=trace)


def _hourly(traces: NDArray[np.float32]) -> Hourly:
    air, heat, cool, electric, strip, fuel = (np.ascontiguousarray(traces[:, k]) for k in range(len(TRACES)))
    quarters = np.ascontiguousarray(traces[:, len(TRACES) :].transpose(0, 2, 1)).reshape(len(traces), SLOTS)
    return Hourly(air, heat, cool, electric, strip, fuel, quarters)


def run_minutes(case: Case, drive: Drive, first_hour: int, hours: int, *, warm_up_h: int = WARM_UP_H) -> Minutes:
    """Return some hours of the year minute by minute, after a warm-up of the hours before them."""
    pack = pack_cases((case,), drive)
    sums = np.zeros((1, len(SUMS)))
    minutes = np.zeros((hours * 60, 3))
    run_range(
        pack, (0, 1), (first_hour, hours, warm_up_h), sums, np.zeros((0, TRACE_ROWS, HOURS), dtype=np.float32), minutes
    )
    return Minutes(*(minutes[:, k].copy() for k in range(3)))


def pack_cases(cases: Sequence[Case], drive: Drive) -> Pack:
    """Return cases as arrays; equal setpoints and equipment (the same objects) are stored once."""
    setpoints = list({id(case.setpoints): case.setpoints for case in cases}.values())
    equipment = list({id(case.equipment): case.equipment for case in cases}.values())
    schedule_of, kind_of = ({id(thing): k for k, thing in enumerate(things)} for things in (setpoints, equipment))
    # Only a control that starts early looks ahead.
    looks_ahead = any(case.control.optimum_start for case in cases)
    rises = [next_rise(one.heat_c) if looks_ahead else (_NO_RISE, _NO_SLOTS) for one in setpoints]
    heat = [_levels(kind, heating=True, most=max(len(kind.heating) for kind in equipment)) for kind in equipment]
    cool = [_levels(kind, heating=False, most=max(len(kind.cooling) for kind in equipment)) for kind in equipment]
    return Pack(
        drive=np.ascontiguousarray(drive.values),
        outdoor_c=np.ascontiguousarray(drive.outdoor_c),
        plants=np.stack([_plant_rows(case.plant) for case in cases]),
        drive_to_mode=np.stack([_drive_rows(case.plant) for case in cases]),
        controls=np.array([_control_row(case.control) for case in cases]),
        picks=np.array(
            [(schedule_of[id(case.setpoints)], kind_of[id(case.equipment)]) for case in cases], dtype=np.int64
        ),
        heat_c=np.stack([schedule.heat_c for schedule in setpoints]),
        cool_c=np.stack([schedule.cool_c for schedule in setpoints]),
        rise_to_c=np.stack([rise[0] for rise in rises]),
        rise_in=np.stack([rise[1] for rise in rises]),
        heat_levels=np.stack([levels for levels, _ in heat]),
        heat_limits=np.stack([limits for _, limits in heat]),
        cool_levels=np.stack([levels for levels, _ in cool]),
        cool_limits=np.stack([limits for _, limits in cool]),
        kinds=np.array([(kind.heat_start_s, kind.cool_start_s, kind.lowest_share) for kind in equipment]),
    )


_NO_RISE, _NO_SLOTS = np.zeros(SLOTS), np.zeros(SLOTS, dtype=np.int64)


def next_rise(heat_c: Floats) -> tuple[Floats, NDArray[np.int64]]:
    """Return the value after the next rise of a setpoint and how many slots away it is, (35040,) each."""
    following = np.roll(heat_c, -1)
    at = np.flatnonzero(following > heat_c + 1e-9)
    slots = np.arange(len(heat_c))
    if len(at) == 0:
        return heat_c.copy(), np.full(len(heat_c), len(heat_c), dtype=np.int64)
    index = np.searchsorted(at, slots)
    wrapped = at[index % len(at)]
    distance = (wrapped - slots) % len(heat_c) + 1
    return following[wrapped].copy(), distance.astype(np.int64)


def _plant_rows(plant: Plant) -> Floats:
    """Return decay over a minute, its integral, and air answers, (3, MODES); modes are scaled so that air is their sum."""
    count = len(plant.decay_per_s)
    if count > MODES:
        raise ValueError(f"The loop runs at most {MODES} modes; this plant has {count}.")
    rows = np.zeros((3, MODES))
    rows[0, :count] = np.exp(-plant.decay_per_s * STEP_S)
    rows[1, :count] = -np.expm1(-plant.decay_per_s * STEP_S) / plant.decay_per_s
    rows[2, :count] = plant.air_of_mode * plant.heat_to_mode
    return rows


def _drive_rows(plant: Plant) -> Floats:
    rows = np.zeros((MODES, plant.drive_to_mode.shape[1]))
    rows[: len(plant.decay_per_s)] = plant.drive_to_mode * plant.air_of_mode[:, None]
    return rows


def _control_row(control: Control) -> tuple[float, ...]:
    return (
        control.heat_band_k / 2,
        control.cool_band_k / 2,
        control.least_on_s / STEP_S,
        control.least_off_s / STEP_S,
        control.stage_delay_s / STEP_S,
        control.stage_up_k,
        float(control.optimum_start),
        control.recovery_k_per_h,
        control.recovery_per_outdoor_k,
        control.most_lead_h,
        float(control.spare_auxiliary),
    )


def _levels(kind: Equipment, *, heating: bool, most: int) -> tuple[Floats, Floats]:
    """Return (most, 4, 111) heat, electricity, strips, fuel [W] and (most, 3) limits [°C] and part given back; unused levels never run."""
    levels = kind.heating if heating else kind.cooling
    table, limits = np.zeros((most, 4, len(GRID_C))), np.zeros((most, 3))
    limits[:, 0], limits[:, 1] = np.inf, -np.inf
    for k, level in enumerate(levels):
        table[k] = (level.heat_w, level.electric_w, level.strip_w, level.fuel_w)
        limits[k] = (level.above_c, level.below_c, level.given_back)
    return table, limits
