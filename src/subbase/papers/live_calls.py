"""Each call of a house solved for a live ladder: what is made, which pieces are hot, and the volts between any two points.

The volts are those of the circuit model, by the same houses and corners as the expected readings of the plan: nominal,
line low and line high. A reading between two points is the size of the difference of two phasors, so whatever the phase,
it is what a meter on AC volts shows; its bounds are widened for the meter as the plan's are.
"""

from __future__ import annotations

from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.circuit import Coil, Settled, settle
from subbase.papers.rung_steps import hot_pieces, rung_key
from subbase.papers.rung_trees import Element
from subbase.papers.rungs import Ladder
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import Survey, is_inner_point
from subbase.wiring import House, State, build_house, legal_states
from subbase.wiring.build import CORNERS
from subbase.wiring.states import operated_switches

Phasors = tuple[complex, complex, complex]
"""Of one point: nominal, line low, line high [V rms]."""


@dataclass(frozen=True, slots=True)
class MeterReading:
    """What a meter must read between two points [V]."""

    nominal: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LiveCall:
    """One call."""

    words: str
    state: State
    on: frozenset[str]
    """Loads that work."""
    made: frozenset[str]
    """Elements that pass current."""
    flowing: tuple[str, ...]
    """Pieces of the ladder that carry current to a load."""
    waiting: tuple[str, ...]
    """Pieces at the hot rail's volts behind which something is open."""
    volts: dict[str, Phasors]
    """Of each point that hangs on some supply, against its island's reference."""
    island: dict[str, str]
    """Of the same points: the reference of the circuit it belongs to."""

    def reading(self, a: str, b: str) -> MeterReading | None:
        """Return what a meter must read; None when nothing joins the two, so that nothing can be said."""
        if a not in self.volts or b not in self.volts or self.island[a] != self.island[b]:
            return None
        nominal, first, second = (abs(u - v) for u, v in zip(self.volts[a], self.volts[b], strict=True))
        low, high = min(first, second), max(first, second)
        return MeterReading(nominal, max(0.0, low - METER_SHARE * low - METER_V), high + METER_SHARE * high + METER_V)


def live_calls(left: Survey, catalog: Catalog, ladder: Ladder) -> tuple[LiveCall, ...]:
    """Return every call that one control can make alone, nothing called first; ``ladder`` is the same house's.

    Raises
    ------
    Chatter
        When relays never come to rest; a planned house has no such call.
    """
    houses = [build_house(left, catalog, corner=corner, awake=corner.name != "high") for corner in CORNERS]
    several = len(left.controls) > 1
    states = [state for state in legal_states(left, catalog) if sum(len(calls) for __, calls in state.calls) <= 1]
    return tuple(_call(state, state.words(name_controls=several), houses, ladder) for state in states)


def points_of(left: Survey, ladder: Ladder) -> tuple[str, ...]:
    """Return the terminals of a house where a meter's probe can be put, place by place."""
    nodes = {node for supply in ladder.supplies for node in (supply.hot, supply.common)}
    nodes |= set(ladder.joints.nodes())
    places = left.places()
    named = [node for node in nodes if not is_inner_point(node) and node.partition(".")[0] in places and "." in node]
    known = {f"{place}.{t}": n for place, c in left.controls.items() for n, t in enumerate(c.old.terminals)}
    order = {place: n for n, place in enumerate(places)}
    return tuple(sorted(named, key=lambda node: (order[node.partition(".")[0]], known.get(node, 99), node)))


def _call(state: State, words: str, houses: list[House], ladder: Ladder) -> LiveCall:
    settled = [settle(house.netlist, operated=operated_switches(house, state)) for house in houses]
    nominal = settled[0]
    solution = nominal.solution
    by_name = [found.solution.node_v for found in settled]
    joined = [found.solution.island_of for found in settled]
    floating = frozenset[str]().union(*(found.solution.floating for found in settled))
    points = [node for node in by_name[0] if node not in floating]
    volts: dict[str, Phasors] = {node: (by_name[0][node], by_name[1][node], by_name[2][node]) for node in points}
    island = {node: "; ".join(of[node] for of in joined) for node in points}
    elements = {item.tag: item for item in ladder.elements}
    made = frozenset(tag for tag, item in elements.items() if _is_made(item, nominal))
    own = {tag for tag in ladder.loads if tag not in {coil.tag for coil in solution.netlist.of(Coil)}}
    fed = {tag for tag in own if abs(solution.across(tag)) > 1.0}
    on = frozenset(tag for tag in ladder.loads if tag in nominal.coils_in or tag in fed)
    pieces = [
        piece
        for s, supply in enumerate(ladder.supplies)
        for r, rung in enumerate(supply.rungs)
        for piece in hot_pieces(
            rung,
            rung_key(s, r),
            lambda item: item.tag in made,
            fed=all(leaf.element.tag in made for leaf in supply.rail[: rung.rail]),
        )
    ]
    flowing = tuple(name for name, flows in pieces if flows)
    waiting = tuple(name for name, flows in pieces if not flows)
    return LiveCall(words, state, on, made, flowing, waiting, volts, island)


def _is_made(item: Element, settled: Settled) -> bool:
    """Return whether an element passes current in a state at rest."""
    if item.sort == "contact":
        return item.closed != (not settled.coils_in.isdisjoint(item.worked_by))
    if item.sort in ("output", "switch"):
        return item.closed != (item.tag in settled.solution.operated)
    return True


__all__ = ["LiveCall", "MeterReading", "live_calls", "points_of"]
