"""What a meter on its diode range shows where a rectifier sits in the path.

The meter drives a small direct current and shows the voltage that it takes. Diodes are the straight lines of ``diodes``,
so the circuit is linear once it is known which conduct; that is found by Murty's least-index method, which ends for every
network of resistances and such diodes (K. G. Murty's least-index principal pivoting for P-matrices, 1974; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Set
from dataclasses import dataclass

from subbase.circuit.diodes import Diode, DiodeCircuit
from subbase.circuit.netlist import Branch, Impedance, Netlist, Node, Source, Tag
from subbase.circuit.solve import solve

TEST_V = 3.0
"""Voltage of the meter's leads with nothing between them (common practice, no source)."""
TEST_OHM = 2200.0
"""Behind it, so that about a milliampere flows through a good diode (common practice, no source)."""
MOST_V = 2.0
"""Above this a meter shows OL on its diode range (common practice, no source)."""
METER = "meter on its diode range"


@dataclass(frozen=True, slots=True)
class DiodeReading:
    """What the display shows."""

    volts: float
    """Infinite when the meter shows OL."""

    @property
    def words(self) -> str:
        """Return the display: volts with three digits after the point, or OL."""
        return "OL" if math.isinf(self.volts) else f"{self.volts:.3f} V"


def diode_seen(circuit: DiodeCircuit, red: Node, black: Node) -> DiodeReading:
    """Return what the diode range shows with the red lead on one node and the black on another, supplies locked out.

    A locked-out supply is its winding. Below 1 V or so even a closed contact reads like a wire, so whatever lies in
    parallel with a diode pulls the reading down: 0.000 V beside a coil says nothing against the diode.

    Raises
    ------
    ValueError
        When a node is not in the circuit.
    """
    missing = sorted({red, black} - set(circuit.nodes()))
    if missing:
        raise ValueError(f"There is no node {', '.join(missing)} in this circuit.")
    diodes = [branch for branch in circuit.branches if isinstance(branch, Diode)]
    conducting: frozenset[Tag] = frozenset()
    while True:
        solution = solve(Netlist(tuple(_branches(circuit, conducting, red, black))))
        wrong = next(
            (d for d in diodes if (_forward(solution.between(d.tail, d.head)) > d.forward_v) != (d.tag in conducting)),
            None,
        )
        if wrong is None:
            break
        conducting ^= {wrong.tag}
    volts = _forward(solution.between(red, black))
    return DiodeReading(volts if volts <= MOST_V else math.inf)


def _forward(volts: complex | None) -> float:
    return 0.0 if volts is None else complex(volts).real


def _branches(circuit: DiodeCircuit, conducting: Set[Tag], red: Node, black: Node) -> Iterator[Branch]:
    yield Source(METER, black, red, TEST_V, TEST_OHM)
    for branch in circuit.branches:
        if not isinstance(branch, Diode):
            yield Impedance(branch.tag, branch.tail, branch.head, branch.r_ohm)
        elif branch.tag in conducting:
            # The line i = forward/off + (v - forward)/on, as a source behind the on-resistance.
            knee_v = branch.forward_v * (1.0 - branch.on_ohm / branch.off_ohm)
            yield Source(branch.tag, branch.head, branch.tail, knee_v, branch.on_ohm)
        else:
            yield Impedance(branch.tag, branch.tail, branch.head, branch.off_ohm)
