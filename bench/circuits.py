"""The circuit that is measured: one house's control wiring, 40 nodes."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch
from subbase.circuit.netlist import Branch

CALLS = 11
LEAKAGE_OHM = 1e7


def control_circuit(*, leaky: bool = False) -> Netlist:
    """Return a supply, a control at the wall and eleven calls, each with a coil whose contact feeds a load.

    ``leaky`` gives every open contact 10 Mohm, so that a simulator without switches can change it as a resistor.
    """
    return Netlist(tuple(_branches(LEAKAGE_OHM if leaky else None)))


def _branches(open_ohm: float | None) -> Iterator[Branch]:
    yield Source("transformer", "C", "X", 27.0, 1.8, rated_va=40.0)
    yield Impedance("fuse", "X", "R", 0.02, fuse_a=3.0)
    yield Impedance("conductor R", "R", "wall R", 0.63)
    yield Impedance("conductor C", "C", "wall C", 0.63)
    yield Impedance("control", "wall R", "wall C", 290.0 + 40.0j)
    yield Switch("limit", "R", "after limit", normally_closed=True, z_open_ohm=open_ohm)
    yield Impedance("spare conductor", "wall spare", "wall C", 0.63)
    for i in range(CALLS):
        yield Switch(f"call {i}", "wall R", f"wall {i}", z_open_ohm=open_ohm)
        yield Impedance(f"conductor {i}", f"wall {i}", f"landing {i}", 0.63)
        yield Coil(f"coil {i}", f"landing {i}", "C", 25.0 + 40.0j, 60.0 + 95.0j, 18.0, 9.0)
        feed = "after limit" if i % 3 == 0 else "R"
        yield Contact(f"contact {i}", feed, f"load {i}", (f"coil {i}",), i % 4 == 3, z_open_ohm=open_ohm)
        yield Impedance(f"load {i}", f"load {i}", "C", 110.0 + 70.0j)
