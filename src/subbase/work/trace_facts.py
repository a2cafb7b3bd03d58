"""What joins and readings say about which near end is which far end.

A fact is one set of joins at one end of the cable and what was read of it at the other: the two must be the same groups
of the same conductors. Conductors are told apart by refinement: two stay alike only while the groups that they were in
have been alike, group by group and in turn for each conductor of those groups.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from subbase.work.grouping import Groups

Side = Literal["near", "far"]


@dataclass(frozen=True, slots=True)
class Ends:
    """Names of the ends on both sides, equally many, and the conductors known at both."""

    near: tuple[str, ...]
    far: tuple[str, ...]
    known: tuple[tuple[str, str], ...] = ()
    """(near name, far name)."""

    def of(self, side: Side) -> tuple[str, ...]:
        """Return all ends of one side."""
        return self.near if side == "near" else self.far

    def known_of(self, side: Side) -> tuple[str, ...]:
        """Return the known ends of one side."""
        return tuple(pair[0] if side == "near" else pair[1] for pair in self.known)

    def unknown_of(self, side: Side) -> tuple[str, ...]:
        """Return the ends of one side that are to be found."""
        known = self.known_of(side)
        return tuple(end for end in self.of(side) if end not in known)


@dataclass(frozen=True, slots=True)
class Fact:
    """The same groups at both sides; every end of a side is in exactly one, alone if need be."""

    near: Groups
    far: Groups
    read_at: Side
    ordered: bool = False
    """Whether the order inside a group counts, as with a diode: the end on the anode first."""

    def at(self, side: Side) -> Groups:
        """Return the groups of one side."""
        return self.near if side == "near" else self.far

    @property
    def read(self) -> Groups:
        """Return what was read, not what was joined."""
        return self.at(self.read_at)


@dataclass(frozen=True, slots=True)
class Match:
    """What the facts so far say."""

    pairs: tuple[tuple[str, str], ...]
    """(near name, far name) of the conductors that are named by now."""
    near_odd: tuple[str, ...] = ()
    far_odd: tuple[str, ...] = ()
    """Ends without a counterpart; where there are any, no assignment can give the facts."""

    @property
    def possible(self) -> bool:
        """Return whether nothing contradicts."""
        return not self.near_odd and not self.far_odd


@dataclass(frozen=True, slots=True)
class Misreading:
    """One single slip of the probe after which all facts fit."""

    step: int
    """Counted from 1."""
    read_at: Side
    ends: tuple[str, ...]
    """Two ends that were taken for each other, or one that was put into a wrong group."""
    truly: Groups
    """The groups as they would have had to be read."""
    pairs: tuple[tuple[str, str], ...]
    """(near name, far name) as they would then be, where that names them."""


def all_groups(ends: Sequence[str], groups: Sequence[Sequence[str]]) -> Groups:
    """Return the groups, and every end that is in none of them as a group by itself."""
    placed = {end for group in groups for end in group}
    return (*(tuple(group) for group in groups if group), *((end,) for end in ends if end not in placed))


def match(ends: Ends, facts: Sequence[Fact]) -> Match:
    """Return which conductors the facts name, or which ends contradict each other."""
    known = {("near", near): index for index, (near, _) in enumerate(ends.known, start=1)}
    known |= {("far", far): index for index, (_, far) in enumerate(ends.known, start=1)}
    nodes = [("near", end) for end in ends.near] + [("far", end) for end in ends.far]
    mates = {node: tuple(_mates(node, fact) for fact in facts) for node in nodes}
    colours = {node: known.get(node, 0) for node in nodes}
    while True:
        near = Counter(colours["near", end] for end in ends.near)
        far = Counter(colours["far", end] for end in ends.far)
        if near != far:
            return Match(
                pairs=(),
                near_odd=tuple(end for end in ends.near if near[colours["near", end]] != far[colours["near", end]]),
                far_odd=tuple(end for end in ends.far if near[colours["far", end]] != far[colours["far", end]]),
            )
        signs = {
            node: (
                colours[node],
                tuple(
                    (
                        place,
                        tuple(colours[each] for each in group)
                        if place
                        else tuple(sorted(colours[each] for each in group)),
                    )
                    for place, group in mates[node]
                ),
            )
            for node in nodes
        }
        number = {sign: index for index, sign in enumerate(sorted(set(signs.values())))}
        finer = {node: number[sign] for node, sign in signs.items()}
        if len(number) == len(set(colours.values())):
            break
        colours = finer
    by_colour = {colours["far", end]: end for end in ends.far}
    return Match(
        pairs=tuple((end, by_colour[colours["near", end]]) for end in ends.near if near[colours["near", end]] == 1)
    )


def misreadings(ends: Ends, facts: Sequence[Fact]) -> tuple[Misreading, ...]:
    """Return every single slip in one reading after which all facts fit.

    Slips looked at: two ends taken for each other, and one end put into a wrong group or left alone wrongly. Where the
    facts fit as they are, these slips would not show; where they contradict each other, one of these may be the cause.
    """
    found: list[Misreading] = []
    for index, fact in enumerate(facts):
        joined = sorted(len(group) for group in fact.at("far" if fact.read_at == "near" else "near"))
        for slipped, truly in _variants(fact, ends.unknown_of(fact.read_at)):
            if sorted(len(group) for group in truly) != joined:
                continue
            read = replace(fact, near=truly) if fact.read_at == "near" else replace(fact, far=truly)
            seen = match(ends, [*facts[:index], read, *facts[index + 1 :]])
            if seen.possible:
                found.append(
                    Misreading(step=index + 1, read_at=fact.read_at, ends=slipped, truly=truly, pairs=seen.pairs)
                )
    return tuple(found)


def _mates(node: tuple[str, str], fact: Fact) -> tuple[int, tuple[tuple[str, str], ...]]:
    """Return the place in the group, from 1, where the order counts (else 0), and the group."""
    side, end = node
    group = next(group for group in (fact.near if side == "near" else fact.far) if end in group)
    return (group.index(end) + 1 if fact.ordered else 0), tuple((side, each) for each in group)


def _variants(fact: Fact, unknown: Sequence[str]) -> Iterator[tuple[tuple[str, ...], Groups]]:
    """Yield the ends that slipped and the groups without the slip."""
    groups = fact.read
    place = {end: index for index, group in enumerate(groups) for end in group}
    for first, second in combinations(unknown, 2):
        alike = place[first] == place[second] and not fact.ordered
        if alike or len(groups[place[first]]) == len(groups[place[second]]) == 1:
            continue
        swap = {first: second, second: first}
        yield (first, second), tuple(tuple(swap.get(end, end) for end in group) for group in groups)
    for end in unknown:
        without = [tuple(each for each in group if each != end) for group in groups]
        for index in range(len(groups)):
            if index != place[end]:
                moved = [(*group, end) if at == index else group for at, group in enumerate(without)]
                yield (end,), tuple(group for group in moved if group)
        if len(groups[place[end]]) > 1:
            yield (end,), (*without, (end,))
