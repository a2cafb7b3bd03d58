"""Reads back the decks that ``spice_deck`` writes, so that what somebody ran in ngspice can be solved here as well.

It takes exactly what ``spice_deck`` writes and nothing else: anything more would have to be understood as ngspice
understands it. Coils, contacts and switches come back as impedances in the state that was written; a branch that was
open is gone, and with it a node that no other branch has. Such a node stood at 0 V as its own island.
"""

from __future__ import annotations

import cmath
import json
import math
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from subbase.circuit.netlist import Branch, Impedance, Netlist, Node, Source, Tag
from subbase.circuit.spice import ANALYSIS, ENDING, FREQUENCY_HZ
from subbase.errors import Fault, InputError

NAME = r"[a-z0-9_]{1,200}"
NUMBER = r"-?[0-9]+(?:\.[0-9]+)?(?:e[+-]?[0-9]{1,3})?"
QUOTED = r'"(?:[^"\\]|\\.)*"'
NODE = re.compile(rf"\* node ({NAME}) is ({QUOTED})")
OPEN = re.compile(rf"\* {QUOTED} is open between ({NAME}) and ({NAME})")
BRANCH = re.compile(rf"\* ({QUOTED})")
SOURCE = re.compile(rf"V({NAME}) ({NAME}) ({NAME}) DC 0 AC ({NUMBER}) ({NUMBER})")
PART = re.compile(rf"([RLC])({NAME}) ({NAME}) ({NAME}) ({NUMBER})")
REFERENCE = re.compile(rf"V(ref[0-9]{{1,9}}) ({NAME}) 0 DC 0 AC 0")
PRINT = re.compile(rf"print v\(({NAME})\)")
FIXED = (*ANALYSIS, *ENDING)
SERIES = ("R", "L", "C", "RL", "RC")
"""What an impedance is written as."""


def read_deck(text: str, *, file: str = "") -> Netlist:
    """Return the netlist of a deck written by ``spice_deck``.

    Raises
    ------
    InputError
        With every fault found, each with its line, when the deck is anything else.
    """
    reader = _Reader(file)
    lines = [line.rstrip() for line in text.split("\n")]
    for number, line in enumerate(lines[1:], start=2):
        reader.take(number, line)
    return reader.finish(len(lines))


@dataclass(frozen=True, slots=True)
class _Part:
    """A resistor, inductor or capacitor; or, as kind V, a source's volts with its head as tail."""

    line: int
    kind: str
    label: str
    tail: str
    head: str
    value: complex


@dataclass(slots=True)
class _Group:
    """The lines of one branch."""

    line: int
    tag: Tag
    parts: list[_Part] = field(default_factory=list)


class _Reader:
    """A deck while it is read; used once."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.nodes: dict[str, Node] = {}
        self.groups: list[_Group] = []
        self.references: list[tuple[int, str]] = []
        self.labels: set[str] = set()
        self.fixed: list[str] = []

    def take(self, number: int, line: str) -> None:
        """Take one line."""
        if not line:
            return
        if found := NODE.fullmatch(line):
            self._node(number, found[1], found[2])
        elif found := OPEN.fullmatch(line):
            self._known(number, found[1], found[2])
        elif found := BRANCH.fullmatch(line):
            self.groups.append(_Group(number, self._text(number, found[1])))
        elif found := REFERENCE.fullmatch(line):
            self._known(number, found[2])
            self.references.append((number, found[2]))
        elif found := SOURCE.fullmatch(line):
            emf_v = _polar(float(found[4]), float(found[5]))
            self._part(_Part(number, "V", found[1], found[3], found[2], emf_v))
        elif found := PART.fullmatch(line):
            self._part(_Part(number, found[1], found[2], found[3], found[4], float(found[5])))
        elif found := PRINT.fullmatch(line):
            self._known(number, found[1])
        elif line in FIXED:
            self.fixed.append(line)
        else:
            self._fault(number, f"This line is not one that spice_deck writes: {line[:60]!r}; take it out.")

    def finish(self, line_count: int) -> Netlist:
        """Return the netlist, or raise all faults."""
        if tuple(self.fixed) != FIXED:
            missing = next((line for line in FIXED if line not in self.fixed), None)
            said = f"{missing!r} is missing" if missing else "its commands are repeated or out of order"
            self._fault(line_count, f"This is not a deck of spice_deck: {said}; write the deck anew.")
        internal = self._internal_nodes()
        placed = [(group, branch) for group in self.groups if (branch := self._branch(group, internal)) is not None]
        tags: dict[Tag, int] = {}
        for group in self.groups:
            if tags.setdefault(group.tag, group.line) != group.line:
                self._fault(group.line, f"The tag {group.tag!r} is also on line {tags[group.tag]}; give each its own.")
        self._check_references([branch for _, branch in placed])
        if self.faults:
            raise InputError(tuple(sorted(self.faults, key=lambda fault: fault.line)))
        return Netlist(tuple(branch for _, branch in placed))

    def _node(self, number: int, name: str, quoted: str) -> None:
        node = self._text(number, quoted)
        if name in self.nodes or node in self.nodes.values():
            self._fault(number, f"Node {name} or its name {quoted[:60]} comes twice; give each node its own.")
        self.nodes[name] = node

    def _part(self, part: _Part) -> None:
        key = f"{part.kind}{part.label}".lower()
        if key in self.labels:
            self._fault(part.line, f"{part.kind}{part.label} comes twice; give each element its own name.")
        self.labels.add(key)
        if not self.groups:
            self._fault(part.line, 'No branch is named before this element; put a line like * "tag" before it.')
            return
        self.groups[-1].parts.append(part)

    def _internal_nodes(self) -> Mapping[str, int]:
        """Return how many parts meet at each node that is not declared."""
        count: dict[str, int] = {}
        for group in self.groups:
            for part in group.parts:
                for name in (part.tail, part.head):
                    if name not in self.nodes:
                        count[name] = count.get(name, 0) + 1
        return count

    def _branch(self, group: _Group, internal: Mapping[str, int]) -> Branch | None:
        parts = group.parts
        supply = parts[0] if parts and parts[0].kind == "V" else None
        series = parts[1:] if supply else parts
        if "".join(part.kind for part in series) not in SERIES or len({part.label for part in parts}) != 1:
            self._fault(
                group.line, f"{group.tag!r} must be R, L, C, or R and then L or C, of one name; a V may be before."
            )
            return None
        chain = [*([supply.tail, supply.head] if supply else []), series[0].tail]
        if supply and supply.head != series[0].tail:
            self._fault(series[0].line, f"{group.tag!r} must go on from {supply.head}, where its source ends.")
            return None
        if len(series) == 2 and series[0].head != series[1].tail:
            self._fault(series[1].line, f"{group.tag!r} must go on from {series[0].head}, where its resistor ends.")
            return None
        tail, head = chain[0], series[-1].head
        for inner in {part.tail for part in series} - {tail}:
            if internal.get(inner) != 2:
                self._fault(group.line, f"{inner} is within {group.tag!r}, so nothing else may be joined to it.")
                return None
        if not self._known(group.line, tail, head):
            return None
        if tail == head:
            self._fault(group.line, f"{group.tag!r} joins {tail} to itself; take it out.")
            return None
        z_ohm = self._impedance(group, series)
        if z_ohm is None:
            return None
        ends = self.nodes[tail], self.nodes[head]
        if supply is None:
            return Impedance(group.tag, *ends, z_ohm)
        if not cmath.isfinite(supply.value):
            self._fault(supply.line, f"The source of {group.tag!r} has no finite voltage.")
            return None
        return Source(group.tag, *ends, supply.value, z_ohm)

    def _impedance(self, group: _Group, series: Iterable[_Part]) -> complex | None:
        """Return a sum of parts [ohm] that can be inverted."""
        angular_frequency = 2.0 * math.pi * FREQUENCY_HZ
        resistance_ohm = reactance_ohm = 0.0
        for part in series:
            value = part.value.real
            if value == 0.0 or (part.kind != "R" and value < 0.0):
                self._fault(part.line, f"The value of {part.kind}{part.label} cannot be {value:g}.")
                return None
            if part.kind == "R":
                resistance_ohm = value
            elif part.kind == "L":
                reactance_ohm = angular_frequency * value
            else:
                reactance_ohm = -1.0 / max(angular_frequency * value, 5e-324)
        z_ohm = complex(resistance_ohm, reactance_ohm)
        if not cmath.isfinite(z_ohm) or z_ohm == 0 or not cmath.isfinite(1.0 / z_ohm) or 1.0 / z_ohm == 0:
            self._fault(group.line, f"The impedance of {group.tag!r} is too large or too small to be calculated with.")
            return None
        return z_ohm

    def _check_references(self, branches: list[Branch]) -> None:
        """Each island is joined to ground once, an island with a source at the tail of its first."""
        if self.faults:
            return
        island_of = _islands(self.nodes.values(), branches)
        wanted: dict[Node, Node] = {}
        for branch in branches:
            if isinstance(branch, Source):
                wanted.setdefault(island_of[branch.tail], branch.tail)
        seen: set[Node] = set()
        for number, name in self.references:
            node = self.nodes[name]
            island = island_of[node]
            if island in seen:
                self._fault(number, f"What hangs on {name} is joined to ground twice; take one joint out.")
            elif wanted.get(island, node) != node:
                self._fault(number, f"{name} must not be joined to ground; join the tail of the first source instead.")
            seen.add(island)
        for island in dict.fromkeys(island_of.values()):
            if island not in seen:
                self._fault(0, f"What hangs on node {island!r} is not joined to ground; write the deck anew.")

    def _known(self, number: int, *names: str) -> bool:
        unknown = [name for name in names if name not in self.nodes]
        for name in unknown:
            self._fault(number, f'Node {name} is not declared; put a line like * node {name} is "..." above.')
        return not unknown

    def _text(self, number: int, quoted: str) -> str:
        try:
            return str(json.loads(quoted))
        except ValueError:
            self._fault(number, f"{quoted[:60]} is not a name in quotation marks as JSON has it.")
            return quoted

    def _fault(self, number: int, message: str) -> None:
        self.faults.append(Fault(message, file=self.file or "deck", line=number, column=1 if number else 0))


def _polar(magnitude_v: float, phase_degree: float) -> complex:
    if not (math.isfinite(magnitude_v) and math.isfinite(phase_degree)):
        return complex(math.inf)
    return cmath.rect(magnitude_v, math.radians(phase_degree))


def _islands(nodes: Iterable[Node], branches: Iterable[Branch]) -> dict[Node, Node]:
    """Return one node of each node's island, the same for all of the island."""
    neighbours: dict[Node, list[Node]] = {node: [] for node in nodes}
    for branch in branches:
        neighbours[branch.tail].append(branch.head)
        neighbours[branch.head].append(branch.tail)
    island_of: dict[Node, Node] = {}
    for first in neighbours:
        for node in _reached(first, neighbours, island_of):
            island_of[node] = first
    return island_of


def _reached(first: Node, neighbours: Mapping[Node, list[Node]], done: Mapping[Node, Node]) -> Iterator[Node]:
    waiting = [] if first in done else [first]
    seen = set(waiting)
    while waiting:
        node = waiting.pop()
        yield node
        fresh = [other for other in neighbours[node] if other not in seen]
        seen.update(fresh)
        waiting += fresh
