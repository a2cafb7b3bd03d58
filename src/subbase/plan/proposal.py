"""A proposal: a house with a route's devices and jumpers in place, and what the conductors must then carry."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from subbase.catalog import Call, Catalog
from subbase.names import list_words, named
from subbase.plan.landings import Want, wires_of
from subbase.plan.nets import Drive, Nets, control_cables, matching_output, order_calls
from subbase.plan.proof import prove
from subbase.plan.result import Part, RouteName
from subbase.survey import Control, Equipment, Jumper, Profile, Survey, with_equipment
from subbase.wiring import Settings, settings_for, system_calls
from subbase.wiring.outputs import outputs_of, outputs_on
from subbase.words import _


class Refused(Exception):
    """A route cannot be proposed; the message says what was looked at and what would lift it."""


@dataclass(frozen=True, slots=True)
class Case:
    """One control to be replaced in a house without unknowns, and what must go on working."""

    survey: Survey
    catalog: Catalog
    control: str
    profile: Profile
    """Of the new control."""
    settings: Settings
    wanted: frozenset[Call]
    beyond: frozenset[Call]
    """Wanted calls that the new control has no output for; every route loses them."""
    margin_today: float
    """Margin of the house as found; negative when it does not hold."""

    @property
    def far_place(self) -> str:
        """Return the place where the control's first cable ends."""
        return next(far for __, far in control_cables(self.survey, self.control))


@dataclass(frozen=True, slots=True)
class Proposal:
    """What a route proposes before its landings are chosen."""

    name: RouteName
    title: str
    base: Survey
    """With devices, jumpers and the new control in place; conductors still as found."""
    wants: tuple[Want, ...]
    lost: frozenset[Call] = frozenset()
    parts: tuple[Part, ...] = ()
    minutes: int = 45
    notes: tuple[str, ...] = ()
    added: tuple[Jumper, ...] = field(default=())


def case_of(survey: Survey, catalog: Catalog, control: str) -> Case:
    """Return the case of one control that has a successor."""
    profile = survey.controls[control].new
    if profile is None:
        raise ValueError(f"{control} is not to be replaced.")
    settings = settings_for(survey, catalog, control)
    wanted = wanted_calls(survey, catalog, control)
    unwired = frozenset(system_calls(survey, catalog, control)) - wanted
    today = prove(survey, catalog, lost=unwired, about=control).margin
    return Case(survey, catalog, control, profile, settings, wanted, _beyond(survey, catalog, control, wanted), today)


def _beyond(survey: Survey, catalog: Catalog, control: str, wanted: frozenset[Call]) -> frozenset[Call]:
    """Return the wanted calls that the new control cannot make, because some net they drive has no fitting output."""
    profile = survey.controls[control].new
    settings = settings_for(survey, catalog, control)
    drives, __ = Nets(survey, catalog, control).drives()
    beyond: frozenset[Call] = frozenset()
    while profile is not None:
        left = order_calls(wanted - beyond)
        asked = [replace(drive, calls=drive.calls & frozenset(left)) for drive in drives]
        unmet = [
            order_calls(drive.calls)
            for drive in asked
            if drive.calls and matching_output(outputs_of(profile), profile, settings, drive, left) is None
        ]
        if not unmet:
            break
        # Of the calls that share an unmet net, the highest are given up first: stage 2 before stage 1.
        beyond |= {min(unmet, key=len)[-1]}
    return beyond


def wanted_calls(survey: Survey, catalog: Catalog, control: str) -> frozenset[Call]:
    """Return the calls that must go on working: those wired through today, and the owner's wishes.

    A call is wired through when every net it must drive has one of the control's conductors landed on it, whose wall
    end sits on a terminal of the control, or is led to one by a float switch or a link at that wall, and the control makes
    an output in it at all.
    """
    nets = Nets(survey, catalog, control)
    drives, __ = nets.drives()
    reached = {
        nets.net(wire.far_found)
        for wire in wires_of(survey, control)
        if "." in wire.far_found and nets.leads_to_control(str(wire.wall_end.landing(survey)))
    }
    offered = system_calls(survey, catalog, control)
    settings = settings_for(survey, catalog, control)
    wired = {
        call
        for call in offered
        if outputs_on(survey.controls[control].old, settings, {call})
        and any(call in drive.calls for drive in drives)
        and all(drive.net in reached for drive in drives if call in drive.calls)
    }
    return frozenset(wired | (set(survey.wishes) & set(offered)))


def fitted(case: Case, *, profile: Profile | None = None) -> Survey:
    """Return the house with the new control in the old one's place and every jumper at that wall taken out."""
    survey = case.survey
    control = Control(at=survey.controls[case.control].at, old=profile or case.profile)
    jumpers = tuple(j for j in survey.jumpers if not touches(j, case.control))
    return survey.model_copy(update={"controls": {**survey.controls, case.control: control}, "jumpers": jumpers})


def touches(jumper: Jumper, place: str) -> bool:
    """Return whether a jumper ends at a place."""
    return any(end.startswith(f"{place}.") for end in jumper.between)


def with_jumpers(survey: Survey, pairs: Iterable[tuple[str, str]]) -> Survey:
    """Return the house with more jumpers."""
    added = tuple(Jumper(between=pair) for pair in pairs)
    return survey.model_copy(update={"jumpers": (*survey.jumpers, *added)})


def with_device(case: Case, survey: Survey, name: str, kind: str, *, at: str) -> Survey:
    """Return the house with one more device in a cabinet, serving the control of the case only."""
    return with_equipment(survey, {name: Equipment(kind=kind, at=at, serves=(case.control,))})


def free_name(case: Case, name: str) -> str:
    """Return a place's name not used in the house yet: the name itself, or with the control's behind it."""
    return name if name not in case.survey.places() else f"{name} of {case.control}"


@dataclass(frozen=True, slots=True)
class Driven:
    """The drives that a route keeps, each with the output that serves it."""

    outputs: tuple[tuple[str, Drive], ...]
    supplies: tuple[str, ...]
    """Supply nets, each once."""

    def supply_terminals(self, case: Case) -> dict[str, str]:
        """Return supply terminal of the control -> supply net.

        Raises
        ------
        Refused
            When outputs that share a supply terminal need different supplies.
        """
        found: dict[str, str] = {}
        for output, drive in self.outputs:
            terminal = case.profile.supply_of(output)
            if terminal is None:
                raise Refused(
                    _("the new control has no supply terminal for {output}; its list of terminals lacks R").format(
                        output=output
                    )
                )
            if case.profile.supplies != "separate":
                terminal = "any"
            if found.setdefault(terminal, drive.supply) != drive.supply:
                raise Refused(
                    _(
                        "two supplies would be tied together in the new control, which has one supply for all its outputs; a control with separate Rh and Rc, or an isolation relay, would lift this"
                    )
                )
        if "any" in found:
            first = "Rc" if "Rc" in case.profile.terminals else case.profile.power_terminal() or "R"
            return {first: found["any"]}
        return found


def driven(case: Case, nets: Nets, *, without: frozenset[Call] = frozenset()) -> Driven:
    """Return the drives that the wanted calls need, each matched to an output of the new control.

    Raises
    ------
    Refused
        When a wanted call cannot be driven, or no output does what it needs.
    """
    drives, problems = nets.drives()
    calls = order_calls(case.wanted - case.beyond - without)
    for call in calls:
        if call in problems:
            raise Refused(problems[call])
    kept = []
    for drive in drives:
        needed = drive.calls & frozenset(calls)
        if needed:
            kept.append(replace(drive, calls=needed))
    if not kept:
        raise Refused(_("no call that the new control can make reaches any equipment"))
    free = list(outputs_of(case.profile))
    matched: list[tuple[str, Drive]] = []
    for drive in sorted(kept, key=lambda d: (-len(d.calls), d.net)):
        output = matching_output(free, case.profile, case.settings, drive, calls)
        if output is None:
            words = list_words(map(named, order_calls(drive.calls)))
            raise Refused(
                _(
                    "the new control has no output that is made in: {words}; a control with that output would lift this"
                ).format(words=words)
            )
        free.remove(output)
        matched.append((output, drive))
    return Driven(tuple(matched), tuple(dict.fromkeys(drive.supply for __, drive in matched)))


def base_wants(case: Case, found: Driven, supply_terminals: dict[str, str]) -> tuple[Want, ...]:
    """Return the wants of supplies and outputs, without a common."""
    wants = [
        Want(f"24 V supply ({terminal})", f"{case.control}.{terminal}", net)
        for terminal, net in supply_terminals.items()
    ]
    if len({want.net for want in wants}) == 1:
        wants = wants[:1]
    for output, drive in sorted(found.outputs, key=lambda item: outputs_of(case.profile).index(item[0])):
        wants.append(Want(f"{carried_words(output, drive)}", f"{case.control}.{output}", drive.net))
    return tuple(wants)


def carried_words(output: str, drive: Drive) -> str:
    """Return the name of what a conductor carries; ``names.carried_words`` says it to people."""
    words = {"G": "fan", "O": "changeover", "B": "changeover", "O/B": "changeover"}.get(output)
    return words or order_calls(drive.calls)[0]


def joined_supplies(case: Case, supply_terminals: dict[str, str]) -> tuple[tuple[str, str], ...]:
    """Return the jumper that the wall needs when one supply feeds both supply terminals."""
    if case.profile.supplies == "separate" and len(set(supply_terminals.values())) == 1:
        return ((f"{case.control}.Rh", f"{case.control}.Rc"),)
    return ()


def common_net(case: Case, nets: Nets, supply_terminals: dict[str, str]) -> str:
    """Return the net that must be landed on C.

    Raises
    ------
    Refused
        When the supply that feeds the control's electronics offers no common, or the control has no terminal for one.
    """
    require_common_terminal(case)
    power = case.profile.power_terminal()
    net = supply_terminals.get(power or "", next(iter(supply_terminals.values())))
    supply = nets.supply_with_hot(net)
    if supply is None:
        raise Refused(
            _(
                "the supply that the control would switch is an isolated start pair and offers no common; a separate transformer with its own two conductors would lift this"
            )
        )
    return supply.common


def require_common_terminal(case: Case) -> None:
    """Return when the new control can take a common.

    Raises
    ------
    Refused
        When it has no terminal C.
    """
    if "C" not in case.profile.terminals:
        raise Refused(_("the new control has no terminal for a common; one that has would lift this"))


def served_calls(case: Case) -> tuple[Call, ...]:
    """Return every call that the equipment can answer."""
    return system_calls(case.survey, case.catalog, case.control)


def lost_calls(case: Case, given_up: frozenset[Call] = frozenset()) -> frozenset[Call]:
    """Return the calls that will not work: given up now, or never wired through."""
    return (frozenset(served_calls(case)) - case.wanted) | case.beyond | given_up
