"""Hours of direct sun on places on walls: a year at one-minute steps for many places at once."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from subbase.siting.apertures import Aperture, Spot, apertures
from subbase.siting.sun_kernel import STRIPS, Counts, Minutes, count_lit
from subbase.siting.sun_year import Floats, SunYear
from subbase.survey.rooms import Point, Room
from subbase.words import _

BRIGHT_W_M2 = 120.0
"""Direct normal irradiance from which the sun is said to shine: WMO-No. 8, definition of sunshine duration (from memory)."""
WORST = 3


@dataclass(frozen=True, slots=True)
class SunDay:
    """One day's sun on a place; times are local standard time, minutes since midnight."""

    date: datetime.date
    minutes: int
    first_min: int
    last_min: int


@dataclass(frozen=True, slots=True, eq=False)
class SunHours:
    """Direct sun on one place through a year, as if no blind were ever drawn."""

    possible_h: Floats
    """(12, 24) hours by month and hour of local standard time under a sky without clouds."""
    bright_h: Floats | None
    """The same, counting hours in which the weather lets the sun through; None without weather."""
    minutes_by_day: NDArray[np.int32]
    worst: tuple[SunDay, ...]
    """The days with most, the first of them first."""

    @property
    def hours(self) -> float:
        """Hours a year under a sky without clouds."""
        return float(self.possible_h.sum())

    @property
    def bright_hours(self) -> float | None:
        """Hours a year that the weather lets through."""
        return None if self.bright_h is None else float(self.bright_h.sum())

    @property
    def days(self) -> int:
        """Days a year with any."""
        return int((self.minutes_by_day > 0).sum())


@dataclass(frozen=True, slots=True, eq=False)
class Sky:
    """A sun year turned to a plan, with the weather where there is any."""

    sun: SunYear
    bearing_deg: float
    """Compass bearing of the top of the plan."""
    clear: NDArray[np.uint8]
    """(n,) whether the sun shines through, minute by minute."""
    has_weather: bool

    def slopes(self, outward: Point) -> tuple[NDArray[np.intp], Floats, Floats]:
        """Return (minutes, t, z) of the minutes in which the sun stands before a wall that looks ``outward``."""
        x, y = self.level(outward)
        minutes = np.flatnonzero(y > 0.0)
        ahead = y[minutes]
        return minutes, x[minutes] / ahead, self.sun.up[minutes] / ahead

    def level(self, outward: Point) -> tuple[Floats, Floats]:
        """Return the sun's (to the right along the wall, out of the wall) parts; right is as seen from inside."""
        turn = radians(self.bearing_deg)
        east, north = self.sun.east, self.sun.north
        # Plan x and y of the compass directions, when the top of the plan bears ``turn`` from north.
        x = east * cos(turn) - north * sin(turn)
        y = east * sin(turn) + north * cos(turn)
        nx, ny = outward
        return x * ny - y * nx, x * nx + y * ny


def sky(sun: SunYear, bearing_deg: float, direct_w_m2: Floats | None = None) -> Sky:
    """Return a sky over a plan.

    ``direct_w_m2`` is (8760,) direct normal irradiance of a standard year's hours [W/m²], local standard time, the first
    value that of 0 to 1 o'clock on 1 January; 29 February takes the day before.

    Raises
    ------
    ValueError
        When it does not hold 8760 values.
    """
    clear = np.ones(sun.up.size, dtype=np.uint8)
    if direct_w_m2 is not None:
        if direct_w_m2.shape != (8760,):
            raise ValueError(
                _("Direct irradiance holds {size} values; a year of hours has 8760.").format(size=direct_w_m2.size)
            )
        day = sun.day - ((sun.day > 58) & (sun.days == 366))
        clear = (direct_w_m2[day * 24 + sun.minute // 60] >= BRIGHT_W_M2).astype(np.uint8)
    return Sky(sun, bearing_deg, clear, direct_w_m2 is not None)


def sun_hours(room: Room, spots: Sequence[Spot], over: Sky) -> tuple[SunHours, ...]:
    """Return the sun of every spot in one room; see ``sun_hours_of``."""
    return sun_hours_of([apertures(room, spot) for spot in spots], over)


def sun_hours_of(seen: Sequence[tuple[Aperture, ...]], over: Sky) -> tuple[SunHours, ...]:
    """Return the sun through each spot's apertures, in their order."""
    counts = _counts(seen, over)
    return tuple(
        SunHours(
            counts.possible[i].reshape(12, 24) / 60.0,
            counts.bright[i].reshape(12, 24) / 60.0 if over.has_weather else None,
            counts.by_day[i],
            _worst(counts, i, over.sun),
        )
        for i in range(len(seen))
    )


def minutes_a_year(seen: Sequence[tuple[Aperture, ...]], over: Sky) -> NDArray[np.int64]:
    """Return (n,) minutes of sun a year of each spot, without the rest."""
    total: NDArray[np.int64] = _counts(seen, over).possible.sum(axis=1)
    return total


def _counts(seen: Sequence[tuple[Aperture, ...]], over: Sky) -> Counts:
    flat = [aperture for spot in seen for aperture in spot]
    facings = {outward: number for number, outward in enumerate(dict.fromkeys(a.outward for a in flat))}
    starts = np.cumsum([0, *map(len, seen)]).astype(np.int32)
    rows = [(*a.t, *a.z, a.least_up, a.rise_m, a.out_m, *a.under_m) for a in flat]
    bounds = np.array(rows, dtype=np.float64).reshape(-1, 9)
    facing = np.array([facings[a.outward] for a in flat], dtype=np.int32)
    counts: Counts = count_lit(starts, facing, bounds, _minutes(over, tuple(facings)), over.sun.days)
    return counts


def _minutes(over: Sky, facings: tuple[Point, ...]) -> Minutes:
    """Return the minutes before each facing, parted into strips of t with equally many in each, sorted by z within."""
    sun = over.sun
    chosen, t, z, sizes, ends = [], [], [], [0], []
    for outward in facings:
        minutes, along, rise = over.slopes(outward)
        parts = np.array_split(np.argsort(along), STRIPS)
        ends += [(along[part[0]], along[part[-1]]) if part.size else (np.inf, -np.inf) for part in parts]
        sizes += [part.size for part in parts]
        order = np.concatenate([part[np.argsort(rise[part])] for part in parts])
        chosen.append(minutes[order])
        t.append(along[order])
        z.append(rise[order])
    at = np.concatenate([np.zeros(0, np.intp), *chosen])
    empty = np.zeros(0)
    return Minutes(
        np.cumsum(sizes).astype(np.int32), np.array(ends, dtype=np.float64).reshape(-1, 2),
        np.concatenate([empty, *t]), np.concatenate([empty, *z]),
        sun.up[at], sun.bin[at], sun.day[at], sun.minute[at], over.clear[at],
    )  # fmt: skip


def _worst(counts: Counts, spot: int, sun: SunYear) -> tuple[SunDay, ...]:
    by_day = counts.by_day[spot]
    order = [int(day) for day in np.argsort(-by_day, kind="stable")[:WORST] if by_day[day] > 0]
    return tuple(
        SunDay(sun.date(d), int(by_day[d]), int(counts.begun[spot, d]), int(counts.ended[spot, d]) + 1) for d in order
    )


def passes(a: Aperture, right: Floats, ahead: Floats, up: Floats) -> NDArray[np.bool_]:
    """Return whether rays pass an aperture; the three parts of each are along the wall, out of it, and up."""
    with np.errstate(divide="ignore", invalid="ignore"):
        t, z = right / ahead, up / ahead
        shaded = (a.out_m > 0.0) & (a.rise_m <= z * a.out_m)
        along = t * a.rise_m / z
    shaded &= (a.under_m[0] <= along) & (along <= a.under_m[1])
    passed: NDArray[np.bool_] = (ahead > 0.0) & (t >= a.t[0]) & (t <= a.t[1]) & (z >= a.z[0]) & (z < a.z[1])
    passed &= (up > 0.0) & (up >= a.least_up) & ~shaded
    return passed
