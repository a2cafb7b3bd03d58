"""The grid of a wiring map: which column every place stands in and which side of its box every end lies at.

Distances are counted in units, half the distance of two rows; what is given in points says so.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from subbase.papers.map_model import Box, Run

UNIT_PT = 9.5
TRACK_PT = 11.0
NAME_SIZE, ABOUT_SIZE, TERMINAL_SIZE, LABEL_SIZE = 11.0, 8.0, 9.5, 8.5
NAME_STEP, ABOUT_STEP = 13.0, 9.5
BOX_WIDTH, BOX_MOST, LABEL_MOST = 92.0, 124.0, 118.0
FRAME, MARK, GAP = 7.0, 17.0, 6.0
"""Border of a cabinet around its boxes; room of a mark beside a label; small distance [pt]."""
Side = Literal["left", "right"]
Key = tuple[int, int]
"""(run, end)."""
Rows = dict[Key, int]
"""Where the row of each end lies [units from the top]."""


@dataclass(frozen=True, slots=True)
class Row:
    """One terminal of a box, or the place below it where unlanded ends hang, with the ends at each side."""

    terminal: str
    left: tuple[Key, ...]
    right: tuple[Key, ...]

    @property
    def height(self) -> int:
        """Return how many rows it takes."""
        return max(1, len(self.left), len(self.right))


@dataclass(frozen=True, slots=True)
class Grid:
    """Boxes and runs with their columns and sides, before there are any distances."""

    boxes: dict[str, Box]
    runs: tuple[Run, ...]
    column: dict[str, int]
    sides: dict[Key, Side]
    stacks: tuple[str, ...] = ()
    """Hosts from the top down; those of a column that are not here are placed by where their runs come from."""

    @property
    def count(self) -> int:
        """Return how many columns there are."""
        return max(self.column.values(), default=0) + 1

    def place(self, key: Key) -> str:
        """Return the place an end is at."""
        return self.runs[key[0]].ends[key[1]].place

    def rank(self, place: str) -> int:
        """Return the order in which places are drawn if nothing else decides."""
        return list(self.boxes).index(place)

    def columns_of(self, index: int) -> tuple[int, int]:
        """Return the columns of a run's two ends."""
        return self.column[self.place((index, 0))], self.column[self.place((index, 1))]


def grid_of(boxes: Sequence[Box], runs: Sequence[Run]) -> Grid:
    """Return columns and sides: a place stands as many columns from the left as cables lie between it and a control."""
    column = _columns(boxes, runs)
    by_place = {box.place: box for box in boxes}
    # A cabinet stands above what lies in it, unless another order crosses less.
    order = dict.fromkeys(place for box in boxes for place in (box.host, box.place) if place in by_place)
    return Grid({place: by_place[place] for place in order}, tuple(runs), column, _sides(runs, column))


def _columns(boxes: Sequence[Box], runs: Sequence[Run]) -> dict[str, int]:
    """Return place -> column: how many steps its cabinet is away from a control's."""
    host = {box.place: box.host for box in boxes}
    near: dict[str, set[str]] = {box.host: set() for box in boxes}
    for run in runs:
        a, b = (host[end.place] for end in run.ends)
        near[a].add(b)
        near[b].add(a)
    found = {box.host: 0 for box in boxes if box.is_control}
    _spread(found, near)
    for box in boxes:
        if box.host not in found:
            found[box.host] = 1 if found else 0
            _spread(found, near)
    return {box.place: found[box.host] for box in boxes}


def _spread(found: dict[str, int], near: dict[str, set[str]]) -> None:
    edge = sorted(found)
    while edge:
        reached = []
        for host in edge:
            for other in sorted(near[host]):
                if other not in found:
                    found[other] = found[host] + 1
                    reached.append(other)
        edge = reached


def _sides(runs: Sequence[Run], column: dict[str, int]) -> dict[Key, Side]:
    """Return at which side of its box each end lies."""
    sides: dict[Key, Side] = {}
    across = [0] * (max(column.values(), default=0) + 2)
    for run in runs:
        a, b = (column[end.place] for end in run.ends)
        if a != b:
            across[max(a, b)] += 1
    for index, run in enumerate(runs):
        a, b = (column[end.place] for end in run.ends)
        if a == b:
            # A run within one column keeps to its quieter side.
            side: Side = "left" if a == 0 or across[a] < across[a + 1] else "right"
            sides[index, 0] = sides[index, 1] = side
        else:
            sides[index, 0], sides[index, 1] = ("right", "left") if a < b else ("left", "right")
    return sides
