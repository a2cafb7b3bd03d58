"""Slips through ngspice in this process: one deck for each state at rest of each slip's house."""

from __future__ import annotations

from collections.abc import Sequence

from subbase.circuit.spice import spice_deck
from subbase.plan import Plan
from subbase.wiring import State, build_house
from subbase.work.calls import solved_calls
from subbase.work.slips import Slip
from tests.outside.spice_runner import spice_library


class SpiceSlips:
    """The decks of some slips, made ready so that writing them is not counted."""

    def __init__(self, plan: Plan, slips: Sequence[Slip], states: Sequence[State]) -> None:
        self.library = spice_library()
        self.decks: list[str] = []
        for slip in slips:
            house = build_house(slip.survey, plan.catalog)
            for call in solved_calls(house, states, dict(slip.settings)):
                at_rest = call.solutions[0]
                self.decks.append(spice_deck(house.netlist, operated=at_rest.operated, coils_in=at_rest.coils_in))

    def solve_all(self) -> None:
        """Load and solve every deck once and take the voltages."""
        for deck in self.decks:
            self.library.load(deck)
            self.library.run()
            self.library.node_voltages()
