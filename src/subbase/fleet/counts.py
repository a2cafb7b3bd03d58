"""Whole counts of homes, by what the totals ask for, small enough for a million homes in memory.

Whole numbers add up to the same whoever did which piece, and in whatever order; fractions are made of them at the end.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping as Map
from dataclasses import dataclass, field
from sys import intern

SQUARE_CM_PER_M2 = 10_000


@dataclass(slots=True)
class Counts:
    """How many homes there are."""

    by_day: Counter[tuple[str, str, int]] = field(default_factory=Counter)
    """(day, area, number of the outcome) -> homes."""
    by_climate: Counter[tuple[str, int]] = field(default_factory=Counter)
    """(climate, number of the outcome) -> homes."""
    with_floor: Counter[tuple[str, int]] = field(default_factory=Counter)
    """Of those by climate, how many have a floor area in the list."""
    floor_cm2: Counter[tuple[str, int]] = field(default_factory=Counter)
    """Those floor areas together, in whole square centimetres."""
    by_beside: Counter[str] = field(default_factory=Counter)
    """What homes bear beside their structure, as ``structure.beside`` writes it -> homes."""
    refused: int = 0
    """Rows refused; none of them is in the counts above."""

    def add(self, row: Map[str, object], outcome: int) -> None:
        """Count one home: a row with day, area, climate, floor_area_m2 and beside."""
        self.by_day[str(row["day"]), str(row["area"]), outcome] += 1
        where = (str(row["climate"]), outcome)
        self.by_climate[where] += 1
        area_m2 = row["floor_area_m2"]
        if isinstance(area_m2, float):
            self.with_floor[where] += 1
            self.floor_cm2[where] += round(area_m2 * SQUARE_CM_PER_M2)
        self.by_beside[str(row["beside"])] += 1

    def merge(self, other: Counts) -> None:
        """Add the counts of another piece."""
        for (day, area, outcome), homes in other.by_day.items():
            self.by_day[intern(day), intern(area), outcome] += homes
        self.by_climate.update(other.by_climate)
        self.with_floor.update(other.with_floor)
        self.floor_cm2.update(other.floor_cm2)
        self.by_beside.update(other.by_beside)
        self.refused += other.refused

    @property
    def by_outcome(self) -> Counter[int]:
        """Number of the outcome -> homes."""
        found: Counter[int] = Counter()
        for (_day, _area, outcome), homes in self.by_day.items():
            found[outcome] += homes
        return found
