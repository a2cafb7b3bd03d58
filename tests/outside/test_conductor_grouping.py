"""Group sizes that name every conductor in one round trip, against what is published of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import combinations, permutations, product

import pytest

from subbase.work.grouping import Groups, size_plan, sizes_fit

PATENT = "R. L. Graham and K. C. Knowlton, US patent 3,369,177 (1968): every number of conductors but 2, 5 and 9."
IMPOSSIBLE = (2, 5, 9)


def partitions(total: int, largest: int | None = None) -> Iterator[tuple[int, ...]]:
    """Yield the ways to write a total as sizes, largest first."""
    if total == 0:
        yield ()
        return
    for first in range(min(total, largest or total), 0, -1):
        for rest in partitions(total - first, first):
            yield (first, *rest)


def splits(ends: tuple[str, ...]) -> Iterator[Groups]:
    """Yield every way to split ends into groups."""
    if not ends:
        yield ()
        return
    first, rest = ends[0], ends[1:]
    for count in range(len(rest) + 1):
        for mates in combinations(rest, count):
            for others in splits(tuple(end for end in rest if end not in mates)):
                yield ((first, *mates), *others)


def all_pairs_differ(near_sizes: tuple[int, ...], far_sizes: tuple[int, ...]) -> bool:
    """Try every table of cells 0 or 1 by plain search: can each conductor have its own pair of sizes?"""
    near = Counter(near_sizes)
    far = {size: size * count for size, count in Counter(far_sizes).items()}

    def place(rows: list[int], left: dict[int, int]) -> bool:
        if not rows:
            return not any(left.values())
        wanted = rows[0] * near[rows[0]]
        open_columns = [size for size, room in left.items() if room]
        return any(
            place(rows[1:], {size: room - (size in chosen) for size, room in left.items()})
            for chosen in combinations(open_columns, wanted)
        )

    return place(list(near), far)


@pytest.mark.outside(source=PATENT, how="from memory")
@pytest.mark.parametrize("conductors", range(1, 101))
def test_sizes_exist_for_the_published_numbers_of_conductors(conductors: int) -> None:
    """Sizes are given for every number up to 100 but 2, 5 and 9, and no two conductors share a pair of them."""
    plan = size_plan(conductors)
    assert (plan is None) == (conductors in IMPOSSIBLE)
    if plan is None:
        return
    assert len(set(plan.pairs)) == len(plan.pairs) == conductors
    for place, sizes in enumerate((plan.near_sizes, plan.far_sizes)):
        assert sum(sizes) == conductors
        borne = Counter(pair[place] for pair in plan.pairs)
        assert borne == {size: size * count for size, count in Counter(sizes).items()}


@pytest.mark.outside(source=PATENT, how="from memory")
@pytest.mark.parametrize("conductors", range(1, 17))
def test_trying_all_sizes_finds_the_published_numbers_impossible(conductors: int) -> None:
    """A plain search through all sizes at both ends, made apart from the planner, finds 2, 5 and 9 impossible."""
    sizes = list(partitions(conductors))
    assert any(all_pairs_differ(near, far) for near, far in product(sizes, sizes)) == (conductors not in IMPOSSIBLE)


@pytest.mark.outside(source=PATENT, how="from memory")
def test_five_conductors_are_impossible_by_sizes_and_possible_by_touch() -> None:
    """Of all joins of five at both ends none gives five pairs of sizes, some give one assignment by who touches whom."""
    ends = ("1", "2", "3", "4", "5")
    by_touch = False
    for near, far in product(splits(ends), splits(ends)):
        near_of = {end: group for group in near for end in group}
        far_of = {end: group for group in far for end in group}
        assert len({(len(near_of[end]), len(far_of[end])) for end in ends}) < 5
        if not by_touch:
            by_touch = (
                sum(
                    all(order_keeps(dict(zip(ends, order, strict=True)), groups) for groups in (near, far))
                    for order in permutations(ends)
                )
                == 1
            )
    assert by_touch


def order_keeps(order: dict[str, str], groups: Groups) -> bool:
    """Tell whether renaming the conductors leaves the groups as they are."""
    return {frozenset(order[end] for end in group) for group in groups} == {frozenset(group) for group in groups}


@pytest.mark.outside(
    source="Sizes listed for Graham and Knowlton's method, second-hand; the two lists of 12 belong to one end each.",
    how="from memory",
)
@pytest.mark.parametrize(
    ("near", "far"),
    [
        ((2, 1), (2, 1)),
        ((2, 1, 1), (2, 1, 1)),
        ((3, 2, 1), (3, 2, 1)),
        ((3, 2, 1, 1), (3, 2, 1, 1)),
        ((3, 2, 1, 1, 1), (3, 2, 1, 1, 1)),
        ((4, 3, 2, 1), (4, 3, 2, 1)),
        ((4, 3, 2, 2, 1), (4, 3, 2, 1, 1, 1)),
        ((4, 3, 2, 2, 1, 1, 1), (4, 3, 2, 2, 1, 1, 1)),
        ((5, 4, 3, 2, 1), (5, 4, 3, 2, 1)),
    ],
)
def test_listed_sizes_name_every_conductor(near: tuple[int, ...], far: tuple[int, ...]) -> None:
    """The listed sizes are accepted by the planner's table and by a plain search."""
    assert sizes_fit(near, far)
    assert all_pairs_differ(near, far)
    plan = size_plan(sum(near))
    assert plan is not None
    assert {plan.near_sizes, plan.far_sizes} == {near, far}


@pytest.mark.parametrize("conductors", range(1, 13))
def test_the_table_and_a_plain_search_agree_on_all_sizes(conductors: int) -> None:
    """Greedy filling accepts exactly the sizes that a plain search accepts."""
    sizes = list(partitions(conductors))
    for near, far in product(sizes, sizes):
        assert sizes_fit(near, far) == all_pairs_differ(near, far)
