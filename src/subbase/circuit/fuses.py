"""When a blade fuse melts: the earliest and the latest time at a multiple of its rating.

The standard sets limits at a few multiples. Between them they are joined by straight lines of log time over log multiple,
which is how such curves are drawn; the standard itself promises only the points.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise


@dataclass(frozen=True, slots=True)
class FusePoint:
    """Limits of the melting time at one multiple of the rating."""

    multiple: float
    earliest_s: float
    latest_s: float | None
    """None where it need not melt at all."""


BLADE_FUSE_POINTS: tuple[FusePoint, ...] = (
    FusePoint(1.10, 100.0 * 3600.0, None),
    FusePoint(1.35, 0.75, 600.0),
    FusePoint(2.00, 0.15, 5.0),
    FusePoint(3.50, 0.04, 0.5),
    FusePoint(6.00, 0.02, 0.1),
)
"""ISO 8820-3 / SAE J1284, blade fuses at room temperature (from memory)."""


@dataclass(frozen=True, slots=True)
class MeltingTime:
    """Between which times a fuse melts [s]."""

    earliest_s: float | None
    """None when it never melts."""
    latest_s: float | None
    """None when it may never melt."""

    def surely_holds(self, seconds: float) -> bool:
        """Whether no good fuse melts within a time."""
        return self.earliest_s is None or seconds < self.earliest_s

    def surely_melts(self, seconds: float) -> bool:
        """Whether every good fuse melts within a time."""
        return self.latest_s is not None and seconds >= self.latest_s


def melting_time(multiple: float, points: tuple[FusePoint, ...] = BLADE_FUSE_POINTS) -> MeltingTime:
    """Return when a fuse melts that carries a steady multiple of its rating, from cold.

    Under the first point it never melts. From the first point to the first with a latest time it may or may not. Past
    the last point the heat has no time to leave, so the earliest time falls with the square of the current (constant
    I²t); the latest stays as it is, for nothing shorter is promised.

    Parameters
    ----------
    multiple
        Rms current over rating.

    Raises
    ------
    ValueError
        When the multiple is negative or not a number.
    """
    if not multiple >= 0.0:
        raise ValueError(
            f"A fuse cannot carry {multiple} times its rating; give the current over the rating, 0 or more."
        )
    first, last = points[0], points[-1]
    if multiple < first.multiple:
        return MeltingTime(None, None)
    if multiple >= last.multiple:
        return MeltingTime(last.earliest_s * (last.multiple / multiple) ** 2, last.latest_s)
    low, high = next((a, b) for a, b in pairwise(points) if a.multiple <= multiple < b.multiple)
    earliest_s = _between(multiple, low, high, lambda point: point.earliest_s)
    if low.latest_s is None or high.latest_s is None:
        return MeltingTime(earliest_s, None)
    return MeltingTime(earliest_s, _between(multiple, low, high, lambda point: point.latest_s or math.inf))


def _between(multiple: float, low: FusePoint, high: FusePoint, seconds: Callable[[FusePoint], float]) -> float:
    share = math.log(multiple / low.multiple) / math.log(high.multiple / low.multiple)
    return seconds(low) * math.pow(seconds(high) / seconds(low), share)
