"""A circuit whose conductors are landed otherwise again and again: solved and settled from an elimination that is kept.

It says what ``solve`` and ``settle`` say of the netlist written anew, but for rounding.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from typing import Protocol

from subbase.circuit.kept_elimination import (
    Kept,
    Pair,
    Probed,
    Shape,
    Varying,
    acting_changes,
    probed_ohm,
    varying_branch,
)
from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Tag
from subbase.circuit.solve import NO_TAGS, impedance_ohm
from subbase.errors import Chatter


class AtRest(Protocol):
    """What can be asked of a solved circuit, whichever way it was solved."""

    @property
    def operated(self) -> Set[Tag]:
        """Switches that are not in their normal position."""

    @property
    def coils_in(self) -> Set[Tag]:
        """Coils that are pulled in."""

    def between(self, a: Node, b: Node) -> complex | None:
        """Return the voltage of ``a`` above ``b`` [V rms], or None when no path joins them."""

    def across(self, tag: Tag) -> complex:
        """Return the voltage from tail to head of a branch [V rms]; 0 where nothing defines it."""

    def current_a(self, tag: Tag) -> complex:
        """Return the current from tail to head [A rms]; for a source, out of its head."""


@dataclass(frozen=True, slots=True)
class KeptSolution:
    """One state of a kept circuit; says what ``Solution`` says."""

    circuit: KeptCircuit
    rank: Mapping[Node, int]
    """Every node -> its place in the order of elimination."""
    volts: Sequence[complex]
    """Of every node against its island's reference [V rms]."""
    reference: Sequence[int]
    operated: Set[Tag]
    coils_in: frozenset[Tag]

    def between(self, a: Node, b: Node) -> complex | None:
        """Return the voltage of ``a`` above ``b`` [V rms], or None when no path joins them."""
        rank = self.rank
        i, j = rank.get(a, -1), rank.get(b, -1)
        if i < 0 or j < 0 or self.reference[i] != self.reference[j]:
            return None
        return self.volts[i] - self.volts[j]

    def across(self, tag: Tag) -> complex:
        """Return the voltage from tail to head of a branch [V rms]; 0 where nothing defines it."""
        branch = self.circuit.by_tag[tag]
        return self.between(branch.tail, branch.head) or 0j

    def current_a(self, tag: Tag) -> complex:
        """Return the current from tail to head [A rms]; for a source, out of its head."""
        branch = self.circuit.by_tag[tag]
        z_ohm = impedance_ohm(branch, self.operated, self.coils_in)
        if z_ohm is None:
            return 0j
        across_v = self.across(tag)
        return (across_v + branch.emf_v) / z_ohm if isinstance(branch, Source) else across_v / z_ohm


@dataclass(frozen=True, slots=True, eq=False)
class KeptCircuit:
    """A netlist with its elimination kept; make one with ``kept_circuit``."""

    by_tag: Mapping[Tag, Branch]
    _rest: Kept
    _states: dict[Set[Tag], Kept] = field(default_factory=dict)
    """A memory of what was eliminated before; it changes no result."""
    _settled: dict[Set[Tag], KeptSolution | Chatter] = field(default_factory=dict)
    """The same of what came to rest."""
    _before: KeptCircuit | None = None
    """What it was rewired from."""
    _ohms: dict[tuple[Node, Node], Probed] = field(default_factory=dict)

    @property
    def rank(self) -> Mapping[Node, int]:
        """Every node -> its place in the order of elimination."""
        return self._rest.shape.rank

    def rewired(self, gone: Iterable[Tag], added: Iterable[Impedance]) -> KeptCircuit:
        """Return the circuit with some fixed impedances taken out and then others put in, all between its nodes.

        Raises
        ------
        ValueError
            When what goes is no fixed impedance of the circuit, or what comes does not fit in.
        """
        by_tag = dict(self.by_tag)
        changes: dict[tuple[Pair, Tag], complex | None] = {}
        for tag in gone:
            branch = by_tag.pop(tag, None)
            if not isinstance(branch, Impedance):
                raise ValueError(f"{tag} is no conductor, link or other fixed impedance of this circuit.")
            changes[_pair(self.rank, branch), tag] = None
        for branch in added:
            if branch.tag in by_tag or branch.tail == branch.head or branch.z_ohm == 0:
                raise ValueError(f"{branch.tag} is there already, joins a node to itself, or has no impedance.")
            if not {branch.tail, branch.head} <= self.rank.keys():
                raise ValueError(f"{branch.tag} ends at a node that the circuit has no room for.")
            by_tag[branch.tag] = branch
            changes[_pair(self.rank, branch), branch.tag] = 1.0 / branch.z_ohm
        rest = self._rest.derived((pair, tag, y) for (pair, tag), y in changes.items())
        return KeptCircuit(by_tag, rest, _before=self)

    def ohms(self, a: Node, b: Node) -> float:
        """Return the resistance between two nodes of a dead circuit [ohm], infinite where no path joins them.

        The circuit has impedances alone, all of them resistances. It is found as in ``many_ohms``; where nothing on the
        way between the two differs from the circuit that this one was rewired from, it is the same as there.
        """
        found = self._ohms.get((a, b))
        if found is None:
            if self._before is not None:
                self._before.ohms(a, b)
                before = self._before._ohms[a, b]
                if self._rest.renewed.isdisjoint(before[1]):
                    found = before
            found = found or probed_ohm(self._rest.rows, self.rank.get(a, -1), self.rank.get(b, -1))
            self._ohms[a, b] = found
        return found[0]

    def way(self, a: Node, b: Node) -> frozenset[int]:
        """Return the places in the order of elimination that have a say in the resistance between two nodes."""
        self.ohms(a, b)
        return frozenset(self._ohms[a, b][1])

    def leaves(self, way: frozenset[int]) -> bool:
        """Tell whether nothing on a way differs from the circuit that this one was rewired from."""
        return self._rest.renewed.isdisjoint(way)

    def solve(self, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> KeptSolution:
        """Return the node voltages of one switch state, as ``solve.solve`` does."""
        coils = frozenset(coils_in)
        kept = self._with_operated(operated)
        kept = kept.derived(acting_changes(kept.shape, coils, frozenset()))
        return KeptSolution(self, self.rank, kept.volts(), kept.references(), operated, coils)

    def settle(self, *, operated: Set[Tag] = NO_TAGS) -> KeptSolution:
        """Return the state at rest that follows when switches act and all coils were out, as ``settle.settle`` does.

        Raises
        ------
        Chatter
            When the coils never come to rest.
        """
        found = self._settled.get(operated)
        if found is None:
            try:
                found = self._settle(operated)
            except Chatter as error:
                found = error
            self._settled[operated] = found
        if isinstance(found, Chatter):
            raise Chatter(found.coils)
        return found

    def _with_operated(self, operated: Set[Tag]) -> Kept:
        kept = self._states.get(operated)
        if kept is None:
            varying = self._rest.shape.varying
            moved = [varying[tag] for tag in varying if tag in operated]
            kept = self._rest.derived((switch.pair, switch.tag, switch.acted_s) for switch in moved)
            self._states[operated] = kept
        return kept

    def _settle(self, operated: Set[Tag]) -> KeptSolution:
        kept = self._with_operated(operated)
        coils = kept.shape.coils
        state = frozenset[Tag]()
        history: list[frozenset[Tag]] = []
        volts = kept.volts()
        while state not in history:
            history.append(state)
            wanting = [
                (delay_s, tag)
                for tag, tail, head, pull_in_v, drop_out_v, delay_s in coils
                if (abs(volts[tail] - volts[head]) >= (drop_out_v if tag in state else pull_in_v)) != (tag in state)
            ]
            if not wanting:
                return KeptSolution(self, self.rank, volts, kept.references(), operated, state)
            first_s = min(wanting)[0]
            acting = frozenset([tag for delay_s, tag in wanting if delay_s == first_s])
            # Many coils work no contact and draw the same in and out: nothing is eliminated anew for them.
            if changes := list(acting_changes(kept.shape, state ^ acting, state)):
                kept = kept.derived(changes)
                volts = kept.volts()
            state = state ^ acting
        cycle = history[history.index(state) :]
        raise Chatter(tuple(sorted(frozenset.union(*cycle) - frozenset.intersection(*cycle))))


def kept_circuit(netlist: Netlist, *, room_for: Iterable[Node] = ()) -> KeptCircuit:
    """Return a netlist with its elimination kept.

    Parameters
    ----------
    room_for
        Nodes that it may not have yet, to which ``rewired`` can lead a conductor.

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node.
    """
    nodes = netlist.nodes()
    more = [node for node in dict.fromkeys(room_for) if node not in netlist.index]
    # What has no branch yet will have few, so it goes first; sources' tails stay last, as they are the references.
    rank = {node: i for i, node in enumerate((*more, *(nodes[i] for i in netlist.elimination)))}
    injected = [0j] * len(rank)
    parts: dict[Pair, dict[Tag, complex]] = {}
    own: list[dict[int, complex]] = [{} for _ in rank]
    varying: dict[Tag, Varying] = {}
    for branch in netlist.branches:
        a, b = pair = _pair(rank, branch)
        if isinstance(branch, Source | Impedance):
            y: complex | None = 1.0 / branch.z_ohm
        else:
            acting = varying_branch(pair, branch)
            varying[branch.tag], y = acting, acting.rest_s
        if isinstance(branch, Source):
            injected[rank[branch.head]] += branch.emf_v / branch.z_ohm
            injected[rank[branch.tail]] -= branch.emf_v / branch.z_ohm
        if y is not None:
            parts.setdefault(pair, {})[branch.tag] = y
            own[a][b] = sum(parts[pair].values())
    coils = tuple(
        (coil.tag, rank[coil.tail], rank[coil.head], coil.pull_in_v, coil.drop_out_v, coil.delay_s)
        for coil in netlist.of(Coil)
    )
    contacts = {
        coil.tag: tuple(varying[contact.tag] for contact in netlist.of(Contact) if coil.tag in contact.coils)
        for coil in netlist.of(Coil)
    }
    shape = Shape(rank, injected, coils, varying, contacts)
    kept = Kept(shape, parts, own, [{} for _ in rank], [None] * len(rank), set())
    kept.eliminate(list(range(len(rank))))
    return KeptCircuit(dict(netlist.by_tag), kept)


def _pair(rank: Mapping[Node, int], branch: Branch) -> Pair:
    a, b = rank[branch.tail], rank[branch.head]
    return (a, b) if a < b else (b, a)


__all__ = ["AtRest", "KeptCircuit", "KeptSolution", "kept_circuit"]
