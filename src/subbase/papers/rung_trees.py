"""What a side of a rung is made of: elements in series and in parallel, found by reducing a network.

A network that is neither, such as a bridge, has no tree.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Sort = Literal["contact", "output", "switch", "fuse", "resistor"]
SwitchSort = Literal["plain", "temperature", "pressure", "level", "flow"]
LoadSort = Literal["coil", "solenoid", "motor", "board"]


@dataclass(frozen=True, slots=True)
class Element:
    """Something that current must pass on its way, between two nodes."""

    tag: str
    sort: Sort
    a: str
    b: str
    closed: bool
    """Whether it is made with nothing called."""
    words: str
    note: str = ""
    worked_by: tuple[str, ...] = ()
    """Loads that work a contact."""
    acts: SwitchSort = "plain"
    """What works a switch."""


@dataclass(frozen=True, slots=True)
class Leaf:
    """One element, passed from node ``start`` to node ``end``."""

    element: Element
    start: str
    end: str


@dataclass(frozen=True, slots=True)
class Series:
    """One after the other."""

    items: tuple[Tree, ...] = ()


@dataclass(frozen=True, slots=True)
class Parallel:
    """Any one of them is enough."""

    items: tuple[Tree, ...]


Tree = Leaf | Series | Parallel


Edge = tuple[int, int, Tree]


def reduced(edges: Iterable[tuple[int, int, Leaf]], start: int, end: int) -> Tree | None:
    """Return the tree of a series-parallel network, or None when it is a bridge or the like."""
    left: list[Edge] = list(edges)
    while len(left) > 1:
        merged = _merge_parallel(left) or _merge_series(left, {start, end})
        if merged is None:
            return None
        left = merged
    return left[0][2] if left and left[0][:2] == (start, end) else None


def _merge_parallel(edges: list[Edge]) -> list[Edge] | None:
    for i, (a, b, tree) in enumerate(edges):
        for j in range(i + 1, len(edges)):
            if edges[j][:2] == (a, b):
                both = (*_branches(tree), *_branches(edges[j][2]))
                return [*edges[:i], (a, b, Parallel(both)), *edges[i + 1 : j], *edges[j + 1 :]]
    return None


def _merge_series(edges: list[Edge], fixed: set[int]) -> list[Edge] | None:
    for i, (a, b, tree) in enumerate(edges):
        onward = [j for j, edge in enumerate(edges) if edge[0] == b]
        into = [j for j, edge in enumerate(edges) if edge[1] == b]
        if b in fixed or len(onward) != 1 or len(into) != 1 or onward[0] == i:
            continue
        j = onward[0]
        joined: Edge = (a, edges[j][1], series((tree, edges[j][2])))
        return [joined if k == min(i, j) else edge for k, edge in enumerate(edges) if k != max(i, j)]
    return None


def _branches(tree: Tree) -> tuple[Tree, ...]:
    return tree.items if isinstance(tree, Parallel) else (tree,)


def series(items: Iterable[Tree]) -> Series:
    """Return items in series, nothing nested."""
    return Series(tuple(part for item in items for part in (item.items if isinstance(item, Series) else (item,))))
