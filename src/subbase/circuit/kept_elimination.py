"""An elimination that is kept, so that a changed branch costs only the nodes that come after it.

The elimination is that of ``solve`` (star-mesh, nothing subtracted), and what it finds is the same but for rounding. What
each node passes on to the nodes eliminated after it is kept apart by sender. When a branch changes, its first node is
eliminated anew, then every node to which something else is passed on than before, and no other: the path from there to
the root of the elimination tree (partial refactorization: Chan and Brandwajn, IEEE Trans. Power Systems PWRS-1 (1986)
193-199; from memory). Wiring of a house is nearly a tree, so paths are short: of some seventy nodes about ten.

Circuits are never written to. One that differs shares with the one before all that did not change, and is as lasting.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from subbase.circuit.netlist import Coil, Contact, Node, Switch, Tag
from subbase.errors import NoSolution

Pair = tuple[int, int]
Passed = tuple[complex, tuple[tuple[int, complex], ...]]
"""What one node passes on to a later one: a current [A], and admittances [S] from there to later nodes still."""
Row = tuple[complex, tuple[tuple[int, complex], ...], complex]
"""Of an eliminated node: its volts without its later neighbours, (neighbour, share of its volts) ..., total [S]."""
Probed = tuple[float, tuple[int, ...]]
"""A resistance [ohm], and the nodes that have a say in it."""
Change = tuple[Pair, Tag, complex | None]
"""A branch between two nodes and the admittance that it now has [S], None when it does not conduct."""


@dataclass(frozen=True, slots=True)
class Varying:
    """A branch that a switch or coils act on."""

    pair: Pair
    tag: Tag
    rest_s: complex | None
    acted_s: complex | None
    coils: tuple[Tag, ...] = ()
    """Of a contact: those that work it."""


@dataclass(frozen=True, slots=True)
class Shape:
    """What no change of conductors touches. Nodes are counted in the order in which they are eliminated."""

    rank: Mapping[Node, int]
    injected: Sequence[complex]
    coils: tuple[tuple[Tag, int, int, float, float, float], ...]
    """(tag, tail, head, pull-in volts, drop-out volts, delay [s])."""
    varying: Mapping[Tag, Varying]
    """Switches, contacts and coils by tag, in netlist order."""
    contacts: Mapping[Tag, tuple[Varying, ...]]
    """Coil -> the contacts that it works."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One state of all branches, eliminated; shares what did not change with the state that it came from."""

    shape: Shape
    parts: dict[Pair, dict[Tag, complex]]
    """(earlier node, later node) -> admittance of each branch between them [S]."""
    own: list[dict[int, complex]]
    """Of each node: later node -> admittance of the branches between them [S]."""
    inbox: list[dict[int, Passed]]
    """Of each node: earlier node -> what it passes on."""
    rows: list[Row | None]
    renewed: set[int]
    """Nodes eliminated anew since the state that it came from."""

    def derived(self, changes: Iterable[Change]) -> Kept:
        """Return the elimination with some branches changed."""
        parts, own = self.parts.copy(), self.own.copy()
        first: set[int] = set()
        for pair, tag, y in changes:
            a, b = pair
            between = dict(parts.get(pair, ()))
            if y is None:
                between.pop(tag, None)
            else:
                between[tag] = y
            parts[pair] = between
            row = dict(own[a])
            row.pop(b, None)
            if between:
                row[b] = sum(between.values())
            own[a] = row
            first.add(a)
        kept = Kept(self.shape, parts, own, self.inbox.copy(), self.rows.copy(), set())
        kept.eliminate(sorted(first))
        return kept

    def eliminate(self, heap: list[int]) -> None:
        """Eliminate these nodes and whatever they change, in order; called on nothing that anybody holds yet."""
        waiting, copied = set(heap), set[int]()
        own, inbox, rows, injected = self.own, self.inbox, self.rows, self.shape.injected
        while heap:
            node = heappop(heap)
            row, current = own[node].copy(), injected[node]
            for into_a, meshed in inbox[node].values():
                current += into_a
                for b, y in meshed:
                    row[b] = row[b] + y if b in row else y
            before = rows[node]
            rows[node], passed = _star_to_mesh(row, current)
            if before is not None:
                for neighbour, _ in before[1]:
                    if neighbour not in row:
                        passed.append((neighbour, None))
            for neighbour, sent in passed:
                box = inbox[neighbour]
                if box.get(node) == sent:
                    continue
                if neighbour not in copied:
                    inbox[neighbour] = box = box.copy()
                    copied.add(neighbour)
                if sent is None:
                    del box[node]
                else:
                    box[node] = sent
                if neighbour not in waiting:
                    waiting.add(neighbour)
                    heappush(heap, neighbour)
        self.renewed.update(waiting)

    def volts(self) -> list[complex]:
        """Return the voltage of every node against its island's reference [V rms]."""
        rows = self.rows
        found: list[complex] = [0j] * len(rows)
        for node in range(len(rows) - 1, -1, -1):
            row = rows[node]
            if row is None:
                continue
            volts, shares, _ = row
            if len(shares) == 1:
                ((a, share_a),) = shares
                found[node] = volts + share_a * found[a]
            elif len(shares) == 2:
                (a, share_a), (b, share_b) = shares
                found[node] = volts + share_a * found[a] + share_b * found[b]
            else:
                for neighbour, share in shares:
                    volts += share * found[neighbour]
                found[node] = volts
        return found

    def references(self) -> list[int]:
        """Return the reference of every node's island."""
        found = list(range(len(self.rows)))
        for node in range(len(self.rows) - 1, -1, -1):
            row = self.rows[node]
            if row is not None:
                found[node] = found[row[1][0][0]]
        return found


def _star_to_mesh(row: dict[int, complex], current: complex) -> tuple[Row | None, list[tuple[int, Passed | None]]]:
    """Return what is kept of a node, and what it passes on to each later neighbour (None where that is nothing)."""
    if not row:
        return None, []
    total = sum(row.values())
    if total == 0:
        raise NoSolution("Inductance and capacitance cancel exactly at a node, so its voltage has no bound.")
    if len(row) == 1:
        ((a, _),) = row.items()
        return (current / total, ((a, 1.0 + 0j),), total), [(a, (current, ()) if current else None)]
    if len(row) == 2:
        (a, y_a), (b, y_b) = row.items()
        if a > b:
            a, b, y_a, y_b = b, a, y_b, y_a
        share_a, share_b = y_a / total, y_b / total
        return (current / total, ((a, share_a), (b, share_b)), total), [
            (a, (share_a * current, ((b, share_a * y_b),))),
            (b, (share_b * current, ()) if current else None),
        ]
    ordered = sorted(row.items())
    shares = tuple([(a, y / total) for a, y in ordered])
    passed: list[tuple[int, Passed | None]] = []
    for i, (a, share) in enumerate(shares):
        meshed = tuple([(b, share * y) for b, y in ordered[i + 1 :]])
        passed.append((a, (share * current, meshed) if meshed or current else None))
    return (current / total, shares, total), passed


def varying_branch(pair: Pair, branch: Coil | Contact | Switch) -> Varying:
    if isinstance(branch, Coil):
        return Varying(pair, branch.tag, 1.0 / branch.z_out_ohm, 1.0 / branch.z_in_ohm)
    closed_s = 1.0 / branch.r_closed_ohm
    open_s = None if branch.z_open_ohm is None else 1.0 / branch.z_open_ohm
    rest_s, acted_s = (closed_s, open_s) if branch.normally_closed else (open_s, closed_s)
    return Varying(pair, branch.tag, rest_s, acted_s, branch.coils if isinstance(branch, Contact) else ())


def acting_changes(shape: Shape, state: frozenset[Tag], before: frozenset[Tag]) -> Iterator[Change]:
    """Yield the branches that change when the coils that are in become those of ``state``, in netlist order."""
    said: set[Tag] = set()
    acting = state ^ before
    for tag in [coil[0] for coil in shape.coils if coil[0] in acting]:
        own = shape.varying[tag]
        if own.acted_s != own.rest_s:
            yield own.pair, tag, own.acted_s if tag in state else own.rest_s
        for contact in shape.contacts[tag]:
            acted = not state.isdisjoint(contact.coils)
            if acted == before.isdisjoint(contact.coils) and contact.tag not in said:
                said.add(contact.tag)
                yield contact.pair, contact.tag, contact.acted_s if acted else contact.rest_s


def probed_ohm(rows: Sequence[Row | None], a: int, b: int) -> Probed:
    """Return the resistance between two nodes, and the nodes at which one ampere from the one to the other passes.

    The power in the circuit is the sum of (current at an eliminated node)² over its conductance.
    """
    if a == b:
        return 0.0, ()
    if a < 0 or b < 0:
        return math.inf, ()
    injected, heap, ohm, way = {a: 1.0, b: -1.0}, sorted((a, b)), 0.0, []
    while heap:
        node = heappop(heap)
        current = injected.pop(node)
        way.append(node)
        row = rows[node]
        if row is None:
            if abs(current) > 0.5:  # the last of an island keeps what another island should have taken
                return math.inf, tuple(way)
            continue
        ohm += current * current / row[2].real
        for neighbour, share in row[1]:
            if neighbour not in injected:
                injected[neighbour] = 0.0
                heappush(heap, neighbour)
            injected[neighbour] += share.real * current
    return ohm, tuple(way)


__all__ = [
    "Change",
    "Kept",
    "Pair",
    "Probed",
    "Row",
    "Shape",
    "Varying",
    "acting_changes",
    "probed_ohm",
    "varying_branch",
]
