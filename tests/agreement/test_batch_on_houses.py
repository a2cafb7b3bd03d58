"""The batched kernel and the reference solver on every example house, in every legal state."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.catalog import load_catalog
from subbase.circuit import settle
from subbase.circuit.batch import compile_netlist, flag_rows, settle_states
from subbase.wiring import build_house, legal_states
from subbase.wiring.build import CORNERS
from subbase.wiring.states import operated_switches
from tests.houses import BUILDABLE, circuits_of

RELATIVE = 1e-10


@pytest.mark.parametrize("name", BUILDABLE)
def test_kernel_and_reference_settle_a_house_alike(name: str) -> None:
    """As found and as left, at every corner, in every legal state: same coils, same steps, voltages within 1e-10."""
    catalog = load_catalog()
    for survey in circuits_of(name):
        for corner in CORNERS:
            house = build_house(survey, catalog, corner=corner)
            compiled = compile_netlist(house.netlist)
            states = [operated_switches(house, state) for state in legal_states(survey, catalog)]
            batch = settle_states(compiled, flag_rows(compiled.switches, states))
            assert not batch.chatter.any()
            for row, operated in enumerate(states):
                expected = settle(house.netlist, operated=operated)
                assert {
                    tag for tag, is_in in zip(compiled.coils, batch.coils_in[row], strict=True) if is_in
                } == expected.coils_in
                assert batch.step_count[row] == len(expected.steps)
                expected_v = np.array([expected.solution.node_v[node] for node in compiled.nodes])
                assert np.abs(batch.node_v[row] - expected_v).max() <= RELATIVE * np.abs(expected_v).max()
