"""The batched kernel against the reference solver, and both against arithmetic without rounding."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from subbase.circuit import Netlist, Settled, Solution, settle, solve
from subbase.circuit.batch import Compiled, compile_netlist, flag_rows, settle_states, solve_in_blocks, solve_states
from subbase.circuit.netlist import Coil, Impedance, Source, Switch, Tag
from subbase.circuit.solve import branch_impedances
from subbase.errors import Chatter, NoSolution
from tests.agreement.exact import exact_node_voltages
from tests.laws.circuits import random_circuit, random_state

SEEDS = range(1000)
STATES = 6
RELATIVE = 1e-10
"""Of the largest voltage in the state."""

States = list[tuple[set[Tag], set[Tag]]]


def random_case(seed: int) -> tuple[Compiled, States]:
    """Return a random circuit and some of its states."""
    rng = Random(seed)
    compiled = compile_netlist(random_circuit(rng))
    return compiled, [random_state(rng, compiled.netlist) for _ in range(STATES)]


def rows(compiled: Compiled, states: States) -> tuple[np.ndarray, np.ndarray]:
    """Return the states as the kernel takes them."""
    operated, coils_in = zip(*states, strict=True)
    return flag_rows(compiled.switches, operated), flag_rows(compiled.coils, coils_in)


def agree(compiled: Compiled, node_v: np.ndarray, solution: Solution) -> bool:
    """Say whether the kernel's voltages are the reference's."""
    expected_v = np.array([solution.node_v[node] for node in compiled.nodes])
    return bool(np.abs(node_v - expected_v).max() <= RELATIVE * np.abs(expected_v).max())


def settle_or_chatter(netlist: Netlist, operated: set[Tag], coils_in: set[Tag]) -> Settled | Chatter:
    """Settle by the reference; return the error when the state never comes to rest."""
    try:
        return settle(netlist, operated=operated, coils_in=coils_in)
    except Chatter as chatter:
        return chatter


@pytest.mark.parametrize("first", range(0, len(SEEDS), 100))
def test_voltages_of_random_circuits_agree(first: int) -> None:
    """Every state of every circuit, with open contacts, leakages, loose ends and supplies tied together."""
    for seed in SEEDS[first : first + 100]:
        compiled, states = random_case(seed)
        batch = solve_states(compiled, *rows(compiled, states))
        for node_v, (operated, coils_in) in zip(batch, states, strict=True):
            solution = solve(compiled.netlist, operated=operated, coils_in=coils_in)
            assert agree(compiled, node_v, solution), f"seed {seed}, {operated}, {coils_in}"


@pytest.mark.parametrize("first", range(0, len(SEEDS), 100))
def test_random_circuits_settle_alike(first: int) -> None:
    """Coils at rest, the count of steps, chatter and its coils are the same from any start."""
    for seed in SEEDS[first : first + 100]:
        compiled, states = random_case(seed)
        batch = settle_states(compiled, *rows(compiled, states))
        for k, (operated, coils_in) in enumerate(states):
            settled = settle_or_chatter(compiled.netlist, operated, coils_in)
            if isinstance(settled, Chatter):
                assert batch.chattering(k) == settled.coils
                assert batch.step_count[k] == -1
                assert np.isnan(batch.node_v[k]).all()
                continue
            assert batch.chattering(k) == ()
            at_rest = {tag for tag, is_in in zip(compiled.coils, batch.coils_in[k], strict=True) if is_in}
            assert at_rest == settled.coils_in
            assert batch.step_count[k] == len(settled.steps)
            assert agree(compiled, batch.node_v[k], settled.solution), f"seed {seed}, {operated}, {coils_in}"


@pytest.mark.parametrize("seed", range(12))
def test_both_solvers_keep_every_digit(seed: int) -> None:
    """Against fractions that never round, voltages are good to 1e-12 even where only a leakage carries them."""
    compiled, states = random_case(seed)
    batch = solve_states(compiled, *rows(compiled, states))
    for node_v, (operated, coils_in) in zip(batch[:2], states[:2], strict=True):
        solution = solve(compiled.netlist, operated=operated, coils_in=coils_in)
        branches = list(branch_impedances(compiled.netlist, operated, coils_in))
        exact = exact_node_voltages(branches, compiled.nodes, set(solution.island_of.values()))
        expected_v = np.array([exact[node] for node in compiled.nodes])
        for found_v in (node_v, np.array([solution.node_v[node] for node in compiled.nodes])):
            assert np.abs(found_v - expected_v).max() <= 1e-12 * np.abs(expected_v).max()


def test_many_states_in_threads_and_blocks_are_those_of_few() -> None:
    """Neither threads nor blocks change a bit of the result."""
    compiled, _ = random_case(7)
    rng = np.random.default_rng(7)
    operated = rng.random((20_000, len(compiled.switches))) < 0.5
    coils_in = rng.random((20_000, len(compiled.coils))) < 0.5
    whole = solve_states(compiled, operated, coils_in, threads=2)
    assert np.array_equal(whole, solve_states(compiled, operated, coils_in, threads=1))
    for part, node_v in solve_in_blocks(compiled, operated, coils_in, block=3_000):
        assert np.array_equal(whole[part], node_v)
    few = settle_states(compiled, operated[:50], coils_in[:50])
    many = settle_states(compiled, operated, coils_in)
    assert np.array_equal(few.coils_in, many.coils_in[:50])
    assert np.array_equal(few.node_v, many.node_v[:50], equal_nan=True)


@pytest.mark.parametrize(
    "netlist",
    [
        Netlist(()),
        Netlist((Impedance("alone", "a", "b", 1.0),)),
        Netlist((Source("supply", "C", "R", 27.0, 1.8),)),
        Netlist((Switch("lone", "a", "b"),)),
        Netlist((Source("a", "C1", "R1", 24.0, 1.0), Source("b", "C2", "R2", 24.0, 1.0), Switch("tie", "C2", "R1"))),
    ],
    ids=["nothing", "no supply", "no load", "no fixed branch", "two supplies"],
)
def test_small_circuits_agree(netlist: Netlist) -> None:
    """Circuits with nothing to switch, nothing to feed or nothing at all are solved like any other."""
    compiled = compile_netlist(netlist)
    states: States = [(set(), set()), ({switch.tag for switch in netlist.of(Switch)}, set())]
    batch = solve_states(compiled, *rows(compiled, states))
    for node_v, (operated, _) in zip(batch, states, strict=True):
        solution = solve(netlist, operated=operated)
        assert node_v == pytest.approx([solution.node_v[node] for node in compiled.nodes])


def test_no_states_give_no_voltages() -> None:
    """An empty list of states is no error."""
    compiled, _ = random_case(1)
    nothing = np.zeros((0, len(compiled.switches)), dtype=bool), np.zeros((0, len(compiled.coils)), dtype=bool)
    assert solve_states(compiled, *nothing).shape == (0, len(compiled.nodes))
    assert settle_states(compiled, nothing[0]).node_v.shape == (0, len(compiled.nodes))


def test_an_exact_resonance_is_refused_whether_a_coil_makes_it_or_not() -> None:
    """Reference and kernel say so instead of dividing by zero, the kernel for the state concerned and no other."""
    capacitor, supply = Impedance("capacitor", "a", "C", -10j), Source("supply", "C", "R", 24.0, 1.0)
    with pytest.raises(NoSolution, match="cancel exactly"):
        compile_netlist(Netlist((capacitor, Impedance("inductor", "a", "R", 10j), supply)))
    netlist = Netlist((capacitor, Coil("K", "a", "R", 10j, 20j, 18.0, 8.0), supply))
    compiled = compile_netlist(netlist)
    no_switch, in_and_out = np.zeros((2, 0), dtype=bool), np.array([[True], [False]])
    with pytest.raises(NoSolution, match="cancel exactly"):
        solve(netlist)
    solution = solve(netlist, coils_in={"K"})
    found_v = solve_states(compiled, no_switch[:1], in_and_out[:1])[0]
    assert found_v == pytest.approx([solution.node_v[node] for node in compiled.nodes])
    for solver in (solve_states, settle_states):
        with pytest.raises(NoSolution, match="in state 1"):
            solver(compiled, no_switch, in_and_out)


def test_states_that_do_not_fit_are_refused() -> None:
    """Wrong widths, kinds and counts are told apart in a sentence."""
    compiled = compile_netlist(Netlist((Source("supply", "C", "R", 24.0, 1.0), Switch("s", "R", "a"))))
    none = np.zeros((2, 0), dtype=bool)
    with pytest.raises(ValueError, match="1 columns"):
        solve_states(compiled, np.zeros((2, 3), dtype=bool), none)
    with pytest.raises(ValueError, match="must be boolean"):
        solve_states(compiled, np.zeros((2, 1)), none)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="as many of both"):
        solve_states(compiled, np.zeros((3, 1), dtype=bool), none)
    with pytest.raises(ValueError, match="not in the netlist: t"):
        flag_rows(compiled.switches, [{"s"}, {"t"}])


def test_more_coils_than_a_machine_word_has_bits_settle_alike() -> None:
    """Seventy relays on one supply pull in, or only the one that is started."""
    supply = Source("supply", "C", "R", 27.0, 0.01)
    coils = [Coil(f"K{i}", f"n{i}", "C", 300.0, 400.0, 18.0, 8.0) for i in range(70)]
    feeds = [Switch("start", "R", "n0"), *(Switch(f"s{i}", "R", f"n{i}") for i in range(1, 70))]
    compiled = compile_netlist(Netlist((supply, *coils, *feeds)))
    operated = flag_rows(compiled.switches, [set(compiled.switches), {"start"}])
    batch = settle_states(compiled, operated)
    assert batch.coils_in.sum(axis=1).tolist() == [70, 1]
