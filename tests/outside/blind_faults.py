"""Faults for the blind trials: this file's own list, made from the parts of a house without a look at what diagnosis offers.

A kind of fault is drawn first, each as likely as any other, then its place. That is no frequency of faults in houses; it
makes sure that rare kinds are tried as hard as common ones, and that the odds in use are not the odds of the trial.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import combinations, pairwise
from random import Random

from subbase.catalog import LinkPart
from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Source, Switch
from subbase.survey import NOWHERE, split_terminal
from subbase.wiring import House, Settings, settings_for
from tests.outside.blind_house import INPUT_OHM, Fault

Maker = Callable[[Random], Fault]
TOUCH_OHM = (0.02, 2.0)
"""Bare copper on bare copper, well or badly (judgement)."""
POOR_OHM = (3.0, 3000.0)
"""A corroded or half-made joint (judgement)."""


def drawn_fault(house: House, rng: Random) -> Fault:
    """Return one fault of a house."""
    makers = possible_faults(house)
    return rng.choice(makers[rng.choice(sorted(makers))])(rng)


def drawn_pair(house: House, rng: Random) -> tuple[Fault, Fault]:
    """Return two faults that do not touch the same branch."""
    while True:
        a, b = drawn_fault(house, rng), drawn_fault(house, rng)
        tags = [tag for fault in (a, b) for tag, _ in fault.becomes]
        if len(set(tags)) == len(tags) and not (a.settings and b.settings):
            return a, b


def possible_faults(house: House) -> dict[str, list[Maker]]:
    """Return, for each kind of fault that a house can have, one maker for each place."""
    found: dict[str, list[Maker]] = {}
    for kind, maker in (
        *_of_conductors(house),
        *_of_parts(house),
        *_of_sources(house),
        *_of_links(house),
        *_of_controls(house),
    ):
        found.setdefault(kind, []).append(maker)
    return found


def _log_uniform(rng: Random, bounds: tuple[float, float]) -> float:
    return math.exp(rng.uniform(*map(math.log, bounds)))


def _gone(kind: str, tag: str) -> Maker:
    return lambda _rng: Fault(kind, f"{kind}: {tag}", (tag,), ((tag, None),))


def _of_conductors(house: House) -> Iterator[tuple[str, Maker]]:
    by_tag = house.netlist.by_tag
    commons = _commons(house)
    for cable_name, cable, name, _ in house.survey.conductors():
        tag = f"{cable_name}/{name}"
        branch = by_tag.get(tag)
        if not isinstance(branch, Impedance):
            continue
        yield "conductor open", _gone("conductor open", tag)
        yield "poor joint", _poor(branch)
        for node in (branch.tail, branch.head):
            if node in commons:
                yield "common not landed", _gone("common not landed", tag)
        for node in dict.fromkeys((branch.tail, branch.head)):
            common = next((c for c in commons if c != node and split_terminal(c)[0] == split_terminal(node)[0]), None)
            if common is not None and node not in commons:
                yield "short to common", _touching("short to common", node, common)
        for other in cable.conductors:
            neighbour = by_tag.get(f"{cable_name}/{other}")
            if neighbour is not None and other > name:
                for a, b in ((branch.tail, neighbour.tail), (branch.head, neighbour.head)):
                    if a != b and not {a, b} & commons:
                        yield "short between conductors", _touching("short between conductors", a, b)
                yield from _swapped(branch, neighbour)


def _poor(branch: Impedance) -> Maker:
    def make(rng: Random) -> Fault:
        more_ohm = _log_uniform(rng, POOR_OHM)
        poor = replace(branch, z_ohm=branch.z_ohm + more_ohm)
        return Fault(
            "poor joint", f"poor joint of {more_ohm:.0f} ohm: {branch.tag}", (branch.tag,), ((branch.tag, poor),)
        )

    return make


def _touching(kind: str, a: str, b: str) -> Maker:
    def make(rng: Random) -> Fault:
        tag = f"touch {a} to {b}"
        return Fault(kind, f"{kind}: {a} to {b}", (a, b), ((tag, Impedance(tag, a, b, _log_uniform(rng, TOUCH_OHM))),))

    return make


def _swapped(one: Branch, other: Branch) -> Iterator[tuple[str, Maker]]:
    kind = "landings swapped"
    for end in ("tail", "head"):
        here, there = getattr(one, end), getattr(other, end)
        crossed = {end: there}, {end: here}
        if here == there or " end at " in here + there:
            continue
        new = replace(one, **crossed[0]), replace(other, **crossed[1])
        if any(b.tail == b.head for b in new):
            continue
        place = split_terminal(here)[0]
        fault = Fault(
            kind, f"{kind}: {one.tag} and {other.tag} at {place}", (one.tag, other.tag, here, there),
            ((one.tag, new[0]), (other.tag, new[1])),
        )  # fmt: skip
        yield kind, lambda _rng, fault=fault: fault  # type: ignore[misc]


def _of_parts(house: House) -> Iterator[tuple[str, Maker]]:
    acting = {
        f"{place}/{switch}"
        for place in house.survey.equipment
        for condition in house.kind(place).conditions.values()
        for switch in condition.acts
    }
    for branch in house.netlist.branches:
        tag = branch.tag
        match branch:
            case Coil():
                yield "coil open", _gone("coil open", tag)
                if complex(branch.z_in_ohm).imag > 0.0 or abs(branch.z_in_ohm) < INPUT_OHM:
                    yield "coil with shorted turns", _shorted_turns(branch)  # an input of electronics has no turns
            case Contact():
                yield "contact dead", _gone("contact dead", tag)
                yield "contact welded", _welded("contact welded", branch)
            case Switch() if tag.split("/")[0] not in house.survey.controls and branch.normally_closed:
                kind = "contact dead" if tag in acting else "safety switch open"
                yield kind, _gone(kind, tag)
            case Impedance() if branch.fuse_a > 0.0:
                yield "fuse open", _gone("fuse open", tag)


def _shorted_turns(coil: Coil) -> Maker:
    def make(rng: Random) -> Fault:
        share = rng.uniform(0.05, 0.3)
        weak = replace(coil, z_out_ohm=coil.z_in_ohm * share, z_in_ohm=coil.z_in_ohm * share)
        words = f"coil with shorted turns, {share:.0%} of its impedance left: {coil.tag}"
        return Fault(
            "coil with shorted turns", words, (coil.tag,), ((coil.tag, weak),), stuck_out=frozenset({coil.tag})
        )

    return make


def _welded(kind: str, branch: Contact | Switch) -> Maker:
    stuck = Impedance(branch.tag, branch.tail, branch.head, branch.r_closed_ohm)
    return lambda _rng: Fault(kind, f"{kind}: {branch.tag}", (branch.tag,), ((branch.tag, stuck),))


def _of_sources(house: House) -> Iterator[tuple[str, Maker]]:
    sources = list(house.netlist.of(Source))
    for source in sources:
        yield "transformer dead", _dead(source)
        yield "transformer weak", _weak(source)
        yield "transformer on the wrong tap", _mistapped(source)
        if len(sources) > 1:
            turned = replace(source, emf_v=-source.emf_v)
            fault = Fault(
                "supplies out of phase", f"supplies out of phase: {source.tag}", (source.tag,), ((source.tag, turned),)
            )
            yield fault.kind, lambda _rng, fault=fault: fault  # type: ignore[misc]


def _dead(source: Source) -> Maker:
    def make(rng: Random) -> Fault:
        if rng.random() < 0.5:
            return Fault("transformer dead", f"secondary open: {source.tag}", (source.tag,), ((source.tag, None),))
        # With its primary open a secondary is a winding on iron: its own resistance and some hundred ohms of reactance.
        winding = Impedance(
            source.tag, source.tail, source.head, complex(source.z_ohm).real + rng.uniform(100, 400) * 1j
        )
        return Fault("transformer dead", f"primary open: {source.tag}", (source.tag,), ((source.tag, winding),))

    return make


def _weak(source: Source) -> Maker:
    def make(rng: Random) -> Fault:
        kind = "transformer weak"
        if rng.random() < 0.5:
            weak, words = replace(source, emf_v=source.emf_v * rng.uniform(0.75, 0.88)), "low volts"
        else:
            weak, words = replace(source, z_ohm=source.z_ohm * rng.uniform(3.0, 6.0)), "soft under load"
        return Fault(kind, f"{kind}, {words}: {source.tag}", (source.tag,), ((source.tag, weak),))

    return make


def _mistapped(source: Source) -> Maker:
    def make(rng: Random) -> Fault:
        # 120 V on a 240 V tap, 208 V on the 240 V tap, 240 V on the 208 V tap.
        share = rng.choice((0.5, 208 / 240, 240 / 208))
        kind = "transformer on the wrong tap"
        new = replace(source, emf_v=source.emf_v * share)
        return Fault(kind, f"{kind}, {share:.0%}: {source.tag}", (source.tag,), ((source.tag, new),))

    return make


def _of_links(house: House) -> Iterator[tuple[str, Maker]]:
    jumpers = [b for b in house.netlist.branches if isinstance(b, Impedance) and b.tag.startswith("jumper ")]
    links = [
        f"{place}/{part.id}"
        for place in house.survey.equipment
        for part in house.kind(place).parts
        if isinstance(part, LinkPart) and f"{place}/{part.id}" in house.netlist.by_tag
    ]
    for jumper in jumpers:
        yield "jumper missing", _gone("jumper missing", jumper.tag)
    for tag in links:
        if "adapter" not in tag and "piece" not in tag and not tag.startswith("panel/"):
            yield "jumper missing", _gone("jumper missing", tag)
    for a, b in _neighbour_terminals(house):
        yield "jumper extra", _touching("jumper extra", a, b)
    adapters = [p for p, item in house.survey.equipment.items() if house.kind(p).group == "adapter"]
    for place in adapters:
        own = [j for j in jumpers if f"{place}." in j.tag]
        for one, other in combinations(own, 2):
            for kind, maker in _swapped(*(_turned(j, place) for j in (one, other))):
                fault = replace(maker(Random(0)), kind="adapter mis-wired")
                del kind
                yield fault.kind, lambda _rng, fault=fault: fault  # type: ignore[misc]


def _turned(jumper: Impedance, place: str) -> Impedance:
    """Return a jumper with its end at a place first."""
    return jumper if jumper.tail.startswith(f"{place}.") else replace(jumper, tail=jumper.head, head=jumper.tail)


def _neighbour_terminals(house: House) -> Iterator[tuple[str, str]]:
    """Yield terminals next to each other with something on them, and Rh with Rc."""
    nodes = set(house.netlist.nodes())
    used = {str(e) for _, _, _, c in house.survey.conductors() for e in (c.from_, c.to) if e not in NOWHERE}
    for place, control in house.survey.controls.items():
        if {f"{place}.Rh", f"{place}.Rc"} <= nodes and f"{place}/link Rh to Rc" not in house.netlist.by_tag:
            yield f"{place}.Rh", f"{place}.Rc"
        landed = [f"{place}.{t}" for t in control.old.terminals if f"{place}.{t}" in used]
        yield from pairwise(landed)
    for place in house.survey.equipment:
        landed = [f"{place}.{t}" for t in house.kind(place).terminals if f"{place}.{t}" in used]
        yield from pairwise(landed)


def _of_controls(house: House) -> Iterator[tuple[str, Maker]]:
    for name in house.survey.controls:
        for branch in house.netlist.of(Switch):
            if branch.tag.startswith(f"{name}/"):
                yield "output dead", _gone("output dead", branch.tag)
                yield "output welded", _welded("output welded", branch)
        settings = settings_for(house.survey, house.catalog, name)
        if settings.changeover is not None and "O/B" in house.survey.controls[name].old.terminals:
            yield "changeover set wrong", _changeover(name, settings)


def _changeover(name: str, settings: Settings) -> Maker:
    kind = "changeover set wrong"
    wrong = replace(settings, changeover="heating" if settings.changeover == "cooling" else "cooling")
    return lambda _rng: Fault(kind, f"{kind}: {name}", (name,), settings=((name, wrong),))


def _commons(house: House) -> frozenset[str]:
    """Return the terminals that stand at the common of a supply."""
    found = {source.tail for source in house.netlist.of(Source)}
    for place in house.survey.equipment:
        kind = house.kind(place)
        if kind.common:
            found.add(f"{place}.{kind.common}")
    found |= {f"{name}.C" for name in house.survey.controls}
    return frozenset(found & set(house.netlist.nodes()))
