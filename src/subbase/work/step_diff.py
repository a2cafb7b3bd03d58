"""What is moved between the house as found and as left: every landing, link, device and control, as single moves in blocks.

Rules only: a block brings what is new, clears what is old, leaves a terminal before it is taken, and has the hot end off
first and on last. Whether an order holds is for ``work.step_order`` to ask the circuit.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from subbase.catalog import Catalog, LinkPart
from subbase.plan import Plan
from subbase.survey import (
    LOOSE,
    NOWHERE,
    ConductorEnd,
    Jumper,
    Survey,
    split_terminal,
    with_equipment,
    with_landing,
)
from subbase.work.checks import room_of

MoveKind = Literal["fit", "change", "cable", "link out", "off", "control", "link in", "shift", "on"]
RANK: dict[MoveKind, int] = {
    "fit": 0, "change": 1, "cable": 2, "link out": 3, "off": 4, "control": 5, "link in": 6, "shift": 6, "on": 6,
}  # fmt: skip
"""Rule for one block: bring what is new, clear what is old, then make what is to be."""
HOT = ("R", "Rh", "Rc", "S1", "hot")
"""Supply terminals of controls, panels and transformers, besides what the catalogue calls one."""
COMMON = ("C", "S2", "common")
Block = Literal["away", "fitted", "equipment"]


@dataclass(frozen=True, slots=True)
class Move:
    """One thing moved, and the house right after it."""

    kind: MoveKind
    control: str
    """Whose replacement it belongs to."""
    site: str
    """Where the hand is."""
    place: str
    end: ConductorEnd | None = None
    was: str = ""
    """Landing before; ``loose`` is capped."""
    becomes: str = ""
    link: tuple[str, str] | None = None
    hot: bool = False
    """Whether the house's own supply comes in by this end or link."""
    parked: bool = False
    """Whether it is capped only until its terminal is free."""
    after: Survey | None = None
    risks: tuple[str, ...] = ()
    """What would be damaged if supply came back now; nothing, when an order without exists."""
    keep_off: tuple[str, ...] = ()
    """Terminals that the bare end may not touch on its way, were supply to come back just then."""


def houses_of(plan: Plan) -> tuple[Survey, Survey]:
    """Return the house as found and as left."""
    if plan.found is None or plan.left is None:
        raise ValueError(f"The plan is '{plan.verdict}' and leaves no house, so nothing is moved; answer what it asks.")
    return plan.found, plan.left


def apply(survey: Survey, move: Move, left: Survey) -> Survey:
    """Return the house after one move."""
    match move.kind:
        case "fit":
            return with_equipment(survey, {move.place: left.equipment[move.place]})
        case "change":
            if move.place in left.transformers:
                changed = {**survey.transformers, move.place: left.transformers[move.place]}
                return survey.model_copy(update={"transformers": changed})
            return with_equipment(survey, {move.place: left.equipment[move.place]})
        case "cable":
            cable = left.cables[move.place]
            bare = {n: c.model_copy(update={"from_": LOOSE, "to": LOOSE}) for n, c in cable.conductors.items()}
            pulled = cable.model_copy(update={"conductors": bare})
            return survey.model_copy(update={"cables": {**survey.cables, move.place: pulled}})
        case "control":
            return survey.model_copy(update={"controls": {**survey.controls, move.place: left.controls[move.place]}})
        case "link out":
            wanted = frozenset(move.link or ())
            kept = tuple(jumper for jumper in survey.jumpers if frozenset(jumper.between) != wanted)
            return survey.model_copy(update={"jumpers": kept})
        case "link in":
            added = (Jumper(between=move.link),) if move.link else ()
            return survey.model_copy(update={"jumpers": (*survey.jumpers, *added)})
        case "off" | "on" | "shift":
            return with_landing(survey, move.end, move.becomes) if move.end else survey


def blocks_of(plan: Plan, control: str) -> dict[Block, tuple[Move, ...]]:
    """Return the moves of one control, each block by rule."""
    moves = tuple(_moves(plan, control))
    wall = [move for move in moves if move.site == control]
    away = [move for move in wall if move.kind in ("off", "link out", "cable")]
    fitted = [move for move in wall if move not in away]
    equipment = [move for move in moves if move.site != control]
    return {"away": _by_rule(away), "fitted": _by_rule(fitted), "equipment": _by_rule(equipment)}


def _moves(plan: Plan, control: str) -> Iterator[Move]:
    found, left = houses_of(plan)
    first = plan.controls[0].control
    owner = _owners(plan)
    for name, item in left.equipment.items():
        if owner.get(name, first) == control and found.equipment.get(name) != item:
            kind: MoveKind = "change" if name in found.equipment else "fit"
            yield Move(kind, control, room_of(left, name), name)
    for name, transformer in left.transformers.items():
        if control == first and found.transformers.get(name) != transformer:
            yield Move("change", control, room_of(left, name), name)
    for name, cable in left.cables.items():
        if name not in found.cables and control in (cable.from_, cable.to):
            yield Move("cable", control, control, name)
    yield Move("control", control, control, control)
    yield from _links(plan, control, owner)
    yield from _ends(plan, control)


def _owners(plan: Plan) -> dict[str, str]:
    """Return added place -> the control it was added for."""
    found, __ = houses_of(plan)
    return {
        name: item.control
        for item in plan.controls
        if item.chosen.left is not None
        for name in item.chosen.left.equipment
        if name not in found.equipment and item.control in item.chosen.left.equipment[name].serves
    }


def _links(plan: Plan, control: str, owner: Mapping[str, str]) -> Iterator[Move]:
    found, left = houses_of(plan)
    first = plan.controls[0].control
    was = {frozenset(j.between): j.between for j in found.jumpers if j.present is True}
    becomes = {frozenset(j.between): j.between for j in left.jumpers if j.present is True}
    of = {frozenset(c.jumper.between): item.control for item in plan.controls for c in item.chosen.jumpers}
    for kind, links in (("link out", was.keys() - becomes.keys()), ("link in", becomes.keys() - was.keys())):
        for key in sorted(links, key=sorted):
            pair = was.get(key) or becomes[key]
            places = [split_terminal(end)[0] for end in pair]
            sites = [room_of(left, place) for place in places]
            at_wall = next((site for site in sites if site in left.controls), None)
            belongs = next((owner[p] for p in places if p in owner), None) or at_wall or of.get(key, first)
            if belongs == control:
                hot = any(_is_hot(left, plan.catalog, end) for end in pair)
                yield Move("link out" if kind == "link out" else "link in", control, sites[0], places[0], link=pair, hot=hot)  # fmt: skip


def _ends(plan: Plan, control: str) -> Iterator[Move]:
    """Yield every end that is moved: all on the old plate, for that comes off; elsewhere those that change."""
    found, left = houses_of(plan)
    first = plan.controls[0].control
    replaced = {item.control for item in plan.controls}
    for cable_name, cable, name, __ in left.conductors():
        mine = {cable.from_, cable.to} & replaced or {first}
        if control not in mine:
            continue
        for side in ("from", "to"):
            end = ConductorEnd(cable=cable_name, conductor=name, end="from" if side == "from" else "to")
            here = end.place(left)
            if here in replaced and here != control:
                continue
            known = cable_name in found.cables and name in found.cables[cable_name].conductors
            was = str(end.landing(found)) if known else LOOSE
            becomes = str(end.landing(left))
            leaves, takes = _is_hot(found, plan.catalog, was), _is_hot(left, plan.catalog, becomes)
            base = Move("off", control, room_of(left, here), here, end, was, becomes, hot=leaves)
            on_plate = here == control and _on_plate(found, control, was)
            if was in NOWHERE and becomes not in NOWHERE:
                yield replace(base, kind="on", hot=takes)
            elif was not in NOWHERE and (becomes in NOWHERE or on_plate):
                yield replace(base, becomes=LOOSE)
                if becomes not in NOWHERE:
                    yield replace(base, kind="on", was=LOOSE, hot=takes)
            elif was != becomes and was not in NOWHERE:
                yield replace(base, kind="shift", hot=leaves or takes)


def _on_plate(survey: Survey, control: str, landing: str) -> bool:
    place, terminal = split_terminal(landing)
    return place == control and terminal in survey.controls[control].old.terminals


def _is_hot(survey: Survey, catalog: Catalog, landing: str) -> bool:
    """Tell whether the house's supply comes to this terminal by itself."""
    if landing in NOWHERE:
        return False
    place, terminal = split_terminal(landing)
    if place in survey.equipment:
        kind = catalog[str(survey.equipment[place].kind)]
        linked = {end for part in kind.parts if isinstance(part, LinkPart) for end in part.between}
        return terminal == kind.supply or terminal in HOT or {kind.supply or "hot", terminal} <= linked
    return terminal in HOT


def _by_rule(moves: Iterable[Move]) -> tuple[Move, ...]:
    """Return a block in the rule's order, site by site; where supply comes in is the last of them."""
    by_site: dict[str, list[Move]] = {}
    for move in moves:
        by_site.setdefault(move.site, []).append(move)
    sites = sorted(by_site, key=lambda site: (any(move.hot for move in by_site[site]), site))
    return tuple(move for site in sites for move in _at_one_site(by_site[site]))


def _at_one_site(moves: Iterable[Move]) -> Iterator[Move]:
    """Yield moves so that a terminal is left before it is taken, hot off first and on last.

    In a ring of ends that take each other's terminals one is capped, and landed when its terminal is free.
    """
    waiting = sorted(moves, key=_rule_key)
    while waiting:
        free = next((move for move in waiting if not _taken(move, waiting)), None)
        if free is None:
            ringed = next(move for move in waiting if move.kind == "shift")
            yield replace(ringed, kind="off", becomes=LOOSE, parked=True)
            waiting[waiting.index(ringed)] = replace(ringed, kind="on", was=LOOSE)
        else:
            yield free
            waiting.remove(free)


def _taken(move: Move, waiting: Iterable[Move]) -> bool:
    """Tell whether the terminal that a move takes is still to be left by another."""
    return any(other.was == move.becomes and other is not move for other in waiting if other.kind in ("off", "shift"))


def _rule_key(move: Move) -> tuple[int, int, str]:
    ends = (move.was, move.becomes, *(move.link or ()))
    common = any(split_terminal(end)[1] in COMMON for end in ends if "." in end)
    leaving = move.kind in ("off", "link out")
    turn = (0 if move.hot else 2 if common else 1) if leaving else (2 if move.hot else 0 if common else 1)
    name = f"{move.place} {move.end.conductor if move.end else ''} {' '.join(move.link or ())}"
    return RANK[move.kind], turn, name


def main_site(plan: Plan) -> str:
    """Return where supply is put on again: the outermost cabinet of the first cable's far end."""
    landings = plan.controls[0].chosen.landings
    return room_of(houses_of(plan)[1], landings[0].far_place if landings else plan.controls[0].control)


__all__ = ["Block", "Move", "MoveKind", "apply", "blocks_of", "houses_of", "main_site"]
