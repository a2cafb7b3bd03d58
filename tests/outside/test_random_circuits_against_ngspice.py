"""Random control circuits through ngspice, a circuit simulator that was not made here."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest

from subbase.circuit import Impedance, Netlist, Source, Switch, solve
from subbase.circuit.batch import compile_netlist, flag_rows, solve_states
from subbase.circuit.spice import spice_deck, spice_node_names
from tests.laws.circuits import random_circuit, random_state
from tests.outside.spice_runner import node_voltages, spice_library

RELATIVE = 1e-6
"""Of the largest voltage in the circuit; ngspice calculates in double precision."""
NGSPICE = (
    "ngspice 39, a circuit simulator grown from Berkeley SPICE 3; .ac analysis at 60 Hz of decks written by spice_deck."
)


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("first", range(0, 300, 20))
def test_node_voltages_of_random_circuits_are_those_of_ngspice(first: int) -> None:
    """In 300 random circuits, two states each, both solvers find ngspice's node voltages within a millionth."""
    for seed in range(first, first + 20):
        rng = Random(seed)
        netlist = random_circuit(rng)
        compiled = compile_netlist(netlist)
        for _ in range(2):
            operated, coils_in = random_state(rng, netlist)
            library = spice_library()
            library.load(spice_deck(netlist, operated=operated, coils_in=coils_in))
            library.run()
            spice_v = library.node_voltages()
            expected_v = np.array([spice_v[node] for node in compiled.nodes])
            solution = solve(netlist, operated=operated, coils_in=coils_in)
            rows = flag_rows(compiled.switches, [operated]), flag_rows(compiled.coils, [coils_in])
            for found_v in (
                np.array([solution.node_v[node] for node in compiled.nodes]),
                solve_states(compiled, *rows)[0],
            ):
                worst_v = np.abs(found_v - expected_v).max()
                assert worst_v <= RELATIVE * np.abs(expected_v).max(), f"seed {seed}, {operated}, {coils_in}"


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("seed", range(300, 304))
def test_a_deck_runs_unchanged_in_the_ngspice_program(seed: int) -> None:
    """The deck as written to a file gives the same voltages through ``ngspice -b``."""
    rng = Random(seed)
    netlist = random_circuit(rng)
    operated, coils_in = random_state(rng, netlist)
    solution = solve(netlist, operated=operated, coils_in=coils_in)
    found_v = node_voltages(spice_deck(netlist, operated=operated, coils_in=coils_in))
    largest_v = max(abs(v) for v in solution.node_v.values())
    assert found_v.keys() == solution.node_v.keys()
    assert all(abs(found_v[node] - v) <= RELATIVE * largest_v for node, v in solution.node_v.items())


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_pure_reactances_and_odd_names_survive_the_deck() -> None:
    """Loops of inductors, capacitors alone, quotes, accents and names that differ in case only are told apart."""
    netlist = Netlist(
        (
            Source("T 1", "C", "c", 27.0, 1.8 + 0.3j),
            Impedance('the "blue" one', "c", "bleu é", 5j),
            Impedance("Cap", "bleu é", "C", -40j),
            Switch("cap", "bleu é", "Bleu É"),
            Source("T2", "other C", "other R", 24j, 5j),
            Impedance("choke", "other C", "other R", 20j),
            Impedance("loose", "x", "X", 3.0),
        )
    )
    solution = solve(netlist, operated={"cap"})
    assert len(set(spice_node_names(netlist).values())) == len(netlist.nodes())
    assert node_voltages(spice_deck(netlist, operated={"cap"}, title="odd\nnames")) == pytest.approx(solution.node_v)
