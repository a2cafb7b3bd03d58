"""Laws that every linear network obeys, held against the reference solver on random control circuits."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.circuit import Impedance, Netlist, Solution, Source, solve
from subbase.circuit.netlist import Node, Tag
from subbase.circuit.solve import branch_impedances
from tests.laws.circuits import LAWS, circuits, random_state, resistive_circuits

RELATIVE = 1e-10
"""Of the largest quantity in the circuit; rounding in 40 nodes with closed contacts of 0.02 ohm stays far below."""

randoms = st.randoms(use_true_random=False)


@LAWS
@given(circuits, randoms)
def test_currents_into_every_node_sum_to_zero(netlist: Netlist, rng: Random) -> None:
    """Kirchhoff's current law holds at every node, references included."""
    solution = solve_some_state(netlist, rng)
    into_a: dict[Node, complex] = dict.fromkeys(netlist.nodes(), 0j)
    largest_a = 0.0
    for branch in netlist.branches:
        current_a = solution.current_a(branch.tag)
        into_a[branch.tail] -= current_a
        into_a[branch.head] += current_a
        largest_a = max(largest_a, abs(current_a))
    # A current is a difference of node voltages over as little as 0.02 ohm, so their rounding shows in it.
    allowed_a = RELATIVE * largest_a + 1e-14 * largest_v(solution) / 0.02
    assert all(abs(current_a) <= allowed_a for current_a in into_a.values())


@LAWS
@given(circuits, randoms)
def test_complex_power_of_supplies_equals_that_of_impedances(netlist: Netlist, rng: Random) -> None:
    """What the electromotive forces give, active and reactive, is what all impedances take."""
    solution = solve_some_state(netlist, rng)
    given_va = sum(source.emf_v * solution.current_a(source.tag).conjugate() for source in netlist.of(Source))
    conducting = branch_impedances(netlist, solution.operated, solution.coils_in)
    taken = [abs(solution.current_a(branch.tag)) ** 2 * z_ohm for branch, z_ohm in conducting]
    # A current that is 0 comes out as the rounding of some volts over as little as 0.02 ohm.
    rounding_va = 1e-14 / 0.02 * largest_v(solution) ** 2
    assert abs(given_va - sum(taken)) <= RELATIVE * sum(abs(va) for va in taken) + rounding_va


@LAWS
@given(circuits, randoms)
def test_exchanging_supply_and_ammeter_changes_nothing(netlist: Netlist, rng: Random) -> None:
    """Reciprocity: 1 V in one branch drives in another the current that 1 V there drives in the first."""
    ends = [tuple(rng.sample(netlist.nodes(), 2)) for _ in range(2)]
    probes = tuple(Source(f"probe{i}", tail, head, 0.0, 5.0 + 1j) for i, (tail, head) in enumerate(ends))
    dead = with_emfs(netlist, {}).with_branches(probes)
    operated, coils_in = random_state(rng, netlist)
    forth, back = (
        solve(with_emfs(dead, {driven: 1.0}), operated=operated, coils_in=coils_in).current_a(read)
        for driven, read in (("probe0", "probe1"), ("probe1", "probe0"))
    )
    assert abs(forth - back) <= 1e-12


@LAWS
@given(circuits, randoms)
def test_voltages_of_supplies_add_up(netlist: Netlist, rng: Random) -> None:
    """Superposition: all supplies together give the sum of what each gives alone."""
    operated, coils_in = random_state(rng, netlist)
    together = solve(netlist, operated=operated, coils_in=coils_in)
    alone = [
        solve(with_emfs(netlist, {source.tag: source.emf_v}), operated=operated, coils_in=coils_in)
        for source in netlist.of(Source)
    ]
    for node, v in together.node_v.items():
        assert abs(v - sum(solution.node_v[node] for solution in alone)) <= 1e-8 * largest_v(together)


@LAWS
@given(resistive_circuits, randoms, st.floats(1.0, 1000.0))
def test_one_more_resistor_never_raises_the_supply_voltage(netlist: Netlist, rng: Random, load_ohm: float) -> None:
    """Rayleigh's monotonicity law: among resistances, one more path can only load a lone supply further."""
    first = next(netlist.of(Source))
    lone = with_emfs(netlist, {first.tag: first.emf_v})
    operated, coils_in = random_state(rng, netlist)
    tail, head = rng.sample(netlist.nodes(), 2)
    loaded = lone.with_branches([Impedance("one more", tail, head, load_ohm)])
    before, after = (
        abs(solve(wiring, operated=operated, coils_in=coils_in).across(first.tag)) for wiring in (lone, loaded)
    )
    assert after <= before * (1.0 + 1e-12)


@LAWS
@given(circuits, randoms)
def test_every_reference_stands_at_zero_and_floating_islands_with_it(netlist: Netlist, rng: Random) -> None:
    """Each island's reference is at 0 V, and so is every node that no path joins to a supply."""
    solution = solve_some_state(netlist, rng)
    for node in {*solution.island_of.values(), *solution.floating}:
        assert solution.node_v[node] == 0


def test_a_supply_at_no_load_shows_its_electromotive_force() -> None:
    """With nothing connected the whole electromotive force stands between tail and head."""
    solution = solve(Netlist((Source("supply", "C", "R", 27.0, 1.8),)))
    assert solution.between("R", "C") == pytest.approx(27.0)
    assert solution.current_a("supply") == pytest.approx(0.0)


def solve_some_state(netlist: Netlist, rng: Random) -> Solution:
    """Return the solution of a random state."""
    operated, coils_in = random_state(rng, netlist)
    return solve(netlist, operated=operated, coils_in=coils_in)


def with_emfs(netlist: Netlist, emf_v: dict[Tag, complex]) -> Netlist:
    """Return the netlist with the named electromotive forces and no others."""
    return Netlist(
        tuple(
            replace(branch, emf_v=emf_v.get(branch.tag, 0.0)) if isinstance(branch, Source) else branch
            for branch in netlist.branches
        )
    )


def largest_v(solution: Solution) -> float:
    """Return the largest node voltage [V rms]."""
    return max(abs(v) for v in solution.node_v.values())
