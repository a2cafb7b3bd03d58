"""Which conductor carries what: an exact choice, proved by the circuit.

Conductors of one cable, gauge and length are electrically the same, so the choice falls in two parts. Which *class* of
conductor carries each want decides volts, and every such choice is proved by the full circuit; which conductor of the
class it is decides only how many ends are moved, and that is a least-cost assignment.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

from subbase.catalog import Call, Catalog
from subbase.names import carried_words, list_words
from subbase.plan.assign import FORBIDDEN, least_assignment
from subbase.plan.nets import Nets, control_cables
from subbase.plan.proof import prove
from subbase.plan.proven import Proof
from subbase.plan.result import Landing
from subbase.survey import CUT_SHORT, LOOSE, ConductorEnd, Survey, with_landing
from subbase.words import _, plural

ENOUGH_MARGIN = 0.10
"""Margins are compared only as enough or not: the proof already stands at the worst corner, so more than this buys
nothing, and a hair's breadth must not move a conductor (judgement)."""


@dataclass(frozen=True, slots=True)
class Want:
    """Something a conductor must carry between the control and the equipment."""

    carries: str
    wall: str
    """Terminal at the wall: ``hall.C``."""
    net: str
    """Net at the far end."""
    only: frozenset[str] | None = None
    """Conductors (``cable/conductor``) that may carry it, when a route limits them."""


@dataclass(frozen=True, slots=True)
class Wire:
    """A conductor between the control and the equipment that may be used."""

    cable: str
    conductor: str
    far_place: str
    far_found: str
    electrical_class: tuple[str, float, int]
    wall_end: ConductorEnd
    far_end: ConductorEnd

    cut: bool = False
    """Whether an end is cut short, so that it can carry nothing."""

    @property
    def name(self) -> str:
        """Return ``cable/conductor``."""
        return f"{self.cable}/{self.conductor}"


@dataclass(frozen=True, slots=True)
class Chosen:
    """A choice of conductors with the house it leaves and its proof."""

    survey: Survey
    landings: tuple[Landing, ...]
    proof: Proof
    moved: int


def margin_step(proof: Proof) -> int:
    """Return how a proof's margin counts in comparing: 1 enough, 0 less, -1 the proof does not hold."""
    return int(proof.margin >= ENOUGH_MARGIN) if proof.holds else -1


def wires_of(survey: Survey, control: str) -> tuple[Wire, ...]:
    """Return the conductors of a control's cables whose both ends can be landed."""
    return tuple(wire for wire in _all_wires(survey, control) if not wire.cut)


def _all_wires(survey: Survey, control: str) -> tuple[Wire, ...]:
    found = []
    for cable_name, far_place in control_cables(survey, control):
        cable = survey.cables[cable_name]
        near = "from" if cable.from_ == control else "to"
        for name, conductor in cable.conductors.items():
            ends = [ConductorEnd(cable=cable_name, conductor=name, end=end) for end in ("from", "to")]
            wall_end, far_end = ends if near == "from" else ends[::-1]
            cut = CUT_SHORT in (conductor.from_, conductor.to)
            key = (far_place, float(cable.length_m), int(cable.gauge_awg))  # type: ignore[arg-type]
            found.append(Wire(cable_name, name, far_place, str(far_end.landing(survey)), key, wall_end, far_end, cut))
    return tuple(found)


def far_point(nets: Nets, wire: Wire, want: Want) -> str | None:
    """Return where a want is landed at a wire's far end; its present landing when that is already right."""
    if wire.far_found not in (LOOSE, CUT_SHORT) and nets.net(wire.far_found) == want.net:
        return wire.far_found
    points = nets.points_at(want.net, wire.far_place, beside=wire.cable)
    return points[0] if points else None


def choose_landings(
    base: Survey,
    catalog: Catalog,
    control: str,
    wants: tuple[Want, ...],
    *,
    lost: frozenset[Call],
    found: Survey,
) -> Chosen | str:
    """Return the best landings of ``wants`` on the control's conductors, or one sentence why there are none.

    Parameters
    ----------
    base
        The house with the route's devices, jumpers and new control in place; the control's conductors still as found.
    lost
        Calls that the route gives up; their loads may stay off.
    found
        The house as found, against which moves are counted.

    Notes
    -----
    Best is: proof holds, then enough margin, then fewest conductors moved, then the order in the file.
    """
    nets = Nets(base, catalog, control, found=found)
    wires = wires_of(base, control)
    for want in wants:
        if not any(_may_carry(nets, wire, want) for wire in wires):
            return _why_none(nets, wires, want)
    if len(wants) > len(wires):
        names = list_words(carried_words(want.carries) for want in wants)
        return plural(
            "{count} conductors are needed ({names}); the cable has {there} that can be landed at both ends",
            "{count} conductors are needed ({names}); the cable has {there} that can be landed at both ends",
            len(wires),
        ).format(count=len(wants), names=names, there=len(wires))
    best: tuple[tuple[int, int], Chosen] | None = None
    for assignment in _by_class(nets, wires, wants):
        left, landings = _land(base, found, nets, dict(zip(wants, assignment, strict=True)))
        proof = prove(left, catalog, lost=lost, about=control, patient=False)
        moved = sum(1 for landing in landings if landing.far_found != landing.far_left)
        chosen = Chosen(left, landings, proof, moved)
        key = (-margin_step(chosen.proof), chosen.moved)
        if best is None or key < best[0]:
            best = (key, chosen)
    if best is None:
        return _("no two of the wants can be given conductors of their own")
    return best[1]


def _may_carry(nets: Nets, wire: Wire, want: Want) -> bool:
    if want.only is not None and wire.name not in want.only:
        return False
    return far_point(nets, wire, want) is not None


def _why_none(nets: Nets, wires: tuple[Wire, ...], want: Want) -> str:
    carries = carried_words(want.carries)
    if not nets.points.get(want.net):
        return _("{carries} of that supply is not brought out to any terminal").format(carries=carries)
    if want.only is not None:
        return _("no conductor is left that could carry {carries} on this route").format(carries=carries)
    places = sorted({wire.far_place for wire in wires})
    points = nets.points.get(want.net, [])
    if not places:
        return _("no cable ends at this control")
    said = (
        _("{carries} cannot be landed where the control's cable ends ({places}); it is found at {points}")
        if points
        else _("{carries} cannot be landed where the control's cable ends ({places})")
    )
    return said.format(carries=carries, places=list_words(places), points=list_words(points[:3]))


def _by_class(nets: Nets, wires: tuple[Wire, ...], wants: tuple[Want, ...]) -> Iterator[tuple[Wire, ...]]:
    """Yield, for every choice of electrical class per want, the assignment that moves the fewest ends."""
    classes = sorted({wire.electrical_class for wire in wires})
    options = [
        [c for c in classes if any(w.electrical_class == c and _may_carry(nets, w, want) for w in wires)]
        for want in wants
    ]
    for choice in product(*options):
        cost = [
            [
                _move_cost(nets, wire, want, index)
                if wire.electrical_class == wanted_class and _may_carry(nets, wire, want)
                else FORBIDDEN
                for index, wire in enumerate(wires)
            ]
            for want, wanted_class in zip(wants, choice, strict=True)
        ]
        total, columns = least_assignment(cost)
        if total < FORBIDDEN:
            yield tuple(wires[column] for column in columns)


def _move_cost(nets: Nets, wire: Wire, want: Want, index: int) -> int:
    moves = 0 if wire.far_found == far_point(nets, wire, want) else 1
    # Of equal choices, take a conductor that is free over one that must first be taken off, then the file's order.
    taken_off = 1 if moves and wire.far_found != LOOSE else 0
    # Left unused, it may have to be taken off all the same (see _parked); then to use it saves that move.
    saved = 1 if _parked(nets, wire) != wire.far_found else 0
    return (1 + moves - saved) * 1_000_000 + taken_off * 10_000 + index


def _land(base: Survey, found: Survey, nets: Nets, carried: dict[Want, Wire]) -> tuple[Survey, tuple[Landing, ...]]:
    """Return the house with every conductor landed, and each conductor's landings before and after."""
    left = base
    want_of = {wire.name: want for want, wire in carried.items()}
    landings: list[Landing] = []
    for wire in _all_wires(base, nets.control):
        want = want_of.get(wire.name)
        # The old control is gone: what carries nothing is free at the wall, an end that is cut short stays that.
        idle = CUT_SHORT if wire.wall_end.landing(base) == CUT_SHORT else LOOSE
        wall = want.wall if want else idle
        far = (far_point(nets, wire, want) or LOOSE) if want else _parked(nets, wire)
        left = with_landing(with_landing(left, wire.wall_end, wall), wire.far_end, far)
        was = found if wire.cable in found.cables else base
        landings.append(
            Landing(
                cable=wire.cable,
                conductor=wire.conductor,
                colours=(wire.wall_end.colour(base), wire.far_end.colour(base)),
                carries=want.carries if want else "nothing",
                wall_found=str(wire.wall_end.landing(was)),
                wall_left=wall,
                far_found=str(wire.far_end.landing(was)),
                far_left=far,
                far_place=wire.far_place,
            )
        )
    return left, tuple(landings)


def _parked(nets: Nets, wire: Wire) -> str:
    """Return where the far end of an unused conductor stays: taken off anything that would make its wall end live."""
    if wire.far_found in (LOOSE, CUT_SHORT):
        return wire.far_found
    live = nets.supply_with_hot(nets.net(wire.far_found)) is not None
    return LOOSE if live else wire.far_found
