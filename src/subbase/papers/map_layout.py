"""Where everything of a wiring map goes: boxes in columns, and runs through the channels between them.

Places stand in columns by how many cables they are away from a control. Every end of a run has a row of its own at its
box; every run has a vertical track of its own in the channel between two columns; and a row is shared by a left and a
right end only when one run joins them. So no two runs ever lie on each other; where they cross, they cross squarely.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from subbase.papers.drawing import Area, Point
from subbase.papers.map_channels import Channel, channel_left_of
from subbase.papers.map_grid import FRAME, TRACK_PT, UNIT_PT, Grid, Row, Rows, Side, grid_of
from subbase.papers.map_improve import improved
from subbase.papers.map_model import Box, Run
from subbase.papers.map_stacks import Build, Stack, column_width_pt, place_column


@dataclass(frozen=True, slots=True)
class PlacedBox:
    """A box with its place on the drawing."""

    box: Box
    area: Area
    """The whole box, without the part where unlanded ends hang."""
    hang: Area | None
    """That part, if any."""
    name: tuple[str, ...]
    about: tuple[str, ...]
    rows: tuple[tuple[Row, Area], ...]

    @property
    def bottom(self) -> float:
        """Return where it ends, hanging ends included."""
        return (self.hang or self.area).bottom


@dataclass(frozen=True, slots=True)
class PlacedRun:
    """A run with the points it goes through, from its first end to its second."""

    run: Run
    points: tuple[Point, ...]
    sides: tuple[Side, Side]


@dataclass(frozen=True, slots=True)
class Layout:
    """Everything placed, the top left corner at (0, 0)."""

    boxes: tuple[PlacedBox, ...]
    frames: tuple[Area, ...]
    """Cabinets that hold several boxes."""
    runs: tuple[PlacedRun, ...]
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class _Columns:
    """How the columns lie side by side [pt]."""

    lefts: tuple[float, ...]
    widths: tuple[float, ...]
    channels: tuple[Channel, ...]

    def edge(self, c: int, side: Side) -> float:
        """Return where one side of a column's boxes lies."""
        return self.lefts[c] if side == "left" else self.lefts[c] + self.widths[c]

    def track(self, c: int, number: int) -> float:
        """Return where a track of the channel left of a column lies."""
        start = self.edge(c - 1, "right") + FRAME if c > 0 else 0.0
        return start + self.channels[c].left_pt + TRACK_PT * (number + 1)


def layout(boxes: Sequence[Box], runs: Sequence[Run]) -> Layout:
    """Return the places of boxes and runs: the best that small changes of order and side lead to."""
    return improved(grid_of(boxes, runs), laid_out)


def laid_out(grid: Grid) -> Layout:
    """Return the places of boxes and runs for one order of boxes and one choice of sides."""
    widths = tuple(column_width_pt(grid, c) for c in range(grid.count))
    rows: Rows = {}
    stacks = [place_column(grid, c, widths[c], rows) for c in range(grid.count)]
    channels = tuple(channel_left_of(c, grid, rows) for c in range(grid.count + 1))
    lefts, x = [], channels[0].width_pt
    for width, channel in zip(widths, channels[1:], strict=True):
        lefts.append(x + FRAME)
        x += width + 2 * FRAME + channel.width_pt
    columns = _Columns(tuple(lefts), widths, channels)
    placed = [
        (c, [_placed(b, columns, c, top) for b, top in zip(s.builds, s.tops, strict=True)]) for c, s in _each(stacks)
    ]
    all_boxes = tuple(box for _, group in placed for box in group)
    frames = tuple(_frame(group) for _, group in placed if len(group) > 1)
    placed_runs = tuple(_placed_run(index, grid, columns, rows) for index in range(len(grid.runs)))
    height = max([*(box.bottom for box in all_boxes), *(frame.bottom for frame in frames)], default=0.0)
    return Layout(all_boxes, frames, placed_runs, x, height)


def _each(stacks: Sequence[Sequence[Stack]]) -> list[tuple[int, Stack]]:
    return [(c, stack) for c, column in enumerate(stacks) for stack in column]


def _frame(group: Sequence[PlacedBox]) -> Area:
    """Return the border of a cabinet."""
    first = group[0].area
    return Area(first.left - FRAME, first.top - FRAME, first.right + FRAME, max(b.bottom for b in group) + FRAME)


def _placed(build: Build, columns: _Columns, c: int, top: int) -> PlacedBox:
    left, right = columns.edge(c, "left"), columns.edge(c, "right")
    rows = []
    row_top = (top + build.head) * UNIT_PT
    for row in build.rows:
        bottom = row_top + 2 * UNIT_PT * row.height
        rows.append((row, Area(left, row_top, right, bottom)))
        row_top = bottom
    area = Area(left, top * UNIT_PT, right, row_top)
    hang = Area(left, row_top, right, row_top + 2 * UNIT_PT * build.hang.height) if build.hang else None
    if build.hang and hang:
        rows.append((build.hang, hang))
    return PlacedBox(build.box, area, hang, build.name, build.about, tuple(rows))


def _placed_run(index: int, grid: Grid, columns: _Columns, rows: Rows) -> PlacedRun:
    at = grid.columns_of(index)
    sides = (grid.sides[index, 0], grid.sides[index, 1])
    x1, x2 = columns.edge(at[0], sides[0]), columns.edge(at[1], sides[1])
    y1, y2 = (rows[index, end] * UNIT_PT for end in (0, 1))
    c = at[0] if sides[0] == "left" else at[0] + 1
    track = columns.channels[c].tracks.get(index)
    if track is None:
        return PlacedRun(grid.runs[index], ((x1, y1), (x2, y2)), sides)
    x = columns.track(c, track)
    return PlacedRun(grid.runs[index], ((x1, y1), (x, y1), (x, y2), (x2, y2)), sides)
