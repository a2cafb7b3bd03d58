"""The channels of a wiring map: the vertical tracks on which runs pass between two columns.

Two runs beside each other never share a track, and a run that comes back to its own column keeps close to its boxes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from subbase.papers.map_grid import FRAME, GAP, LABEL_MOST, LABEL_SIZE, MARK, TRACK_PT, Grid, Rows
from subbase.papers.map_model import Run
from subbase.papers.measure import shortened, width_of


@dataclass(frozen=True, slots=True)
class Channel:
    """The room between two columns: label zones at both sides, tracks between them."""

    left_pt: float
    right_pt: float
    tracks: dict[int, int]
    """Run -> track, counted from the left; runs that go straight have none."""
    count: int

    @property
    def width_pt(self) -> float:
        """Return its width."""
        return self.left_pt + self.right_pt + (TRACK_PT * (self.count + 1) if self.count else 0.0)


def channel_left_of(c: int, grid: Grid, rows: Rows) -> Channel:
    """Return the channel at the left of a column; the one after the last column counts as its own."""
    zones = [0.0, 0.0]
    from_left: list[int] = []
    across: list[int] = []
    from_right: list[int] = []
    for index, run in enumerate(grid.runs):
        columns = grid.columns_of(index)
        here = False
        for end in (0, 1):
            at_left = grid.sides[index, end] == "left"
            if (columns[end] if at_left else columns[end] + 1) == c:
                here = True
                zones[at_left] = max(zones[at_left], _label_room(run, end))
        if here:
            kind = across if columns[0] != columns[1] else (from_left if columns[0] == c - 1 else from_right)
            kind.append(index)
    straight = {i for i in across if rows[i, 0] == rows[i, 1]}
    lanes_left, lanes_right = _nested(from_left, rows), _nested(from_right, rows)
    between = _compact(_uncrossed([i for i in across if i not in straight], grid, rows), rows)
    first = max(lanes_left.values(), default=-1) + 1
    last = first + max(between.values(), default=-1) + 1 + max(lanes_right.values(), default=-1) + 1
    tracks = dict(lanes_left)
    tracks |= {run: first + lane for run, lane in between.items()}
    tracks |= {run: last - 1 - lane for run, lane in lanes_right.items()}
    used = max(last, 1) if across or tracks else 0
    return Channel(zones[0], zones[1], tracks, used)


def _span(index: int, rows: Rows) -> tuple[int, int]:
    """Return the top and bottom row of a run."""
    return min(rows[index, 0], rows[index, 1]), max(rows[index, 0], rows[index, 1])


def _compact(order: list[int], rows: Rows) -> dict[int, int]:
    """Return run -> track: the order is kept where runs are beside each other, and a track is used again elsewhere."""
    tracks: dict[int, int] = {}
    for index in order:
        low, high = _span(index, rows)
        beside = [tracks[i] for i in tracks if _span(i, rows)[0] <= high and low <= _span(i, rows)[1]]
        tracks[index] = max(beside, default=-1) + 1
    return tracks


def _label_room(run: Run, end: int) -> float:
    text = shortened(run.ends[end].label, LABEL_MOST, LABEL_SIZE)
    return FRAME + GAP + (MARK if run.number else 0.0) + width_of(text, LABEL_SIZE) + GAP


def _nested(indices: list[int], rows: Rows) -> dict[int, int]:
    """Return run -> lane away from the boxes, for runs that come back to their own column: short ones inside."""
    lanes: list[list[tuple[int, int]]] = []
    found: dict[int, int] = {}
    for index in sorted(indices, key=lambda i: (abs(rows[i, 0] - rows[i, 1]), i)):
        low, high = _span(index, rows)
        lane = next(
            (n for n, spans in enumerate(lanes) if all(high < a or b < low for a, b in spans)),
            len(lanes),
        )
        if lane == len(lanes):
            lanes.append([])
        lanes[lane].append((low, high))
        found[index] = lane
    return found


def _uncrossed(indices: Sequence[int], grid: Grid, rows: Rows) -> list[int]:
    """Return runs in the order of their tracks, left to right, so that few cross."""

    def ends(index: int) -> tuple[int, int]:
        near = 0 if grid.sides[index, 0] == "right" else 1
        return rows[index, near], rows[index, 1 - near]

    def crossings(a: int, b: int) -> int:
        """Return how often two runs cross when ``a`` has the track left of ``b``."""
        (a_left, a_right), (b_left, b_right) = ends(a), ends(b)
        a_low, a_high = sorted((a_left, a_right))
        b_low, b_high = sorted((b_left, b_right))
        return (a_low < b_left < a_high) + (b_low < a_right < b_high)

    def first_guess(index: int) -> tuple[int, int]:
        left, right = ends(index)
        return (0, left) if right < left else (1, -left)

    order = sorted(indices, key=first_guess)
    for _ in range(len(order)):
        swapped = False
        for n, (a, b) in enumerate(list(pairwise(order))):
            if (order[n], order[n + 1]) == (a, b) and crossings(b, a) < crossings(a, b):
                order[n], order[n + 1] = b, a
                swapped = True
        if not swapped:
            break
    return order
