"""Laws that the waveforms of any circuit with diodes obey."""

from __future__ import annotations

import math
from random import Random

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from subbase.circuit import Netlist, Switch, solve
from subbase.circuit.diodes import Diode, DiodeBranch, DiodeCircuit, Sine, Winding, with_diodes
from subbase.circuit.halfwave import steady_state
from subbase.circuit.solve import branch_impedances
from tests.laws.circuits import LAWS, circuits


def random_diodes(rng: Random) -> DiodeCircuit:
    """Return a supply or two, and windings and diodes between a handful of nodes."""
    nodes = ["C", "R", "a", "b", "c", "d"][: rng.randint(3, 6)]
    branches: list[DiodeBranch] = [Sine("supply", "C", "R", 27.0, rng.uniform(0.5, 3.0), rng.choice((0.0, 1e-3)))]
    if rng.random() < 0.3:
        branches.append(Sine("other", "C", "a", 24j, rng.uniform(0.5, 3.0)))
    # A tree of resistors keeps every node within reach of common.
    for i, node in enumerate(nodes[2:]):
        branches.append(Winding(f"tree{i}", node, rng.choice(nodes[: i + 2]), rng.uniform(20.0, 2000.0)))
    for i in range(rng.randint(2, 7)):
        tail, head = rng.sample(nodes, 2)
        if rng.random() < 0.6:
            branches.append(Diode(f"diode{i}", tail, head))
        else:
            branches.append(Winding(f"coil{i}", tail, head, rng.uniform(5.0, 200.0), rng.choice((0.0, 0.02, 0.5))))
    return DiodeCircuit(tuple(branches))


QUICK = settings(LAWS, phases=(Phase.explicit, Phase.generate))
"""Shrinking a failure would take minutes."""
diode_circuits = st.builds(random_diodes, st.randoms(use_true_random=False))


@QUICK
@given(diode_circuits)
def test_what_sources_give_the_rest_takes_up(circuit: DiodeCircuit) -> None:
    """Mean powers add up to nothing, diodes take up some, and a winding takes up R times its rms current squared."""
    found = steady_state(circuit)
    power_w = {branch.tag: found.power_w(branch.tag) for branch in circuit.branches}
    largest = max(abs(each) for each in power_w.values())
    assert sum(power_w.values()) == pytest.approx(0.0, abs=1e-12 + 1e-6 * largest)
    for branch in circuit.branches:
        if isinstance(branch, Winding):
            heat_w = branch.r_ohm * found.current_a(branch.tag).rms ** 2
            assert power_w[branch.tag] == pytest.approx(heat_w, rel=1e-5, abs=1e-12 + 1e-8 * largest)
        if isinstance(branch, Diode):
            assert power_w[branch.tag] >= -1e-12 - 1e-9 * largest


@QUICK
@given(diode_circuits)
def test_an_inductance_holds_back_no_mean_voltage(circuit: DiodeCircuit) -> None:
    """The mean voltage of a winding is its resistance times its mean current, because the waveform repeats."""
    found = steady_state(circuit)
    for branch in circuit.branches:
        if isinstance(branch, Winding):
            mean_v = found.across(branch.tag).mean
            size_v = found.across(branch.tag).rms
            assert mean_v == pytest.approx(branch.r_ohm * found.current_a(branch.tag).mean, abs=1e-6 + 1e-6 * size_v)


@LAWS
@given(circuits)
def test_without_diodes_the_waveforms_are_the_phasors(netlist: Netlist) -> None:
    """Every voltage is a sine with the rms value of ``solve``, in every island of a random circuit."""
    every = frozenset(switch.tag for switch in netlist.of(Switch))
    conducting = tuple(branch_impedances(netlist, every, frozenset()))
    if any(complex(z_ohm).imag < 0.0 for _, z_ohm in conducting):
        with pytest.raises(ValueError, match="only those are modelled"):
            with_diodes(netlist, (), operated=every)
        return
    found = steady_state(with_diodes(netlist, (), operated=every))
    solution = solve(netlist, operated=every)
    largest = max(abs(v) for v in solution.volts)
    for branch, _ in conducting:
        waveform = found.across(branch.tag)
        assert waveform.rms == pytest.approx(abs(solution.across(branch.tag)), abs=1e-7 * largest)
        assert waveform.mean == pytest.approx(0.0, abs=1e-9 * largest)
        assert found.current_a(branch.tag).rms == pytest.approx(abs(solution.current_a(branch.tag)), rel=1e-4, abs=1e-6)


def test_opposite_half_waves_keep_two_loads_apart() -> None:
    """On one conductor, a diode at the wall chooses which of two loads is fed; both diodes feed both."""

    def loads(*wall: Diode) -> tuple[float, float]:
        circuit = DiodeCircuit(
            (
                Sine("supply", "C", "R", 24.0, 1.8),
                *wall,
                Winding("shared", "at wall", "far", 0.6),
                Diode("far +", "far", "Y"),
                Diode("far -", "G", "far"),
                Winding("cool", "Y", "C", 300.0),
                Winding("fan", "G", "C", 300.0),
            )
        )
        found = steady_state(circuit)
        return found.across("cool").mean, found.across("fan").mean

    plus, minus = Diode("wall +", "R", "at wall"), Diode("wall -", "at wall", "R")
    only_cool, only_fan, both = loads(plus), loads(minus), loads(plus, minus)
    assert only_cool == pytest.approx((both[0], 0.0), abs=0.01)
    assert only_fan == pytest.approx((0.0, both[1]), abs=0.01)
    assert both[0] == pytest.approx(-both[1])
    assert both[0] > 9.5


def test_nodes_that_nothing_joins_have_no_voltage_between_them() -> None:
    """Two supplies without a common wire give None between them, and so does a name that is not there."""
    one = (Sine("one", "C", "R", 24.0, 1.0), Winding("load", "R", "C", 100.0))
    two = (Sine("two", "C2", "R2", 24.0, 1.0), Winding("load2", "R2", "C2", 100.0, 0.1))
    found = steady_state(DiodeCircuit((*one, *two)))
    assert found.between("R", "R2") is None
    assert found.between("R", "nowhere") is None
    between = found.between("R", "C")
    assert between is not None
    assert between.rms == pytest.approx(24.0 * 100.0 / 101.0)
    assert between.highest == pytest.approx(math.sqrt(2.0) * between.rms, rel=1e-6)
    assert between.ripple_rms == pytest.approx(between.rms)


def test_volts_between_two_nodes_are_those_across_what_joins_them() -> None:
    """Behind a diode, between two points of which neither is the reference: the same waveform as across the load there."""
    found = steady_state(
        DiodeCircuit(
            (
                Sine("supply", "C", "R", 24.0, 1.8), Winding("first", "R", "mid", 20.0), Diode("d", "mid", "Y"),
                Winding("load", "Y", "far", 60.0, 0.05), Winding("last", "far", "C", 30.0),
            )
        )
    )  # fmt: skip
    between, across = found.between("Y", "far"), found.across("load")
    assert between is not None
    assert (between.mean, between.rms, between.highest, between.lowest) == pytest.approx(
        (across.mean, across.rms, across.highest, across.lowest)
    )
    # A meter that blocks direct volts shows the rest: rms² is mean² and ripple² (Parseval).
    assert between.mean > 1.0
    assert between.ripple_rms**2 + between.mean**2 == pytest.approx(between.rms**2)


@pytest.mark.parametrize(
    ("branch", "says"),
    [
        (Winding("w", "a", "a", 1.0), "to itself"),
        (Winding("w", "a", "b", 0.0), "resistance above 0"),
        (Diode("d", "a", "b", off_ohm=0.01), "on_ohm < off_ohm"),
        (Diode("d", "a", "b", forward_v=-1.0), "cannot be under 0"),
    ],
)
def test_parts_that_cannot_be_are_refused(branch: DiodeBranch, says: str) -> None:
    """Each wrong part is an error that says what is wrong with it."""
    with pytest.raises(ValueError, match=says):
        DiodeCircuit((branch,))
