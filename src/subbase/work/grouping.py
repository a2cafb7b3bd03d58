"""How to join the ends of a cable so that one round trip names every conductor.

Two ways, both with joins at the near end, a reading at the far end, other joins there, and a reading back at the near
end.

By sizes: no two conductors share the pair (size of the near group, size of the far group), so sizes alone name them.
R. L. Graham and K. C. Knowlton, US patent 3,369,177 (1968), known here second-hand: possible for every number of
conductors but 2, 5 and 9. The tables are our own search, not the patent's.

By pairs and a chain: which ends touch is used too, and every number from 3 up is possible. Told by M. Gardner in a
Scientific American column, read second-hand.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import product

from subbase.errors import Fault, InputError
from subbase.words import _

MOST_CONDUCTORS = 100
"""Cables with more are refused: the search for group sizes is meant for cables, not for trunks."""

Groups = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class SizePlan:
    """Group sizes at both ends, largest first, and which pairs of sizes the conductors bear."""

    near_sizes: tuple[int, ...]
    far_sizes: tuple[int, ...]
    pairs: tuple[tuple[int, int], ...]
    """(size of the near group, size of the far group), one pair for each conductor, all different."""


def most_readings(sizes: Sequence[int]) -> int:
    """Return the most readings that finding groups of these sizes takes, without leaning on the sizes.

    One probe rests on an end, the other touches every end left; those that touch it are its group and are set aside.
    It takes longest when the smallest groups come first.
    """
    left, readings = sum(sizes), 0
    for size in sorted(sizes):
        readings += left - 1
        left -= size
    return readings


@cache
def size_plan(conductors: int) -> SizePlan | None:
    """Return the group sizes with the fewest readings that name this many conductors, or None: impossible by sizes.

    Both ends must use the sizes 1 to m and no others. Let a and A be the number of sizes and the largest size at the
    near end, b and B those at the far end. Conductors of one near group bear different far sizes, so A <= b <= B, and
    likewise B <= a <= A: all four are equal. What is left is a table of m by m with at most one conductor in a cell,
    row s holding a multiple of s and column t a multiple of t, so trying every list of such sums is exhaustive.
    Whether a table with given sums exists is decided by filling it, greedily (H. J. Ryser, 1957; D. Gale, 1957).

    Raises
    ------
    InputError
        The number is below 1 or above ``MOST_CONDUCTORS``.
    """
    check_count(conductors)
    # Fewest readings first, so that the first row that alone costs more than half of the best found ends the search;
    # a table and its transpose cost the same, so columns start at the row's own place.
    sums = sorted(_sums(conductors), key=lambda each: (most_readings(_sizes(each)), each))
    cost = [most_readings(_sizes(each)) for each in sums]
    best, plan = 2 * cost[-1] + 1 if cost else 0, None
    for first, rows in enumerate(sums):
        if 2 * cost[first] >= best:
            break
        for second in range(first, len(sums)):
            if cost[first] + cost[second] >= best:
                break
            if pairs := _fill(rows, sums[second]):
                best = cost[first] + cost[second]
                plan = SizePlan(near_sizes=_sizes(rows), far_sizes=_sizes(sums[second]), pairs=pairs)
    return plan


def check_count(conductors: int) -> None:
    """Raise InputError unless this is a number of conductors that can be planned for."""
    if not 1 <= conductors <= MOST_CONDUCTORS:
        raise InputError(
            (
                Fault(
                    _("{conductors} conductors: give between 1 and {most_conductors}.").format(
                        conductors=conductors, most_conductors=MOST_CONDUCTORS
                    ),
                    "conductors",
                ),
            )
        )


def sizes_fit(near_sizes: Sequence[int], far_sizes: Sequence[int]) -> bool:
    """Return whether groups of these sizes at the two ends can give every conductor its own pair of sizes."""
    if sum(near_sizes) != sum(far_sizes) or not near_sizes or min(*near_sizes, *far_sizes) < 1:
        return False
    near, far = Counter(near_sizes), Counter(far_sizes)
    rows = tuple(size * near[size] for size in range(1, max(near_sizes) + 1))
    columns = tuple(size * far[size] for size in range(1, max(far_sizes) + 1))
    return bool(_fill(rows, columns))


def join_by_sizes(ends: Sequence[str], sizes: Sequence[int]) -> Groups:
    """Return the ends cut, in their order, into groups of these sizes."""
    rest = iter(ends)
    return tuple(tuple(next(rest) for __ in range(size)) for size in sizes)


def rejoin_by_sizes(found: Groups, plan: SizePlan) -> Groups:
    """Return the far joins for the groups found there: no two ends with one found size get one new size.

    ``found`` must have the plan's near sizes.
    """
    by_far_size: dict[int, list[str]] = {}
    for near_size in sorted(set(plan.near_sizes), reverse=True):
        ends = [end for group in found if len(group) == near_size for end in group]
        new_sizes = [far for near, far in plan.pairs if near == near_size]
        for end, size in zip(ends, new_sizes, strict=True):
            by_far_size.setdefault(size, []).append(end)
    return tuple(
        tuple(ends[start : start + size])
        for size, ends in sorted(by_far_size.items(), reverse=True)
        for start in range(0, len(ends), size)
    )


def chain_sizes(conductors: int) -> tuple[int, ...]:
    """Return the group sizes of pairs and chain, the same at both ends: pairs, and one end alone or two when even."""
    alone = 1 if conductors % 2 else 2
    return (2,) * ((conductors - alone) // 2) + (1,) * alone


def rejoin_by_chain(found: Groups) -> Groups:
    """Return the far joins that turn the pairs found there into one chain, from an end that was alone.

    The second end of each pair is joined to the first of the next, the last to an end that was alone. The first end of
    all stays free, and so does the second lone end when there is one.
    """
    pairs = [group for group in found if len(group) == 2]
    lone = [group[0] for group in found if len(group) == 1]
    firsts = [pair[0] for pair in pairs[1:]] + lone[:1]
    links = [(pair[1], first) for pair, first in zip(pairs, firsts, strict=True)]
    free = [pairs[0][0], *lone[1:]] if pairs else lone[1:]
    return (*links, *((end,) for end in free))


def _sums(conductors: int) -> Iterator[tuple[int, ...]]:
    """Yield, for every m, the lists of m sums with this total: the one of size s a multiple of s up to m."""
    m = 1
    while m * (m + 1) // 2 <= conductors:
        if m * m >= conductors:
            for sums in product(*(range(size, m + 1, size) for size in range(1, m + 1))):
                if sum(sums) == conductors:
                    yield sums
        m += 1


def _sizes(sums: Sequence[int]) -> tuple[int, ...]:
    """Return the group sizes, largest first, for the number of conductors at each size from 1 up."""
    return tuple(size for size in range(len(sums), 0, -1) for __ in range(sums[size - 1] // size))


def _fill(rows: Sequence[int], columns: Sequence[int]) -> tuple[tuple[int, int], ...]:
    """Return the filled cells (row, column), from 1, of a table with these sums, or nothing when there is none."""
    if len(rows) != len(columns):
        return ()
    left = list(columns)
    cells: list[tuple[int, int]] = []
    for row in sorted(range(len(rows)), key=lambda index: -rows[index]):
        fullest = sorted(range(len(left)), key=lambda index: -left[index])[: rows[row]]
        if len(fullest) < rows[row] or any(left[column] == 0 for column in fullest):
            return ()
        for column in fullest:
            left[column] -= 1
            cells.append((row + 1, column + 1))
    return () if any(left) else tuple(sorted(cells))
