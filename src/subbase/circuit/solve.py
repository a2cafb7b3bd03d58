"""The reference solver: one switch state of a network, with the standard library only.

Every branch has an impedance that is not zero, so sources become Norton equivalents. Nodes are eliminated by the
star-mesh transform: a node with admittances g1 ... gm to its neighbours is replaced by ga·gb/(g1 + ... + gm) between every
two of them (Rosen, Journal of the IEE 62 (1924) 916; from memory), and what is injected there passes to its neighbours in
the shares ga/(g1 + ... + gm). No diagonal is kept, so nothing is ever subtracted: every voltage is good to the last
digits however small the leakage that carries it (as in Grassmann, Taksar and Heyman, Operations Research 33 (1985)
1107-1116; from memory). It is nodal analysis (Ho, Ruehli and Brennan, IEEE Trans. CAS-22 (1975) 504-509) in another order
of arithmetic.

Islands settle themselves: the node of an island that is eliminated last has no neighbour left and is its reference.
Sources' tails come last, so that is where an island with a source has its 0 V.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass

from subbase.circuit.netlist import Branch, Coil, Contact, Netlist, Node, Source, Switch, Tag
from subbase.errors import FloatingNodes, NoSolution

NO_TAGS: frozenset[Tag] = frozenset()


@dataclass(frozen=True, slots=True)
class Solution:
    """Node voltages of one switch state.

    Each galvanic island has its own reference: the tail of its first source. Floating nodes have no path to any source;
    they stand at 0 V against their own island's reference and nothing can be said of them against others.
    """

    netlist: Netlist
    volts: Sequence[complex]
    """Of every node against its island's reference, in the order of ``netlist.nodes()`` [V rms]."""
    reference: Sequence[int]
    """Position of the reference node of each node's island."""
    operated: Set[Tag]
    coils_in: Set[Tag]

    @property
    def node_v(self) -> dict[Node, complex]:
        """Voltage of every node by name [V rms]."""
        return dict(zip(self.netlist.index, self.volts, strict=True))

    @property
    def island_of(self) -> dict[Node, Node]:
        """The reference node of each node's island."""
        nodes = self.netlist.nodes()
        return {node: nodes[self.reference[i]] for node, i in self.netlist.index.items()}

    @property
    def floating(self) -> frozenset[Node]:
        """Nodes with no path to any source."""
        index = self.netlist.index
        anchored = {self.reference[index[source.tail]] for source in self.netlist.of(Source)}
        return frozenset(node for node, i in index.items() if self.reference[i] not in anchored)

    def between(self, a: Node, b: Node) -> complex | None:
        """Return the voltage of ``a`` above ``b`` [V rms], or None when no path joins them."""
        i, j = self.netlist.index.get(a, -1), self.netlist.index.get(b, -1)
        if i < 0 or j < 0 or self.reference[i] != self.reference[j]:
            return None
        return self.volts[i] - self.volts[j]

    def across(self, tag: Tag) -> complex:
        """Return the voltage from tail to head of a branch [V rms]; 0 where nothing defines it."""
        branch = self.netlist.by_tag[tag]
        return self.between(branch.tail, branch.head) or 0j

    def current_a(self, tag: Tag) -> complex:
        """Return the current from tail to head [A rms]; for a source, out of its head."""
        branch = self.netlist.by_tag[tag]
        z_ohm = impedance_ohm(branch, self.operated, self.coils_in)
        if z_ohm is None:
            return 0j
        across_v = self.across(tag)
        if isinstance(branch, Source):
            return (across_v + branch.emf_v) / z_ohm
        return across_v / z_ohm

    def va(self, tag: Tag) -> float:
        """Return the apparent power at a branch's terminals [VA]."""
        return abs(self.across(tag)) * abs(self.current_a(tag))


def impedance_ohm(branch: Branch, operated: Set[Tag], coils_in: Set[Tag]) -> complex | None:
    """Return the impedance of a branch in one state [ohm]; None when it does not conduct.

    ``operated`` names the switches that are not in their normal position, ``coils_in`` the coils pulled in.
    """
    if isinstance(branch, Coil):
        return branch.z_in_ohm if branch.tag in coils_in else branch.z_out_ohm
    if isinstance(branch, Switch | Contact):
        acted = branch.tag in operated if isinstance(branch, Switch) else not coils_in.isdisjoint(branch.coils)
        return branch.r_closed_ohm if acted != branch.normally_closed else branch.z_open_ohm
    return branch.z_ohm


def branch_impedances(netlist: Netlist, operated: Set[Tag], coils_in: Set[Tag]) -> Iterator[tuple[Branch, complex]]:
    """Iterate over the branches that conduct, each with its impedance [ohm] in this state."""
    for branch in netlist.branches:
        z_ohm = impedance_ohm(branch, operated, coils_in)
        if z_ohm is not None:
            yield branch, z_ohm


def solve(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> Solution:
    """Return the node voltages of one switch state.

    Parameters
    ----------
    operated
        Tags of switches that are not in their normal position.
    coils_in
        Tags of coils that are pulled in; their contacts act and their sealed impedance counts.
    """
    rows = [row.copy() for row in netlist.fixed_rows]
    injected = list(netlist.fixed_injected)
    for branch, (tail, head) in netlist.varying:
        z_ohm = impedance_ohm(branch, operated, coils_in)
        if z_ohm is not None:
            rows[tail][head] = rows[head][tail] = rows[tail].get(head, 0j) + 1.0 / z_ohm
    volts, reference = _eliminate(rows, injected, netlist.elimination)
    return Solution(netlist, volts, reference, operated, coils_in)


def require_anchored(solution: Solution) -> Solution:
    """Return the solution unchanged.

    Raises
    ------
    FloatingNodes
        When some node has no path to a source.
    """
    if solution.floating:
        raise FloatingNodes(tuple(sorted(solution.floating)))
    return solution


def _eliminate(
    rows: list[dict[int, complex]], injected: list[complex], order: tuple[int, ...]
) -> tuple[list[complex], list[int]]:
    """Return (voltage, reference of its island) of every node; works on its arguments in place."""
    totals = [0j] * len(rows)
    for node in order:
        row = rows[node]
        if not row:
            continue
        total = sum(row.values())
        if total == 0:
            raise NoSolution("Inductance and capacitance cancel exactly at a node, so its voltage has no bound.")
        totals[node] = total
        passed_on = injected[node] / total
        neighbours = list(row.items())
        for i, (a, y_a) in enumerate(neighbours):
            row_a = rows[a]
            del row_a[node]
            injected[a] += y_a * passed_on
            share = y_a / total
            for b, y_b in neighbours[:i]:
                row_a[b] = rows[b][a] = row_a.get(b, 0j) + share * y_b
    volts = [0j] * len(rows)
    reference = list(range(len(rows)))
    for node in reversed(order):
        row = rows[node]
        if row:
            injected_a = injected[node]
            for neighbour, y in row.items():
                injected_a += y * volts[neighbour]
            volts[node] = injected_a / totals[node]
            reference[node] = reference[neighbour]
    return volts, reference
