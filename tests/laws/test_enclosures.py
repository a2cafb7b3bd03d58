"""What one volt in series drives, and the discs drawn from it for whole boxes of parameters, on random control circuits."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import numpy as np
import pytest

from subbase.circuit import Netlist, Source, solve
from subbase.circuit.enclosure import Network, enclose
from subbase.circuit.influence import Shape, influence
from subbase.circuit.solve import branch_impedances
from tests.laws.circuits import random_circuit, random_state


@pytest.mark.parametrize("seed", range(10))
def test_influences_are_what_a_volt_in_series_drives(seed: int) -> None:
    """Each influence is the current or voltage that the reference solver finds for 1 V in one branch alone."""
    rng = Random(seed)
    netlist = random_circuit(rng)
    operated, coils_in = random_state(rng, netlist)
    conducting = list(branch_impedances(netlist, operated, coils_in))
    dead = [Source(branch.tag, branch.tail, branch.head, 0.0, z_ohm) for branch, z_ohm in conducting]
    network = Netlist(tuple(dead))
    island_of = solve(network).island_of
    a = rng.choice(network.nodes())
    b = rng.choice([node for node in network.nodes() if island_of[node] == island_of[a]])
    shape = Shape(network.elimination, network.ends, tuple(range(len(dead))), ((network.index[a], network.index[b]),))
    current_s, port_share = influence(shape, np.array([[z_ohm for _, z_ohm in conducting]], dtype=np.complex128))
    for column in rng.sample(range(len(dead)), 3):
        alone = [replace(source, emf_v=1.0) if i == column else source for i, source in enumerate(dead)]
        solution = solve(Netlist(tuple(alone)))
        expected = [solution.current_a(source.tag) for source in dead]
        assert current_s[0, :, column] == pytest.approx(expected, abs=1e-11)
        assert port_share[0, 0, column] == pytest.approx(solution.between(a, b) or 0j, abs=1e-12)


@pytest.mark.parametrize("seed", range(20))
def test_every_point_of_a_box_is_within_its_enclosure(seed: int) -> None:
    """At 40 points of a box, corners among them, |V|² and its slopes are within the discs drawn for the whole box."""
    rng, draws = Random(seed), np.random.default_rng(seed)
    netlist = random_circuit(rng)
    operated, coils_in = random_state(rng, netlist)
    conducting = list(branch_impedances(netlist, operated, coils_in))
    n_driven = len(conducting)
    shape = Shape(
        netlist.elimination,
        tuple(netlist.ends[netlist.branches.index(b)] for b, _ in conducting),
        tuple(range(n_driven)),
    )
    low = draws.uniform(0.7, 1.1, 2 * n_driven)
    network = Network(
        shape,
        np.array([z_ohm for _, z_ohm in conducting], dtype=np.complex128),
        np.array([b.emf_v if isinstance(b, Source) else 0.0 for b, _ in conducting], dtype=np.complex128),
        low,
        low + draws.uniform(0.0, 0.3, 2 * n_driven),
        draws.integers(0, 2 * n_driven, 2 * n_driven),
    )
    start = draws.uniform(0.0, 0.7, network.parameter_count)
    port = np.array([rng.randrange(n_driven)])
    box = enclose(network, start[None], start[None] + 0.3, port)
    points = draws.random((40, network.parameter_count))
    points[::2] = points[::2] > 0.5
    points = start + 0.3 * points
    seen = enclose(network, points, points, np.repeat(port, 40))
    rounding = 1e-9 * seen.middle2.max() + 1e-18
    assert box.proven.all()
    assert (box.low2 - rounding <= seen.middle2).all()
    assert (seen.middle2 <= box.high2 + rounding).all()
    assert (np.abs(seen.slope - box.slope) <= box.slope_radius + 10.0 * rounding).all()
