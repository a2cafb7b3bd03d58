"""The netlist: five kinds of two-terminal branch between named nodes, and nothing else.

Voltages and currents are rms phasors at supply frequency. Current is positive from ``tail`` to ``head``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import TypeVar, cast

from subbase.circuit.order import least_degree_order

Node = str
Tag = str


@dataclass(frozen=True, slots=True)
class Source:
    """A transformer secondary as a Thevenin source; ``head`` is ``emf_v`` above ``tail`` on no load."""

    tag: Tag
    tail: Node
    head: Node
    emf_v: complex
    z_ohm: complex
    rated_va: float = 0.0

    @staticmethod
    def thevenin(*, rated_va: float, rated_v: float, regulation: float) -> tuple[float, float]:
        """Return (no-load volts [V], series resistance [ohm]) of a transformer from its nameplate.

        ``regulation`` is (no-load − full-load)/full-load volts with a resistive load at rated VA. Treating it as
        resistive is usual for transformers under 100 VA, where winding resistance outweighs leakage reactance
        (common practice, no source).
        """
        no_load_v = rated_v * (1.0 + regulation)
        return no_load_v, (no_load_v - rated_v) / (rated_va / rated_v)


@dataclass(frozen=True, slots=True)
class Impedance:
    """A fixed impedance: a conductor, a fuse, a board input, a control's own draw, a meter."""

    tag: Tag
    tail: Node
    head: Node
    z_ohm: complex
    fuse_a: float = 0.0
    """Rating when this branch is a fuse [A]; 0 when it is not."""


@dataclass(frozen=True, slots=True)
class Coil:
    """A load that acts when its voltage is high enough, with hysteresis.

    Out, it shows ``z_out_ohm`` (inrush) and pulls in at ``pull_in_v``; in, it shows ``z_in_ohm`` (sealed) and drops
    out below ``drop_out_v``.
    """

    tag: Tag
    tail: Node
    head: Node
    z_out_ohm: complex
    z_in_ohm: complex
    pull_in_v: float
    drop_out_v: float
    delay_s: float = 0.0
    """Between its voltage and its action; coils with a shorter delay act first."""


@dataclass(frozen=True, slots=True)
class Contact:
    """A contact worked by coils: with any of ``coils`` in, it is closed (or open, when ``normally_closed``)."""

    tag: Tag
    tail: Node
    head: Node
    coils: tuple[Tag, ...]
    normally_closed: bool = False
    r_closed_ohm: float = 0.02
    z_open_ohm: complex | None = None
    """Off-state leakage; None when open means open."""


@dataclass(frozen=True, slots=True)
class Switch:
    """A contact that the caller closes: a control's output, a limit, a float, a condition such as defrost."""

    tag: Tag
    tail: Node
    head: Node
    normally_closed: bool = False
    r_closed_ohm: float = 0.02
    z_open_ohm: complex | None = None


Branch = Source | Impedance | Coil | Contact | Switch
B = TypeVar("B", Source, Impedance, Coil, Contact, Switch)


@dataclass(frozen=True, slots=True)
class Netlist:
    """Branches between named nodes; tags are unique and contacts name coils that exist.

    Raises
    ------
    ValueError
        On a repeated tag, a contact of an unknown coil, a zero impedance or a branch from a node to itself.
    """

    branches: tuple[Branch, ...]
    by_tag: dict[Tag, Branch] = field(init=False, repr=False, compare=False)
    index: dict[Node, int] = field(init=False, repr=False, compare=False)
    """Node -> its position in ``nodes()``."""
    ends: tuple[tuple[int, int], ...] = field(init=False, repr=False, compare=False)
    """(tail, head) of each branch as positions in ``nodes()``."""
    varying: tuple[tuple[Branch, tuple[int, int]], ...] = field(init=False, repr=False, compare=False)
    """Branches whose impedance depends on the state, each with its ends."""
    fixed_rows: tuple[dict[int, complex], ...] = field(init=False, repr=False, compare=False)
    """For each node, admittance [S] to each neighbour by the branches that no state changes; never to be written to."""
    fixed_injected: tuple[complex, ...] = field(init=False, repr=False, compare=False)
    """Current [A] that sources inject into each node, as Norton equivalents."""
    _by_kind: dict[type, list[Branch]] = field(init=False, repr=False, compare=False)
    elimination: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """Every node as a position in ``nodes()``: fewest neighbours first, tails of sources last, the first source's very last."""

    def __post_init__(self) -> None:
        repeated = [tag for tag, count in Counter(b.tag for b in self.branches).items() if count > 1]
        if repeated:
            raise ValueError(f"Tags must be unique; repeated: {', '.join(sorted(repeated))}.")
        object.__setattr__(self, "by_tag", {branch.tag: branch for branch in self.branches})
        by_kind: dict[type, list[Branch]] = {}
        for branch in self.branches:
            by_kind.setdefault(type(branch), []).append(branch)
        object.__setattr__(self, "_by_kind", by_kind)
        coils = {branch.tag for branch in self.branches if isinstance(branch, Coil)}
        for branch in self.branches:
            if branch.tail == branch.head:
                raise ValueError(f"{branch.tag} joins node {branch.tail} to itself.")
            if isinstance(branch, Contact) and not set(branch.coils) <= coils:
                raise ValueError(f"{branch.tag} is worked by coils that do not exist: {branch.coils}.")
            if any(z == 0 for z in _impedances(branch)):
                raise ValueError(f"{branch.tag} has zero impedance; give it the little that it really has.")
        named = dict.fromkeys(node for branch in self.branches for node in (branch.tail, branch.head))
        index = {node: position for position, node in enumerate(named)}
        object.__setattr__(self, "index", index)
        ends = tuple((index[branch.tail], index[branch.head]) for branch in self.branches)
        tails = dict.fromkeys(index[source.tail] for source in self.of(Source))
        object.__setattr__(self, "ends", ends)
        self._keep_fixed(len(index), ends)
        object.__setattr__(self, "elimination", least_degree_order(len(index), ends, tuple(reversed(tails))))

    def _keep_fixed(self, node_count: int, ends: tuple[tuple[int, int], ...]) -> None:
        """Stamp what no state changes once, so that each solution begins from a copy."""
        rows: list[dict[int, complex]] = [{} for _ in range(node_count)]
        injected = [0j] * node_count
        for branch, (tail, head) in zip(self.branches, ends, strict=True):
            if isinstance(branch, Source | Impedance):
                rows[tail][head] = rows[head][tail] = rows[tail].get(head, 0j) + 1.0 / branch.z_ohm
            if isinstance(branch, Source):
                injected[head] += branch.emf_v / branch.z_ohm
                injected[tail] -= branch.emf_v / branch.z_ohm
        varying = tuple(
            (branch, pair)
            for branch, pair in zip(self.branches, ends, strict=True)
            if not isinstance(branch, Source | Impedance)
        )
        object.__setattr__(self, "varying", varying)
        object.__setattr__(self, "fixed_rows", tuple(rows))
        object.__setattr__(self, "fixed_injected", tuple(injected))

    def of(self, kind: type[B]) -> Iterator[B]:
        """Iterate over the branches of one kind, in netlist order."""
        return iter(cast("list[B]", self._by_kind.get(kind, [])))

    def nodes(self) -> tuple[Node, ...]:
        """Return every node once, in order of first appearance."""
        return tuple(self.index)

    def with_branches(self, added: Iterable[Branch]) -> Netlist:
        """Return a netlist with more branches."""
        return Netlist((*self.branches, *added))


def _impedances(branch: Branch) -> tuple[complex, ...]:
    match branch:
        case Source() | Impedance():
            return (branch.z_ohm,)
        case Coil():
            return (branch.z_out_ohm, branch.z_in_ohm)
        case Contact() | Switch():
            return (branch.r_closed_ohm,)
