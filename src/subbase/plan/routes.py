"""The power routes: each proposes how to feed the new control, or says why it cannot.

A route only proposes devices, jumpers and what must be carried; ``landings`` chooses the conductors and the circuit
proves the result. Minutes are judgement, for comparing routes, not for billing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from subbase.names import named
from subbase.plan.landings import Want, wires_of
from subbase.plan.nets import Drive, Nets, Supply, control_cables
from subbase.plan.proposal import (
    Case,
    Driven,
    Proposal,
    Refused,
    base_wants,
    carried_words,
    common_net,
    driven,
    fitted,
    free_name,
    joined_supplies,
    lost_calls,
    require_common_terminal,
    with_device,
    with_jumpers,
)
from subbase.plan.result import Part, RouteName
from subbase.survey import CUT_SHORT, LOOSE, Cable, Conductor, Jumper, Survey
from subbase.units import feet_from_metres
from subbase.words import _, mark

Propose = Callable[[Case], Proposal]
MOST_RELAYS = 3
"""Isolation relays beyond this are no longer a sensible job (judgement)."""


def common_conductor(case: Case) -> Proposal:
    """Use a conductor that already lands on the common at the equipment."""
    base, wants, common, notes = _plain(case)
    nets = Nets(base, case.catalog, case.control)
    landed = [w.name for w in wires_of(base, case.control) if "." in w.far_found and nets.net(w.far_found) == common]
    if not landed:
        raise Refused(
            _(
                "no conductor of the control's cable lands on the common at the equipment; landing one there would lift this"
            )
        )
    want = Want("common", f"{case.control}.C", common, only=frozenset(landed))
    return Proposal(
        "common conductor", _("Common conductor already there"), base, (*wants, want), lost_calls(case), notes=notes
    )


def spare_conductor(case: Case) -> Proposal:
    """Land an unused conductor on the common."""
    base, wants, common, notes = _plain(case)
    nets = Nets(base, case.catalog, case.control)
    spare = [w.name for w in wires_of(base, case.control) if nets.net(w.far_found) != common]
    want = Want("common", f"{case.control}.C", common, only=frozenset(spare))
    notes = (*notes, _("Prove the spare conductor end to end with the ohmmeter, dead, before you rely on it."))
    return Proposal(
        "spare conductor",
        _("Spare conductor landed on common"),
        base,
        (*wants, want),
        lost_calls(case),
        minutes=50,
        notes=notes,
    )


def shared_conductor(case: Case) -> Proposal:
    """Carry cooling and fan on one conductor through a sharing adapter; the freed one becomes the common."""
    nets = Nets(fitted(case), case.catalog, case.control)
    found = driven(case, nets)
    outputs = dict(found.outputs)
    cool = next((o for o in outputs if o in ("Y", "Y1")), None)
    if cool is None or "G" not in outputs:
        raise Refused(_("sharing needs one conductor for cooling and one for the fan; this house has not both"))
    terminals = found.supply_terminals(case)
    common = common_net(case, nets, terminals)
    if outputs[cool].supply != outputs["G"].supply:
        raise Refused(_("cooling and fan are fed by different supplies and cannot share a conductor"))
    place = _place_with(case, nets, outputs[cool].net, outputs["G"].net, outputs[cool].supply, common)
    if place is None:
        raise Refused(
            _("cooling, fan, supply and common are not all within reach in one cabinet where the control's cable ends")
        )
    if case.settings.compressor_heats:
        raise Refused(
            _(
                "with a heat pump the fan and the compressor are called apart in too many ways for two levels on one conductor"
            )
        )
    board, wall = free_name(case, "sharing adapter"), free_name(case, "sharing piece at wall")
    base = with_device(case, fitted(case), board, "sharing-adapter-board", at=place)
    base = with_device(case, base, wall, "sharing-adapter-wall", at=case.control)
    links = [
        (f"{board}.R", _point(nets, outputs[cool].supply, place)),
        (f"{board}.C", _point(nets, common, place)),
        (f"{board}.Y", _point(nets, outputs[cool].net, place)),
        (f"{board}.G", _point(nets, outputs["G"].net, place)),
        (f"{case.control}.{cool}", f"{wall}.Y"),
        (f"{case.control}.G", f"{wall}.G"),
        *joined_supplies(case, terminals),
    ]
    base = with_jumpers(base, links)
    after = Nets(base, case.catalog, case.control)
    kept = Driven(tuple(item for item in found.outputs if item[0] not in (cool, "G")), found.supplies)
    wants = (
        *_renamed(base_wants(case, kept, terminals), nets, after),
        Want("cooling and fan, shared", f"{wall}.SH", after.net(f"{board}.SH")),
        Want("common", f"{case.control}.C", after.net(_point(nets, common, place))),
    )
    return Proposal(
        "shared conductor", _("Cooling and fan share one conductor"), base, wants, lost_calls(case),
        parts=(Part(_("sharing adapter, both pieces")),), minutes=75, added=_jumpers(links),
        notes=(_("The adapter's own instructions rule; its readings on the shared conductor are not those of a plain one."),),
    )  # fmt: skip


def fan_given_up(case: Case) -> Proposal:
    """Give up the fan conductor for the common; link fan to cooling at the equipment where that is needed."""
    nets = Nets(fitted(case), case.catalog, case.control)
    outputs = dict(driven(case, nets).outputs)
    if "G" not in outputs:
        raise Refused(_("no fan conductor is in use that could be given up"))
    lost = lost_calls(case, frozenset({"fan"}))
    remaining = Driven(tuple(item for item in outputs.items() if item[0] != "G"), ())
    if not remaining.outputs:
        raise Refused(_("nothing but the fan would be left"))
    terminals = remaining.supply_terminals(case)
    common = common_net(case, nets, terminals)
    base = fitted(case)
    links = list(joined_supplies(case, terminals))
    partner = next((drive for output, drive in remaining.outputs if output in ("Y", "Y1")), None)
    if partner is not None:
        place = _place_with(case, nets, partner.net, outputs["G"].net)
        if place is not None:
            links.append((_point(nets, partner.net, place), _point(nets, outputs["G"].net, place)))
    base = with_jumpers(base, links)
    after = Nets(base, case.catalog, case.control)
    wants = _renamed(base_wants(case, remaining, terminals), nets, after)
    want = Want("common", f"{case.control}.C", after.net(common))
    return Proposal(
        "fan conductor given up", _("Fan conductor becomes the common"), base, (*wants, want), lost, minutes=55, added=_jumpers(links),
        notes=(_("The fan can no longer be run by itself from the wall."),),
    )  # fmt: skip


def isolation_relay(case: Case) -> Proposal:
    """Keep two supplies apart with relays at the equipment, so that one supply serves the control."""
    nets = Nets(fitted(case), case.catalog, case.control)
    found = driven(case, nets)
    main = _main_supply(nets, found)
    if main is None:
        raise Refused(
            _(
                "no transformer with a common is wired to what this control calls; a separate transformer is the other way"
            )
        )
    foreign = [(output, drive) for output, drive in found.outputs if drive.supply != main.hot]
    if not foreign:
        raise Refused(_("one supply feeds everything; there is nothing to keep apart"))
    if len(foreign) > MOST_RELAYS:
        raise Refused(
            _("{count} relays would be needed; more than {most_relays} is no sensible job").format(
                count=len(foreign), most_relays=MOST_RELAYS
            )
        )
    base, links, kept = _relayed(case, nets, found, foreign, main.common)
    terminals = {case.profile.power_terminal() or "R": main.hot}
    links += joined_supplies(case, terminals)
    base = with_jumpers(base, links)
    after = Nets(base, case.catalog, case.control)
    wants = _renamed(base_wants(case, Driven(kept, ()), terminals), nets, after)
    want = Want("common", f"{case.control}.C", after.net(main.common))
    return Proposal(
        "isolation relay", _("Second supply kept apart by a relay at the equipment"), base, (*wants, want), lost_calls(case),
        parts=(Part(_("isolation relay, 24 V coil, one contact pair"), len(foreign)),), minutes=50 + 20 * len(foreign), added=_jumpers(links),
    )  # fmt: skip


def separate_transformer(case: Case) -> Proposal:
    """Feed the control from its own Class 2 transformer near the wall, never tied to the equipment's supply."""
    require_common_terminal(case)
    name = free_name(case, "control supply")
    nets = Nets(fitted(case), case.catalog, case.control)
    found = driven(case, nets)
    base = with_device(case, fitted(case), name, "class-2-transformer", at=case.control)
    own_power = case.profile.power_terminal()
    used = {case.profile.supply_of(output) for output, __ in found.outputs}
    links = [(f"{name}.S2", f"{case.control}.C"), (f"{name}.S1", f"{case.control}.{own_power}")]
    parts = [
        Part(_("Class 2 transformer, 24 V, plug-in or box-mounted")),
        Part(_("two-conductor cable from transformer to control, 18 AWG")),
    ]
    if case.profile.supplies == "separate" and own_power not in used:
        terminals = found.supply_terminals(case)
        wants = base_wants(case, found, terminals)
        notes: tuple[str, ...] = (
            _("Take out any link between the two supply terminals: the supplies must not be tied."),
        )
        base = with_jumpers(base, links)
    else:
        if len(found.outputs) > MOST_RELAYS or len(found.supplies) != 1:
            raise Refused(
                _(
                    "the new control switches and feeds itself from the same terminal, so each of its {count} outputs would need an isolation relay at the wall (at most {most_relays}, on one supply); a control with a separate supply terminal for its own electronics would lift this"
                ).format(count=len(found.outputs), most_relays=MOST_RELAYS)
            )
        base, relay_links, wants = _relays_at_wall(case, base, found)
        links += relay_links
        if len(used) > 1:
            links += joined_supplies(case, {str(own_power): f"{name}.S1"})
        base = with_jumpers(base, links)
        parts.append(Part(_("isolation relay, 24 V coil, one contact pair"), len(found.outputs)))
        notes = (_("Relays and transformer sit in a listed box beside the control, not loose in the wall."),)
    after = Nets(base, case.catalog, case.control)
    return Proposal(
        "separate transformer", _("Separate Class 2 transformer for the control"), base, _renamed(wants, nets, after), lost_calls(case),
        parts=tuple(parts), minutes=90 + 15 * len(parts), added=_jumpers(links),
        notes=(*notes, _("Line voltage for the transformer is for a licensed person where it is not a plug-in.")),
    )  # fmt: skip


def new_cable(case: Case) -> Proposal:
    """Pull a new cable with a conductor for everything and two to spare."""
    base, wants, common, notes = _plain(case)
    wants = (*wants, Want("common", f"{case.control}.C", common))
    old = [name for name, cable in base.cables.items() if case.control in (cable.from_, cable.to)]
    pattern = base.cables[old[0]]
    count = len(wants) + 2
    conductors = {f"new {n}": Conductor(from_=LOOSE, to=LOOSE) for n in range(1, count + 1)}
    length_m = float(pattern.length_m)  # type: ignore[arg-type]
    cable = Cable(from_=case.control, to=case.far_place, length_m=length_m, gauge_awg=18, conductors=conductors)
    cable_name = "new cable" if "new cable" not in base.cables else f"new cable to {case.control}"
    retired = {name: _retired(base.cables[name]) for name in old}
    base = base.model_copy(update={"cables": {**base.cables, **retired, cable_name: cable}})
    allowed = frozenset(f"{cable_name}/{name}" for name in conductors)
    wants = tuple(replace(want, only=allowed) for want in wants)
    return Proposal(
        "new cable", _("New cable"), base, wants, lost_calls(case), parts=(cable_part(count, length_m),), minutes=165, notes=notes,
    )  # fmt: skip


def cable_part(count: int, length_m: float) -> Part:
    """Return the cable to be bought for a run of ``length_m``, with a fifth to spare (judgement)."""
    bought_m = length_m * 1.2
    said = _("18 AWG solid thermostat cable, {count} conductors, about {length_m:.0f} m ({length_ft:.0f} ft)")
    return Part(said.format(count=count, length_m=bought_m, length_ft=feet_from_metres(bought_m)))


def battery(case: Case) -> Proposal:
    """Run the control without a common: on its battery, or because it needs none."""
    profile = case.profile
    if profile.power == "common" and not profile.battery:
        raise Refused(_("the new control cannot run on a battery; one that can would lift this"))
    run_on = profile if profile.power != "common" else profile.model_copy(update={"power": "battery"})
    base, wants, __, notes = _plain(replace(case, profile=run_on), need_common=False)
    if profile.power == "stealing":
        title = _("No common: the control feeds itself through its loads")
        notes = (*notes, _("What it draws through a load must not hold that load in; the proof looks at this."))
    else:
        title = _("No common: the control runs on its battery")
        notes = (*notes, _("A flat battery in winter is a frozen house: say so to the owner."))
    return Proposal("battery", title, base, wants, lost_calls(case), minutes=40, notes=notes)


ROUTES: tuple[tuple[RouteName, str, Propose], ...] = (
    ("common conductor", mark("Common conductor already there"), common_conductor),
    ("spare conductor", mark("Spare conductor landed on common"), spare_conductor),
    ("shared conductor", mark("Cooling and fan share one conductor"), shared_conductor),
    ("fan conductor given up", mark("Fan conductor becomes the common"), fan_given_up),
    ("isolation relay", mark("Second supply kept apart by a relay at the equipment"), isolation_relay),
    ("separate transformer", mark("Separate Class 2 transformer for the control"), separate_transformer),
    ("new cable", mark("New cable"), new_cable),
    ("battery", mark("No common: the control runs on its battery"), battery),
)
"""Every route, in the order in which they are tried."""


def _plain(case: Case, *, need_common: bool = True) -> tuple[Survey, tuple[Want, ...], str, tuple[str, ...]]:
    """Return (house with the new control, wants without common, common net, notes) with nothing else changed."""
    nets = Nets(fitted(case, profile=case.profile), case.catalog, case.control)
    found = driven(case, nets)
    terminals = found.supply_terminals(case)
    common = common_net(case, nets, terminals) if need_common else ""
    links = joined_supplies(case, terminals)
    base = with_jumpers(fitted(case, profile=case.profile), links)
    after = Nets(base, case.catalog, case.control)
    wants = _renamed(base_wants(case, found, terminals), nets, after)
    notes: tuple[str, ...] = ()
    if links:
        notes = (_("One supply feeds both supply terminals: link Rh and Rc, by jumper or setting."),)
    elif len(terminals) > 1:
        notes = (_("Two supplies: take out every jumper and setting that would link Rh and Rc."),)
    return base, wants, after.net(common) if common else "", notes


def _renamed(wants: tuple[Want, ...], before: Nets, after: Nets) -> tuple[Want, ...]:
    """Return wants whose nets bear the names they have once jumpers and devices are in."""
    return tuple(
        replace(want, net=after.net(before.points[want.net][0] if want.net in before.points else want.net))
        for want in wants
    )


def _jumpers(pairs: list[tuple[str, str]]) -> tuple[Jumper, ...]:
    return tuple(Jumper(between=pair) for pair in pairs)


def _point(nets: Nets, net: str, place: str) -> str:
    cables = (cable for cable, far in control_cables(nets.survey, nets.control) if far == place)
    return nets.points_at(net, place, beside=next(cables, None))[0]


def _place_with(case: Case, nets: Nets, *wanted: str) -> str | None:
    """Return a place where a control cable ends and all the nets can be landed."""
    places = dict.fromkeys(wire.far_place for wire in wires_of(nets.survey, case.control))
    return next((place for place in places if all(nets.points_at(net, place) for net in wanted)), None)


def _main_supply(nets: Nets, found: Driven) -> Supply | None:
    ranked = sorted(found.supplies, key=lambda s: -sum(1 for __, drive in found.outputs if drive.supply == s))
    return next((supply for supply in map(nets.supply_with_hot, ranked) if supply is not None), None)


def _relayed(
    case: Case, nets: Nets, found: Driven, foreign: list[tuple[str, Drive]], common: str
) -> tuple[Survey, list[tuple[str, str]], tuple[tuple[str, Drive], ...]]:
    """Return the house with a relay for each foreign drive, its links, and the drives as the control sees them."""
    base = fitted(case)
    links: list[tuple[str, str]] = []
    kept = dict(found.outputs)
    for number, (output, drive) in enumerate(foreign, start=1):
        place = _place_with(case, nets, drive.net, drive.supply, common)
        if place is None:
            raise Refused(
                _("the relay for {carries} finds its pair and a common in no one cabinet where the cable ends").format(
                    carries=named(carried_words(output, drive))
                )
            )
        name = free_name(case, f"relay {number}")
        base = with_device(case, base, name, "isolation-relay", at=place)
        links += [
            (f"{name}.A2", _point(nets, common, place)),
            (f"{name}.X1", _point(nets, drive.supply, place)),
            (f"{name}.X2", _point(nets, drive.net, place)),
        ]
        kept[output] = replace(drive, net=f"{name}.A1")
    return base, links, tuple(kept.items())


def _relays_at_wall(case: Case, base: Survey, found: Driven) -> tuple[Survey, list[tuple[str, str]], tuple[Want, ...]]:
    links: list[tuple[str, str]] = []
    wants: list[Want] = []
    for number, (output, drive) in enumerate(found.outputs, start=1):
        name = free_name(case, f"relay {number}")
        base = with_device(case, base, name, "isolation-relay", at=case.control)
        links += [(f"{name}.A1", f"{case.control}.{output}"), (f"{name}.A2", f"{case.control}.C")]
        if number == 1:
            wants.append(Want("equipment supply", f"{name}.X1", drive.supply))
        else:
            links.append((f"{name}.X1", wants[0].wall))
        wants.append(Want(carried_words(output, drive), f"{name}.X2", drive.net))
    return base, links, tuple(wants)


def _retired(cable: Cable) -> Cable:
    conductors = {
        name: conductor.model_copy(update={"from_": _free(conductor.from_), "to": _free(conductor.to)})
        for name, conductor in cable.conductors.items()
    }
    return cable.model_copy(update={"conductors": conductors})


def _free(landing: object) -> str:
    return CUT_SHORT if landing == CUT_SHORT else LOOSE
