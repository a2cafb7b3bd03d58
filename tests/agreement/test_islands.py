"""What is joined to what, as the diagnosis counts it for many variants at once, against the reference solver one by one."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from random import Random

import numpy as np
import pytest

from subbase.circuit import Coil, Contact, Netlist, Switch, solve
from subbase.circuit.changes import Change, bridged, changed, usual_changes
from subbase.diagnose.islands import island_of, paths_of
from tests.laws.circuits import random_circuit

NONE = -1


def several_workers(rng: Random, netlist: Netlist) -> Netlist:
    """Return a circuit in which some contacts are worked by two coils, any of which closes or opens them."""
    coils = [coil.tag for coil in netlist.of(Coil)]
    branches = tuple(
        replace(b, coils=tuple(rng.sample(coils, min(2, len(coils))))) if isinstance(b, Contact) else b
        for b in netlist.branches
    )
    return Netlist(branches)


def without_leaks(netlist: Netlist) -> Netlist:
    """Return a circuit in which open means open."""
    return Netlist(
        tuple(replace(b, z_open_ohm=None) if isinstance(b, Contact | Switch) else b for b in netlist.branches)
    )


@pytest.mark.parametrize("firm", [True, False])
def test_paths_are_those_of_the_solver(firm: bool) -> None:
    """In 60 random circuits with two random changes each, two nodes share an island when the solver joins them, and only then."""
    for seed in range(60):
        rng = Random(seed)
        netlist = several_workers(rng, random_circuit(rng))
        nodes = netlist.nodes()
        changes = [c for c in usual_changes(netlist) if rng.random() < 0.4][:8]
        changes += [bridged(a, b) for a, b in rng.sample(list(combinations(nodes, 2)), 2)]
        pair = rng.sample(range(len(changes)), 2)
        if changes[pair[0]].tag == changes[pair[1]].tag:
            pair[1] = NONE
        switches, coils = [s.tag for s in netlist.of(Switch)], [c.tag for c in netlist.of(Coil)]
        made: list[Change] = [changes[i] for i in pair if i != NONE]
        operated, coils_in = ({tag for tag in tags if rng.random() < 0.5} for tags in (switches, coils))
        coils_in -= {change.tag for change in made}  # a coil that is open or shorted pulls nothing
        found = island_of(
            paths_of(netlist, tuple(changes)), np.array([pair]), np.array([[tag in operated for tag in switches]], dtype=np.bool_),
            np.array([[tag in coils_in for tag in coils]], dtype=np.bool_), np.arange(len(nodes)), firm=firm,
        )[0]  # fmt: skip
        rebuilt = changed(without_leaks(netlist) if firm else netlist, made)
        expected = solve(rebuilt, operated=operated, coils_in=coils_in).island_of
        for (i, a), (k, b) in combinations(enumerate(nodes), 2):
            joined = a == b or (a in expected and b in expected and expected[a] == expected[b])
            assert (found[i] == found[k]) == joined, f"seed {seed}: {a} and {b}"
