"""How far a small transformer droops under the loads of the trade, against ngspice."""

from __future__ import annotations

import math

import pytest

from subbase.circuit import Impedance, Netlist, Source, solve
from subbase.circuit.spice import spice_deck
from tests.outside.spice_runner import node_voltages


@pytest.mark.outside(
    source="ngspice 39, a circuit simulator grown from Berkeley SPICE 3: a 24 V, 40 VA transformer of 12.5 % "
    "resistive regulation as 27.0 V behind 1.80 ohm.",
    how="ran ngspice",
)
@pytest.mark.parametrize(("load_va", "power_factor"), [(8.0, 0.4), (45.0, 0.7), (60.0, 0.7)])
def test_a_40_va_transformer_droops_as_in_ngspice(load_va: float, power_factor: float) -> None:
    """Sealed contactor, one inrush and a larger one pull the secondary down as far as ngspice says."""
    emf_v, z_ohm = Source.thevenin(rated_va=40.0, rated_v=24.0, regulation=0.125)
    assert (emf_v, z_ohm) == pytest.approx((27.0, 1.80))
    modulus_ohm = 24.0**2 / load_va
    load = modulus_ohm * complex(power_factor, math.sqrt(1.0 - power_factor**2))
    netlist = Netlist((Source("transformer", "C", "R", emf_v, z_ohm), Impedance("load", "R", "C", load)))
    found_v = node_voltages(spice_deck(netlist))
    assert abs(solve(netlist).across("load")) == pytest.approx(abs(found_v["R"] - found_v["C"]), rel=1e-9)
