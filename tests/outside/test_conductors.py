"""Copper conductors against wire tables and a published voltage drop."""

from __future__ import annotations

import pytest

from subbase.circuit import Impedance, Netlist, Source, conductor_ohm, solve
from subbase.circuit.conductor import diameter_mm

METRES_IN_1000_FT = 304.8


@pytest.mark.outside(
    source="NFPA 70, chapter 9, table 8, solid uncoated copper at 75 °C [ohm/kft]; rows read in a reproduction.",
    how="read",
)
@pytest.mark.parametrize(("gauge_awg", "ohm_per_kft"), [(18, 7.77), (16, 4.89), (14, 3.07)])
def test_hot_conductors_have_the_resistance_of_the_code_table(gauge_awg: int, ohm_per_kft: float) -> None:
    """Hot solid conductors have the code table's resistance, within 0.2 % for the three digits it prints."""
    found_ohm = conductor_ohm(gauge_awg=gauge_awg, length_m=METRES_IN_1000_FT, temperature_c=75.0)
    assert found_ohm == pytest.approx(ohm_per_kft, rel=2e-3)


@pytest.mark.outside(
    source="Copper Wire Tables, NBS Handbook 100 (1966), annealed copper at 20 °C [ohm/kft].",
    how="from memory",
)
@pytest.mark.parametrize(
    ("gauge_awg", "ohm_per_kft"),
    [(12, 1.588), (14, 2.525), (16, 4.016), (18, 6.385), (20, 10.15), (22, 16.14), (24, 25.67)],
)
def test_conductors_at_room_temperature_have_the_resistance_of_the_wire_tables(
    gauge_awg: int, ohm_per_kft: float
) -> None:
    """Conductors at 20 °C have the wire tables' resistance, to half of the fourth digit."""
    found_ohm = conductor_ohm(gauge_awg=gauge_awg, length_m=METRES_IN_1000_FT)
    assert found_ohm == pytest.approx(ohm_per_kft, rel=5e-4)


@pytest.mark.outside(
    source="Table of American wire gauge after ASTM B258, diameters of solid wire [mil]; read in a reproduction.",
    how="read",
)
@pytest.mark.parametrize(
    ("gauge_awg", "mil"),
    [(12, 80.808), (14, 64.084), (16, 50.820), (18, 40.303), (20, 31.961), (22, 25.347), (24, 20.100)],
)
def test_gauges_have_the_diameters_of_the_standard(gauge_awg: int, mil: float) -> None:
    """Diameters are the standard's, to the thousandths of a mil that are printed."""
    assert diameter_mm(gauge_awg) / 0.0254 == pytest.approx(mil, abs=0.0015)


@pytest.mark.outside(
    source="NFPA 70, chapter 9, table 8, note: R2 = R1[1 + 0.00323(T2 − 75)].",
    how="read",
)
@pytest.mark.parametrize("temperature_c", [-20.0, 0.0, 20.0, 25.0, 60.0, 90.0])
def test_resistance_follows_temperature_as_the_code_says(temperature_c: float) -> None:
    """Resistance changes with temperature as the code's note says, within 0.1 % for its three digits."""
    hot_ohm = conductor_ohm(gauge_awg=18, length_m=30.0, temperature_c=75.0)
    expected_ohm = hot_ohm * (1.0 + 0.00323 * (temperature_c - 75.0))
    assert conductor_ohm(gauge_awg=18, length_m=30.0, temperature_c=temperature_c) == pytest.approx(
        expected_ohm, rel=1e-3
    )


@pytest.mark.outside(
    source="A trade course's example of voltage drop with NFPA 70, chapter 9, table 8: two wires, 100 ft, 16 AWG stranded "
    "of 4.99 ohm/kft, 4 A: 2 x 100 x 4.99/1000 x 4 = 4.0 V.",
    how="read",
)
def test_two_wires_drop_what_the_published_example_says() -> None:
    """A 24 V supply loses 4.0 V (3.99 V) on both wires to a load of 4 A."""
    one_way_ohm = 100.0 * 4.99 / 1000.0
    netlist = Netlist(
        (
            Source("supply", "C", "R", 24.0, 1e-6),
            Impedance("out", "R", "load R", one_way_ohm),
            Impedance("load", "load R", "load C", 24.0 / 4.0 - 2.0 * one_way_ohm),
            Impedance("back", "load C", "C", one_way_ohm),
        )
    )
    solution = solve(netlist)
    assert abs(solution.current_a("load")) == pytest.approx(4.0, rel=1e-5)
    drop_v = abs(solution.across("out") + solution.across("back"))
    assert drop_v == pytest.approx(4.0, abs=0.05)
    assert drop_v == pytest.approx(3.99, abs=0.005)
