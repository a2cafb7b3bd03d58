"""A better order of boxes and sides for a wiring map, found by small changes that cost fewer crossings and less line.

The order that the survey gives is the start, so a map without crossings stays as it is. Then two boxes of a cabinet, or
two cabinets of a column, change places, or the leads between two boxes of a column go to their other side, as long as
that helps. See docs/decisions/0008-layout.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Protocol, TypeVar

from subbase.papers.drawing import Area, Point
from subbase.papers.map_grid import Grid, Side
from subbase.papers.map_model import Box

MOST_TRIES = 48
"""Layouts tried for one map; a zoned house takes some milliseconds each."""
CROSSING_PT = 240.0
"""What a crossing costs, in points of line (judgement); no change may add one."""


class RunLike(Protocol):
    """A run with the points it goes through."""

    @property
    def points(self) -> tuple[Point, ...]: ...


class BoxLike(Protocol):
    """A box with its place."""

    @property
    def box(self) -> Box: ...
    @property
    def area(self) -> Area: ...


class LayoutLike(Protocol):
    """What is judged of a layout."""

    @property
    def boxes(self) -> Sequence[BoxLike]: ...
    @property
    def runs(self) -> Sequence[RunLike]: ...


L = TypeVar("L", bound=LayoutLike)


def improved(grid: Grid, lay_out: Callable[[Grid], L]) -> L:
    """Return the layout of the best grid that was reached."""
    best = lay_out(grid)
    crossings = crossings_of([run.points for run in best.runs])
    tries = 0
    while crossings and tries < MOST_TRIES:
        cost, before = _cost(best, crossings), tries
        for other in _neighbours(grid, best):
            tries += 1
            tried = lay_out(other)
            found = crossings_of([run.points for run in tried.runs])
            if found <= crossings and _cost(tried, found) < cost - 1.0:
                grid, best, crossings = other, tried, found
                break
            if tries >= MOST_TRIES:
                return best
        else:
            return best
        assert tries > before
    return best


def _cost(layout: LayoutLike, crossings: int) -> float:
    length = sum(abs(x1 - x2) + abs(y1 - y2) for run in layout.runs for (x1, y1), (x2, y2) in pairwise(run.points))
    return crossings * CROSSING_PT + length


def crossings_of(ways: Sequence[Sequence[Point]]) -> int:
    """Return how often square-cornered ways cross each other."""
    flat: list[tuple[int, float, float, float]] = []
    upright: list[tuple[int, float, float, float]] = []
    for number, points in enumerate(ways):
        for (x1, y1), (x2, y2) in pairwise(points):
            if y1 == y2:
                flat.append((number, y1, min(x1, x2), max(x1, x2)))
            else:
                upright.append((number, x1, min(y1, y2), max(y1, y2)))
    return sum(
        left < x < right and top < y < bottom and one != other
        for one, x, top, bottom in upright
        for other, y, left, right in flat
    )


def _neighbours(grid: Grid, layout: LayoutLike) -> Iterator[Grid]:
    """Yield the grids that differ in one small thing, given how the present one lies."""
    down = sorted(layout.boxes, key=lambda placed: placed.area.top)
    for c in range(grid.count):
        column = [placed.box for placed in down if grid.column[placed.box.place] == c]
        hosts = list(dict.fromkeys(box.host for box in column))
        for host in hosts:
            for order in _moved([box for box in column if box.host == host]):
                yield replace(grid, boxes=_in_order(grid.boxes, order))
        others = tuple(dict.fromkeys(placed.box.host for placed in down if placed.box.host not in hosts))
        for heads in _moved([box for box in column if box.place == box.host]):
            yield replace(grid, stacks=(*heads, *others))
    yield from _other_sides(grid)


def _moved(boxes: Sequence[Box]) -> Iterator[tuple[str, ...]]:
    """Yield the orders in which one box stands elsewhere; boxes of one kind keep their order, as people count them."""
    for box in boxes:
        rest = [other for other in boxes if other is not box]
        for position in range(len(rest) + 1):
            order = (*rest[:position], box, *rest[position:])
            if order != tuple(boxes) and _alike_in_order(boxes, order):
                yield tuple(item.place for item in order)


def _alike_in_order(before: Sequence[Box], after: Sequence[Box]) -> bool:
    kinds = {box.about[:1] for box in before}
    return all([b for b in before if b.about[:1] == k] == [b for b in after if b.about[:1] == k] for k in kinds)


def _in_order(boxes: dict[str, Box], order: Sequence[str]) -> dict[str, Box]:
    """Return the boxes with those of ``order`` in it, in the places that they have among the others."""
    queue = iter(order)
    return {(name := next(queue) if place in order else place): boxes[name] for place in boxes}


def _other_sides(grid: Grid) -> Iterator[Grid]:
    """Yield the grids in which all runs between two places of one column, or of a place with itself, change sides."""
    together: dict[frozenset[str], list[int]] = {}
    for index in range(len(grid.runs)):
        if len(set(grid.columns_of(index))) == 1:
            together.setdefault(frozenset({grid.place((index, 0)), grid.place((index, 1))}), []).append(index)
    for indices in together.values():
        sides = dict(grid.sides)
        for index in indices:
            side: Side = "left" if sides[index, 0] == "right" else "right"
            sides[index, 0] = sides[index, 1] = side
        yield replace(grid, sides=sides)
