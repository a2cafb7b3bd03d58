"""Worked phasor examples of textbooks, with the textbooks' own digits."""

from __future__ import annotations

import cmath
import math

import pytest

from subbase.circuit import Impedance, Netlist, Source, solve

STIFF_OHM = 1e-9
"""Stands for the ideal sources of textbooks; far under their digits."""


def inductor_ohm(henry: float, hertz: float) -> complex:
    """Return jωL."""
    return 2j * math.pi * hertz * henry


def capacitor_ohm(farad: float, hertz: float) -> complex:
    """Return 1/(jωC)."""
    return 1.0 / (2j * math.pi * hertz * farad)


def polar(phasor: complex) -> tuple[float, float]:
    """Return (modulus, angle [degree])."""
    return abs(phasor), math.degrees(cmath.phase(phasor))


@pytest.mark.outside(
    source="OpenStax, University Physics, volume 2, section 15.3, example 'An RLC Series Circuit': 0.100 V, 200 Hz, 4.00 ohm, "
    "3.00 mH, 0.800 mF: impedance 4.87 ohm, current 0.0205 A, phase 0.607 rad.",
    how="read",
)
def test_series_circuit_of_university_physics() -> None:
    """Current and phase of a resistor, an inductor and a capacitor in a row."""
    netlist = Netlist(
        (
            Source("generator", "0", "1", 0.100, STIFF_OHM),
            Impedance("R", "1", "2", 4.00),
            Impedance("L", "2", "3", inductor_ohm(3.00e-3, 200.0)),
            Impedance("C", "3", "0", capacitor_ohm(8.00e-4, 200.0)),
        )
    )
    current_a = solve(netlist).current_a("R")
    assert 0.100 / abs(current_a) == pytest.approx(4.87, abs=0.005)
    assert abs(current_a) == pytest.approx(2.05e-2, abs=0.005e-2)
    # The current lags, because the inductor's reactance is the larger.
    assert -cmath.phase(current_a) == pytest.approx(0.607, abs=0.0005)


@pytest.mark.outside(
    source="Kuphaldt, Lessons in Electric Circuits, volume II, chapter 5, 'Series-parallel R, L, and C', printed output of "
    "SPICE 2g6 at 60 Hz: 120 V, C1 4.7 µF, then L 650 mH with C2 1.5 µF beside R 470 ohm.",
    how="read",
)
def test_series_parallel_circuit_of_lessons_in_electric_circuits() -> None:
    """Voltage and current of all four parts, modulus and angle, to the four digits printed."""
    netlist = Netlist(
        (
            Source("v1", "0", "2", 120.0, STIFF_OHM),
            Impedance("C1", "2", "3", capacitor_ohm(4.7e-6, 60.0)),
            Impedance("L", "3", "5", inductor_ohm(0.650, 60.0)),
            Impedance("C2", "5", "0", capacitor_ohm(1.5e-6, 60.0)),
            Impedance("R", "3", "0", 470.0),
        )
    )
    solution = solve(netlist)
    printed = {
        "C1": (8.276e01, -3.163e01, 1.466e-01, 5.837e01),
        "L": (1.059e01, -1.388e02, 4.323e-02, 1.312e02),
        "C2": (7.645e01, 4.122e01, 4.323e-02, 1.312e02),
        "R": (6.586e01, 4.122e01, 1.401e-01, 4.122e01),
    }
    for tag, expected in printed.items():
        found = (*polar(solution.across(tag)), *polar(solution.current_a(tag)))
        assert found == pytest.approx(expected, rel=5e-4), tag


@pytest.mark.outside(
    source="Kuphaldt, Lessons in Electric Circuits, volume V, chapter 7, 'Multiple-source AC network', printed output of "
    "SPICE 2g6 at 30 Hz: 55 V at 0° behind 450 mH, 43 V at 25° behind 150 mH, 330 µF between them: 141.3 V.",
    how="read",
)
def test_two_supplies_of_lessons_in_electric_circuits() -> None:
    """Two sources of different phase feed one node through inductors alone; no part has resistance."""
    netlist = Netlist(
        (
            Source("v1", "0", "2", 55.0, inductor_ohm(0.450, 30.0)),
            Source("v2", "0", "2", cmath.rect(43.0, math.radians(25.0)), inductor_ohm(0.150, 30.0)),
            Impedance("c1", "2", "0", capacitor_ohm(330e-6, 30.0)),
        )
    )
    assert abs(solve(netlist).across("c1")) == pytest.approx(1.413e02, abs=0.05)
