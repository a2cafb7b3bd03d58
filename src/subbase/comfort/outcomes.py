"""What a schedule does to a house in a year: money, energy, carbon, cold hours, strips and starts, side by side.

Every schedule runs through the same year, minute by minute, by the control in the loop. Comfort is held against what the
people want, not against what the control was told: a schedule that asks for less does not become comfortable by it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.equipment import Equipment
from subbase.comfort.habits import AWAY, Habits, Pattern, Wishes
from subbase.comfort.loop import SLOTS, SLOTS_PER_H, Case, Control, Hourly, run_many, run_minutes
from subbase.comfort.network import Plant
from subbase.comfort.prices import Bill, Prices, bill, yearly_costs
from subbase.comfort.sun_on_windows import Drive
from subbase.comfort.weather import HOURS, Floats

OUTSIDE_K = 1.0
"""Air this far outside of what people want counts as outside comfort [judgement]; a control's own band stays inside."""
ALLOWED_MORE_H = 20.0
"""Hours outside comfort that a schedule may have a year beyond those of holding the wishes all the time [judgement]."""


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What all schedules share."""

    plant: Plant
    equipment: Equipment
    drive: Drive
    habits: Habits
    wishes: Wishes
    prices: Prices
    control: Control = Control()  # noqa: RUF009 - frozen


@dataclass(frozen=True, slots=True)
class Outcome:
    """One schedule's year."""

    bill: Bill
    heat_kwh: float
    """Given to the house."""
    cool_kwh: float
    """Taken out of it, sensible."""
    cold_h: float
    """Hours with somebody home, asleep or not, more than 1 K under what they want."""
    hot_h: float
    strip_h: float
    heat_starts_per_h: float
    """Mean over the hours in which it ran."""
    most_heat_starts: int
    """In the worst hour."""
    cool_starts_per_h: float
    lowest_c: float


def outcomes(scene: Scene, patterns: Mapping[str, Pattern]) -> dict[str, Outcome]:
    """Return each schedule's year."""
    cases = [Case(scene.plant, scene.equipment, p.setpoints(), scene.control) for p in patterns.values()]
    years = run_many(cases, scene.drive, hourly=True)
    assert years.hourly is not None
    cold_h, hot_h = cold_and_hot_h(scene, years.hourly)
    found = {}
    for number, (name, case) in enumerate(zip(patterns, cases, strict=True)):
        minutes = run_minutes(case, scene.drive, 0, HOURS)
        heats, cools = minutes.runs > 0.0, minutes.runs < 0.0
        heat_starts, cool_starts = _starts(heats), _starts(cools)
        found[name] = Outcome(
            bill=bill(years, number, scene.prices),
            heat_kwh=float(years.heat_j[number]) / 3.6e6,
            cool_kwh=float(years.cool_j[number]) / 3.6e6,
            cold_h=float(cold_h[number]),
            hot_h=float(hot_h[number]),
            strip_h=float(years.strip_on_h[number]),
            heat_starts_per_h=_rate(heat_starts, heats),
            most_heat_starts=int(heat_starts.max()),
            cool_starts_per_h=_rate(cool_starts, cools),
            lowest_c=float(minutes.air_c.min()),
        )
    return found


def costs(scene: Scene, patterns: Sequence[Pattern]) -> tuple[Floats, Floats]:
    """Return the cost and the hours outside comfort (by hourly means) of many schedules, (n,) each."""
    cases = [Case(scene.plant, scene.equipment, p.setpoints(), scene.control) for p in patterns]
    years = run_many(cases, scene.drive, hourly=True)
    assert years.hourly is not None
    return yearly_costs(years.hourly, scene.prices), outside_h(scene, years.hourly)


def savings(scenes: Sequence[Scene], base: Pattern, other: Pattern) -> tuple[Floats, Floats]:
    """Return the cost of ``base`` and of ``other`` in each of several houses under one drive, (n,) each."""
    schedules = (base.setpoints(), other.setpoints())
    cases = [Case(s.plant, s.equipment, schedule, s.control) for schedule in schedules for s in scenes]
    years = run_many(cases, scenes[0].drive, hourly=True)
    assert years.hourly is not None
    found = yearly_costs(years.hourly, scenes[0].prices)
    return found[: len(scenes)], found[len(scenes) :]


def outside_h(scene: Scene, hourly: Hourly) -> Floats:
    """Return hours outside comfort, (n,), from the means of quarter hours in which somebody is home."""
    cold, hot = cold_and_hot_h(scene, hourly)
    return cold + hot


def cold_and_hot_h(scene: Scene, hourly: Hourly) -> tuple[Floats, Floats]:
    """Return hours too cold and hours too hot for those who are home, (n,) each."""
    week = scene.habits.week()
    here = year_of(week != AWAY)
    cold_under = year_of(scene.wishes.lowest_c(week)) - OUTSIDE_K
    hot_over = year_of(scene.wishes.highest_c(week)) + OUTSIDE_K
    # What no equipment is there for is nobody's fault here.
    cold = (hourly.quarter_air_c < cold_under.astype(np.float32)) @ here * float(bool(scene.equipment.heating))
    hot = (hourly.quarter_air_c > hot_over.astype(np.float32)) @ here * float(bool(scene.equipment.cooling))
    return cold / SLOTS_PER_H, hot / SLOTS_PER_H


def year_of(week: NDArray[np.bool_] | Floats) -> Floats:
    """Return a week's quarter hours as those of a year, (35040,)."""
    return np.asarray(np.tile(week, 53)[:SLOTS], dtype=np.float64)


def _starts(on: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Return starts in each hour, (8760,)."""
    began = on & ~np.concatenate([[True], on[:-1]])
    return np.asarray(began.reshape(HOURS, 60).sum(axis=1))


def _rate(starts: NDArray[np.int64], on: NDArray[np.bool_]) -> float:
    ran = on.reshape(HOURS, 60).any(axis=1)
    return float(starts[ran].mean()) if ran.any() else 0.0
