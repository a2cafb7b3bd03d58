"""Which checks tell a slip, found from circuits whose elimination is kept; agrees with ``check_bounds.telling``.

A clip between c and d changes the resistance between a and b by what the resistances between these four say already:
with r(x, y) between x and y, and t = (r(a,d) + r(b,c) - r(a,c) - r(b,d))/2, which is the voltage that one ampere from a to b
leaves between c and d, it becomes r(a,b) - t²/(r(c,d) + clip) (compensation theorem).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from subbase.catalog import Catalog
from subbase.circuit.kept import KeptCircuit, kept_circuit
from subbase.circuit.meters import LEAST_DC_OHM
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import Survey
from subbase.wiring import State, build_house, rewiring
from subbase.wiring.build import CORNERS, HIGH, LOW, Corner
from subbase.work.calls import SlipCircuits, landing_room, slip_circuits
from subbase.work.check_bounds import CLIP_OHM, COLD_AND_WARM, Check, apart, dead_side, read_ohms, read_volts
from subbase.work.slips import Slip

Watched = tuple[int, str, str, float, float]
"""Position of a live check, its two terminals, and the volts below or above which it may tell something."""
CORNER_COUNT = len(CORNERS)
ROUNDING_V = 1e-9


@dataclass(frozen=True, slots=True, eq=False)
class DeadSide:
    """The good house as direct current sees it with every resistance at its least, or at its most."""

    survey: Survey
    corner: Corner
    circuit: KeptCircuit

    def of(self, survey: Survey) -> KeptCircuit:
        """Return the same of a house that differs in conductors and links."""
        changed = rewiring(self.survey, survey, corner=self.corner)
        if changed is None:
            raise ValueError("A slip moves conductors and links and sets controls; it changes no equipment.")
        # Copper and links are the same to direct current; the least that a dead circuit counts with holds for them too.
        added = [replace(branch, z_ohm=max(complex(branch.z_ohm).real, LEAST_DC_OHM)) for branch in changed.added]
        return self.circuit.rewired(changed.gone, added)


@dataclass(frozen=True, slots=True, eq=False)
class Teller:
    """The checks of a house, ready to be held against very many slips."""

    dead: Sequence[Check]
    live: Sequence[Check]
    nominal: SlipCircuits
    low: SlipCircuits
    high: SlipCircuits
    least: DeadSide
    most: DeadSide
    ways: Sequence[frozenset[int]]
    """Of each dead check: what a slip must change for it to read otherwise."""
    by_state: dict[State, list[Watched]]

    def by_dead(self, slip: Slip, among: Iterable[int] | None = None) -> tuple[int, ...]:
        """Return the positions of the dead checks that tell a slip."""
        least = self.least.of(slip.survey)
        most: KeptCircuit | None = None
        found = []
        for i in range(len(self.dead)) if among is None else among:
            check = self.dead[i]
            if least.leaves(self.ways[i]):
                continue
            low = read_ohms(ohm := clipped_ohm(least, check), ohm)[0]
            if low > check.high:
                found.append(i)
            elif low < check.low:
                most = most or self.most.of(slip.survey)
                high = read_ohms(ohm := clipped_ohm(most, check), ohm)[1]
                if apart(check, low, high):
                    found.append(i)
        return tuple(found)

    def by_live(self, slip: Slip, among: Iterable[int] | None = None) -> tuple[int, ...]:
        """Return the positions of the live checks that tell a slip.

        A check that does not tell it at one corner is not looked at in the next.
        """
        read: dict[int, list[float]] = {}
        by_state = self.by_state if among is None else _by_state(self.live, among)
        for corner in (self.nominal, self.low, self.high):
            left: dict[State, list[Watched]] = {}
            for call in corner.calls(slip, by_state):
                if call.chattering:
                    continue
                between, watched = call.solutions[0].between, by_state[call.state]
                for each in watched:
                    i, a, b, below_v, above_v = each
                    volts = between(a, b)
                    if volts is not None and not below_v <= abs(volts) <= above_v:
                        read.setdefault(i, []).append(abs(volts))
                        left.setdefault(call.state, []).append(each)
            by_state = left
        sure = ((i, volts) for i, volts in read.items() if len(volts) == CORNER_COUNT)
        telling = (i for i, volts in sure if apart(self.live[i], *read_volts(min(volts), max(volts))))
        return tuple(sorted(telling))


def _by_state(live: Sequence[Check], among: Iterable[int]) -> dict[State, list[Watched]]:
    """Return the live checks of each call, each with the volts outside which no reading of its own house can lie."""
    found: dict[State, list[Watched]] = {}
    for i in among:
        check = live[i]
        if check.state is not None:
            # A reading that the meter's own error could bring within bounds tells nothing; rounding is left to ``apart``.
            below_v = (check.low - METER_V) / (1.0 + METER_SHARE) + ROUNDING_V
            above_v = (check.high + METER_V) / (1.0 - METER_SHARE) - ROUNDING_V
            found.setdefault(check.state, []).append((i, *check.between, below_v, above_v))
    return found


def teller(left: Survey, catalog: Catalog, dead: Sequence[Check], live: Sequence[Check]) -> Teller:
    """Return a house's checks, ready to be held against very many slips."""
    room = tuple(landing_room(left, catalog))
    least, most = (
        DeadSide(
            left, corner, kept_circuit(dead_side(build_house(left, catalog, corner=corner), least=side), room_for=room)
        )
        for side, corner in zip((True, False), COLD_AND_WARM, strict=True)
    )
    return Teller(
        dead,
        live,
        slip_circuits(left, catalog),
        slip_circuits(left, catalog, corner=LOW),
        slip_circuits(left, catalog, corner=HIGH, awake=False),
        least,
        most,
        tuple(_way(least.circuit, check) for check in dead),
        _by_state(live, range(len(live))),
    )


def _way(dead: KeptCircuit, check: Check) -> frozenset[int]:
    points = dict.fromkeys((*check.between, *(check.clip or ())))
    return frozenset().union(*(dead.way(a, b) for a in points for b in points if a != b))


def clipped_ohm(dead: KeptCircuit, check: Check) -> float:
    """Return the resistance that a dead check meets [ohm], its clip lead on; infinite where no path joins the tips."""
    (a, b), r = check.between, dead.ohms
    if check.clip is None:
        return r(a, b)
    c, d = check.clip
    plain = r(a, b)
    if math.isinf(plain):
        return CLIP_OHM + min(r(a, c) + r(b, d), r(a, d) + r(b, c))
    if math.isinf(r(c, d)) or math.isinf(r(a, c)):
        return plain
    transfer = (r(a, d) + r(b, c) - r(a, c) - r(b, d)) / 2.0
    return plain - transfer * transfer / (r(c, d) + CLIP_OHM)


__all__ = ["DeadSide", "Teller", "clipped_ohm", "teller"]
