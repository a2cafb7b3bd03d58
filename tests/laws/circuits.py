"""Random circuits that look like control wiring: supplies, long conductors, loads to common, relays, loose ends."""

from __future__ import annotations

import math
from collections.abc import Iterator
from random import Random

from hypothesis import settings
from hypothesis import strategies as st

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch
from subbase.circuit.netlist import Branch, Node, Tag

LAWS = settings(max_examples=100, deadline=None, derandomize=True)


def random_circuit(rng: Random, *, resistive: bool = False) -> Netlist:
    """Return a circuit of some 10 to 40 nodes: near a tree, with one or two supplies that contacts may join."""
    return Netlist(tuple(_Growth(rng, resistive).branches()))


def random_state(rng: Random, netlist: Netlist) -> tuple[set[Tag], set[Tag]]:
    """Return (operated switches, coils that are in)."""
    operated = {switch.tag for switch in netlist.of(Switch) if rng.random() < 0.5}
    return operated, {coil.tag for coil in netlist.of(Coil) if rng.random() < 0.5}


circuits = st.builds(random_circuit, st.randoms(use_true_random=False))
resistive_circuits = st.builds(lambda rng: random_circuit(rng, resistive=True), st.randoms(use_true_random=False))
seeds = st.integers(0, 2**32 - 1)


class _Growth:
    def __init__(self, rng: Random, resistive: bool) -> None:
        self.rng = rng
        self.resistive = resistive
        self.commons: list[Node] = []
        self.nodes: list[Node] = []
        self.pending_contacts: list[tuple[Tag, Node, Node]] = []
        self.coils: list[Tag] = []
        self.count = 0

    def branches(self) -> Iterator[Branch]:
        for supply in range(self.rng.choice((1, 1, 2))):
            yield from self.supply(supply)
        for _ in range(self.rng.randint(3, 16)):
            yield from self.stub()
        for _ in range(self.rng.randint(2, 10)):
            yield from self.closing()
        if self.rng.random() < 0.3:
            yield Impedance("loose", "loose:a", "loose:b", self.ohm(0.1, 2.0))
        for tag, tail, head in self.pending_contacts:
            yield self.contact(tag, tail, head)

    def supply(self, number: int) -> Iterator[Branch]:
        common, hot, fused = f"C{number}", f"X{number}", f"R{number}"
        emf_v = self.rng.uniform(25.0, 29.0) * (1 if self.resistive or self.rng.random() < 0.5 else 1j)
        yield Source(f"supply{number}", common, hot, emf_v, self.ohm(0.4, 4.0))
        yield Impedance(f"fuse{number}", hot, fused, 0.02, fuse_a=3.0)
        self.commons.append(common)
        self.nodes += [common, fused]

    def stub(self) -> Iterator[Branch]:
        """Grow a new node on an old one."""
        node = f"n{len(self.nodes)}"
        yield from self.join(self.rng.choice(self.nodes), node, ("conductor", "conductor", "switch", "contact", "coil"))
        self.nodes.append(node)

    def closing(self) -> Iterator[Branch]:
        """Join two old nodes, most often through a load to common."""
        tail = self.rng.choice(self.nodes)
        head = self.rng.choice(self.commons if self.rng.random() < 0.7 else self.nodes)
        if tail != head:
            kinds = ("load", "coil", "coil") if head in self.commons else ("load", "contact", "switch", "coil")
            yield from self.join(tail, head, kinds)

    def join(self, tail: Node, head: Node, kinds: tuple[str, ...]) -> Iterator[Branch]:
        self.count += 1
        kind = self.rng.choice(kinds)
        tag = f"{kind}{self.count}"
        match kind:
            case "conductor":
                yield Impedance(tag, tail, head, self.rng.uniform(0.05, 2.0))
            case "load":
                yield Impedance(tag, tail, head, self.ohm(20.0, 900.0))
            case "switch":
                yield Switch(tag, tail, head, self.rng.random() < 0.3, z_open_ohm=self.leakage())
            case "contact":
                self.pending_contacts.append((tag, tail, head))
            case "coil":
                self.coils.append(tag)
                yield self.coil(tag, tail, head)

    def coil(self, tag: Tag, tail: Node, head: Node) -> Coil:
        sealed = self.ohm(50.0, 400.0)
        return Coil(
            tag,
            tail,
            head,
            z_out_ohm=sealed * self.rng.uniform(0.3, 1.0),
            z_in_ohm=sealed,
            pull_in_v=self.rng.uniform(15.0, 20.0),
            drop_out_v=self.rng.uniform(5.0, 14.0),
            delay_s=self.rng.choice((0.0, 0.0, 0.0, 0.02, 30.0)),
        )

    def contact(self, tag: Tag, tail: Node, head: Node) -> Contact | Switch:
        closed_when_idle, leakage = self.rng.random() < 0.3, self.leakage()
        if not self.coils:
            return Switch(tag, tail, head, closed_when_idle, z_open_ohm=leakage)
        workers = tuple(sorted({self.rng.choice(self.coils) for _ in range(self.rng.choice((1, 1, 2)))}))
        return Contact(tag, tail, head, workers, closed_when_idle, z_open_ohm=leakage)

    def leakage(self) -> complex | None:
        if self.rng.random() < 0.7:
            return None
        return self.ohm(5e3, 2e5)

    def ohm(self, low: float, high: float) -> complex:
        """Return an impedance of a modulus that lies between two limits; inductive or, rarely, capacitive."""
        modulus = low * float((high / low) ** self.rng.random())
        if self.resistive or self.rng.random() < 0.3:
            return modulus
        power_factor = self.rng.uniform(0.3, 1.0)
        reactive = math.sqrt(1.0 - power_factor**2) * (-1 if self.rng.random() < 0.1 else 1)
        return modulus * complex(power_factor, reactive)
