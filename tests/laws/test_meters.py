"""What meters show of live and of dead circuits, and how leads mislead."""

from __future__ import annotations

import math

import pytest

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, settle
from subbase.circuit.ghost import Together, together_in_cable, with_capacitance
from subbase.circuit.meters import (
    BROKEN_LEADS_OHM,
    DIGITAL,
    GOOD_LEADS_OHM,
    LOW_IMPEDANCE,
    Meter,
    OhmReading,
    dead_netlist,
    ohms_seen,
    ohms_with_a_bad_lead,
    volts_seen,
)

HOUSE = Netlist(
    (
        Source("transformer", "C", "R", 27.0, 1.8),
        Switch("limit", "R", "after limit", normally_closed=True),
        Switch("Y", "after limit", "Y", z_open_ohm=30_000.0 - 9_000.0j),
        Coil("contactor", "Y", "C", 20.0 + 15.0j, 12.0 + 68.0j, 18.0, 9.0),
        Coil("relay", "after limit", "C", 100.0, 160.0 + 200.0j, 18.0, 9.0),
        Contact("made", "Y", "fan", ("relay",)),
        Contact("broken", "Y", "pilot", ("relay",), normally_closed=True),
        Impedance("heater", "fan", "C", 9.0),
        Impedance("spare", "loose at wall", "loose at furnace", 0.4),
    )
)


def ohm(a: str, b: str, **options: float) -> float:
    """Return what an ohmmeter with leads of no resistance shows."""
    return ohms_seen(HOUSE, a, b, leads_ohm=0.0, dc_ohm=options).ohm


def test_a_locked_out_transformer_still_joins_r_to_common() -> None:
    """The secondary winding is under an ohm, so R to common beeps on a dead and sound circuit."""
    seen = ohms_seen(HOUSE, "R", "C")
    assert seen.beeps
    assert seen.ohm == pytest.approx(0.9 + GOOD_LEADS_OHM, rel=0.01)


def test_a_coil_shows_its_winding_and_not_its_impedance() -> None:
    """A contactor of 69 ohm at 60 Hz is 12 ohm to a meter, or what its winding was measured to be."""
    assert ohm("Y", "C") == pytest.approx(12.0)
    assert ohm("Y", "C", contactor=9.5) == pytest.approx(9.5)
    assert ohm("Y", "C", contactor=math.inf) == math.inf


def test_contacts_are_read_at_rest_whatever_they_were() -> None:
    """With every coil out a make contact is open and a break contact closed; an off output that leaks by a capacitor is OL."""
    assert ohm("Y", "fan") == pytest.approx(12.0 + 9.0)  # through the contactor, common and the heater
    assert ohm("Y", "pilot") == pytest.approx(0.02)
    assert ohms_seen(dead_netlist(HOUSE, dc_ohm={"contactor": math.inf}), "R", "Y").words == "OL"


def test_a_limit_that_stands_open_is_found_dead() -> None:
    """Across a closed limit the meter beeps; across an open one it sees only the way round through a relay."""
    assert ohms_seen(HOUSE, "R", "after limit").beeps
    tripped = ohms_seen(HOUSE, "R", "after limit", operated={"limit"}, leads_ohm=0.0)
    assert not tripped.beeps
    assert tripped.ohm == pytest.approx(160.0 + 0.9, rel=1e-3)


@pytest.mark.parametrize(("ohm_there", "beeps"), [(29.0, True), (31.0, False)])
def test_the_beeper_ends_at_some_thirty_ohm(ohm_there: float, beeps: bool) -> None:
    """A conductor beeps, and a coil of 40 ohm must not pass for one."""
    assert (
        ohms_seen(HOUSE, "loose at wall", "loose at furnace", leads_ohm=0.0, dc_ohm={"spare": ohm_there}).beeps is beeps
    )


def test_both_leads_at_one_point_show_the_leads_alone() -> None:
    """A meter is tried like this first: nothing but its own leads."""
    assert ohms_seen(HOUSE, "R", "R", leads_ohm=0.0).ohm == 0.0
    assert ohms_seen(HOUSE, "R", "R").ohm == pytest.approx(GOOD_LEADS_OHM)


def test_a_known_resistance_of_a_contact_counts_only_while_it_is_closed() -> None:
    """A limit measured at 5 ohm is 5 ohm closed, and no way at all once it has opened; a switch of a call the other way round."""
    closed = dead_netlist(HOUSE, dc_ohm={"limit": 5.0, "Y": 7.0})
    assert closed.by_tag["limit"] == Impedance("limit", "R", "after limit", 5.0)
    assert "Y" not in closed.by_tag
    acted = dead_netlist(HOUSE, operated={"limit", "Y"}, dc_ohm={"limit": 5.0, "Y": 7.0})
    assert "limit" not in acted.by_tag
    assert acted.by_tag["Y"] == Impedance("Y", "after limit", "Y", 7.0)


def test_a_conductor_is_proven_through_and_two_apart_are_ol() -> None:
    """A loose conductor beeps end to end and shows OL against anything else."""
    assert ohms_seen(HOUSE, "loose at wall", "loose at furnace").ohm == pytest.approx(0.4 + GOOD_LEADS_OHM)
    assert ohms_seen(HOUSE, "loose at wall", "C").words == "OL"


def test_large_and_small_resistances_are_read_to_their_last_digits() -> None:
    """From 2 milliohm to 30 Mohm a lone resistor reads as itself; above the meter's range it reads OL."""
    for expected_ohm in (0.002, 1.0, 4700.0, 30e6):
        lone = Netlist((Impedance("r", "a", "b", expected_ohm),))
        assert ohms_seen(lone, "a", "b", leads_ohm=0.0).ohm == pytest.approx(expected_ohm, rel=1e-9)
    assert ohms_seen(Netlist((Impedance("r", "a", "b", 60e6),)), "a", "b").words == "OL"


def test_a_bad_lead_makes_a_sound_conductor_look_bad_or_open() -> None:
    """Five ohm still beep, fifty do not, and a broken lead shows OL."""
    good = ohms_seen(HOUSE, "loose at wall", "loose at furnace")
    slight, worse, broken = ohms_with_a_bad_lead(good)
    assert (slight.words, slight.beeps) == ("5.4 ohm", True)
    assert (worse.words, worse.beeps) == ("50.4 ohm", False)
    assert (broken.words, broken.beeps) == ("OL", False)
    assert broken == ohms_seen(HOUSE, "loose at wall", "loose at furnace", leads_ohm=BROKEN_LEADS_OHM)


@pytest.mark.parametrize(
    ("shown_ohm", "words"), [(0.25, "0.2 ohm"), (999.0, "999.0 ohm"), (4712.0, "4.71 kohm"), (2.5e6, "2.5 Mohm")]
)
def test_ohms_are_worded_as_a_display_shows_them(shown_ohm: float, words: str) -> None:
    """Three figures at most, with the unit that fits."""
    assert OhmReading(shown_ohm, beeps=False).words == words


def test_a_broken_lead_makes_a_live_circuit_look_dead() -> None:
    """No volts through a broken lead: why a meter is tried on a known live point before and after."""
    at_rest = settle(HOUSE)
    assert volts_seen(at_rest, "R", "C") == pytest.approx(abs(at_rest.solution.between("R", "C") or 0j), rel=1e-6)
    assert volts_seen(at_rest, "R", "C", meter=Meter("broken lead", 10e6, leads_ohm=BROKEN_LEADS_OHM)) == 0.0


def test_between_circuits_that_nothing_joins_a_meter_shows_nothing() -> None:
    """A floating conductor without capacitance to anything reads 0 V."""
    assert volts_seen(settle(HOUSE), "loose at wall", "C") == pytest.approx(0.0, abs=1e-9)


def test_a_floating_conductor_is_told_from_a_live_one_by_a_low_impedance_meter_only() -> None:
    """A digital meter shows several volts on a spare conductor beside R; 3 kohm bring it below a tenth of a volt."""
    netlist = with_capacitance(HOUSE, together_in_cable(("R", "loose at wall", "C"), 15.0))
    at_rest = settle(netlist)
    assert volts_seen(at_rest, "loose at wall", "C", meter=DIGITAL) > 8.0
    assert volts_seen(at_rest, "loose at wall", "C", meter=LOW_IMPEDANCE) < 0.1
    assert volts_seen(at_rest, "R", "C", meter=LOW_IMPEDANCE) > 20.0


def test_a_low_impedance_meter_can_pull_a_sensitive_relay_in() -> None:
    """A meter across an open contact is a way for current: the circuit is settled with the meter on it."""
    netlist = Netlist(
        (
            Source("supply", "C", "R", 26.0, 1.0),
            Switch("contact", "R", "K"),
            Coil("K", "K", "C", 4000.0, 4000.0, 12.0, 3.0),
            Contact("own", "R", "K", ("K",)),
        )
    )
    at_rest = settle(netlist)
    assert volts_seen(at_rest, "R", "K", meter=DIGITAL) == pytest.approx(26.0, rel=1e-3)
    assert volts_seen(at_rest, "R", "K", meter=LOW_IMPEDANCE) == pytest.approx(0.0, abs=0.01)


def test_what_is_not_in_the_circuit_is_refused_by_name() -> None:
    """Nodes, tags, resistances below 0, lengths and capacitances that cannot be are each told in one sentence."""
    with pytest.raises(ValueError, match="nothing to read at nowhere"):
        volts_seen(settle(HOUSE), "R", "nowhere")
    with pytest.raises(ValueError, match="nothing to read at nowhere"):
        ohms_seen(HOUSE, "nowhere", "R")
    with pytest.raises(ValueError, match="not in the circuit: no such"):
        dead_netlist(HOUSE, dc_ohm={"no such": 5.0})
    with pytest.raises(ValueError, match="cannot be below 0: heater"):
        dead_netlist(HOUSE, dc_ohm={"heater": -1.0})
    for length_m in (0.0, math.inf, math.nan):
        with pytest.raises(ValueError, match="a length above 0"):
            Together("R", "C", length_m)
    with pytest.raises(ValueError, match="must be above 0"):
        with_capacitance(HOUSE, (), f_per_m=0.0)
