"""Coils that take time: races while supplies sag, and controls that live on what leaks through their loads."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, settle, solve
from subbase.circuit.netlist import Tag
from subbase.circuit.stealing import off_states, power_stealing
from subbase.circuit.transients import Times, pull_in_race
from subbase.errors import Chatter
from tests.laws.circuits import LAWS, circuits

WEAK = Source("supply", "C", "R", 27.0, 3.0)


def contactor(tag: Tag, node: str, *, drop_out_v: float = 14.0, delay_s: float = 0.0) -> Coil:
    """Return a coil of 60 VA inrush and 8 VA sealed, resistive, that pulls in at 17 V."""
    return Coil(tag, node, "C", 24.0**2 / 60.0, 24.0**2 / 8.0, 17.0, drop_out_v, delay_s)


def relay(tag: Tag, node: str, *, drop_out_v: float) -> Coil:
    """Return a coil of 2 VA that pulls in 1 V above where it drops out."""
    return Coil(tag, node, "C", 288.0, 288.0, drop_out_v + 1.0, drop_out_v)


def two_calls(drop_out_v: float) -> Netlist:
    """Return a relay that is called first and a contactor that is called then, on one weak supply."""
    return Netlist(
        (
            WEAK,
            Switch("heat", "R", "W"),
            Switch("cool", "R", "Y"),
            relay("heat relay", "W", drop_out_v=drop_out_v),
            contactor("contactor", "Y"),
        )
    )


def test_inrush_that_sags_the_supply_lets_a_sensitive_relay_fall_out() -> None:
    """A relay that needs 21 V falls out while the contactor travels, by name and with its volts, and comes back."""
    netlist = two_calls(21.0)
    race = pull_in_race(netlist, before={"heat"}, after={"heat", "cool"})
    sagging = solve(netlist, operated={"heat", "cool"}, coils_in={"heat relay"})
    (fall,) = race.falls
    assert race.fell_out == ("heat relay",)
    assert race.fell_back == ()
    assert fall.because_of == ("contactor",)
    assert fall.only_inrush
    assert fall.volts == pytest.approx(abs(sagging.across("heat relay")))
    assert fall.volts < 21.0 < fall.without_inrush_v
    assert fall.time_s == pytest.approx(0.005)
    assert race.end is not None
    assert race.end.coils_in == {"heat relay", "contactor"}


def test_a_relay_that_holds_at_what_is_left_stays_in_and_its_dip_is_told() -> None:
    """With a drop-out under the sag nothing falls, and the dip names the lowest volts and whose inrush it was."""
    netlist = two_calls(12.0)
    race = pull_in_race(netlist, before={"heat"}, after={"heat", "cool"})
    (dip,) = race.coil_dips
    (supply,) = race.supply_dips
    assert race.falls == ()
    assert (dip.tag, dip.because_of) == ("heat relay", ("contactor",))
    assert 12.0 < dip.lowest_v < dip.before_v
    # 27 V behind 3 ohm into 9.6 ohm beside 288 ohm.
    load_ohm = 1.0 / (1.0 / 9.6 + 1.0 / 288.0)
    assert supply.lowest_v == pytest.approx(27.0 * load_ohm / (load_ohm + 3.0), rel=0.005)


def test_the_deepest_of_several_dips_is_told() -> None:
    """A light contactor travels first, then its contact brings a heavy one: the second sag counts, and who made it."""
    netlist = Netlist(
        (
            WEAK, Switch("heat", "R", "W"), Switch("cool", "R", "Y"), relay("heat relay", "W", drop_out_v=5.0),
            Coil("a light one", "Y", "C", 60.0, 200.0, 12.0, 3.0), Contact("brings", "R", "X", ("a light one",)),
            Coil("heavy", "X", "C", 6.0, 90.0, 12.0, 3.0),
        )
    )  # fmt: skip
    race = pull_in_race(netlist, before={"heat"}, after={"heat", "cool"})
    (of_relay,) = (dip for dip in race.coil_dips if dip.tag == "heat relay")
    (supply,) = race.supply_dips
    deepest = solve(netlist, operated={"heat", "cool"}, coils_in={"heat relay", "a light one"})
    assert of_relay.because_of == supply.because_of == ("heavy",)
    assert supply.lowest_v == pytest.approx(abs(deepest.across("supply")))
    assert of_relay.lowest_v == pytest.approx(abs(deepest.across("heat relay")))


def test_coils_that_act_together_are_told_in_order() -> None:
    """Six alike pull in at one moment and let go at one moment: sorted by name both times."""
    tags = ("f", "b", "e", "a", "d", "c")
    netlist = Netlist(
        (replace(WEAK, z_ohm=0.1), Switch("call", "R", "Y"), *(relay(tag, "Y", drop_out_v=9.0) for tag in tags))
    )
    (on,) = pull_in_race(netlist, after={"call"}).moments
    (off,) = pull_in_race(netlist, before={"call"}).moments
    assert on.step.pulled_in == off.step.dropped_out == tuple(sorted(tags))
    assert settle(netlist, operated={"call"}).steps[0].pulled_in == tuple(sorted(tags))


def test_a_sag_shorter_than_a_release_lets_nothing_fall() -> None:
    """A quick contactor is in before the relay has let go."""
    times = Times(travel_s=0.01, release_s=0.02)
    assert pull_in_race(two_calls(21.0), before={"heat"}, after={"heat", "cool"}, times=times).falls == ()


def test_a_call_that_ends_is_no_fall() -> None:
    """A relay whose own switch opens lets go, and no other coil is blamed for it."""
    race = pull_in_race(two_calls(21.0), before={"heat"}, after={"cool"})
    assert race.falls == ()
    assert [moment.step.dropped_out for moment in race.moments] == [("heat relay",), ()]


def test_a_contactor_whose_own_contact_brings_a_heavy_load_falls_out_again_and_again() -> None:
    """What it switches on sags the supply under its drop-out: it cycles, and is named with the cause."""
    netlist = Netlist(
        (
            WEAK,
            Switch("cool", "R", "Y"),
            contactor("contactor", "Y"),
            Contact("brings", "R", "X", ("contactor",)),
            # Inrush for a long while, as of a heat motor.
            Coil("heavy", "X", "C", 2.0, 60.0, 17.0, 6.0, delay_s=30.0),
        )
    )
    race = pull_in_race(netlist, after={"cool"})
    assert race.end is None
    assert race.cycling == ("contactor",)
    assert race.fell_back == ("contactor",)
    assert {fall.because_of for fall in race.falls} == {("heavy",)}
    # Each time it travels anew, and lets go anew: nothing of the time before is left over.
    times = Times()
    turns = [moment.time_s for moment in race.moments]
    took = [later - earlier for earlier, later in zip([0.0, *turns], turns, strict=False)]
    assert took == pytest.approx([times.travel_s, times.release_s] * 2 + [times.travel_s])


def test_a_sealed_load_that_is_too_much_is_told_from_inrush() -> None:
    """When the other's sealed current alone keeps the relay under drop-out, the fall is not blamed on inrush."""
    netlist = Netlist(
        (
            WEAK,
            Switch("heat", "R", "W"),
            Switch("cool", "R", "Y"),
            relay("heat relay", "W", drop_out_v=21.0),
            Coil("valve", "Y", "C", 8.0, 8.0, 15.0, 6.0),
        )
    )
    race = pull_in_race(netlist, before={"heat"}, after={"heat", "cool"})
    late = pull_in_race(netlist, before={"heat"}, after={"heat", "cool"}, times=Times(0.01, 0.02))
    for each in (race, late):
        assert [(fall.only_inrush, fall.because_of) for fall in each.falls] == [(False, ("valve",))]
        assert each.end is not None
        assert each.end.coils_in == {"valve"}


@LAWS
@given(circuits)
def test_without_times_a_race_is_settling(netlist: Netlist) -> None:
    """When armatures take no time, coils act in the same steps as in ``settle``, and cycle where it chatters."""
    quick = Netlist(tuple(replace(b, delay_s=0.0) if isinstance(b, Coil) else b for b in netlist.branches))
    every = frozenset(switch.tag for switch in quick.of(Switch))
    try:
        start = settle(quick)
    except Chatter:
        return
    race = pull_in_race(quick, after=every, times=Times(0.0, 0.0))
    if race.end is None:
        with pytest.raises(Chatter) as caught:
            settle(quick, operated=every, coils_in=start.coils_in)
        assert race.cycling
        assert set(race.cycling) <= set(caught.value.coils)
    else:
        settled = settle(quick, operated=every, coils_in=start.coils_in)
        assert race.end.coils_in == settled.coils_in
        assert race.end.steps == settled.steps


def stolen(*, leak_ohm: float, load: Coil) -> Netlist:
    """Return a control that lives across its open heating output, and its load."""
    return Netlist(
        (Source("supply", "C", "R", 27.0, 1.8), Switch("W1", "R", "W", z_open_ohm=leak_ohm), replace(load, tail="W"))
    )


@pytest.mark.parametrize(
    ("leak_ohm", "pull_in_v", "drop_out_v", "verdict"),
    [
        (2000.0, 15.0, 6.0, "lets go"),
        (1000.0, 15.0, 6.0, "holds in after its call"),
        (300.0, 12.0, 6.0, "pulls in without a call"),
    ],
)
def test_leakage_through_a_load_is_set_against_its_thresholds(
    leak_ohm: float, pull_in_v: float, drop_out_v: float, verdict: str
) -> None:
    """A sensitive relay lets go, stays in, or pulls in by itself as leakage grows; the shares are plain division."""
    load = Coil("relay", "W", "C", 300.0, 400.0, pull_in_v, drop_out_v)
    (found,) = off_states(stolen(leak_ohm=leak_ohm, load=load))
    assert found.verdict == verdict
    assert found.of_pull_in == pytest.approx(27.0 * 300.0 / (leak_ohm + 1.8 + 300.0) / pull_in_v)
    assert found.of_drop_out == pytest.approx(27.0 * 400.0 / (leak_ohm + 1.8 + 400.0) / drop_out_v)


def test_a_load_that_pulls_in_on_leakage_but_cannot_hold_on_it_short_cycles() -> None:
    """An electronic load that draws more once it is on starves itself, and comes back."""
    load = Coil("board input", "W", "C", 3000.0, 100.0, 15.0, 10.0)
    (found,) = off_states(stolen(leak_ohm=1000.0, load=load))
    assert found.verdict == "short-cycles"
    told = power_stealing(stolen(leak_ohm=1000.0, load=load), ("W1",), call={"W1"}, least_v=3.0)
    assert told.chattering == ("board input",)


def test_a_coil_that_is_fed_when_idle_is_not_blamed_on_leakage() -> None:
    """A coil straight across the supply is in without any leakage."""
    netlist = stolen(leak_ohm=5000.0, load=Coil("relay", "W", "C", 300.0, 400.0, 15.0, 6.0))
    always = netlist.with_branches([Coil("pilot", "R", "C", 300.0, 400.0, 15.0, 6.0)])
    assert [state.verdict for state in off_states(always)] == ["lets go", "fed without leakage"]


def test_a_control_without_a_store_loses_its_supply_on_call() -> None:
    """Its supply is across the load's output, which the call closes: it cycles unless something is stored."""
    netlist = stolen(leak_ohm=5000.0, load=Coil("relay", "W", "C", 300.0, 400.0, 15.0, 6.0))
    bare = power_stealing(netlist, ("W1",), call={"W1"}, least_v=12.0)
    assert bare.idle_v > 24.0
    assert bare.call_v < 0.01
    assert bare.cycles
    assert not bare.sleeps_idle
    assert not power_stealing(netlist, ("W1",), call={"W1"}, least_v=12.0, stored=True).cycles


def test_a_second_open_output_carries_the_control_through_a_call() -> None:
    """With a cooling output that it can also live across, heating does not starve it."""
    netlist = stolen(leak_ohm=5000.0, load=Coil("relay", "W", "C", 300.0, 400.0, 15.0, 6.0)).with_branches(
        [Switch("Y1", "R", "Y", z_open_ohm=5000.0), contactor("contactor", "Y")]
    )
    assert not power_stealing(netlist, ("W1", "Y1"), call={"W1"}, least_v=12.0).cycles
    assert power_stealing(netlist, ("W1", "Y1"), call={"W1", "Y1"}, least_v=12.0).cycles


def test_a_load_of_high_impedance_leaves_the_control_too_little_even_when_idle() -> None:
    """Behind an electronic input of 20 kohm the draw leaves most of the voltage on the load."""
    netlist = Netlist((WEAK, Switch("W1", "R", "W", z_open_ohm=5000.0), Impedance("board input", "W", "C", 20_000.0)))
    told = power_stealing(netlist, ("W1",), call={"W1"}, least_v=12.0)
    assert told.sleeps_idle
    assert told.idle_v == pytest.approx(27.0 * 5000.0 / 25_003.0)


def test_a_control_cannot_feed_itself_across_what_is_no_switch() -> None:
    """A wrong tag is refused by name."""
    netlist = stolen(leak_ohm=5000.0, load=Coil("relay", "W", "C", 300.0, 400.0, 15.0, 6.0))
    with pytest.raises(ValueError, match="'relay' is no switch"):
        power_stealing(netlist, ("relay",), call={"W1"}, least_v=12.0)
