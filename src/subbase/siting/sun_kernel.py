"""Counting sunlit minutes of many spots, touching hardly more minutes than are lit."""

from __future__ import annotations

from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from subbase.siting.sun_year import Floats, Ints

Bytes = NDArray[np.uint8]
STRIPS = 64
"""Into how many strips of t each facing's minutes are parted; within one they are sorted by z, and found by halving."""


class Minutes(NamedTuple):
    """Minutes with the sun before some wall, facing after facing, strip after strip, by rising z."""

    first: Ints
    """(n_facing × STRIPS + 1,) where each strip begins."""
    ends: Floats
    """(n_facing × STRIPS, 2) least and greatest t of each strip; (inf, -inf) of an empty one."""
    t: Floats
    z: Floats
    up: Floats
    """Sine of elevation."""
    bin: Ints
    """Month × 24 + hour."""
    day: Ints
    minute: Ints
    """Of the day."""
    clear: Bytes
    """Whether the sky lets the sun through."""


class Counts(NamedTuple):
    """Minutes of sun by spot."""

    possible: Ints
    """(n, 288) by month and hour."""
    bright: Ints
    """(n, 288) of these, with the sky clear."""
    by_day: Ints
    """(n, days) possible."""
    begun: Ints
    """(n, days) first minute of the day's sun; 1440 without any."""
    ended: Ints
    """(n, days) last minute; -1 without any."""


# One thread: numba's plain threading layer ends the process when two threads of a web server call it at once.
@numba.njit(cache=True, nogil=True)
def count_lit(
    starts: Ints, facing: Ints, bounds: Floats, sky: Minutes, days: int
) -> Counts:  # pragma: no cover - compiled
    """Return minutes of sun by spot.

    Parameters
    ----------
    starts : (n_spot + 1,) int
        Where each spot's apertures begin among all.
    facing : (n_aperture,) int
        Which facing's minutes an aperture looks at.
    bounds : (n_aperture, 9) float
        t low, t high, z low, z high, least sine of elevation, rise to an overhang, way out to its edge, its two ends.
    """
    count = starts.size - 1
    found = Counts(
        np.zeros((count, 288), np.int32), np.zeros((count, 288), np.int32), np.zeros((count, days), np.int32),
        np.full((count, days), 1440, np.int32), np.full((count, days), -1, np.int32),
    )  # fmt: skip
    for spot in range(count):
        for a in range(starts[spot], starts[spot + 1]):
            t_low, t_high, z_low, z_high, least_up = (
                bounds[a, 0],
                bounds[a, 1],
                bounds[a, 2],
                bounds[a, 3],
                bounds[a, 4],
            )
            rise, out, left, right = bounds[a, 5], bounds[a, 6], bounds[a, 7], bounds[a, 8]
            for strip in range(facing[a] * STRIPS, (facing[a] + 1) * STRIPS):
                if sky.ends[strip, 1] < t_low or sky.ends[strip, 0] > t_high:
                    continue
                begin, end = sky.first[strip], sky.first[strip + 1]
                for m in range(begin + np.searchsorted(sky.z[begin:end], z_low), end):
                    z, t = sky.z[m], sky.t[m]
                    if z >= z_high:
                        break
                    if t < t_low or t > t_high or sky.up[m] < least_up:
                        continue
                    if out > 0.0 and rise <= z * out and left <= t * rise / z <= right:
                        continue
                    day, minute = sky.day[m], sky.minute[m]
                    found.possible[spot, sky.bin[m]] += 1
                    found.bright[spot, sky.bin[m]] += sky.clear[m]
                    found.by_day[spot, day] += 1
                    found.begun[spot, day] = min(found.begun[spot, day], minute)
                    found.ended[spot, day] = max(found.ended[spot, day], minute)
    return found
