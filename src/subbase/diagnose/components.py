"""What can befall each part and each conductor of a house's own circuit: every branch in each of its fault modes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, pairwise

from subbase.circuit import Coil, Contact, Impedance, Source, Switch
from subbase.circuit.changes import WELDED_OHM, bridged, opened, weakened, with_impedance
from subbase.diagnose.hypothesis import FaultKind, Form, Hypothesis
from subbase.diagnose.odds import Odds
from subbase.diagnose.places import conductors_of, landing_words, part_name, place_of_node, site_of, site_of_node
from subbase.wiring import House

POOR_OHM = (5.0, 20.0, 80.0, 350.0, 2000.0)
"""What a poor joint adds, as equally likely alternatives (judgement)."""
SHORTED_TURNS = (0.25, 0.06)
"""Of a coil's impedance that some, or most, shorted turns leave (judgement)."""
OVERDRAW = (0.3, 0.1)
"""Of its usual impedance that a control shows which draws too much (judgement)."""
WEAK = ((0.88, 1.0), (0.82, 1.0), (0.76, 1.0), (0.92, 2.5), (1.0, 3.5), (1.0, 5.5))
"""(volts on no load, series impedance) of a failing transformer over its own (judgement: it sags, starts lower, or both)."""
MIS_TAPPED = (208.0 / 240.0, 240.0 / 208.0, 0.5)
"""Volts with the primary on the tap for the other of two usual supplies, 208 and 240 V, or with 120 V on one for 240 V."""
MAGNETISING_OHM = 250.0
"""Reactance of a secondary whose primary is open (judgement: some hundred ohms for 40 VA)."""
TOUCH_OHM = (0.01, 1.0)
"""Bare copper on bare copper, well or badly (judgement)."""
CHASSIS_SHARE = 0.3
"""Odds of a conductor touching grounded metal, where its cable has no common, over those of touching a neighbour (judgement)."""


def component_faults(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Iterate over every part and conductor in each of its fault modes, in the order of the netlist."""
    conductors = conductors_of(house)
    working = {coil for contact in house.netlist.of(Contact) for coil in contact.coils}
    conditions = {
        f"{place}/{switch}"
        for place in house.survey.equipment
        for condition in house.kind(place).conditions.values()
        for switch in condition.acts
    }
    for branch in house.netlist.branches:
        match branch:
            case Source():
                yield from _supply(house, odds, branch)
            case Impedance() if branch.tag in conductors:
                yield from _conductor(house, odds, branch)
            case Impedance():
                yield from _impedance(house, odds, branch)
            case Coil():
                yield from _load(house, odds, branch, is_last=branch.tag not in working)
            case Contact():
                yield from _contact(house, odds, branch)
            case Switch() if place_of_node(branch.tag) in house.survey.controls:
                yield from _output(house, odds, branch)
            case Switch():
                yield _switch(house, odds, branch, is_condition=branch.tag in conditions)
    yield from _controls(house, odds)
    yield from _shorts(house, odds)
    yield from _strands(house, odds)


def _made(house: House, odds: Odds, kind: FaultKind, tag: str, words: str, forms: tuple[Form, ...]) -> Hypothesis:
    """Return a hypothesis about one branch; forms are equally likely."""
    place = tag.partition("/")[0]
    ends = house.netlist.by_tag[tag]
    site = site_of(house.survey, place) if place in house.survey.places() else site_of_node(house.survey, ends.head)
    shared = tuple(replace(form, share=1.0 / len(forms)) for form in forms)
    return Hypothesis(f"{kind}: {tag}", kind, words, (tag,), site, odds.of_kind[kind], shared)


def _supply(house: House, odds: Odds, source: Source) -> Iterator[Hypothesis]:
    name = part_name(house, source.tag)
    # With its primary open a secondary is still a winding on iron.
    winding = with_impedance(source, complex(complex(source.z_ohm).real, MAGNETISING_OHM))
    yield _made(
        house, odds, "supply dead", source.tag,
        f"{name} gives nothing (its winding is open, or its primary is not fed: breaker, door switch, disconnect)",
        (Form(changes=(opened(source.tag),)), Form(changes=(winding,))),
    )  # fmt: skip
    weak = tuple(Form(changes=(weakened(source, emf=emf, z=z),)) for emf, z in WEAK)
    yield _made(house, odds, "supply weak", source.tag, f"{name} is weak: it sags or starts too low", weak)
    tapped = tuple(Form(changes=(weakened(source, emf=emf),)) for emf in MIS_TAPPED)
    yield _made(house, odds, "supply mis-tapped", source.tag, f"{name} is on the wrong primary tap", tapped)
    if len(list(house.netlist.of(Source))) > 1:
        turned = Form(changes=(weakened(source, emf=-1.0),))
        words = f"{name} is out of phase with the other supply: its two leads are the other way round"
        yield _made(house, odds, "supplies out of phase", source.tag, words, (turned,))


def _conductor(house: House, odds: Odds, branch: Impedance) -> Iterator[Hypothesis]:
    name, landed = part_name(house, branch.tag), landing_words(house, branch.tag)
    words = f"{name} ({landed}) is open: broken, or not held under a screw at one of its ends"
    yield _made(house, odds, "conductor open", branch.tag, words, (Form(changes=(opened(branch.tag),)),))
    poor = tuple(Form(changes=(with_impedance(branch, branch.z_ohm + ohm),)) for ohm in POOR_OHM)
    yield _made(house, odds, "poor joint", branch.tag, f"{name} ({landed}) has a poor joint somewhere", poor)


def _impedance(house: House, odds: Odds, branch: Impedance) -> Iterator[Hypothesis]:
    """Fuses, jumpers, links and resistors; a control's own draw is told with its control."""
    name = part_name(house, branch.tag)
    if branch.tag.endswith("/own draw"):
        return
    gone = (Form(changes=(opened(branch.tag),)),)
    if branch.fuse_a:
        yield _made(house, odds, "fuse open", branch.tag, f"{name} is open, and what blew it is over", gone)
    elif branch.tag.startswith("jumper ") or branch.tag.endswith("/link Rh to Rc"):
        yield _made(house, odds, "link missing", branch.tag, f"{name} is missing or loose", gone)
    else:
        yield _made(house, odds, "part open", branch.tag, f"{name} is open", gone)


def _load(house: House, odds: Odds, coil: Coil, *, is_last: bool) -> Iterator[Hypothesis]:
    name, tag = part_name(house, coil.tag), coil.tag
    gone = (Form(changes=(opened(tag),)),)
    yield _made(house, odds, "coil open", tag, f"{name} is open: it takes no current", gone)
    shorted = tuple(Form(changes=(with_impedance(coil, coil.z_in_ohm * share),)) for share in SHORTED_TURNS)
    yield _made(house, odds, "shorted turns", tag, f"{name} has shorted turns: it takes far too much current", shorted)
    if house.loads[tag].neutral:
        return
    stuck = (Form(changes=(with_impedance(coil, coil.z_out_ohm),)),)
    yield _made(house, odds, "coil does not act", tag, f"{name} is fed and does not act", stuck)
    if is_last:
        words = f"{name} acts, and what it works does not run: the fault lies beyond the 24 V circuit"
        yield _made(house, odds, "beyond the circuit", tag, words, (Form(without_effect=frozenset({tag})),))
        if "contactor" in name:
            words = f"{name} has welded line contacts: what it works never stops"
            yield _made(house, odds, "contact welded", tag, words, (Form(always_running=frozenset({tag})),))


def _contact(house: House, odds: Odds, contact: Contact) -> Iterator[Hypothesis]:
    name, tag = part_name(house, contact.tag), contact.tag
    dead, welded = Form(changes=(opened(tag),)), Form(changes=(with_impedance(contact, WELDED_OHM),))
    yield _made(house, odds, "contact dead", tag, f"{name} never makes", (dead,))
    yield _made(house, odds, "contact welded", tag, f"{name} is welded: it never opens", (welded,))


def _output(house: House, odds: Odds, switch: Switch) -> Iterator[Hypothesis]:
    name = part_name(house, switch.tag)
    yield _made(house, odds, "output dead", switch.tag, f"{name} never makes", (Form(changes=(opened(switch.tag),)),))
    welded = (Form(changes=(with_impedance(switch, WELDED_OHM),)),)
    yield _made(house, odds, "output welded", switch.tag, f"{name} never opens", welded)


def _switch(house: House, odds: Odds, switch: Switch, *, is_condition: bool) -> Hypothesis:
    name = part_name(house, switch.tag)
    if switch.normally_closed:
        kind: FaultKind = "switch stuck" if is_condition else "safety switch open"
        gone = (Form(changes=(opened(switch.tag),)),)
        return _made(house, odds, kind, switch.tag, f"{name} stands open", gone)
    stuck = (Form(changes=(with_impedance(switch, WELDED_OHM),)),)
    return _made(house, odds, "switch stuck", switch.tag, f"{name} stands closed", stuck)


def _controls(house: House, odds: Odds) -> Iterator[Hypothesis]:
    for name in house.survey.controls:
        draw = house.netlist.by_tag.get(f"{name}/own draw")
        silent = Form(silent=frozenset({name}), changes=(opened(draw.tag),) if draw is not None else ())
        words = f"the control {name} is dead: it shows nothing and closes no output, though it is fed"
        yield Hypothesis(
            f"control dead: {name}", "control dead", words, (name,), name, odds.of_kind["control dead"], (silent,)
        )
        if isinstance(draw, Impedance):
            forms = tuple(
                Form(1.0 / len(OVERDRAW), changes=(with_impedance(draw, draw.z_ohm * share),)) for share in OVERDRAW
            )
            words = f"the control {name} draws far more than its nameplate says"
            kind: FaultKind = "control overdraws"
            yield Hypothesis(f"{kind}: {name}", kind, words, (draw.tag,), name, odds.of_kind[kind], forms)


def _shorts(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Every two conductors of one cable, and each against grounded metal where the cable has no common to touch."""
    for cable_name, cable in house.survey.cables.items():
        ends = {
            name: branch.tail if " end at " in branch.head else branch.head
            for name in cable.conductors
            if (branch := house.netlist.by_tag.get(f"{cable_name}/{name}")) is not None
        }
        site = site_of(house.survey, cable.to if cable.to not in house.survey.controls else cable.from_)
        for (a, node_a), (b, node_b) in combinations(ends.items(), 2):
            if node_a != node_b:
                words = f"{a} and {b} of {cable_name} touch"
                tags = (f"{cable_name}/{a}", f"{cable_name}/{b}")
                yield _short(f"{cable_name}/{a}+{b}", words, tags, site, odds.of_kind["short"], (node_a, node_b))
        common = _common_node(house, cable.to) or _common_node(house, cable.from_)
        if common is not None and common not in ends.values():
            for name, node in ends.items():
                words = f"{name} of {cable_name} touches grounded metal"
                at = odds.of_kind["short"] * CHASSIS_SHARE
                yield _short(f"{cable_name}/{name}+metal", words, (f"{cable_name}/{name}",), site, at, (node, common))


def _strands(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """A stray strand between two landed terminals that stand beside each other, in the order in which they are marked.

    Where conductors of one cable land on both, that is told as these touching.
    """
    survey = house.survey
    landed = {str(end) for _, _, _, c in survey.conductors() for end in (c.from_, c.to)}
    landed |= {end for jumper in survey.jumpers if jumper.present is True for end in jumper.between}
    told = {
        frozenset(ends)
        for cable, item in survey.cables.items()
        for pair in combinations(item.conductors, 2)
        if all(f"{cable}/{name}" in house.netlist.by_tag for name in pair)
        for ends in zip(*(_landings(house, f"{cable}/{name}") for name in pair), strict=True)
    }
    marked = {name: control.old.terminals for name, control in survey.controls.items()}
    marked |= {place: tuple(house.kind(place).terminals) for place in survey.equipment}
    for place, terminals in marked.items():
        used = [f"{place}.{t}" for t in terminals if f"{place}.{t}" in landed and f"{place}.{t}" in house.netlist.index]
        for pair in pairwise(used):
            if frozenset(pair) not in told:
                words = f"a stray strand joins {pair[0]} and {pair[1]}"
                yield _short(f"{pair[0]}+{pair[1]}", words, pair, site_of(survey, place), odds.of_kind["short"], pair)


def _landings(house: House, tag: str) -> tuple[str, str]:
    branch = house.netlist.by_tag[tag]
    return branch.tail, branch.head


def _short(where: str, words: str, tags: tuple[str, ...], site: str, odds: float, nodes: tuple[str, str]) -> Hypothesis:
    forms = tuple(Form(1.0 / len(TOUCH_OHM), changes=(bridged(*nodes, ohm),)) for ohm in TOUCH_OHM)
    return Hypothesis(f"short: {where}", "short", words, tags, site, odds, forms)


def _common_node(house: House, place: str) -> str | None:
    """Return the common of a place's equipment, where the circuit has it."""
    item = house.survey.equipment.get(place)
    common = house.kind(place).common if item is not None else None
    node = f"{place}.{common}"
    return node if common and node in house.netlist.index else None


__all__ = ["POOR_OHM", "component_faults"]
