"""Every example house in every call through ngspice, a circuit simulator that was not made here."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Coil, Netlist, settle
from subbase.circuit.spice import spice_deck
from subbase.wiring import build_house, legal_states
from subbase.wiring.states import operated_switches
from tests.houses import BUILDABLE, circuits_of
from tests.outside.spice_runner import node_voltages, spice_library

RELATIVE = 1e-3
"""Node voltages must agree within 0.1 % of the largest in the house."""
NGSPICE = (
    "ngspice 39, a circuit simulator grown from Berkeley SPICE 3; .ac analysis at 60 Hz of decks written by spice_deck."
)


def spice_voltages(netlist: Netlist, operated: frozenset[str], coils_in: frozenset[str]) -> dict[str, complex]:
    """Return ngspice's node voltages of one switch state."""
    library = spice_library()
    library.load(spice_deck(netlist, operated=operated, coils_in=coils_in))
    library.run()
    return library.node_voltages()


def settled_by_spice(netlist: Netlist, operated: frozenset[str]) -> tuple[frozenset[str], dict[str, complex]]:
    """Return (coils in, node voltages) at rest, with every voltage taken from ngspice and none from the solver."""
    state: frozenset[str] = frozenset()
    for _ in range(100):
        volts = spice_voltages(netlist, operated, state)
        wanting = []
        for coil in netlist.of(Coil):
            across_v = abs(volts[coil.tail] - volts[coil.head])
            wants = across_v < coil.drop_out_v if coil.tag in state else across_v >= coil.pull_in_v
            if wants:
                wanting.append(coil)
        if not wanting:
            return state, volts
        first_s = min(coil.delay_s for coil in wanting)
        state ^= {coil.tag for coil in wanting if coil.delay_s == first_s}
    raise AssertionError("The coils do not come to rest by ngspice's voltages.")


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", BUILDABLE)
def test_every_call_of_a_house_settles_as_ngspice_says(name: str) -> None:
    """As found and as left, in every legal state, the same coils are in and node voltages agree within 0.1 %."""
    catalog = load_catalog()
    checked = 0
    for survey in circuits_of(name):
        house = build_house(survey, catalog)
        for state in legal_states(survey, catalog):
            operated = operated_switches(house, state)
            found = settle(house.netlist, operated=operated)
            coils_in, volts = settled_by_spice(house.netlist, operated)
            assert found.coils_in == coils_in, f"{name}, {state.words()}"
            ours = found.solution.node_v
            largest_v = max(abs(v) for v in ours.values())
            # Only voltages within an island mean anything: each is compared against its own reference.
            for node, reference in found.solution.island_of.items():
                theirs = volts[node] - volts[reference]
                assert abs(theirs - ours[node]) <= RELATIVE * largest_v, f"{name}, {state.words()}, {node}"
            checked += 1
    assert checked > 0


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_a_house_deck_runs_unchanged_in_the_ngspice_program() -> None:
    """The deck of a settled house, as written to a file, gives the same voltages through ``ngspice -b``."""
    catalog = load_catalog()
    survey = circuits_of(BUILDABLE[0])[-1]
    house = build_house(survey, catalog)
    state = legal_states(survey, catalog)[-1]
    found = settle(house.netlist, operated=operated_switches(house, state))
    deck = spice_deck(house.netlist, operated=operated_switches(house, state), coils_in=found.coils_in)
    volts = node_voltages(deck)
    largest_v = max(abs(v) for v in found.solution.node_v.values())
    for node, reference in found.solution.island_of.items():
        assert abs(volts[node] - volts[reference] - found.solution.node_v[node]) <= RELATIVE * largest_v
