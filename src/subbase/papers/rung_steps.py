"""A rung as it is read from rail to load: terminals, conductors, elements and branches, one step after the other.

Every step bears the name of its piece of line: ``PREFIX.i`` is the i-th item of a side, ``PREFIX.ij`` the line before it
(behind the last one, too), and ``PREFIX.ibk`` stands for the k-th branch of the i-th item. ``hot_pieces`` names them
alike, so that a live drawing can show which of them carry current.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from subbase.papers.rung_trees import Element, Leaf, Parallel, Series, Tree
from subbase.papers.rungs import Joints, Rung
from subbase.survey import is_inner_point


@dataclass(frozen=True, slots=True)
class AtTerminal:
    """The rung crosses a terminal."""

    node: str
    part: str


@dataclass(frozen=True, slots=True)
class Along:
    """The rung runs along a conductor of a cable."""

    name: str
    part: str


@dataclass(frozen=True, slots=True)
class Through:
    """Current must pass an element."""

    element: Element
    part: str


@dataclass(frozen=True, slots=True)
class Either:
    """Any one of these branches is enough."""

    branches: tuple[tuple[Step, ...], ...]
    parts: tuple[tuple[str, str], ...]
    """Of each branch, the names of its first and its last piece of line."""


Step = AtTerminal | Along | Through | Either


def steps_of(items: Series, ends: tuple[str, str], joints: Joints, prefix: str) -> tuple[Step, ...]:
    """Return one side of a rung.

    ``ends`` are the node already named at its left and the one that will be named at its right; empty at a rail.
    """
    before, after = ends
    found: list[Step] = []
    at, named = before, bool(before)
    for position, item in enumerate(items.items):
        here = f"{prefix}.{position}"
        if isinstance(item, Leaf):
            found += joint_steps(at or item.start, item.start, joints, f"{here}j", skip=(named, False))
            found.append(Through(item.element, here))
            at, named = item.end, False
        else:
            following = items.items[position + 1] if position + 1 < len(items.items) else None
            onward = following.start if isinstance(following, Leaf) else after
            if at and not named:
                found += joint_steps(at, at, joints, f"{here}j")
            found.append(_either(item, (at, onward), joints, here))
            at, named = onward, False
            if not onward:
                at, named = "", True
    last = f"{prefix}.{len(items.items)}j"
    if at and after:
        found += joint_steps(at, after, joints, last, skip=(named, True))
    elif at and not named:
        found += joint_steps(at, at, joints, last)
    return tuple(found)


def joint_steps(
    start: str, end: str, joints: Joints, part: str, *, skip: tuple[bool, bool] = (False, False)
) -> tuple[Step, ...]:
    """Return the terminals and conductors between two joined nodes; ``skip`` leaves out the first or last terminal."""
    way = joints.way(start, end)
    found: list[Step] = []
    for position, (name, node) in enumerate(way):
        if name:
            found.append(Along(name, part))
        skipped = (skip[0] and position == 0) or (skip[1] and position == len(way) - 1)
        if not is_inner_point(node) and not skipped:
            found.append(AtTerminal(node, part))
    return tuple(found)


def _either(item: Tree, ends: tuple[str, str], joints: Joints, prefix: str) -> Either:
    branches = [_as_series(branch) for branch in (item.items if isinstance(item, Parallel) else (item,))]
    names = [f"{prefix}b{n}" for n in range(len(branches))]
    return Either(
        tuple(steps_of(branch, ends, joints, name) for branch, name in zip(branches, names, strict=True)),
        tuple((f"{name}.0j", f"{name}.{len(b.items)}j") for b, name in zip(branches, names, strict=True)),
    )


def _as_series(tree: Tree) -> Series:
    return tree if isinstance(tree, Series) else Series((tree,))


# --- which pieces are hot --------------------------------------------------------------------------------------------

Made = Callable[[Element], bool]


def rung_key(supply: int, rung: int) -> str:
    """Return how the parts of one rung are named: ``h`` and ``c`` are put behind it for its two sides, ``l`` for its load."""
    return f"s{supply}r{rung}"


def conducts(tree: Tree, made: Made) -> bool:
    """Return whether current can pass."""
    if isinstance(tree, Leaf):
        return made(tree.element)
    each = (conducts(item, made) for item in tree.items)
    return all(each) if isinstance(tree, Series) else any(each)


def hot_pieces(rung: Rung, key: str, made: Made, *, fed: bool) -> Iterator[tuple[str, bool]]:
    """Yield (piece, whether current flows in it) of every piece of a rung that stands at the hot rail's volts.

    Parameters
    ----------
    fed
        Whether the hot rail is live where the rung begins.
    """
    flows = fed and conducts(rung.hot_side, made) and conducts(rung.common_side, made)
    yield from _side(rung.hot_side, f"{key}h", made, fed, flows)
    if flows:
        yield f"{key}l", True
        yield from _side(rung.common_side, f"{key}c", made, True, True)


def _side(items: Series, prefix: str, made: Made, fed: bool, flows: bool) -> Iterator[tuple[str, bool]]:
    for position, item in enumerate(items.items):
        if not fed:
            return
        here = f"{prefix}.{position}"
        yield f"{here}j", flows
        passes = conducts(item, made)
        if isinstance(item, Leaf):
            if passes:
                yield here, flows
        else:
            for n, branch in enumerate(item.items if isinstance(item, Parallel) else (item,)):
                yield from _side(_as_series(branch), f"{here}b{n}", made, True, flows and conducts(branch, made))
        fed = passes
    if fed:
        yield f"{prefix}.{len(items.items)}j", flows
