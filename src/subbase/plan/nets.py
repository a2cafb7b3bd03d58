"""What is joined to what without the control's own cable, and which of those nets the new control must reach.

The control cable's conductors are lifted off in thought; what is left falls apart into nets. A net may be reached at
any of its points that lie where a control cable ends.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from subbase.catalog import CALLS, Call, Catalog, ContactPart, FusePart, Kind, LinkPart, SwitchPart, TransformerPart
from subbase.survey import NOWHERE, Profile, Survey, is_inner_point, split_terminal
from subbase.wiring import Settings, outputs_on, system_calls
from subbase.wiring.build import node_of
from subbase.wiring.states import services
from subbase.words import _

Net = str
"""A net is named by one of its nodes."""


@dataclass(frozen=True, slots=True)
class Supply:
    """One transformer as nets see it."""

    tag: str
    place: str
    hot: Net
    common: Net
    rated_va: float


@dataclass(frozen=True, slots=True)
class Drive:
    """A net that the control must join to a supply in certain calls."""

    net: Net
    supply: Net
    calls: frozenset[Call]


class Nets:
    """The nets of a house once a control's own cables are lifted off (built once, then only read)."""

    def __init__(self, survey: Survey, catalog: Catalog, control: str, *, found: Survey | None = None) -> None:
        """``found`` is the house as found, where that is another: it says behind which switches the control was fed."""
        self.survey, self.catalog, self.control = survey, catalog, control
        self._parent: dict[str, str] = {}
        for a, b in _links(survey, catalog, control):
            self._parent[self._root(a)] = self._root(b)
        self._solid: dict[str, str] = {}
        for a, b in _links(survey, catalog, control, switches=False):
            self._solid[_root_in(self._solid, a)] = _root_in(self._solid, b)
        self._own = self._own_points(found or survey)
        self.points: dict[Net, list[str]] = {}
        for node in sorted(self._parent):
            if not is_inner_point(node):
                self.points.setdefault(self._root(node), []).append(node)
        self.supplies = tuple(self._supplies())

    def _root(self, node: str) -> str:
        return _root_in(self._parent, node)

    def _own_points(self, found: Survey) -> dict[Net, frozenset[str]]:
        """Return, for each net the control lands on today, the parts of it that no switch parts from that landing."""
        own: dict[Net, set[str]] = {}
        for cable, __ in control_cables(found, self.control):
            for conductor in found.cables[cable].conductors.values():
                for end in (conductor.from_, conductor.to):
                    if isinstance(end, str) and "." in end and not end.startswith(f"{self.control}."):
                        own.setdefault(self._root(end), set()).add(_root_in(self._solid, end))
        return {net: frozenset(roots) for net, roots in own.items()}

    def _same_side(self, net: Net, point: str) -> bool:
        """Return whether a point stands on the same side of every float and limit as what the control has there today."""
        own = self._own.get(net)
        return own is None or _root_in(self._solid, point) in own

    def net(self, node: str) -> Net:
        """Return the net a node lies in."""
        return self._root(node)

    def leads_to_control(self, node: str) -> bool:
        """Return whether a node is a terminal of the control, or joined to one without the control's own cables."""
        return any(point.startswith(f"{self.control}.") for point in (node, *self.points.get(self._root(node), ())))

    def points_at(self, net: Net, place: str, *, beside: str | None = None) -> list[str]:
        """Return where a net can be landed on at a place or in its cabinet, the most natural point first.

        Natural is: on the place itself, numbered like the terminals that the cable ``beside`` lands on (a zone's own
        group), a supply's or equipment's own supply or common terminal, then by name.
        """
        cabinet = cabinet_of(self.survey, place)
        numbers = self._numbers_beside(beside)

        def unnatural(point: str) -> tuple[bool, bool, bool, bool, str]:
            where, terminal = split_terminal(point)
            foreign = bool(numbers) and _number(terminal) not in numbers
            return (
                where != place,
                foreign,
                terminal.startswith("joint"),
                not self._is_supply_point(where, terminal),
                point,
            )

        reachable = [p for p in self.points.get(net, []) if split_terminal(p)[0] in cabinet]
        return sorted((p for p in reachable if self._same_side(net, p)), key=unnatural)

    def _numbers_beside(self, cable: str | None) -> frozenset[str]:
        """Return the leading numbers of the terminals that a cable lands on, such as the 2 of 2R, 2W, 2Y."""
        conductors = self.survey.cables[cable].conductors.values() if cable else ()
        landings = (end for c in conductors for end in (c.from_, c.to) if isinstance(end, str) and end not in NOWHERE)
        return frozenset(number for number in (_number(split_terminal(end)[1]) for end in landings) if number)

    def _is_supply_point(self, place: str, terminal: str) -> bool:
        if place in self.survey.transformers:
            return True
        item = self.survey.equipment.get(place)
        if item is None:
            return False
        kind = self.catalog[str(item.kind)]
        return terminal in (kind.common, kind.supply) and any(isinstance(p, TransformerPart) for p in kind.parts)

    def supply_with_hot(self, net: Net) -> Supply | None:
        """Return the supply whose hot side is a net."""
        return next((s for s in self.supplies if s.hot == net), None)

    def supply_with_common(self, net: Net) -> Supply | None:
        """Return the supply whose common side is a net."""
        return next((s for s in self.supplies if s.common == net), None)

    def _supplies(self) -> Iterator[Supply]:
        for place, item in self.survey.equipment.items():
            kind = self.catalog[str(item.kind)]
            for part in kind.parts:
                if isinstance(part, TransformerPart) and part.id not in item.without:
                    common, hot = (self._root(node_of(place, name, kind)) for name in part.between)
                    va = item.nameplate.get(part.id, {}).get("va", part.va)
                    yield Supply(f"{place}/{part.id}", place, hot, common, va)
        for place, transformer in self.survey.transformers.items():
            va = transformer.va if isinstance(transformer.va, float) else 0.0
            hot, common = self._root(f"{place}.hot"), self._root(f"{place}.common")
            yield Supply(f"{place}/transformer", place, hot, common, va)

    def drives(self) -> tuple[list[Drive], dict[Call, str]]:
        """Return (nets the control must drive, why a call cannot be driven at all)."""
        wanted: dict[tuple[Net, Net], set[Call]] = {}
        problems: dict[Call, str] = {}
        calls = system_calls(self.survey, self.catalog, self.control)
        for service in services(self.survey, self.catalog, self.control):
            for call in calls:
                need = service.requirements.get(call)
                terminals = list(need.energise) if need else []
                if service.air is not None and call != "fan" and self._needs_air(call):
                    terminals += [t for t in service.air.energise if t not in terminals]
                for terminal in terminals:
                    found = self._energise(service.place, service.kind, terminal)
                    if isinstance(found, str):
                        problems.setdefault(call, found)
                    elif found is not None:
                        wanted.setdefault(found, set()).add(call)
                for a, b in need.close if need else ():
                    net_a, net_b = self.net(f"{service.place}.{a}"), self.net(f"{service.place}.{b}")
                    if not self._bridged(net_a, net_b):
                        wanted.setdefault((net_b, net_a), set()).add(call)
        return [Drive(net, supply, frozenset(calls)) for (net, supply), calls in wanted.items()], problems

    def _needs_air(self, call: Call) -> bool:
        found = services(self.survey, self.catalog, self.control)
        return any(s.kind.needs_air and call in s.requirements for s in found)

    def _energise(self, place: str, kind: Kind, terminal: str) -> tuple[Net, Net] | str | None:
        """Return (net, supply) to be joined for a terminal, why that cannot be, or None when other contacts join them."""
        net = self.net(f"{place}.{terminal}")
        if kind.common is None:
            return _("{title} ({place}) names no common, so its supply cannot be known").format(
                title=_(kind.title), place=place
            )
        supply = self.supply_with_common(self.net(f"{place}.{kind.common}"))
        if supply is None:
            return _(
                "{place}.{common} is joined to no transformer's common, so {place}.{terminal} cannot be driven; landing a conductor between {place}.{common} and the common of the transformer that feeds it would lift this"
            ).format(place=place, common=kind.common, terminal=terminal)
        return None if self._bridged(supply.hot, net) else (net, supply.hot)

    def _bridged(self, a: Net, b: Net) -> bool:
        """Return whether contacts of other equipment (end switches, a zone panel) join two nets when they make."""
        reached, edge = {a}, True
        bridges = list(self._contact_bridges())
        while edge:
            edge = False
            for x, y in bridges:
                if (x in reached) != (y in reached):
                    reached |= {x, y}
                    edge = True
        return b in reached

    def _contact_bridges(self) -> Iterator[tuple[Net, Net]]:
        for place, item in self.survey.equipment.items():
            kind = self.catalog[str(item.kind)]
            for part in kind.parts:
                if isinstance(part, ContactPart):
                    a, b = (self._root(node_of(place, name, kind)) for name in part.between)
                    yield a, b


def _number(terminal: str) -> str:
    """Return the digits a terminal's name begins with."""
    return terminal[: len(terminal) - len(terminal.lstrip("0123456789"))]


def cabinet_of(survey: Survey, place: str) -> frozenset[str]:
    """Return the places that lie in the same cabinet: the place, what is 'at' it, and what it is itself 'at'."""
    at = {name: item.at for name, item in survey.equipment.items()}
    at |= {name: transformer.at for name, transformer in survey.transformers.items()}
    host = at.get(place, "") if at.get(place, "") in at else place
    return frozenset({host, place, *(name for name, where in at.items() if where == host)})


def control_cables(survey: Survey, control: str) -> Iterator[tuple[str, str]]:
    """Iterate over (cable, far place) of the cables that end at a control."""
    for name, cable in survey.cables.items():
        if cable.from_ == control:
            yield name, cable.to
        elif cable.to == control:
            yield name, cable.from_


def _root_in(parent: dict[str, str], node: str) -> str:
    """Return the head of a node's group in a union-find forest, shortening the way there."""
    parent.setdefault(node, node)
    while parent[node] != node:
        parent[node] = parent[parent[node]]
        node = parent[node]
    return node


def _links(survey: Survey, catalog: Catalog, control: str, *, switches: bool = True) -> Iterator[tuple[str, str]]:
    """Yield every joint but the control's own cables: conductors, jumpers, links, fuses, and switches that stand closed."""
    own = {cable for cable, __ in control_cables(survey, control)}
    for cable, _held, _name, conductor in survey.conductors():
        if cable not in own and isinstance(conductor.from_, str) and isinstance(conductor.to, str):
            if conductor.from_ not in NOWHERE and conductor.to not in NOWHERE:
                yield conductor.from_, conductor.to
            yield from ((end, end) for end in (conductor.from_, conductor.to) if end not in NOWHERE)
    for jumper in survey.jumpers:
        if jumper.present is True and not all(end.startswith(f"{control}.") for end in jumper.between):
            yield jumper.between
    for place, item in survey.equipment.items():
        kind = catalog[str(item.kind)]
        yield from ((f"{place}.{terminal}",) * 2 for terminal in kind.terminals)
        for part in kind.parts:
            if part.id in item.without:
                continue
            closed = switches and isinstance(part, SwitchPart) and part.normally == "closed"
            if closed or isinstance(part, LinkPart | FusePart):
                a, b = part.between
                yield node_of(place, a, kind), node_of(place, b, kind)
    for place in survey.transformers:
        yield f"{place}.common", f"{place}.common"
        yield f"{place}.hot", f"{place}.hot"
    for name, other in survey.controls.items():
        if name != control and other.old.supplies == "joined":
            yield f"{name}.Rh", f"{name}.Rc"


def matching_output(
    outputs: Iterable[str], profile: Profile, settings: Settings, drive: Drive, calls: tuple[Call, ...]
) -> str | None:
    """Return the first output that makes in every call of a drive and in no other of ``calls``, or None."""
    return next(
        (
            output
            for output in outputs
            if drive.calls == {call for call in calls if output in outputs_on(profile, settings, frozenset({call}))}
        ),
        None,
    )


def order_calls(calls: Iterable[Call]) -> tuple[Call, ...]:
    """Return calls in the trade's order."""
    found = set(calls)
    return tuple(call for call in CALLS if call in found)


__all__ = ["Drive", "Nets", "Supply", "cabinet_of", "control_cables", "matching_output", "order_calls"]
