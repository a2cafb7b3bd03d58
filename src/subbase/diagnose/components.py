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
from subbase.words import _

Degrees = tuple[tuple[float, bool], ...]
"""(degree, whether it is weighed in double faults too)."""
POOR_OHM: Degrees = (
    (3.0, False), (5.0, True), (8.0, False), (13.0, False), (20.0, True), (32.0, False), (50.0, False), (80.0, True),
    (130.0, False), (210.0, False), (350.0, True), (600.0, False), (1100.0, False), (2000.0, True), (3000.0, False),
)  # fmt: skip
"""What a poor joint adds, as equally likely alternatives (judgement)."""
SHORTED_TURNS: Degrees = ((0.25, True), (0.16, False), (0.1, False), (0.06, True))
"""Of a coil's impedance that some, or most, shorted turns leave (judgement)."""
OVERDRAW: Degrees = ((0.3, True), (0.1, True))
"""Of its usual impedance that a control shows which draws too much (judgement)."""
WEAK = (
    ((0.88, 1.0), True), ((0.85, 1.0), False), ((0.82, 1.0), True), ((0.79, 1.0), False), ((0.76, 1.0), True),
    ((1.0, 2.7), False), ((1.0, 3.5), True), ((1.0, 4.4), False), ((1.0, 5.5), True), ((0.92, 2.5), True),
)  # fmt: skip
"""(volts on no load, series impedance) of a failing transformer over its own (judgement: it sags, starts lower, or both)."""
MIS_TAPPED: Degrees = ((208.0 / 240.0, True), (240.0 / 208.0, True), (0.5, True))
"""Volts with the primary on the tap for the other of two usual supplies, 208 and 240 V, or with 120 V on one for 240 V."""
MAGNETISING_OHM = 250.0
"""Reactance of a secondary whose primary is open (judgement: some hundred ohms for 40 VA)."""
TOUCH_OHM: Degrees = ((0.02, True), (0.1, False), (0.4, False), (1.2, True))
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
    return Hypothesis(f"{kind}: {tag}", kind, words, (tag,), site, odds.of_kind[kind], _shared(forms))


def _shared(forms: tuple[Form, ...]) -> tuple[Form, ...]:
    return tuple(replace(form, share=1.0 / len(forms)) for form in forms)


def _supply(house: House, odds: Odds, source: Source) -> Iterator[Hypothesis]:
    name = part_name(house, source.tag)
    # With its primary open a secondary is still a winding on iron.
    winding = with_impedance(source, complex(complex(source.z_ohm).real, MAGNETISING_OHM))
    yield _made(
        house, odds, "supply dead", source.tag,
        _("{name} gives nothing (its winding is open, or its primary is not fed: breaker, door switch, disconnect)").format(name=name),
        (Form(changes=(opened(source.tag),)), Form(changes=(winding,))),
    )  # fmt: skip
    weak = tuple(
        Form(changes=(weakened(source, emf=emf, z=z),), degree="volts" if z == 1.0 else "ohm", alone=not pairs)
        for (emf, z), pairs in WEAK
    )
    yield _made(
        house, odds, "supply weak", source.tag, _("{name} is weak: it sags or starts too low").format(name=name), weak
    )
    tapped = tuple(Form(changes=(weakened(source, emf=emf),), alone=not pairs) for emf, pairs in MIS_TAPPED)
    yield _made(
        house, odds, "supply mis-tapped", source.tag, _("{name} is on the wrong primary tap").format(name=name), tapped
    )
    if len(list(house.netlist.of(Source))) > 1:
        turned = Form(changes=(weakened(source, emf=-1.0),))
        words = _("{name} is out of phase with the other supply: its two leads are the other way round").format(
            name=name
        )
        yield _made(house, odds, "supplies out of phase", source.tag, words, (turned,))


def _conductor(house: House, odds: Odds, branch: Impedance) -> Iterator[Hypothesis]:
    name, landed = part_name(house, branch.tag), landing_words(house, branch.tag)
    words = _("{name} ({landed}) is open: broken, or not held under a screw at one of its ends").format(
        name=name, landed=landed
    )
    yield _made(house, odds, "conductor open", branch.tag, words, (Form(changes=(opened(branch.tag),)),))
    poor = tuple(
        Form(changes=(with_impedance(branch, branch.z_ohm + ohm),), degree="ohm", alone=not pairs)
        for ohm, pairs in POOR_OHM
    )
    yield _made(
        house,
        odds,
        "poor joint",
        branch.tag,
        _("{name} ({landed}) has a poor joint somewhere").format(name=name, landed=landed),
        poor,
    )


def _impedance(house: House, odds: Odds, branch: Impedance) -> Iterator[Hypothesis]:
    """Fuses, jumpers, links and resistors; a control's own draw is told with its control."""
    name = part_name(house, branch.tag)
    if branch.tag.endswith("/own draw"):
        return
    gone = (Form(changes=(opened(branch.tag),)),)
    if branch.fuse_a:
        yield _made(
            house, odds, "fuse open", branch.tag, _("{name} is open, and what blew it is over").format(name=name), gone
        )
    elif branch.tag.startswith("jumper ") or branch.tag.endswith("/link Rh to Rc"):
        yield _made(house, odds, "link missing", branch.tag, _("{name} is missing or loose").format(name=name), gone)
    else:
        yield _made(house, odds, "part open", branch.tag, _("{name} is open").format(name=name), gone)


def _load(house: House, odds: Odds, coil: Coil, *, is_last: bool) -> Iterator[Hypothesis]:
    name, tag = part_name(house, coil.tag), coil.tag
    gone = (Form(changes=(opened(tag),)),)
    yield _made(house, odds, "coil open", tag, _("{name} is open: it takes no current").format(name=name), gone)
    shorted = tuple(
        Form(changes=(with_impedance(coil, coil.z_in_ohm * share),), degree="ohm", alone=not pairs)
        for share, pairs in SHORTED_TURNS
    )
    yield _made(
        house,
        odds,
        "shorted turns",
        tag,
        _("{name} has shorted turns: it takes far too much current").format(name=name),
        shorted,
    )
    if house.loads[tag].neutral:
        return
    stuck = (Form(changes=(with_impedance(coil, coil.z_out_ohm),)),)
    yield _made(house, odds, "coil does not act", tag, _("{name} is fed and does not act").format(name=name), stuck)
    if is_last:
        words = _("{name} acts, and what it works does not run: the fault lies beyond the 24 V circuit").format(
            name=name
        )
        yield _made(house, odds, "beyond the circuit", tag, words, (Form(without_effect=frozenset({tag})),))
        if "contactor" in house.part_name(tag):
            words = _("{name} has welded line contacts: what it works never stops").format(name=name)
            yield _made(house, odds, "contact welded", tag, words, (Form(always_running=frozenset({tag})),))


def _contact(house: House, odds: Odds, contact: Contact) -> Iterator[Hypothesis]:
    name, tag = part_name(house, contact.tag), contact.tag
    dead, welded = Form(changes=(opened(tag),)), Form(changes=(with_impedance(contact, WELDED_OHM),))
    yield _made(house, odds, "contact dead", tag, _("{name} never makes").format(name=name), (dead,))
    yield _made(house, odds, "contact welded", tag, _("{name} is welded: it never opens").format(name=name), (welded,))


def _output(house: House, odds: Odds, switch: Switch) -> Iterator[Hypothesis]:
    name = part_name(house, switch.tag)
    yield _made(
        house,
        odds,
        "output dead",
        switch.tag,
        _("{name} never makes").format(name=name),
        (Form(changes=(opened(switch.tag),)),),
    )
    welded = (Form(changes=(with_impedance(switch, WELDED_OHM),)),)
    yield _made(house, odds, "output welded", switch.tag, _("{name} never opens").format(name=name), welded)


def _switch(house: House, odds: Odds, switch: Switch, *, is_condition: bool) -> Hypothesis:
    name = part_name(house, switch.tag)
    if switch.normally_closed:
        kind: FaultKind = "switch stuck" if is_condition else "safety switch open"
        gone = (Form(changes=(opened(switch.tag),)),)
        return _made(house, odds, kind, switch.tag, _("{name} stands open").format(name=name), gone)
    stuck = (Form(changes=(with_impedance(switch, WELDED_OHM),)),)
    return _made(house, odds, "switch stuck", switch.tag, _("{name} stands closed").format(name=name), stuck)


def _controls(house: House, odds: Odds) -> Iterator[Hypothesis]:
    for name in house.survey.controls:
        draw = house.netlist.by_tag.get(f"{name}/own draw")
        silent = Form(silent=frozenset({name}), changes=(opened(draw.tag),) if draw is not None else ())
        words = _("the control {name} is dead: it shows nothing and closes no output, though it is fed").format(
            name=name
        )
        yield Hypothesis(
            f"control dead: {name}", "control dead", words, (name,), name, odds.of_kind["control dead"], (silent,)
        )
        if isinstance(draw, Impedance):
            forms = tuple(
                Form(changes=(with_impedance(draw, draw.z_ohm * share),), degree="ohm", alone=not pairs)
                for share, pairs in OVERDRAW
            )
            words = _("the control {name} draws far more than its nameplate says").format(name=name)
            kind: FaultKind = "control overdraws"
            yield Hypothesis(f"{kind}: {name}", kind, words, (draw.tag,), name, odds.of_kind[kind], _shared(forms))


def _shorts(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Every two conductors of one cable, and each against grounded metal where the cable has no common to touch."""
    for cable_name, cable in house.survey.cables.items():
        ends = {
            name: (branch.head, branch.tail)
            for name in cable.conductors
            if (branch := house.netlist.by_tag.get(f"{cable_name}/{name}")) is not None
        }
        site = site_of(house.survey, cable.to if cable.to not in house.survey.controls else cable.from_)
        for (a, ends_a), (b, ends_b) in combinations(ends.items(), 2):
            pairs = [(one, other) for one, other in zip(ends_a, ends_b, strict=True) if one != other]
            if pairs:
                words = _("{one} and {other} of {cable} touch").format(one=a, other=b, cable=cable_name)
                tags = (f"{cable_name}/{a}", f"{cable_name}/{b}")
                yield _short(f"{cable_name}/{a}+{b}", words, tags, site, odds.of_kind["short"], *_firm_first(pairs))
        commons = [_common_node(house, place) for place in (cable.to, cable.from_)]
        common = commons[0] or commons[1]
        landed = {end for pair in ends.values() for end in pair}
        if common is not None and common not in landed:
            for name, own in ends.items():
                words = _("{conductor} of {cable} touches grounded metal").format(conductor=name, cable=cable_name)
                at = odds.of_kind["short"] * CHASSIS_SHARE
                node = next((end for end in own if " end at " not in end), own[0])
                yield _short(f"{cable_name}/{name}+metal", words, (f"{cable_name}/{name}",), site, at, (node, common))


def _firm_first(pairs: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return the pairs of ends between which two conductors can touch, those that land at something first."""
    return sorted(pairs, key=lambda pair: any(" end at " in end for end in pair))


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
                words = _("a stray strand joins {one} and {other}").format(one=pair[0], other=pair[1])
                yield _short(f"{pair[0]}+{pair[1]}", words, pair, site_of(survey, place), odds.of_kind["short"], pair)


def _landings(house: House, tag: str) -> tuple[str, str]:
    branch = house.netlist.by_tag[tag]
    return branch.tail, branch.head


def _short(
    where: str, words: str, tags: tuple[str, ...], site: str, odds: float, *pairs: tuple[str, str]
) -> Hypothesis:
    """Return a short between any of some pairs of points: along a cable, at the one end or at the other."""
    forms = tuple(
        Form(changes=(bridged(*pair, ohm),), degree=f"ohm {number}", alone=number > 0 or not in_pairs)
        for number, pair in enumerate(pairs)
        for ohm, in_pairs in TOUCH_OHM
    )
    return Hypothesis(f"short: {where}", "short", words, tags, site, odds, _shared(forms))


def _common_node(house: House, place: str) -> str | None:
    """Return the common of a place's equipment, where the circuit has it."""
    item = house.survey.equipment.get(place)
    common = house.kind(place).common if item is not None else None
    node = f"{place}.{common}"
    return node if common and node in house.netlist.index else None


__all__ = ["POOR_OHM", "component_faults"]
