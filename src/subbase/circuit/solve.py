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

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass

from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Switch, Tag
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
    conducting: Mapping[Tag, complex]
    """Impedance [ohm] of every branch that conducts in this state."""

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
        z_ohm = self.conducting.get(tag)
        if z_ohm is None:
            return 0j
        branch = self.netlist.by_tag[tag]
        across_v = self.across(tag)
        if isinstance(branch, Source):
            return (across_v + branch.emf_v) / z_ohm
        return across_v / z_ohm

    def va(self, tag: Tag) -> float:
        """Return the apparent power at a branch's terminals [VA]."""
        return abs(self.across(tag)) * abs(self.current_a(tag))


def branch_impedances(netlist: Netlist, operated: Set[Tag], coils_in: Set[Tag]) -> Iterator[tuple[Branch, complex]]:
    """Iterate over the branches that conduct, each with its impedance [ohm] in this state."""
    return ((branch, z_ohm) for branch, _, _, z_ohm in _live(netlist, operated, coils_in))


def _live(netlist: Netlist, operated: Set[Tag], coils_in: Set[Tag]) -> Iterator[tuple[Branch, int, int, complex]]:
    """Iterate over the branches that conduct: (branch, tail, head, impedance [ohm] in this state).

    ``operated`` names the switches that are not in their normal position, ``coils_in`` the coils pulled in.
    """
    for branch, (tail, head) in zip(netlist.branches, netlist.ends, strict=True):
        match branch:
            case Source() | Impedance():
                yield branch, tail, head, branch.z_ohm
            case Coil():
                yield branch, tail, head, branch.z_in_ohm if branch.tag in coils_in else branch.z_out_ohm
            case Switch() | Contact():
                if isinstance(branch, Switch):
                    acted = branch.tag in operated
                else:
                    acted = any(coil in coils_in for coil in branch.coils)
                if acted != branch.normally_closed:
                    yield branch, tail, head, branch.r_closed_ohm
                elif branch.z_open_ohm is not None:
                    yield branch, tail, head, branch.z_open_ohm


def solve(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> Solution:
    """Return the node voltages of one switch state.

    Parameters
    ----------
    operated
        Tags of switches that are not in their normal position.
    coils_in
        Tags of coils that are pulled in; their contacts act and their sealed impedance counts.
    """
    rows: list[dict[int, complex]] = [{} for _ in netlist.index]
    injected = [0j] * len(rows)
    conducting: dict[Tag, complex] = {}
    for branch, tail, head, z_ohm in _live(netlist, operated, coils_in):
        conducting[branch.tag] = z_ohm
        y = 1.0 / z_ohm
        rows[tail][head] = rows[head][tail] = rows[tail].get(head, 0j) + y
        if isinstance(branch, Source):
            injected[head] += branch.emf_v * y
            injected[tail] -= branch.emf_v * y
    volts, reference = _eliminate(rows, injected, netlist.elimination)
    return Solution(netlist, volts, reference, conducting)


def floating_nodes(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> frozenset[Node]:
    """Return the nodes with no path to any source in this state."""
    return solve(netlist, operated=operated, coils_in=coils_in).floating


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
    for node in order:
        row = rows[node]
        if not row:
            continue
        total = sum(row.values())
        if total == 0:
            raise NoSolution("Inductance and capacitance cancel exactly at a node, so its voltage has no bound.")
        passed_on = injected[node] / total
        for a, y_a in row.items():
            row_a = rows[a]
            del row_a[node]
            injected[a] += y_a * passed_on
        neighbours = list(row.items())
        for i, (a, y_a) in enumerate(neighbours):
            share = y_a / total
            row_a = rows[a]
            for b, y_b in neighbours[i + 1 :]:
                row_a[b] = rows[b][a] = row_a.get(b, 0j) + share * y_b
    volts = [0j] * len(rows)
    reference = list(range(len(rows)))
    for node in reversed(order):
        row = rows[node]
        if row:
            reference[node] = reference[next(iter(row))]
            volts[node] = (injected[node] + sum(y * volts[a] for a, y in row.items())) / sum(row.values())
    return volts, reference
