"""From the circuit to rungs: every load with what must be made between the hot rail and it, and between it and common.

Nothing is read from letters: the house's netlist is searched from each transformer's hot side through contacts,
switches, fuses and resistors to each load. Conductors, jumpers and links join; they are no element of a rung.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

from subbase.catalog import Catalog, ResistorPart, SwitchPart
from subbase.circuit import Coil, Contact, Impedance, Source, Switch
from subbase.names import conductor_words
from subbase.papers.rung_trees import (
    Element,
    Leaf,
    LoadSort,
    Parallel,
    Series,
    SwitchSort,
    Tree,
    reduced,
    series,
)
from subbase.survey import Survey, is_inner_point
from subbase.wiring import House, build_house
from subbase.words import _

S = TypeVar("S", bound=str)

MOST_PATHS, MOST_STEPS = 64, 20_000
"""Ways from hot to one load beyond which the search ends (an ordinary house has fewer than ten)."""
OWN_DRAW = "/own draw"
_SWITCH_SIGNS: tuple[tuple[SwitchSort, tuple[str, ...]], ...] = (
    ("pressure", ("pressure",)),
    ("level", ("float", "pan", "low-water", "too low", "level")),
    ("flow", ("air", "flow", "sail")),
    ("temperature", ("temperature", "limit", "aquastat", "thermo")),
)
_LOAD_SIGNS: tuple[tuple[LoadSort, tuple[str, ...]], ...] = (
    ("board", ("input", "sense", "board", "electronics")),
    ("motor", ("motor", "damper")),
    ("solenoid", ("valve", "solenoid")),
)
"""Which symbol a part of the catalogue is drawn with, by words of its id and of what it is (judgement): a drawing's matter
alone, nothing is decided by it."""


@dataclass(frozen=True, slots=True)
class Load:
    """What a rung ends in."""

    tag: str
    hot: str
    """Node at its hot side."""
    common: str
    words: str
    sort: LoadSort = "coil"


@dataclass(frozen=True, slots=True)
class Rung:
    """One load with its way from the hot rail and its way to the common rail."""

    load: Load
    hot_side: Series
    common_side: Series
    rail: int = 0
    """How many of the supply's rail elements lie before it; they are not repeated in ``hot_side``."""


@dataclass(frozen=True, slots=True)
class Supply:
    """One transformer with its rungs."""

    tag: str
    words: str
    hot: str
    common: str
    rail: tuple[Leaf, ...]
    """Fuses and switches that stand in the rail itself, top to bottom."""
    rungs: tuple[Rung, ...]
    complete: bool
    """False when the search for ways was cut off."""
    backward: tuple[str, ...] = ()
    """Ways that lead backwards through a control's output, one sentence each; they are not drawn."""


@dataclass(frozen=True, slots=True)
class Ladder:
    """Every supply of a house with its rungs, and the loads that no supply reaches."""

    supplies: tuple[Supply, ...]
    unreached: tuple[Load, ...]
    joints: Joints
    elements: tuple[Element, ...]
    """Everything that current can be made to pass or not, on a rung or on none."""

    @property
    def loads(self) -> tuple[str, ...]:
        """Return the tags of the loads that have a rung."""
        return tuple(dict.fromkeys(rung.load.tag for supply in self.supplies for rung in supply.rungs))


def ladder_of(survey: Survey, catalog: Catalog) -> Ladder:
    """Return the rungs of a house without unknowns."""
    house = build_house(survey, catalog)
    joints = Joints(house)
    elements = tuple(_elements(house))
    loads = tuple(_loads(house))
    supplies = tuple(_supply(house, source, joints, elements, loads) for source in house.netlist.of(Source))
    reached = {rung.load.tag for supply in supplies for rung in supply.rungs}
    return Ladder(supplies, tuple(load for load in loads if load.tag not in reached), joints, elements)


class Joints:
    """Which nodes are solidly joined, and by what (built once, then only read)."""

    def __init__(self, house: House) -> None:
        self._near: dict[str, list[tuple[str, str]]] = {}
        for branch in house.netlist.branches:
            self._near.setdefault(branch.tail, [])
            self._near.setdefault(branch.head, [])
            if isinstance(branch, Impedance) and _is_solid(house, branch):
                name = _conductor_name(house.survey, branch.tag)
                self._near[branch.tail].append((branch.head, name))
                self._near[branch.head].append((branch.tail, name))
        self._net: dict[str, int] = {}
        for number, node in enumerate(self._near):
            if node not in self._net:
                self._net |= dict.fromkeys(self._reach(node), number)

    def net(self, node: str) -> int:
        """Return the number of the net a node lies in."""
        return self._net[node]

    def nodes(self) -> tuple[str, ...]:
        """Return every node of the house."""
        return tuple(self._near)

    def terminals(self, node: str) -> tuple[str, ...]:
        """Return the terminals joined to a node."""
        net = self._net[node]
        return tuple(other for other, number in self._net.items() if number == net and not is_inner_point(other))

    def way(self, start: str, end: str) -> tuple[tuple[str, str], ...]:
        """Return the terminals from one node to a joined one as (name of the conductor before it, terminal)."""
        before: dict[str, tuple[str, str]] = {start: ("", "")}
        queue = deque([start])
        while queue and end not in before:
            node = queue.popleft()
            for other, name in self._near[node]:
                if other not in before:
                    before[other] = (node, name)
                    queue.append(other)
        steps = []
        node = end
        while node:
            previous, name = before.get(node, ("", ""))
            steps.append((name, node))
            node = previous
        return tuple(reversed(steps))

    def _reach(self, start: str) -> dict[str, None]:
        found, edge = {start: None}, [start]
        while edge:
            node = edge.pop()
            for other, __ in self._near[node]:
                if other not in found:
                    found[other] = None
                    edge.append(other)
        return found


def _is_solid(house: House, branch: Impedance) -> bool:
    return not branch.fuse_a and not branch.tag.endswith(OWN_DRAW) and not _is_resistor(house, branch.tag)


def _is_resistor(house: House, tag: str) -> bool:
    place, __, part_id = tag.partition("/")
    return place in house.survey.equipment and isinstance(house.kind(place).part(part_id), ResistorPart)


def _conductor_name(survey: Survey, tag: str) -> str:
    cable, __, conductor = tag.partition("/")
    there = cable in survey.cables and conductor in survey.cables[cable].conductors
    return f"{cable} {conductor_words(conductor)}" if there else ""


def _elements(house: House) -> Iterator[Element]:
    for branch in house.netlist.branches:
        tail, head, tag = branch.tail, branch.head, branch.tag
        match branch:
            case Contact():
                yield Element(
                    tag, "contact", tail, head, branch.normally_closed, house.part_words(tag), worked_by=branch.coils
                )
            case Switch():
                yield _switch(house, branch)
            case Impedance() if branch.fuse_a:
                yield Element(tag, "fuse", tail, head, True, f"{house.part_words(tag)}, {branch.fuse_a:g} A")
            case Impedance() if _is_resistor(house, tag):
                yield Element(tag, "resistor", tail, head, True, house.part_words(tag), f"{branch.z_ohm.real:g} ohm")


def _switch(house: House, branch: Switch) -> Element:
    place, __, part_id = branch.tag.partition("/")
    if place in house.survey.controls:
        return Element(
            branch.tag,
            "output",
            branch.tail,
            branch.head,
            False,
            _("{output} of {place}").format(output=part_id, place=place),
        )
    part = house.kind(place).part(part_id)
    acts = part.acts_when if isinstance(part, SwitchPart) else ""
    verb = _("opens: {cause}") if branch.normally_closed else _("closes: {cause}")
    words, note = house.part_words(branch.tag), verb.format(cause=_(acts)) if acts else ""
    closed, sign = branch.normally_closed, _sign_of(_SWITCH_SIGNS, f"{part_id} {acts}") or "plain"
    return Element(branch.tag, "switch", branch.tail, branch.head, closed, words, note, acts=sign)


def _sign_of(signs: Sequence[tuple[S, tuple[str, ...]]], words: str) -> S | None:
    return next((sign for sign, marks in signs if any(mark in words for mark in marks)), None)


def _loads(house: House) -> Iterator[Load]:
    for branch in house.netlist.branches:
        if isinstance(branch, Coil):
            place, __, part_id = branch.tag.partition("/")
            part = house.kind(place).part(part_id) if place in house.survey.equipment else None
            sign = _sign_of(_LOAD_SIGNS, f"{part_id} {part.what if part else ''}")
            yield Load(branch.tag, branch.tail, branch.head, house.part_words(branch.tag), sign or "coil")
        elif isinstance(branch, Impedance) and branch.tag.endswith(OWN_DRAW):
            place = branch.tag.removesuffix(OWN_DRAW)
            words = _("electronics of {place}").format(place=place)
            yield Load(branch.tag, branch.tail, branch.head, words, "board")


# --- one supply ------------------------------------------------------------------------------------------------------


def _supply(house: House, source: Source, joints: Joints, elements: Sequence[Element], loads: Sequence[Load]) -> Supply:
    part = house.sources[source.tag]
    words = f"{house.part_words(source.tag)}, {part.va:g} VA, {part.volts:g} V"
    search = _Search(joints, elements, joints.net(source.head), joints.net(source.tail))
    rungs = [rung for load in loads if (rung := search.rung(load)) is not None]
    rail = _rail(rungs)
    sorted_rungs = sorted((_below(rung, rail) for rung in rungs), key=lambda rung: rung.rail)
    backward = tuple(dict.fromkeys(search.backward))
    return Supply(source.tag, words, source.head, source.tail, rail, tuple(sorted_rungs), search.complete, backward)


class _Search:
    """The ways from one supply's rails through elements."""

    def __init__(self, joints: Joints, elements: Sequence[Element], hot: int, common: int) -> None:
        self.joints, self.hot, self.common, self.complete = joints, hot, common, True
        self.backward: list[str] = []
        self._order = {element.tag: number for number, element in enumerate(elements)}
        self._from: dict[int, list[Leaf]] = {}
        for element in elements:
            for start, end in ((element.a, element.b), (element.b, element.a)):
                if joints.net(start) != joints.net(end):
                    self._from.setdefault(joints.net(start), []).append(Leaf(element, start, end))

    def rung(self, load: Load) -> Rung | None:
        """Return the rung of a load, or None when this supply does not reach both its sides."""
        found = []
        for hot_node, common_node in ((load.hot, load.common), (load.common, load.hot)):
            hot_net, common_net = self.joints.net(hot_node), self.joints.net(common_node)
            if self.common == hot_net or common_net in (self.hot, hot_net):
                continue
            back = self._ways(common_net, self.common, {self.hot, hot_net})
            there = self._ways(self.hot, hot_net, {self.common, common_net})
            if back and there:
                shortest = min(len(way) for way in back)
                turned = Load(load.tag, hot_node, common_node, load.words)
                hot_side = self._tree(self._forward(there), self.hot, hot_net)
                common_side = self._tree(back, common_net, self.common)
                found.append((shortest, Rung(turned, hot_side, common_side)))
        return min(found, key=lambda pair: pair[0])[1] if found else None

    def _ways(self, start: int, end: int, banned: set[int]) -> list[tuple[Leaf, ...]]:
        """Return every way from net to net that visits no net twice."""
        if start == end:
            return [()]
        found: list[tuple[Leaf, ...]] = []
        steps = 0
        stack: list[tuple[int, tuple[Leaf, ...], frozenset[int]]] = [(start, (), frozenset({start, *banned}))]
        while stack:
            net, way, seen = stack.pop()
            for leaf in reversed(self._from.get(net, ())):
                steps += 1
                onward = self.joints.net(leaf.end)
                if onward == end:
                    found.append((*way, leaf))
                elif onward not in seen:
                    stack.append((onward, (*way, leaf), seen | {onward}))
            if len(found) > MOST_PATHS or steps > MOST_STEPS:
                self.complete = False
                break
        return found

    def _forward(self, ways: list[tuple[Leaf, ...]]) -> list[tuple[Leaf, ...]]:
        """Return the ways without those that lead back from an output to the control's own supply terminal."""
        kept = []
        for way in ways:
            turned = next((n for n, leaf in enumerate(way) if _is_backward(leaf)), None)
            if turned is None:
                kept.append(way)
            else:
                before = [leaf.element.words for leaf in way[:turned] if leaf.element.sort != "fuse"]
                output, (place, __, terminal) = way[turned].element, way[turned].end.partition(".")
                said = _("With {output} made, {terminal} of {place} is fed backwards, too.")
                if before:
                    said = _("With {output} made, {terminal} of {place} is fed backwards, too, through {parts}.")
                self.backward.append(
                    said.format(output=output.words, terminal=terminal, place=place, parts=", ".join(before))
                )
        return kept or ways

    def _tree(self, ways: Sequence[tuple[Leaf, ...]], start: int, end: int) -> Series:
        if start == end:
            return Series()
        edges = {(leaf.element.tag, self.joints.net(leaf.start)): leaf for way in ways for leaf in way}
        if len({tag for tag, __ in edges}) == len(edges):
            leaves = sorted(edges.values(), key=lambda leaf: self._order[leaf.element.tag])
            nets = [(self.joints.net(leaf.start), self.joints.net(leaf.end), leaf) for leaf in leaves]
            tree = reduced(nets, start, end)
            if tree is not None:
                return series((tree,))
        return series((Parallel(tuple(series(way) for way in ways)),)) if len(ways) > 1 else series(ways[0])


def _is_backward(leaf: Leaf) -> bool:
    return leaf.element.sort == "output" and leaf.start == leaf.element.b


# --- the rail --------------------------------------------------------------------------------------------------------


def _rail(rungs: Sequence[Rung]) -> tuple[Leaf, ...]:
    """Return the fuses and switches that many rungs begin with, in order: they stand in the rail."""
    rail: list[Leaf] = []
    while True:
        n = len(rail)
        behind = [rung.hot_side.items for rung in rungs if _starts_with(rung.hot_side.items, rail)]
        following = [items[n] for items in behind if len(items) > n]
        common = [leaf for leaf in following if isinstance(leaf, Leaf) and leaf.element.sort in ("fuse", "switch")]
        if not common:
            return tuple(rail)
        best = max(common, key=common.count)
        if common.count(best) < 2 and best.element.sort != "fuse":
            return tuple(rail)
        rail.append(best)


def _starts_with(items: Sequence[Tree], rail: Sequence[Leaf]) -> bool:
    return tuple(items[: len(rail)]) == tuple(rail)


def _below(rung: Rung, rail: tuple[Leaf, ...]) -> Rung:
    """Return a rung moved down its rail as far as it goes."""
    n = next(n for n in range(len(rail), -1, -1) if _starts_with(rung.hot_side.items, rail[:n]))
    return Rung(rung.load, Series(rung.hot_side.items[n:]), rung.common_side, n)


__all__ = ["Joints", "Ladder", "Load", "Rung", "Supply", "ladder_of"]
