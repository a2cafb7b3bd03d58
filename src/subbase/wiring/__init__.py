"""A house as a circuit: survey and catalogue become a netlist, its legal states, and what each state must bring on.

The same builder serves the house as found and as left, since a plan's result is again a survey. Nothing here chooses
anything; it only says what is there.
"""

from subbase.wiring.build import Corner, House, Rewiring, build_house, rewiring
from subbase.wiring.outputs import Settings, outputs_on, settings_for
from subbase.wiring.states import OFF, Need, State, legal_states, need_of, single_calls, system_calls

__all__ = [
    "OFF",
    "Corner",
    "House",
    "Need",
    "Rewiring",
    "Settings",
    "State",
    "build_house",
    "legal_states",
    "need_of",
    "outputs_on",
    "rewiring",
    "settings_for",
    "single_calls",
    "system_calls",
]
