"""The boxes of a wiring map, column by column: how tall they are, in which order, and how far down they stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from subbase.papers.map_grid import (
    ABOUT_SIZE,
    ABOUT_STEP,
    BOX_MOST,
    BOX_WIDTH,
    LABEL_MOST,
    NAME_SIZE,
    NAME_STEP,
    TERMINAL_SIZE,
    UNIT_PT,
    Grid,
    Key,
    Row,
    Rows,
    Side,
)
from subbase.papers.map_model import Box
from subbase.papers.measure import shortened, width_of, wrapped


@dataclass(frozen=True, slots=True)
class Build:
    """One box in units, measured from the top of its column."""

    box: Box
    name: tuple[str, ...]
    about: tuple[str, ...]
    head: int
    rows: tuple[Row, ...]
    hang: Row | None

    @property
    def _body(self) -> int:
        return self.head + 2 * sum(row.height for row in self.rows)

    @property
    def height(self) -> int:
        """Return its height [units]."""
        return self._body + (2 * self.hang.height if self.hang else 0)

    def ends(self) -> list[tuple[Key, int, Side]]:
        """Return (end, units below the box's top, side)."""
        found: list[tuple[Key, int, Side]] = []
        y = self.head
        for row in (*self.rows, *((self.hang,) if self.hang else ())):
            found += [(key, y + 1 + 2 * n, "left") for n, key in enumerate(row.left)]
            found += [(key, y + 1 + 2 * n, "right") for n, key in enumerate(row.right)]
            y += 2 * row.height
        return found


@dataclass(frozen=True, slots=True)
class Stack:
    """The boxes of one cabinet below each other; ``tops`` are units from the top of the column."""

    builds: tuple[Build, ...]
    tops: tuple[int, ...]

    @property
    def bottom(self) -> int:
        """Return where it ends [units]."""
        return self.tops[-1] + self.builds[-1].height

    def ends(self) -> list[tuple[Key, int, Side]]:
        """Return (end, units from the top of the column, side)."""
        return [(k, top + y, s) for build, top in zip(self.builds, self.tops, strict=True) for k, y, s in build.ends()]


def column_width_pt(grid: Grid, c: int) -> float:
    """Return the width of the boxes of a column [pt]."""
    width = BOX_WIDTH
    for box in (box for place, box in grid.boxes.items() if grid.column[place] == c):
        widest = max((width_of(t, TERMINAL_SIZE, bold=True) for t in box.terminals), default=0.0)
        width = max(width, min(widest + 24.0, LABEL_MOST))
        width = max(width, min(BOX_MOST, width_of(box.place, NAME_SIZE, bold=True) + 16.0))
        hanging = {"left": 0.0, "right": 0.0}
        for index, run in enumerate(grid.runs):
            for end, it in enumerate(run.ends):
                if it.place == box.place and it.nowhere:
                    side = grid.sides[index, end]
                    text = width_of(shortened(it.said, LABEL_MOST, ABOUT_SIZE), ABOUT_SIZE)
                    hanging[side] = max(hanging[side], text)
        width = max(width, sum(hanging.values()) + 18.0)
    return width


def place_column(grid: Grid, c: int, width_pt: float, rows: Rows) -> list[Stack]:
    """Return the cabinets of a column, top to bottom; the rows of their ends are added to ``rows``."""
    hosts: dict[str, list[Box]] = {}
    for place, box in grid.boxes.items():
        if grid.column[place] == c:
            hosts.setdefault(box.host, []).append(box)
    told = {host: number for number, host in enumerate(grid.stacks)}
    order = sorted(hosts, key=lambda host: (told.get(host, len(told)), _mean_row(hosts[host], grid, rows)))
    taken = {y for key, y in rows.items() if grid.column[grid.place(key)] == c - 1 and grid.sides[key] == "right"}
    stacks: list[Stack] = []
    least = 0
    for host in order:
        builds = tuple(_build(box, width_pt, grid, rows) for box in hosts[host])
        stack = _best_stack(builds, least, taken, rows)
        stacks.append(stack)
        rows.update({key: y for key, y, _ in stack.ends()})
        least = stack.bottom + 4
    return stacks


def _mean_row(group: Sequence[Box], grid: Grid, rows: Rows) -> float:
    places = {box.place for box in group}
    partners = [
        rows[index, 1 - end]
        for index, run in enumerate(grid.runs)
        for end in (0, 1)
        if run.ends[end].place in places and (index, 1 - end) in rows
    ]
    return sum(partners) / len(partners) if partners else 0.0


def _build(box: Box, width_pt: float, grid: Grid, rows: Rows) -> Build:
    name = wrapped(box.place, width_pt - 12.0, NAME_SIZE, bold=True, lines=3)
    about = tuple(line for text in box.about for line in wrapped(text, width_pt - 12.0, ABOUT_SIZE, lines=5))
    head = 8.0 + NAME_STEP * len(name) + ABOUT_STEP * len(about)
    ends = [(i, e) for i, run in enumerate(grid.runs) for e in (0, 1) if run.ends[e].place == box.place]

    def order(key: Key) -> tuple[int, int, int, Key]:
        """Return the order of ends on one terminal: by where their runs go."""
        far = (key[0], 1 - key[1])
        place, terminal = grid.place(far), grid.runs[far[0]].ends[far[1]].terminal
        terminals = grid.boxes[place].terminals
        position = terminals.index(terminal) if terminal in terminals else len(terminals)
        return (rows.get(far, 0), grid.rank(place), position, key)

    def row(terminal: str, keys: Iterable[Key]) -> Row:
        keys = sorted(keys, key=order)
        left, right = (tuple(k for k in keys if grid.sides[k] == side) for side in ("left", "right"))
        return Row(terminal, left, right)

    landed = {key: grid.runs[key[0]].ends[key[1]].terminal for key in ends}
    built = tuple(row(t, [key for key, terminal in landed.items() if terminal == t]) for t in box.terminals)
    hanging = [key for key, terminal in landed.items() if not terminal]
    return Build(box, name, about, -int(-head // UNIT_PT), built, row("", hanging) if hanging else None)


def _best_stack(builds: tuple[Build, ...], least: int, taken: set[int], rows: Rows) -> Stack:
    """Return the stack at the height where its runs are straightest, no row shared by two different runs."""
    tops, top = [], 0
    for build in builds:
        tops.append(top)
        top += build.height + 2
    reach = max(taken, default=0) + 2
    best: tuple[float, int] | None = None
    for offset in range(least, max(least, reach) + 1):
        cost = 0.0
        for key, y, side in Stack(builds, tuple(t + offset for t in tops)).ends():
            if side != "left":
                continue
            partner = rows.get((key[0], 1 - key[1]))
            if y in taken and partner != y:
                break
            if partner is not None:
                cost += abs(y - partner) - 3 * (y == partner)
        else:
            cost += 0.01 * (offset - least)
            if best is None or cost < best[0]:
                best = (cost, offset)
    offset = best[1] if best else max(least, reach)
    return Stack(builds, tuple(t + offset for t in tops))
