"""Where the sun stands, minute by minute through one year, as unit vectors.

The solar position algorithm (Reda and Andreas, NREL/TP-560-34302, 2004, as pvlib holds it) is asked every half hour, and the
true direction is interpolated between: it turns so evenly that six half-hours give every minute to better than a ten
thousandth of a degree. Refraction, which is not smooth at the horizon, is added afterwards to every minute.
"""

from __future__ import annotations

import calendar
import datetime
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from pvlib import spa

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

PRESSURE_HPA, AIR_C, HORIZON_REFRACTION_DEG = 1013.25, 12.0, 0.5667
"""Of standard air; the last is the algorithm's own refraction at sunrise. They move sunrise by seconds."""
STEP_MIN, NODES = 30, 6
MINUTES_A_DAY = 1440


@dataclass(frozen=True, slots=True, eq=False)
class SunYear:
    """Every minute of a year with the sun above a flat horizon; times are local standard time."""

    year: int
    utc_offset_h: float
    east: Floats
    """(n,) east part of the unit vector towards the sun."""
    north: Floats
    up: Floats
    day: Ints
    """(n,) day of the year, counted from 0."""
    bin: Ints
    """(n,) month (0 to 11) × 24 + hour (0 to 23)."""
    minute: Ints
    """(n,) minute of the day."""

    @property
    def days(self) -> int:
        """Days of the year."""
        return 366 if calendar.isleap(self.year) else 365

    def date(self, day: int) -> datetime.date:
        """Return the date of a day counted from 0."""
        return datetime.date(self.year, 1, 1) + datetime.timedelta(days=day)


def standard_offset_h(longitude_deg: float) -> float:
    """Return the whole hours of the nearest time meridian, for houses whose standard time is not told."""
    return float(round(longitude_deg / 15.0))


@lru_cache(maxsize=4)
def sun_year(latitude_deg: float, longitude_deg: float, utc_offset_h: float, year: int = 2025) -> SunYear:
    """Return the sun over a place for every minute of a year.

    ``utc_offset_h`` is standard time less UTC [h]; each minute stands for its middle.
    """
    first = datetime.datetime(year, 1, 1, tzinfo=datetime.UTC).timestamp() - utc_offset_h * 3600.0
    count = (366 if calendar.isleap(year) else 365) * MINUTES_A_DAY
    before = NODES // 2 - 1
    steps = np.arange(-before, count // STEP_MIN + NODES - before, dtype=np.float64)
    nodes: Floats = first + 60.0 * STEP_MIN * steps
    east, north, up = _between(true_direction(nodes, latitude_deg, longitude_deg, year))
    east, north, up = east[:count], north[:count], up[:count]
    east, north, up = refracted(east, north, up)
    minutes = np.flatnonzero(up > 0.0)
    day = minutes // MINUTES_A_DAY
    starts = np.array([datetime.date(year, month, 1).timetuple().tm_yday - 1 for month in range(1, 13)])
    month = np.searchsorted(starts, day, side="right") - 1
    hour = minutes % MINUTES_A_DAY // 60
    found = (east[minutes], north[minutes], up[minutes])
    whole = (day, month * 24 + hour, minutes % MINUTES_A_DAY)
    for array in found:
        array.flags.writeable = False
    ints = tuple(np.ascontiguousarray(array, dtype=np.int32) for array in whole)
    return SunYear(year, utc_offset_h, *found, *ints)


def true_direction(unix_s: Floats, latitude_deg: float, longitude_deg: float, year: int) -> Floats:
    """Return (3, n) unit vectors east, north, up towards the sun, without refraction, at moments in Unix seconds."""
    delta_t_s = spa.calculate_deltat(year, 6)
    rows = spa.solar_position_numpy(
        unix_s, latitude_deg, longitude_deg, 0.0, PRESSURE_HPA, AIR_C, delta_t_s, HORIZON_REFRACTION_DEG, 1, False, False
    )  # fmt: skip
    elevation, azimuth = np.radians(rows[3]), np.radians(rows[4])
    level = np.cos(elevation)
    return np.stack([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])


def refracted(east: Floats, north: Floats, up: Floats) -> tuple[Floats, Floats, Floats]:
    """Return unit vectors with the air's refraction added to their elevation."""
    level = np.hypot(east, north)
    true_deg = np.degrees(np.arctan2(up, level))
    lift = spa.atmospheric_refraction_correction(PRESSURE_HPA, AIR_C, true_deg, HORIZON_REFRACTION_DEG)
    seen = np.radians(true_deg + lift)
    scale = np.cos(seen) / np.maximum(level, 1e-12)
    return east * scale, north * scale, np.sin(seen)


def _between(nodes: Floats) -> Floats:
    """Return (3, minutes) directions by Lagrange's interpolation over six half-hourly nodes around each minute."""
    at = (np.arange(STEP_MIN) + 0.5) / STEP_MIN + NODES // 2 - 1
    weights = np.ones((NODES, STEP_MIN))
    for i in range(NODES):
        for j in range(NODES):
            if i != j:
                weights[i] *= (at - j) / (i - j)
    around = np.lib.stride_tricks.sliding_window_view(nodes, NODES, axis=1)
    found = np.ascontiguousarray(around @ weights).reshape(3, -1)
    length = np.sqrt((found**2).sum(axis=0))
    unit: Floats = found / length
    return unit
