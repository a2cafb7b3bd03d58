"""How coils, contacts and loose ends behave; each case for the reference and for the batched kernel alike."""

from __future__ import annotations

from collections.abc import Set

import pytest

from subbase.circuit import Coil, Contact, Impedance, Netlist, Settled, Source, Switch, settle, solve
from subbase.circuit.batch import compile_netlist, flag_rows, settle_states
from subbase.circuit.netlist import Branch, Tag
from subbase.circuit.solve import require_anchored
from subbase.errors import Chatter, FloatingNodes


def supply(emf_v: float) -> Source:
    """Return a stiff supply between common and R."""
    return Source("supply", "C", "R", emf_v, 0.001)


def relay(tag: Tag, node: str, delay_s: float = 0.0) -> Coil:
    """Return a relay coil from a node to common that pulls in at 18 V and drops out below 8 V."""
    return Coil(tag, node, "C", z_out_ohm=200.0, z_in_ohm=400.0, pull_in_v=18.0, drop_out_v=8.0, delay_s=delay_s)


def at_rest(*branches: Branch, operated: Set[Tag] = frozenset(), coils_in: Set[Tag] = frozenset()) -> Settled:
    """Settle by the reference, after making sure that the batched kernel says the same."""
    netlist = Netlist(branches)
    settled = settle(netlist, operated=operated, coils_in=coils_in)
    compiled = compile_netlist(netlist)
    rows = flag_rows(compiled.switches, [operated]), flag_rows(compiled.coils, [coils_in])
    batch = settle_states(compiled, *rows)
    assert {tag for tag, is_in in zip(compiled.coils, batch.coils_in[0], strict=True) if is_in} == settled.coils_in
    assert batch.step_count[0] == len(settled.steps)
    return settled


@pytest.mark.parametrize(
    ("emf_v", "was_in", "is_in"),
    [(17.9, False, False), (18.1, False, True), (8.1, True, True), (8.1, False, False), (7.9, True, False)],
)
def test_a_coil_pulls_in_high_and_drops_out_low(emf_v: float, was_in: bool, is_in: bool) -> None:
    """Between its two limits a coil stays as it was."""
    settled = at_rest(supply(emf_v), relay("K", "R"), coils_in={"K"} if was_in else frozenset())
    assert settled.coils_in == ({"K"} if is_in else set())


def test_a_coil_that_pulls_in_shows_its_sealed_impedance() -> None:
    """Inrush current flows only until the coil is in."""
    settled = at_rest(supply(24.0), relay("K", "R"))
    assert abs(settled.solution.current_a("K")) == pytest.approx(24.0 / 400.0, rel=1e-4)


def test_a_relay_holds_itself_in_through_its_own_contact() -> None:
    """A momentary start is remembered by a sealing contact, and forgotten without one."""
    start, seal = Switch("start", "R", "a"), Contact("seal", "R", "a", ("K",))
    pressed = at_rest(supply(24.0), start, seal, relay("K", "a"), operated={"start"})
    released = at_rest(supply(24.0), start, seal, relay("K", "a"), coils_in=pressed.coils_in)
    assert pressed.coils_in == released.coils_in == {"K"}
    assert at_rest(supply(24.0), start, relay("K", "a"), coils_in=pressed.coils_in).coils_in == set()


def test_a_coil_fed_by_its_own_normally_closed_contact_chatters() -> None:
    """A buzzer never rests, and the error names its coil and no other."""
    branches = (
        supply(24.0),
        Contact("break", "R", "a", ("buzzer",), normally_closed=True),
        relay("buzzer", "a"),
        relay("steady", "R"),
    )
    with pytest.raises(Chatter) as caught:
        settle(Netlist(branches))
    assert caught.value.coils == ("buzzer",)
    compiled = compile_netlist(Netlist(branches))
    batch = settle_states(compiled, flag_rows(compiled.switches, [set()]))
    assert batch.chattering(0) == ("buzzer",)
    assert batch.step_count[0] == -1


def test_two_relays_that_break_each_other_chatter_only_when_equally_quick() -> None:
    """With equal delays both act together for ever; with unequal ones the quicker wins."""

    def pair(slow_s: float) -> tuple[Branch, ...]:
        return (
            supply(24.0),
            Contact("k2 breaks k1", "R", "a", ("K2",), normally_closed=True),
            Contact("k1 breaks k2", "R", "b", ("K1",), normally_closed=True),
            relay("K1", "a"),
            relay("K2", "b", slow_s),
        )

    assert at_rest(*pair(0.5)).coils_in == {"K1"}
    with pytest.raises(Chatter) as caught:
        settle(Netlist(pair(0.0)))
    assert caught.value.coils == ("K1", "K2")
    compiled = compile_netlist(Netlist(pair(0.0)))
    assert settle_states(compiled, flag_rows(compiled.switches, [set()])).chattering(0) == ("K1", "K2")


def test_coils_with_the_shortest_delay_act_first() -> None:
    """The steps tell the order in which coils act: quick ones together, then the slow one."""
    settled = at_rest(supply(24.0), relay("slow", "R", 30.0), relay("quick a", "R"), relay("quick b", "R"))
    assert [step.pulled_in for step in settled.steps] == [("quick a", "quick b"), ("slow",)]
    assert [step.delay_s for step in settled.steps] == [0.0, 30.0]


def test_a_weak_supply_lets_a_coil_starve() -> None:
    """A coil that gets some voltage but not enough is out, and is named."""
    settled = at_rest(Source("weak", "C", "R", 24.0, 120.0), relay("K", "R"))
    assert settled.coils_in == set()
    assert settled.starved() == ("K",)


def test_a_coil_that_is_in_or_has_next_to_nothing_does_not_starve() -> None:
    """Only what is out with a fifth of its pull-in volts across it is named: not what is in, not what is off."""
    settled = at_rest(supply(24.0), Switch("off", "R", "X"), relay("in", "R"), relay("idle", "X"))
    assert settled.coils_in == {"in"}
    assert settled.starved() == ()


def test_nodes_without_a_path_to_any_supply_are_named() -> None:
    """An open switch leaves what hangs behind it floating; closing it anchors it again."""
    netlist = Netlist(
        (
            supply(24.0),
            Impedance("load", "R", "C", 100.0),
            Switch("cut", "R", "far"),
            Impedance("behind", "far", "farther", 1.0),
        )
    )
    with pytest.raises(FloatingNodes) as caught:
        require_anchored(solve(netlist))
    assert caught.value.nodes == ("far", "farther")
    assert solve(netlist).between("far", "R") is None
    closed = require_anchored(solve(netlist, operated={"cut"}))
    assert closed.between("farther", "R") == pytest.approx(0.0)
