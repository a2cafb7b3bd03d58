"""Ghost voltages on floating conductors, against ngspice and against the divider of capacitances worked by hand."""

from __future__ import annotations

import pytest

from subbase.circuit import Impedance, Netlist, Source, Switch, settle
from subbase.circuit.ghost import LEAST_F_PER_M, Together, together_in_cable, with_capacitance
from subbase.circuit.meters import DIGITAL, LOW_IMPEDANCE, METER_TAG, MIDDLE, Meter, volts_seen
from subbase.circuit.spice import spice_deck
from tests.outside.spice_runner import node_voltages

NGSPICE = (
    "ngspice 39, a circuit simulator grown from Berkeley SPICE 3; .ac analysis at 60 Hz of a deck written in this test, "
    "with capacitors in farads. The question is that of NEMA Engineering Bulletin 88 (read in a reproduction)."
)
SUPPLY_V, PF_PER_M = 24.0, 60.0
STIFF = Source("supply", "C", "R", SUPPLY_V, 1e-3)
LENGTHS_M = (1.0, 5.0, 15.0, 30.0)

WITH_COMMON_V = (4.18, 9.62, 11.26, 11.65)
ALONE_V = (4.65, 15.00, 20.88, 22.52)
LOW_MV = (1.6, 8.1, 24.4, 48.9)


def seen_v(length_m: float, meter: Meter, *, common_runs_along: bool) -> float:
    """Return what a meter shows from a floating conductor to common."""
    runs = [Together("R", "floating", length_m)]
    if common_runs_along:
        runs.append(Together("floating", "C", length_m))
    netlist = with_capacitance(Netlist((STIFF,)), runs, f_per_m=LEAST_F_PER_M)
    return volts_seen(settle(netlist), "floating", "C", meter=meter)


def by_ngspice(length_m: float, meter_lines: str, *, common_runs_along: bool) -> float:
    """Return the same by ngspice."""
    capacitance_pf = PF_PER_M * length_m
    deck = (
        "Ghost voltage\n"
        '* node f is "floating"\n'
        f"V1 r 0 DC 0 AC {SUPPLY_V}\n"
        f"C1 r f {capacitance_pf}p\n"
        + (f"C2 f 0 {capacitance_pf}p\n" if common_runs_along else "")
        + meter_lines
        + ".ac lin 1 60 60\n.control\nset numdgt=15\nrun\nprint v(f)\nquit\n.endc\n.end\n"
    )
    return abs(node_voltages(deck)["floating"])


DIGITAL_LINES = "R1 f 0 10meg\nC3 f 0 100p\n"
LOW_LINES = "R1 f 0 3k\n"


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("length_m", LENGTHS_M)
@pytest.mark.parametrize("common_runs_along", [True, False])
@pytest.mark.parametrize(
    ("meter", "meter_lines"),
    [(DIGITAL, DIGITAL_LINES), (MIDDLE, "R1 f 0 400k\n"), (LOW_IMPEDANCE, LOW_LINES)],
)
def test_a_floating_conductor_shows_what_ngspice_says(
    length_m: float, common_runs_along: bool, meter: Meter, meter_lines: str
) -> None:
    """Four lengths, with common beside and without, on three meters: within a thousandth, as leads and supply are real."""
    expected_v = by_ngspice(length_m, meter_lines, common_runs_along=common_runs_along)
    assert seen_v(length_m, meter, common_runs_along=common_runs_along) == pytest.approx(expected_v, rel=1e-3)


@pytest.mark.outside(
    source="Divider of capacitances, V = 24 · jωC/(jω(C + C' + 100 pF) + 1/10 Mohm), with C = 60 pF/m to a live conductor "
    "and C' = C or 0 to common, at 60 Hz; 3 kohm in the meter's place for the last row.",
    how="worked by hand",
)
@pytest.mark.parametrize(
    ("length_m", "with_common_v", "alone_v", "low_mv"),
    tuple(zip(LENGTHS_M, WITH_COMMON_V, ALONE_V, LOW_MV, strict=True)),
)
def test_a_longer_run_shows_more_and_a_low_impedance_meter_next_to_nothing(
    length_m: float, with_common_v: float, alone_v: float, low_mv: float
) -> None:
    """The volts and millivolts of the table, to its last digit."""
    assert seen_v(length_m, DIGITAL, common_runs_along=True) == pytest.approx(with_common_v, abs=0.0051)
    assert seen_v(length_m, DIGITAL, common_runs_along=False) == pytest.approx(alone_v, abs=0.0051)
    assert 1000.0 * seen_v(length_m, LOW_IMPEDANCE, common_runs_along=True) == pytest.approx(low_mv, abs=0.051)


@pytest.mark.outside(
    source="ngspice 39, a circuit simulator grown from Berkeley SPICE 3; .ac analysis at 60 Hz of a deck by spice_deck.",
    how="ran ngspice",
)
@pytest.mark.parametrize("meter", [DIGITAL, MIDDLE, LOW_IMPEDANCE])
def test_a_cable_of_four_with_a_cut_conductor_reads_as_ngspice_says(meter: Meter) -> None:
    """R, a call that is off, a cut conductor and common in one cable: each pair reads what ngspice finds."""
    netlist = Netlist(
        (
            Source("supply", "C", "R", 27.0, 1.8),
            Switch("Y", "R", "yellow", z_open_ohm=24_000.0),
            Impedance("contactor", "yellow", "C", 29.0 + 66.0j),
        )
    )
    netlist = with_capacitance(netlist, together_in_cable(("R", "yellow", "blue", "C"), 12.0), f_per_m=90e-12)
    at_rest = settle(netlist)
    for a, b in (("blue", "C"), ("blue", "R"), ("blue", "yellow"), ("yellow", "C"), ("R", "C")):
        z_ohm = meter.z_ohm()
        spice_v = node_voltages(spice_deck(netlist.with_branches((Impedance(METER_TAG, a, b, z_ohm),))))
        assert volts_seen(at_rest, a, b, meter=meter) == pytest.approx(abs(spice_v[a] - spice_v[b]), rel=1e-3)
