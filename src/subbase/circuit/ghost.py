"""Ghost voltages: what conductors of one cable give to each other through the capacitance between them.

An open conductor beside live ones shows a few volts or nearly all of what they carry, the more the longer they run
together, on a meter that takes next to no current; on a meter of low impedance it shows millivolts (NEMA Engineering
Bulletin 88, read in a reproduction). So a digital meter alone cannot tell a live conductor from a floating one.

The capacitance is lumped between the ends that are named: the ohms along a conductor are nothing against its megohms.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from subbase.circuit.netlist import Impedance, Netlist, Node
from subbase.circuit.spice import FREQUENCY_HZ

LEAST_F_PER_M, MOST_F_PER_M = 60e-12, 130e-12
"""Between two conductors of one cable of 18 AWG, unshielded, insulated with PVC (from memory)."""


@dataclass(frozen=True, slots=True)
class Together:
    """Two conductors, each named by a node on it, that run side by side for some length."""

    a: Node
    b: Node
    length_m: float

    def __post_init__(self) -> None:
        if not 0.0 < self.length_m < math.inf:
            raise ValueError(f"{self.a} and {self.b} run together for {self.length_m:g} m; give a length above 0.")


def together_in_cable(conductors: Sequence[Node], length_m: float) -> tuple[Together, ...]:
    """Return every two conductors of a cable; those that the circuit joins into one node are left out.

    Every pair is taken to run as close as every other (judgement; in a cable of many conductors some lie further apart).
    """
    return tuple(Together(a, b, length_m) for a, b in combinations(dict.fromkeys(conductors), 2))


def capacitor_ohm(capacitance_f: float, frequency_hz: float = FREQUENCY_HZ) -> complex:
    """Return 1/(jωC) [ohm]."""
    return -1j / (2.0 * math.pi * frequency_hz * capacitance_f)


def with_capacitance(netlist: Netlist, runs: Iterable[Together], *, f_per_m: float = LEAST_F_PER_M) -> Netlist:
    """Return the netlist with a capacitor between every two conductors that run together.

    Parameters
    ----------
    runs
        Nodes that the netlist lacks become floating conductors.
    f_per_m
        Capacitance between two conductors [F/m], ``LEAST_F_PER_M`` to ``MOST_F_PER_M`` for the usual cable.

    Raises
    ------
    ValueError
        When the capacitance is not above 0.
    """
    if not 0.0 < f_per_m < math.inf:
        raise ValueError(f"A capacitance of {f_per_m:g} F/m was given; it must be above 0.")
    return netlist.with_branches(_capacitors(runs, f_per_m))


def _capacitors(runs: Iterable[Together], f_per_m: float) -> Iterator[Impedance]:
    for number, run in enumerate(runs, start=1):
        tag = f"capacitance {number}: {run.a} to {run.b}"
        yield Impedance(tag, run.a, run.b, capacitor_ohm(f_per_m * run.length_m))
