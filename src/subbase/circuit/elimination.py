"""The plan by which one netlist is solved many times: order, fill and everything that no switch can change.

Nodes are eliminated by the star-mesh transform: a node with admittances g₁ … g_m to its neighbours is replaced by
g_a·g_b/(g₁ + … + g_m) between every two of them (Rosen, Journal of the IEE 62 (1924) 916; from memory). No diagonal is
stored, so nothing is ever subtracted: with resistances every voltage is good to the last digits however small the
leakage that carries it, as in Grassmann, Taksar and Heyman's elimination of Markov chains (Operations Research 33
(1985) 1107-1116; from memory).

The same form settles islands exactly. In an island the node eliminated last has no neighbour left, all of its
admittances are exactly 0 in that state, and it stands at 0 V. Tails of sources are eliminated last of all, the first
source's after every other, so the node left over is the island's reference as ``solve`` defines it.

Where no switch, contact or coil has a say, elimination is done here, once; only the rest is left to the kernel.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from itertools import combinations
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from subbase.circuit.netlist import Coil, Contact, Impedance, Netlist, Node, Source, Switch
from subbase.errors import NoSolution

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]

GROUNDED, LEAF, PAIR, STAR, FIXED = range(5)
"""How a node's voltage follows from its later neighbours: not at all, one, two, more, the same in all states."""


class Program(NamedTuple):
    """What the kernel runs for every state; admittances [S], injected currents [A], one row each per ``slot``."""

    base_y: Floats
    """(n_slot, 2) real and imaginary part that every state has."""
    base_a: Floats
    """(n_injection, 2) injected current that every state has."""
    vary_slot: Ints
    """(n_vary,) slot of each branch that varies."""
    vary_y: Floats
    """(n_vary, 2, 2) its admittance at rest and acted."""
    vary_from: Ints
    """(n_vary + 1,) where its flags begin in ``vary_flag``."""
    vary_flag: Ints
    """Flags any of which acts it; a state has one flag for each coil that is in, then one for each switch operated."""
    pivot_slot: Ints
    """(n_pivot,) first slot of the pivot's row; the others follow."""
    pivot_injection: Ints
    """(n_pivot,) its injection, or −1 when nothing is ever injected there."""
    pivot_from: Ints
    """(n_pivot + 1,) where its neighbours begin in ``neighbour_injection``."""
    neighbour_injection: Ints
    """Injection of each neighbour, or −1."""
    mesh_from: Ints
    """(n_pivot + 1,) where its mesh begins in ``mesh_slot``."""
    mesh_slot: Ints
    """Slot between each pair of neighbours, pairs in lexicographic order."""
    back_node: Ints
    """(n_node,) nodes in the order in which voltages are found."""
    back_kind: Ints
    back_slot: Ints
    """First slot of the node's row; for FIXED, where its constants begin."""
    back_injection: Ints
    back_from: Ints
    back_neighbour: Ints
    fixed_share: Floats
    """(n_fixed, 2) constants of FIXED nodes, one for each neighbour."""
    fixed_v: Floats
    """(n_node, 2) constant part of FIXED nodes' voltages, in ``back_node`` order."""
    coil_ends: Ints
    """(n_coil, 2) tail and head node."""
    coil_limits_v2: Floats
    """(n_coil, 2) squares of pull-in and drop-out voltage."""
    coil_delay_rank: Ints
    """(n_coil,) rank of its delay among all delays."""
    lossless: bool
    """Some branch has no resistance, so that a node may resonate exactly."""


@dataclass(slots=True)
class _Vary:
    """A branch whose admittance depends on the state."""

    pair: tuple[int, int]
    rest_y: complex
    acted_y: complex
    flags: tuple[int, ...]


@dataclass(slots=True)
class _Pivot:
    """One node eliminated; ``injection`` is None when it has none in any state."""

    node: int
    neighbours: list[int]
    fixed_share: list[complex] | None = None
    fixed_v: complex = 0j
    row_y: list[complex] = field(default_factory=list)
    injection: complex | None = None


def compile_program(netlist: Netlist) -> Program:
    """Return the program that solves any state of a netlist.

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node that no switch can change.
    """
    network = _Network(netlist)
    pivots = [network.eliminate(node) for node in network.order()]
    return _assemble(netlist, network, pivots)


class _Network:
    """The network during elimination; used once."""

    def __init__(self, netlist: Netlist) -> None:
        self.index: dict[Node, int] = {node: i for i, node in enumerate(netlist.nodes())}
        self.y: list[dict[int, complex]] = [{} for _ in self.index]
        self.injected: dict[int, complex] = {}
        self.vary: list[_Vary] = []
        self.varying_pairs: set[tuple[int, int]] = set()
        self.varying_injections: set[int] = set()
        self.lossless = False
        self.tails: list[int] = []
        workers: tuple[Coil | Switch, ...] = (*netlist.of(Coil), *netlist.of(Switch))
        flag = {worker.tag: i for i, worker in enumerate(workers)}
        for branch in netlist.branches:
            tail, head = self.index[branch.tail], self.index[branch.head]
            match branch:
                case Source():
                    self._stamp(tail, head, 1.0 / branch.z_ohm)
                    self._inject(tail, head, branch.emf_v / branch.z_ohm)
                    if tail not in self.tails:
                        self.tails.append(tail)
                case Impedance():
                    self._stamp(tail, head, 1.0 / branch.z_ohm)
                case Coil():
                    out_y, in_y = 1.0 / branch.z_out_ohm, 1.0 / branch.z_in_ohm
                    self._vary(_Vary((tail, head), out_y, in_y, (flag[branch.tag],)))
                case Contact():
                    self._vary(_Vary((tail, head), *_contact_y(branch), tuple(flag[tag] for tag in branch.coils)))
                case Switch():
                    self._vary(_Vary((tail, head), *_contact_y(branch), (flag[branch.tag],)))

    def order(self) -> Iterable[int]:
        """Iterate over the nodes, each once, least degree first and the first source's tail last."""
        left = set(range(len(self.y))) - set(self.tails)
        while left:
            node = min(left, key=self._cost)
            left.remove(node)
            yield node
        yield from reversed(self.tails)

    def eliminate(self, node: int) -> _Pivot:
        """Take a node out and return what its voltage needs."""
        row = self.y[node]
        neighbours = sorted(row)
        for a in neighbours:
            del self.y[a][node]
        pivot = _Pivot(node, neighbours, injection=self.injected.get(node))
        if any(_pair(node, a) in self.varying_pairs for a in neighbours) or node in self.varying_injections:
            self._leave_to_kernel(pivot, row)
        else:
            self._eliminate_fixed(pivot, row)
        return pivot

    def _cost(self, node: int) -> tuple[int, bool, int, int]:
        degree = len(self.y[node])
        # A node of degree 2 or less makes no fill, so fixed ones among them go first: they cost the kernel least.
        return max(degree, 2), any(_pair(node, a) in self.varying_pairs for a in self.y[node]), degree, node

    def _leave_to_kernel(self, pivot: _Pivot, row: dict[int, complex]) -> None:
        pivot.row_y = [row[a] for a in pivot.neighbours]
        for a, b in combinations(pivot.neighbours, 2):
            self._add(a, b, 0j)
            self.varying_pairs.add((a, b))
        if pivot.injection is not None:
            for a in pivot.neighbours:
                self.injected.setdefault(a, 0j)
                self.varying_injections.add(a)

    def _eliminate_fixed(self, pivot: _Pivot, row: dict[int, complex]) -> None:
        if not pivot.neighbours:
            return
        total = sum(row.values())
        if total == 0:
            raise NoSolution("Inductance and capacitance cancel exactly at a node; give the branches some resistance.")
        injected = pivot.injection or 0j
        share = {a: row[a] / total for a in pivot.neighbours}
        for a, b in combinations(pivot.neighbours, 2):
            self._add(a, b, share[a] * row[b])
        if pivot.injection is not None:
            for a in pivot.neighbours:
                self.injected[a] = self.injected.get(a, 0j) + share[a] * injected
        pivot.fixed_share = list(share.values())
        pivot.fixed_v = injected / total

    def _stamp(self, tail: int, head: int, y: complex) -> None:
        self.lossless |= y.real <= 0.0
        self._add(tail, head, y)

    def _add(self, a: int, b: int, y: complex) -> None:
        self.y[a][b] = self.y[b][a] = self.y[a].get(b, 0j) + y

    def _inject(self, tail: int, head: int, current_a: complex) -> None:
        self.injected[head] = self.injected.get(head, 0j) + current_a
        self.injected[tail] = self.injected.get(tail, 0j) - current_a

    def _vary(self, vary: _Vary) -> None:
        if vary.rest_y == vary.acted_y:
            self._stamp(*vary.pair, vary.rest_y)
            return
        self.lossless |= any(y != 0 and y.real <= 0.0 for y in (vary.rest_y, vary.acted_y))
        self._add(*vary.pair, 0j)
        self.varying_pairs.add(_pair(*vary.pair))
        self.vary.append(vary)


def _contact_y(contact: Contact | Switch) -> tuple[complex, complex]:
    """Return the admittance of a contact (at rest, acted) [S]."""
    closed_y = complex(1.0 / contact.r_closed_ohm)
    open_y = 0j if contact.z_open_ohm is None else 1.0 / contact.z_open_ohm
    return (closed_y, open_y) if contact.normally_closed else (open_y, closed_y)


def _pair(a: int, b: int) -> tuple[int, int]:
    return (a, b) if a < b else (b, a)


def _assemble(netlist: Netlist, network: _Network, pivots: list[_Pivot]) -> Program:
    """Number slots and injections and lay the pivots out in arrays."""
    kernel = [pivot for pivot in pivots if pivot.row_y]
    slot_of: dict[tuple[int, int], int] = {}
    for pivot in kernel:
        for a in pivot.neighbours:
            slot_of[_pair(pivot.node, a)] = len(slot_of)
    injection_of: dict[int, int] = {}
    for pivot in kernel:
        if pivot.injection is not None:
            injection_of[pivot.node] = len(injection_of)
    first_slot = {pivot.node: slot_of[_pair(pivot.node, pivot.neighbours[0])] for pivot in kernel}
    backward = pivots[::-1]
    fixed = [pivot.fixed_share or [] for pivot in backward]
    fixed_from = _offsets(fixed)
    coils = tuple(netlist.of(Coil))
    delays = sorted({coil.delay_s for coil in coils})
    meshes = [[slot_of[pair] for pair in combinations(pivot.neighbours, 2)] for pivot in kernel]
    return Program(
        base_y=_parts(y for pivot in kernel for y in pivot.row_y),
        base_a=_parts(pivot.injection for pivot in kernel if pivot.injection is not None),
        vary_slot=_ints(slot_of[_pair(*vary.pair)] for vary in network.vary),
        vary_y=_parts(y for vary in network.vary for y in (vary.rest_y, vary.acted_y)).reshape(-1, 2, 2),
        vary_from=_offsets([vary.flags for vary in network.vary]),
        vary_flag=_ints(flag for vary in network.vary for flag in vary.flags),
        pivot_slot=_ints(first_slot[pivot.node] for pivot in kernel),
        pivot_injection=_ints(injection_of.get(pivot.node, -1) for pivot in kernel),
        pivot_from=_offsets([pivot.neighbours for pivot in kernel]),
        neighbour_injection=_ints(injection_of.get(a, -1) for pivot in kernel for a in pivot.neighbours),
        mesh_from=_offsets(meshes),
        mesh_slot=_ints(slot for mesh in meshes for slot in mesh),
        back_node=_ints(pivot.node for pivot in backward),
        back_kind=_ints(_kind(pivot) for pivot in backward),
        back_slot=_ints(first_slot.get(pivot.node, start) for pivot, start in zip(backward, fixed_from, strict=False)),
        back_injection=_ints(injection_of.get(pivot.node, -1) for pivot in backward),
        back_from=_offsets([pivot.neighbours for pivot in backward]),
        back_neighbour=_ints(a for pivot in backward for a in pivot.neighbours),
        fixed_share=_parts(share for shares in fixed for share in shares),
        fixed_v=_parts(pivot.fixed_v for pivot in backward),
        coil_ends=_ints(network.index[n] for coil in coils for n in (coil.tail, coil.head)).reshape(-1, 2),
        coil_limits_v2=_squares(coils),
        coil_delay_rank=_ints(delays.index(coil.delay_s) for coil in coils),
        lossless=network.lossless,
    )


def _kind(pivot: _Pivot) -> int:
    if pivot.fixed_share is not None:
        return FIXED
    if not pivot.neighbours:
        return GROUNDED
    return (LEAF, PAIR, STAR)[min(len(pivot.neighbours), 3) - 1]


def _squares(coils: tuple[Coil, ...]) -> Floats:
    """Return (n_coil, 2) squares of the limits; a limit below 0 V acts as 0 V does."""
    limits = [max(v, 0.0) ** 2 for coil in coils for v in (coil.pull_in_v, coil.drop_out_v)]
    return np.array(limits, dtype=np.float64).reshape(-1, 2)


def _ints(values: Iterable[int]) -> Ints:
    return np.fromiter(values, dtype=np.int64)


def _parts(values: Iterable[complex]) -> Floats:
    return np.fromiter(values, dtype=np.complex128).view(np.float64).reshape(-1, 2)


def _offsets(rows: Iterable[Iterable[object]]) -> Ints:
    return np.cumsum([0, *(len(list(row)) for row in rows)], dtype=np.int64)
