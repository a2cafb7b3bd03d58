"""A house, or the house that a slip leaves, solved in every single call.

It can be solved two ways that must agree: each house built and solved by itself, which is the definition, or every slip
as a rewiring of the good house, whose elimination is kept (``circuit.kept``).

A control that its own supply does not reach closes no output, so its calls are solved with its outputs open.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field
from typing import Protocol

from subbase.catalog import Catalog
from subbase.circuit import Impedance, Netlist, Solution, settle, solve
from subbase.circuit.kept import AtRest, KeptCircuit, kept_circuit
from subbase.errors import Chatter
from subbase.survey import NOWHERE, Survey
from subbase.wiring import Corner, House, Settings, State, build_house, outputs_on, rewiring
from subbase.wiring.build import NOMINAL, loose_end
from subbase.wiring.outputs import ALIVE_SHARE
from subbase.wiring.states import operated_switches
from subbase.work.slips import Slip, terminals_at

NOTHING_SET: Mapping[str, Settings] = {}
Joined = tuple[frozenset[str], complex]
"""What a conductor or a link does to a circuit, whatever it is called: the two nodes that it joins, and its impedance."""
Rejoined = frozenset[tuple[Joined, int]]
"""How many more of each there are than in the good house."""
Electrical = tuple[Rejoined, tuple[tuple[str, Settings], ...]]
"""All that a slip is to the circuit: what is joined otherwise, and controls that are set otherwise."""


class Circuit(Protocol):
    """A circuit that can be brought to rest, whichever way it is solved."""

    def solve(self, *, operated: Set[str] = ..., coils_in: Set[str] = ...) -> AtRest:
        """Return one switch state."""

    def settle(self, *, operated: Set[str] = ...) -> AtRest:
        """Return the state at rest; raises Chatter when there is none."""


@dataclass(frozen=True, slots=True)
class Plain:
    """A netlist as the reference solver solves it."""

    netlist: Netlist

    def solve(self, *, operated: Set[str] = frozenset(), coils_in: Set[str] = frozenset()) -> Solution:
        """Return one switch state."""
        return solve(self.netlist, operated=operated, coils_in=coils_in)

    def settle(self, *, operated: Set[str] = frozenset()) -> Solution:
        """Return the state at rest; raises Chatter when there is none."""
        return settle(self.netlist, operated=operated).solution


@dataclass(frozen=True, slots=True)
class CallSolved:
    """A house in one call: at rest, or what it swings between."""

    state: State
    words: str
    solutions: tuple[AtRest, ...]
    """One at rest; when relays chatter, with none of them in, and with all that chatter in."""
    coils_in: Set[str]
    chattering: tuple[str, ...] = ()
    asleep: bool = False
    """Whether a control that ought to call has no supply and so does not."""


def solved_calls(
    house: House, states: Iterable[State], settings: Mapping[str, Settings] | None = None
) -> Iterator[CallSolved]:
    """Yield a house in each call, with controls set as ``settings`` say where they say anything."""
    return Positions(house).solved(Plain(house.netlist), states, settings or NOTHING_SET)


def control_volts(house: House, solution: AtRest) -> Iterator[tuple[str, float]]:
    """Yield (control, volts across its own electronics) of controls that a common feeds."""
    for name, control in house.survey.controls.items():
        power = control.old.power_terminal()
        if control.old.power == "common" and power is not None:
            yield name, abs(solution.between(f"{name}.{power}", f"{name}.C") or 0j)


@dataclass(frozen=True, slots=True, eq=False)
class Positions:
    """Which switches leave their normal position in a house's calls; the same for every slip that only moves wires."""

    house: House
    _known: dict[tuple[State, frozenset[str]], tuple[frozenset[str], bool]] = field(default_factory=dict)
    """A memory; it changes no result."""

    def solved(
        self, circuit: Circuit, states: Iterable[State], settings: Mapping[str, Settings]
    ) -> Iterator[CallSolved]:
        """Yield a circuit of this house's parts in each call."""
        several = len(self.house.survey.controls) > 1
        for state, operated, asleep in self.in_calls(circuit, states, settings):
            words = state.words(name_controls=several)
            try:
                settled = circuit.settle(operated=operated)
            except Chatter as error:
                ends = (frozenset[str](), frozenset(error.coils))
                solutions = tuple(circuit.solve(operated=operated, coils_in=coils) for coils in ends)
                yield CallSolved(state, words, solutions, frozenset(), error.coils, asleep)
            else:
                yield CallSolved(state, words, (settled,), settled.coils_in, asleep=asleep)

    def in_calls(
        self, circuit: Circuit, states: Iterable[State], settings: Mapping[str, Settings]
    ) -> Iterator[tuple[State, frozenset[str], bool]]:
        """Yield (state, switches that leave their normal position, whether a control that ought to call has no supply)."""
        dead = _asleep(self.house, circuit)
        for state in states:
            if settings:
                yield state, *self._operated(state, dead, settings)
                continue
            if (state, dead) not in self._known:
                self._known[state, dead] = self._operated(state, dead, settings)
            yield state, *self._known[state, dead]

    def _operated(
        self, state: State, dead: frozenset[str], settings: Mapping[str, Settings]
    ) -> tuple[frozenset[str], bool]:
        awake = State(tuple((control, calls) for control, calls in state.calls if control not in dead), state.condition)
        operated = set(operated_switches(self.house, awake))
        for control, calls in awake.calls:
            if control in settings:
                profile = self.house.survey.controls[control].old
                operated -= {f"{control}/{terminal}" for terminal in profile.terminals}
                operated |= {f"{control}/{output}" for output in outputs_on(profile, settings[control], calls)}
        return frozenset(operated), awake != state


def _asleep(house: House, circuit: Circuit) -> frozenset[str]:
    try:
        at_rest = circuit.settle()
    except Chatter as error:
        at_rest = circuit.solve(coils_in=frozenset(error.coils))
    controls = house.survey.controls
    return frozenset(
        name
        for name, volts in control_volts(house, at_rest)
        if volts < ALIVE_SHARE * controls[name].old.least_v and not controls[name].old.battery
    )


@dataclass(frozen=True, slots=True, eq=False)
class SlipCircuits:
    """The good house with its elimination kept, from which every slip's circuit follows."""

    house: House
    positions: Positions
    circuit: KeptCircuit
    corner: Corner
    _last: list[tuple[Survey, Rejoined, KeptCircuit]] = field(default_factory=list)
    """The circuit asked for last, so that asking again costs nothing."""

    def calls(self, slip: Slip, states: Iterable[State]) -> Iterator[CallSolved]:
        """Yield the house that a slip leaves in each call; agrees with ``solved_calls``."""
        return self.positions.solved(self.of(slip.survey), states, dict(slip.settings))

    def of(self, survey: Survey) -> KeptCircuit:
        """Return the circuit of a house that differs in conductors and links.

        Raises
        ------
        ValueError
            When more than conductors and links differs.
        """
        return self._rewired(survey)[1]

    def electrical(self, slip: Slip) -> Electrical:
        """Return what a slip is to the circuit; slips that agree in it are one to every meter.

        Conductors of one cable are alike, so a swap at its one end does what the same swap at its other end does.

        Raises
        ------
        ValueError
            When more than conductors and links differs.
        """
        return self._rewired(slip.survey)[0], slip.settings

    def _rewired(self, survey: Survey) -> tuple[Rejoined, KeptCircuit]:
        if not self._last or self._last[0][0] is not survey:
            changed = rewiring(self.house.survey, survey, corner=self.corner)
            if changed is None:
                raise ValueError("A slip moves conductors and links and sets controls; it changes no equipment.")
            gone = [self.circuit.by_tag[tag] for tag in changed.gone]
            more = Counter(_joined(branch) for branch in changed.added)
            more.subtract(_joined(branch) for branch in gone if isinstance(branch, Impedance))
            rejoined = frozenset((joined, count) for joined, count in more.items() if count)
            self._last[:] = [(survey, rejoined, self.circuit.rewired(changed.gone, changed.added))]
        return self._last[0][1:]


def _joined(branch: Impedance) -> Joined:
    return frozenset((branch.tail, branch.head)), complex(branch.z_ohm)


def slip_circuits(left: Survey, catalog: Catalog, *, corner: Corner = NOMINAL, awake: bool = True) -> SlipCircuits:
    """Return what solves the slips of a house quickly."""
    house = build_house(left, catalog, corner=corner, awake=awake)
    circuit = kept_circuit(house.netlist, room_for=landing_room(left, catalog))
    return SlipCircuits(house, Positions(house), circuit, corner)


def landing_room(left: Survey, catalog: Catalog) -> Iterator[str]:
    """Yield every node at which a hand could leave a conductor: marked terminals, joints, and ends in the air."""
    for place in left.places():
        yield from (f"{place}.{terminal}" for terminal in terminals_at(left, catalog, place))
    for cable_name, cable, name, conductor in left.conductors():
        for place, landing in ((cable.from_, conductor.from_), (cable.to, conductor.to)):
            yield loose_end(cable_name, name, place)
            if landing not in NOWHERE:
                yield str(landing)


__all__ = [
    "CallSolved",
    "Circuit",
    "Plain",
    "Positions",
    "SlipCircuits",
    "control_volts",
    "landing_room",
    "slip_circuits",
    "solved_calls",
]
