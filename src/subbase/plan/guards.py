"""Safety switches must go on stopping what they stop today: floats, limits, pressure switches, low-water cut-offs.

A wiring can hold in every call and still run a house past a full drain pan. So every switch that stands closed is made to
act, in the house as found and as left, and what it stopped before it must stop after.
"""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog
from subbase.circuit import Switch, settle
from subbase.errors import Chatter
from subbase.survey import Survey
from subbase.wiring import House, State, build_house, legal_states
from subbase.wiring.states import judged_loads, operated_switches
from subbase.words import _


def bypassed(found: Survey, left: Survey, catalog: Catalog) -> tuple[str, ...]:
    """Return one sentence for each safety switch that would no longer stop a load which it stops today."""
    before, after = build_house(found, catalog), build_house(left, catalog)
    calls = [state for state in legal_states(found, catalog) if _is_single(state)]
    guards = [switch.tag for switch in before.netlist.of(Switch) if switch.normally_closed]
    return tuple(dict.fromkeys(text for guard in guards for text in _let_through(before, after, guard, calls)))


def _is_single(state: State) -> bool:
    return state.condition is None and len(state.calls) == 1 and len(state.calls[0][1]) == 1


def _let_through(before: House, after: House, guard: str, calls: list[State]) -> Iterator[str]:
    for state in calls:
        stopped = _on(before, state) - _on(before, state, guard)
        through = stopped & _on(after, state, guard)
        if through:
            loads = ", ".join(before.part_words(tag) for tag in sorted(through))
            yield _("{part} would no longer stop {loads}, as it does today").format(
                part=before.part_words(guard), loads=loads
            )


def _on(house: House, state: State, *acted: str) -> frozenset[str]:
    """Return the loads that are on in a call while switches act; none when relays chatter."""
    try:
        settled = settle(house.netlist, operated=operated_switches(house, state) | set(acted))
    except Chatter:
        return frozenset()
    return settled.coils_in & judged_loads(house)
