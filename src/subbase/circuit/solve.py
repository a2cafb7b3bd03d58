"""The reference solver: nodal analysis of one switch state, with the standard library only.

Every branch has an impedance that is not zero, so sources become Norton equivalents and the network is a complex
symmetric nodal matrix. Passive networks may be eliminated down the diagonal without exchanging rows (a matrix whose
real part is positive definite keeps small growth: Higham, Accuracy and Stability of Numerical Algorithms, 2nd ed.,
section 10.4; from memory), so nodes are eliminated in order of least degree, which for near-tree circuits costs
little more than reading them.

Nodal analysis: Ho, Ruehli and Brennan, IEEE Trans. CAS-22 (1975) 504-509, without the extra currents that ideal
sources would need.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass

from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Switch, Tag
from subbase.errors import FloatingNodes

NO_TAGS: frozenset[Tag] = frozenset()


@dataclass(frozen=True, slots=True)
class Solution:
    """Node voltages of one switch state.

    Each galvanic island has its own reference: the tail of its first source. Nodes in ``floating`` have no path to
    any source; they stand at 0 V against their own island's reference and nothing can be said of them against others.
    """

    netlist: Netlist
    node_v: Mapping[Node, complex]
    island_of: Mapping[Node, Node]
    """The reference node of each node's island."""
    floating: frozenset[Node]
    conducting: Mapping[Tag, complex]
    """Impedance [ohm] of every branch that conducts in this state."""

    def between(self, a: Node, b: Node) -> complex | None:
        """Return the voltage of ``a`` above ``b`` [V rms], or None when no path joins them."""
        if a not in self.island_of or b not in self.island_of or self.island_of[a] != self.island_of[b]:
            return None
        return self.node_v[a] - self.node_v[b]

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
    """Iterate over the branches that conduct, each with its impedance [ohm] in this state.

    ``operated`` names the switches that are not in their normal position, ``coils_in`` the coils pulled in.
    """
    for branch in netlist.branches:
        match branch:
            case Source() | Impedance():
                yield branch, branch.z_ohm
            case Coil():
                yield branch, branch.z_in_ohm if branch.tag in coils_in else branch.z_out_ohm
            case Switch() | Contact():
                if isinstance(branch, Switch):
                    acted = branch.tag in operated
                else:
                    acted = any(coil in coils_in for coil in branch.coils)
                if acted != branch.normally_closed:
                    yield branch, branch.r_closed_ohm
                elif branch.z_open_ohm is not None:
                    yield branch, branch.z_open_ohm


def solve(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> Solution:
    """Return the node voltages of one switch state.

    Parameters
    ----------
    operated
        Tags of switches that are not in their normal position.
    coils_in
        Tags of coils that are pulled in; their contacts act and their sealed impedance counts.
    """
    live = list(branch_impedances(netlist, operated, coils_in))
    island_of, floating = _islands(netlist, [branch for branch, _ in live])
    rows: dict[Node, dict[Node, complex]] = {node: {} for node in island_of}
    injected: dict[Node, complex] = dict.fromkeys(island_of, 0j)
    diagonal: dict[Node, complex] = dict.fromkeys(island_of, 0j)
    for branch, z_ohm in live:
        y = 1.0 / z_ohm
        tail, head = branch.tail, branch.head
        diagonal[tail] += y
        diagonal[head] += y
        rows[tail][head] = rows[tail].get(head, 0j) - y
        rows[head][tail] = rows[head].get(tail, 0j) - y
        if isinstance(branch, Source):
            injected[head] += branch.emf_v * y
            injected[tail] -= branch.emf_v * y
    node_v = _eliminate(rows, diagonal, injected, references=set(island_of.values()))
    return Solution(netlist, node_v, island_of, floating, {branch.tag: z for branch, z in live})


def floating_nodes(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> frozenset[Node]:
    """Return the nodes with no path to any source in this state."""
    live = [branch for branch, _ in branch_impedances(netlist, operated, coils_in)]
    return _islands(netlist, live)[1]


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


def _islands(netlist: Netlist, live: list[Branch]) -> tuple[dict[Node, Node], frozenset[Node]]:
    """Return (reference of every node's island, nodes of islands without a source)."""
    parent = {node: node for node in netlist.nodes()}

    def root(node: Node) -> Node:
        while parent[node] != node:
            parent[node] = parent[parent[node]]
            node = parent[node]
        return node

    for branch in live:
        parent[root(branch.tail)] = root(branch.head)
    reference: dict[Node, Node] = {}
    for source in netlist.of(Source):
        reference.setdefault(root(source.tail), source.tail)
    anchored = set(reference)
    for node in parent:
        reference.setdefault(root(node), node)
    island_of = {node: reference[root(node)] for node in parent}
    return island_of, frozenset(node for node in parent if root(node) not in anchored)


def _eliminate(
    rows: dict[Node, dict[Node, complex]],
    diagonal: dict[Node, complex],
    injected: dict[Node, complex],
    references: set[Node],
) -> dict[Node, complex]:
    """Solve the nodal equations in place, least degree first, with every reference at 0 V."""
    node_v: dict[Node, complex] = dict.fromkeys(references, 0j)
    for reference in references:
        for neighbour in rows.pop(reference):
            del rows[neighbour][reference]
    buckets: dict[int, dict[Node, None]] = {}
    for node, row in rows.items():
        buckets.setdefault(len(row), {})[node] = None
    order: list[tuple[Node, dict[Node, complex]]] = []
    while rows:
        degree = min(d for d, bucket in buckets.items() if bucket)
        node = next(iter(buckets[degree]))
        del buckets[degree][node]
        row = rows.pop(node)
        pivot = diagonal[node]
        for a, y_a in row.items():
            factor = y_a / pivot
            row_a = rows[a]
            before = len(row_a)
            del row_a[node]
            diagonal[a] -= factor * y_a
            injected[a] -= factor * injected[node]
            for b, y_b in row.items():
                if b != a:
                    row_a[b] = row_a.get(b, 0j) - factor * y_b
            if len(row_a) != before:
                del buckets[before][a]
                buckets.setdefault(len(row_a), {})[a] = None
        order.append((node, row))
    for node, row in reversed(order):
        total = injected[node]
        for neighbour, y in row.items():
            total -= y * node_v[neighbour]
        node_v[node] = total / diagonal[node]
    return node_v
