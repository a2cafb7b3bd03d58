"""When people are home, asleep or away, what they like, and the schedules that follow from that alone.

A week is 672 quarter hours from Monday midnight. A schedule here is a pattern of setpoints over such a week; what it
costs is found by running it (``outcomes``), and which one is cheapest by searching (``optimise``).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.loop import WEEK_SLOTS, Setpoints, weekly_setpoints
from subbase.comfort.weather import Floats
from subbase.comfort.weekly import Week, WeekStep

HOME, ASLEEP, AWAY = 0, 1, 2
SLOT_MIN = 15
GAP_K = 5.0 / 1.8
"""Least gap between heating and cooling setpoints, as the settings have it."""
SAME_K = 0.05
"""Setpoints nearer to each other than this are one."""


@dataclass(frozen=True, slots=True)
class Span:
    """From one minute of the day to another, perhaps over midnight; the same minute twice is never."""

    start_min: int
    end_min: int

    def holds(self, minute: int) -> bool:
        """Return whether a minute of the day lies in it."""
        if self.start_min <= self.end_min:
            return self.start_min <= minute < self.end_min
        return minute >= self.start_min or minute < self.end_min


@dataclass(frozen=True, slots=True)
class Habits:
    """When people sleep, and when nobody is home."""

    asleep: Span = Span(22 * 60 + 30, 6 * 60 + 30)
    away: Span = Span(8 * 60, 17 * 60)
    away_days: tuple[int, ...] = (0, 1, 2, 3, 4)
    """0 is Monday."""

    def week(self) -> NDArray[np.int8]:
        """Return HOME, ASLEEP or AWAY for every quarter hour, (672,), read-only."""
        return _week(self)


@lru_cache(maxsize=32)
def _week(habits: Habits) -> NDArray[np.int8]:
    found = np.zeros(WEEK_SLOTS, dtype=np.int8)
    for slot in range(WEEK_SLOTS):
        day, minute = divmod(slot * SLOT_MIN, 24 * 60)
        if habits.asleep.holds(minute):
            found[slot] = ASLEEP
        elif day in habits.away_days and habits.away.holds(minute):
            found[slot] = AWAY
    found.flags.writeable = False
    return found


@dataclass(frozen=True, slots=True)
class Wishes:
    """The coldest and the warmest that people want the air to be [°C]; while nobody is home, what the house must keep."""

    heat_c: float = 20.0
    heat_asleep_c: float = 17.0
    heat_away_c: float = 15.5
    cool_c: float = 25.5
    cool_asleep_c: float = 25.5
    cool_away_c: float = 29.0

    def lowest_c(self, week: NDArray[np.int8]) -> Floats:
        """Return the coldest allowed in every quarter hour, (672,)."""
        return np.array([self.heat_c, self.heat_asleep_c, self.heat_away_c])[week]

    def highest_c(self, week: NDArray[np.int8]) -> Floats:
        """Return the warmest allowed in every quarter hour, (672,)."""
        return np.array([self.cool_c, self.cool_asleep_c, self.cool_away_c])[week]


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """Setpoints of a week, (672,) each."""

    heat_c: Floats
    cool_c: Floats

    def setpoints(self) -> Setpoints:
        """Return them for a year whose 1 January is a Monday."""
        return weekly_setpoints(self.heat_c, self.cool_c)

    def week(self, *, heats: bool = True, cools: bool = True) -> Week:
        """Return the steps, equal neighbours made one; None where there is no such equipment."""
        steps: list[WeekStep] = []
        for slot in range(WEEK_SLOTS):
            day, minute = divmod(slot * SLOT_MIN, 24 * 60)
            heat = float(self.heat_c[slot]) if heats else None
            cool = float(self.cool_c[slot]) if cools else None
            # Every day begins with a step, so that days that are alike look alike.
            if minute == 0 or not _same(steps[-1].setpoints, (heat, cool)):
                steps.append(WeekStep(day, minute, heat, cool))
        return Week(tuple(steps))


@dataclass(frozen=True, slots=True)
class Moves:
    """How a schedule departs from holding the wishes of those who are home; all may be 0."""

    asleep_k: float = 0.0
    """How far back while people sleep."""
    away_k: float = 0.0
    """How far back while nobody is home."""
    lead_wake_h: float = 0.0
    """How long before people rise the setpoint does."""
    lead_return_h: float = 0.0
    stored_k: float = 0.0
    """How far beyond the wish the house is brought before a dear hour."""
    stored_h: float = 0.0
    """How long before it."""


def flat(wishes: Wishes) -> Pattern:
    """Return the wishes of those who are home, day and night."""
    return Pattern(np.full(WEEK_SLOTS, wishes.heat_c), np.full(WEEK_SLOTS, wishes.cool_c))


def by_the_clock(habits: Habits, wishes: Wishes) -> Pattern:
    """Return the usual setback: down when people go or sleep, up at the minute they come or rise."""
    week = habits.week()
    return Pattern(wishes.lowest_c(week), wishes.highest_c(week))


def moved(habits: Habits, wishes: Wishes, heat: Moves, cool: Moves, dear: NDArray[np.bool_] | None = None) -> Pattern:
    """Return a schedule with departures, none of them beyond the wishes while people are home or asleep.

    ``dear`` marks the quarter hours of the week with a high price, (672,).
    """
    week = habits.week()
    heat_c = _moved(week, wishes.heat_c, -1.0, heat, dear)
    cool_c = _moved(week, wishes.cool_c, 1.0, cool, dear)
    # Back by no more than the people allow.
    heat_c, cool_c = np.maximum(heat_c, wishes.lowest_c(week)), np.minimum(cool_c, wishes.highest_c(week))
    # Stored cold leaves room for the heat that people want, and stored heat yields to it: no control takes them closer.
    cool_c = np.maximum(cool_c, wishes.lowest_c(week) + GAP_K)
    return Pattern(np.minimum(heat_c, cool_c - GAP_K), cool_c)


def _moved(week: NDArray[np.int8], home_c: float, back: float, moves: Moves, dear: NDArray[np.bool_] | None) -> Floats:
    found = home_c + back * np.array([0.0, moves.asleep_k, moves.away_k])[week]
    for state, lead_h in ((ASLEEP, moves.lead_wake_h), (AWAY, moves.lead_return_h)):
        lead = round(lead_h * 4)
        for end in np.flatnonzero((week == state) & (np.roll(week, -1) != state)):
            ahead = (end - np.arange(lead)) % WEEK_SLOTS
            following = found[(end + 1) % WEEK_SLOTS]
            reached = ahead[week[ahead] == state]
            found[reached] = following if back * (following - home_c) <= 0 else found[reached]
    if dear is not None and moves.stored_k > 0.0 and moves.stored_h > 0.0:
        before = np.zeros(WEEK_SLOTS, dtype=bool)
        for begin in np.flatnonzero(dear & ~np.roll(dear, 1)):
            before[(begin - 1 - np.arange(round(moves.stored_h * 4))) % WEEK_SLOTS] = True
        found[before & ~dear] = home_c - back * moves.stored_k
    return np.asarray(found)


def _same(one: tuple[float | None, float | None], other: tuple[float | None, float | None]) -> bool:
    return all(
        (a is None and b is None) or (a is not None and b is not None and abs(a - b) < SAME_K)
        for a, b in zip(one, other, strict=True)
    )
