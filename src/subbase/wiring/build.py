"""From a survey without unknowns to a netlist: every part, conductor, jumper and control becomes branches.

Nodes are named ``place.terminal`` (inner nodes ``place/name``), branches ``place/part``, ``cable/conductor`` and
``control/output``, so that whatever the circuit finds can be told in the house's own words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from subbase.catalog import (
    Catalog,
    ContactPart,
    FusePart,
    Kind,
    LinkPart,
    LoadPart,
    Part,
    ResistorPart,
    SwitchPart,
    TransformerPart,
)
from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, conductor_ohm
from subbase.circuit.netlist import Branch
from subbase.survey import NOWHERE, Cable, Conductor, Equipment, Jumper, Profile, Survey, Transformer, Unknown
from subbase.wiring.outputs import outputs_of
from subbase.words import _

JUMPER_OHM = 0.005
"""A short link under two screws (common practice, no source)."""
RATED_V = 24.0


@dataclass(frozen=True, slots=True)
class Corner:
    """One corner of the tolerances under which a house is solved."""

    name: str = "nominal"
    primary: float = 1.0
    """Primary voltage over nominal."""
    regulation: float = 1.0
    """Transformer regulation over its catalogue or nameplate value."""
    load_va: float = 1.0
    """Draw of every load over its value."""
    conductor_c: float = 20.0
    """Temperature of the copper [°C]."""


NOMINAL = Corner()
LOW = Corner("low", primary=0.9, regulation=1.1, load_va=1.05, conductor_c=50.0)
HIGH = Corner("high", primary=1.1, regulation=0.9, load_va=0.95, conductor_c=0.0)
CORNERS = (NOMINAL, LOW, HIGH)
"""Nominal, and the two corners that the proof solves: the line ±10 %, regulation ±10 %, loads ±5 %, copper 0 to 50 °C
(the line is what the work asks for; the rest is judgement, all taken together at their worst)."""


@dataclass(frozen=True, slots=True)
class House:
    """A survey without unknowns, its catalogue, and the circuit that they make."""

    survey: Survey
    catalog: Catalog
    netlist: Netlist
    loads: dict[str, LoadPart]
    """Branch tag -> the catalogue's load, nameplate applied."""
    sources: dict[str, TransformerPart]
    """Branch tag -> the transformer, nameplate applied."""

    def kind(self, place: str) -> Kind:
        """Return the kind of a piece of equipment."""
        return self.catalog[str(self.survey.equipment[place].kind)]

    def part_name(self, tag: str) -> str:
        """Return what the catalogue calls a part of equipment, in English: for telling what it is; empty for the rest."""
        place, __, part_id = tag.partition("/")
        if place not in self.survey.equipment:
            return ""
        part = self.kind(place).part(part_id)
        return (part.what if part else "") or part_id.replace("-", " ")

    def part_words(self, tag: str) -> str:
        """Return a branch as people say it, in their language: 'gas valve (furnace)'."""
        place, __, part_id = tag.partition("/")
        if place in self.survey.equipment:
            return f"{_(self.part_name(tag))} ({place})"
        match part_id:
            case "transformer":
                return _("{place} transformer").format(place=place)
            case "fuse":
                return _("{place} fuse").format(place=place)
            case "own draw":
                return _("{place} own draw").format(place=place)
        return tag.replace("/", " ")


def build_house(survey: Survey, catalog: Catalog, *, corner: Corner = NOMINAL, awake: bool = True) -> House:
    """Return the circuit of a house.

    Parameters
    ----------
    survey
        Without unknowns.
    corner
        Tolerances to build with.
    awake
        Whether controls draw their awake or their asleep VA.
    """
    loads: dict[str, LoadPart] = {}
    sources: dict[str, TransformerPart] = {}
    branches: list[Branch] = []
    for place, item in survey.equipment.items():
        for part in _parts(catalog[str(item.kind)], item):
            tag = f"{place}/{part.id}"
            if isinstance(part, LoadPart):
                loads[tag] = part
            elif isinstance(part, TransformerPart):
                sources[tag] = part
            branches.append(_branch(place, catalog[str(item.kind)], part, corner))
    for place, transformer in survey.transformers.items():
        part = transformer_part(transformer)
        sources[f"{place}/transformer"] = part
        branches.extend(_transformer_branches(place, transformer, part, corner))
    for place, control in survey.controls.items():
        branches.extend(_control_branches(place, control.old, corner, awake))
    branches.extend(_cable_branches(survey, corner))
    branches.extend(_jumper_branch(jumper) for jumper in survey.jumpers if jumper.present is True)
    return House(survey, catalog, Netlist(tuple(branches)), loads, sources)


def transformer_part(transformer: Transformer) -> TransformerPart:
    """Return a survey's own transformer as a catalogue part."""
    if isinstance(transformer.va, Unknown) or isinstance(transformer.volts, Unknown):
        raise ValueError("A transformer of unknown rating cannot be built.")
    return TransformerPart(
        id="transformer", type="transformer", between=("common", "hot"), source="survey",
        va=transformer.va, volts=transformer.volts, regulation=transformer.regulation,
    )  # fmt: skip


def _parts(kind: Kind, item: Equipment) -> Iterator[Part]:
    for part in kind.parts:
        if part.id not in item.without:
            yield part.model_copy(update=item.nameplate[part.id]) if part.id in item.nameplate else part


def _branch(place: str, kind: Kind, part: Part, corner: Corner) -> Branch:
    """Return the branch of one part."""
    tail, head = (node_of(place, name, kind) for name in part.between)
    tag = f"{place}/{part.id}"
    match part:
        case TransformerPart():
            return _source(tag, tail, head, part, corner)
        case FusePart():
            return Impedance(tag, tail, head, part.ohm, fuse_a=part.rating_a)
        case LoadPart():
            return _coil(tag, tail, head, part, corner)
        case ContactPart():
            coils = tuple(f"{place}/{load}" for load in part.worked_by)
            return Contact(tag, tail, head, coils, normally_closed=part.normally == "closed")
        case SwitchPart():
            return Switch(tag, tail, head, normally_closed=part.normally == "closed")
        case ResistorPart():
            return Impedance(tag, tail, head, part.ohm)
        case LinkPart():
            return Impedance(tag, tail, head, JUMPER_OHM)


def node_of(place: str, name: str, kind: Kind) -> str:
    """Return the node of a terminal, or of a point inside the equipment."""
    return f"{place}.{name}" if name in kind.terminals else f"{place}/{name}"


def _source(tag: str, tail: str, head: str, part: TransformerPart, corner: Corner) -> Source:
    emf_v, z_ohm = Source.thevenin(rated_va=part.va, rated_v=part.volts, regulation=part.regulation * corner.regulation)
    # A weak transformer sags from its rated no-load voltage; it does not start higher.
    nominal_emf_v = part.volts * (1.0 + part.regulation)
    return Source(tag, tail, head, nominal_emf_v * corner.primary, z_ohm * nominal_emf_v / emf_v, rated_va=part.va)


def _coil(tag: str, tail: str, head: str, part: LoadPart, corner: Corner) -> Coil:
    sealed = _impedance_ohm(part.volts, part.va * corner.load_va, part.pf)
    inrush = _impedance_ohm(part.volts, (part.va_inrush or part.va) * corner.load_va, part.pf_inrush or part.pf)
    return Coil(
        tag,
        tail,
        head,
        z_out_ohm=inrush,
        z_in_ohm=sealed,
        pull_in_v=part.pull_in * part.volts,
        drop_out_v=part.drop_out * part.volts,
        delay_s=part.delay_s,
    )


def _impedance_ohm(volts: float, va: float, pf: float) -> complex:
    """Return the impedance of a load that draws ``va`` at ``volts`` with a lagging power factor [ohm]."""
    return volts * volts / va * complex(pf, math.sqrt(1.0 - pf * pf))


def _transformer_branches(
    place: str, transformer: Transformer, part: TransformerPart, corner: Corner
) -> Iterator[Branch]:
    inner = f"{place}/winding" if transformer.fuse_a else f"{place}.hot"
    yield _source(f"{place}/transformer", f"{place}.common", inner, part, corner)
    if transformer.fuse_a:
        yield Impedance(f"{place}/fuse", inner, f"{place}.hot", 0.02, fuse_a=transformer.fuse_a)


def _control_branches(place: str, profile: Profile, corner: Corner, awake: bool) -> Iterator[Branch]:
    leak_ohm = RATED_V / (profile.leak_ma / 1000.0) if profile.leak_ma > 0 else None
    for output in outputs_of(profile):
        supply = profile.supply_of(output)
        if supply is not None:
            yield Switch(f"{place}/{output}", f"{place}.{supply}", f"{place}.{output}", z_open_ohm=leak_ohm)
    if profile.supplies == "joined":
        yield Impedance(f"{place}/link Rh to Rc", f"{place}.Rh", f"{place}.Rc", JUMPER_OHM)
    draw_va = profile.awake_va if awake else profile.asleep_va
    power = profile.power_terminal()
    if profile.power == "common" and draw_va > 0 and power is not None:
        # A switching supply draws constant VA; near 24 V a resistance of equal draw is close (common practice).
        draw_ohm = RATED_V * RATED_V / (draw_va * corner.load_va)
        yield Impedance(f"{place}/own draw", f"{place}.{power}", f"{place}.C", draw_ohm)


def _cable_branches(survey: Survey, corner: Corner) -> Iterator[Branch]:
    for cable_name, cable, name, conductor in survey.conductors():
        branch = _conductor_branch(cable_name, cable, name, conductor, corner)
        if branch is not None:
            yield branch


def _conductor_branch(
    cable_name: str, cable: Cable, name: str, conductor: Conductor, corner: Corner
) -> Impedance | None:
    """Return the branch of one conductor; None when neither end is landed, or both are on one terminal."""
    if isinstance(cable.length_m, Unknown) or isinstance(cable.gauge_awg, Unknown):
        raise ValueError(f"Cable {cable_name} has an unknown length or gauge and cannot be built.")
    ends = []
    for place, landing in ((cable.from_, conductor.from_), (cable.to, conductor.to)):
        if isinstance(landing, Unknown):
            raise ValueError(f"Conductor {cable_name}/{name} has an unknown landing and cannot be built.")
        ends.append(loose_end(cable_name, name, place) if landing in NOWHERE else landing)
    if ends[0] == ends[1] or (conductor.from_ in NOWHERE and conductor.to in NOWHERE):
        return None
    z_ohm = conductor_ohm(gauge_awg=cable.gauge_awg, length_m=cable.length_m, temperature_c=corner.conductor_c)
    return Impedance(f"{cable_name}/{name}", ends[0], ends[1], z_ohm)


def loose_end(cable: str, conductor: str, place: str) -> str:
    """Return the node of a conductor's end that is on no terminal."""
    return f"{cable}/{conductor} end at {place}"


def _jumper_branch(jumper: Jumper) -> Impedance:
    a, b = jumper.between
    return Impedance(f"jumper {a} to {b}", a, b, JUMPER_OHM)


@dataclass(frozen=True, slots=True)
class Rewiring:
    """The branches by which one house differs from another in conductors and links alone."""

    gone: tuple[str, ...]
    """Tags."""
    added: tuple[Impedance, ...]


def rewiring(before: Survey, after: Survey, *, corner: Corner = NOMINAL) -> Rewiring | None:
    """Return what turns the circuit of one house into that of another; None when more than wiring differs.

    Neither survey has unknowns. A conductor that moves is both gone and added.
    """
    parts = ("equipment", "transformers", "controls")
    if before.cables.keys() != after.cables.keys() or any(getattr(before, p) != getattr(after, p) for p in parts):
        return None
    gone: list[str] = []
    added: list[Impedance] = []
    for name, cable in after.cables.items():
        old = before.cables[name]
        if cable is old:
            continue
        moved = cable.model_copy(update={"conductors": old.conductors}) != old
        if moved or cable.conductors.keys() != old.conductors.keys():
            return None
        for conductor, now in cable.conductors.items():
            then = old.conductors[conductor]
            if now is not then and now != then:
                was = _conductor_branch(name, old, conductor, then, corner)
                gone += [was.tag] if was else []
                becomes = _conductor_branch(name, cable, conductor, now, corner)
                added += [becomes] if becomes else []
    if after.jumpers is not before.jumpers:
        links = [[_jumper_branch(j) for j in survey.jumpers if j.present is True] for survey in (before, after)]
        gone += [link.tag for link in links[0] if link not in links[1]]
        added += [link for link in links[1] if link not in links[0]]
    return Rewiring(tuple(gone), tuple(added))
