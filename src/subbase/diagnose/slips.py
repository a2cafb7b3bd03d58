"""What hands can have done to a house: landings swapped or moved, links that ought not to be there, settings.

They come from the survey as it stands, found or left, and each leaves another survey or other settings. A hidden splice
that crosses two conductors is, at the terminals, the same as two landings swapped, and is told with it. A conductor that is
not landed at all is told with the conductor that is open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Literal

from subbase.circuit.changes import bridged
from subbase.circuit.netlist import Switch
from subbase.diagnose.hypothesis import FaultKind, Form, Hypothesis
from subbase.diagnose.odds import Odds
from subbase.diagnose.places import site_of
from subbase.survey import CUT_SHORT, LOOSE, NOWHERE, ConductorEnd, Survey, split_terminal, with_landing
from subbase.wiring import House, settings_for
from subbase.wiring.build import JUMPER_OHM
from subbase.words import _

_BOTH_ENDS: tuple[Literal["from", "to"], ...] = ("from", "to")


def slip_faults(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Iterate over the slips of a house, in a fixed order; two that leave the same wiring are told once."""
    seen: set[frozenset[tuple[str, frozenset[str]]]] = {_wiring(house.survey)}
    for hypothesis in (*_swapped(house, odds), *_wrong_terminal(house, odds), *_crossed_links(house, odds)):
        survey = hypothesis.forms[0].survey
        assert survey is not None
        wiring = _wiring(survey)
        if wiring not in seen:
            seen.add(wiring)
            yield hypothesis
    yield from _extra_links(house, odds)
    yield from _settings(house, odds)


def _wiring(survey: Survey) -> frozenset[tuple[str, frozenset[str]]]:
    """Return what is joined to what: conductors of one cable count as alike only if they end alike."""
    joined = {
        (cable, frozenset({f"{name}:{c.from_}", f"{name}:{c.to}"})) for cable, _cable, name, c in survey.conductors()
    }
    return frozenset(joined | {("link", frozenset(j.between)) for j in survey.jumpers if j.present is True})


def _ends(house: House) -> Iterator[ConductorEnd]:
    for cable, _cable, name, _conductor in house.survey.conductors():
        for end in _BOTH_ENDS:
            item = ConductorEnd(cable=cable, conductor=name, end=end)
            if item.landing(house.survey) != CUT_SHORT:
                yield item


def _swapped(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Two ends of one cable at one place, each where the other belongs.

    Swapped at the far end or at the near end, two conductors that both land at both ends join the same terminals, but
    for their names: told once.
    """
    survey, kind = house.survey, "landings swapped"
    ends = list(_ends(house))
    of_end = {(e.cable, e.conductor, e.end): e for e in ends}
    told: set[frozenset[str]] = set()
    for a, b in combinations(ends, 2):
        if (a.cable, a.end) != (b.cable, b.end):
            continue
        here, there = str(a.landing(survey)), str(b.landing(survey))
        pair = frozenset({f"{a.cable}/{a.conductor}", f"{b.cable}/{b.conductor}"})
        if here == there or pair in told:
            continue
        if LOOSE in (here, there):
            forms: tuple[Form, ...] = (Form(survey=_exchanged(survey, a, b)),)
            kept, spare = (a, b) if there == LOOSE else (b, a)
            landing = here if there == LOOSE else there
            if spare.conductor in _idle(survey, spare.cable):
                continue  # a spare landed in place of the right one: its other end is loose, so that reads as an open
            words = _("{spare} of {cable} is on {landing} in place of {kept}, which is loose").format(
                spare=spare.conductor, cable=spare.cable, landing=landing, kept=kept.conductor
            )
        else:
            told.add(pair)
            other: Literal["from", "to"] = "to" if a.end == "from" else "from"
            far = [of_end.get((e.cable, e.conductor, other)) for e in (a, b)]
            # The two conductors join the same points either way, but each of them carries the other's current.
            shapes = [_exchanged(survey, a, b)]
            if far[0] is not None and far[1] is not None and LOOSE not in {str(e.landing(survey)) for e in far if e}:
                shapes.append(_exchanged(survey, far[0], far[1]))
            forms = tuple(Form(1.0 / len(shapes), survey=s, alone=i > 0) for i, s in enumerate(shapes))
            words = _(
                "{one} and {other} of {cable} are swapped ({here} and {there}, at {place}, at the other end, or in a hidden splice)"
            ).format(one=a.conductor, other=b.conductor, cable=a.cable, here=here, there=there, place=a.place(survey))
        yield Hypothesis(
            f"{kind}: {a.cable}/{a.conductor}+{b.conductor} at {a.place(survey)}", "landings swapped", words,
            tuple(sorted(pair)), site_of(survey, a.place(survey)), odds.of_kind[kind], forms,
        )  # fmt: skip


def _exchanged(survey: Survey, a: ConductorEnd, b: ConductorEnd) -> Survey:
    return with_landing(with_landing(survey, a, str(b.landing(survey))), b, str(a.landing(survey)))


def _idle(survey: Survey, cable: str) -> frozenset[str]:
    """Return the conductors of a cable that land nowhere."""
    return frozenset(
        name for name, c in survey.cables[cable].conductors.items() if c.from_ in NOWHERE and c.to in NOWHERE
    )


def _wrong_terminal(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """A landed end on the terminal beside its own, in the order in which the place's terminals are marked."""
    survey, kind = house.survey, "wrong terminal"
    for end in _ends(house):
        landing = str(end.landing(survey))
        if landing in NOWHERE:
            continue
        place, terminal = split_terminal(landing)
        marked = _terminals(house, place)
        if terminal not in marked:
            continue
        at = marked.index(terminal)
        for neighbour in (*marked[max(0, at - 1) : at], *marked[at + 1 : at + 2]):
            words = _("{conductor} of {cable} is on {place}.{neighbour} in place of {terminal}").format(
                conductor=end.conductor, cable=end.cable, place=place, neighbour=neighbour, terminal=terminal
            )
            yield Hypothesis(
                f"{kind}: {end.cable}/{end.conductor} on {place}.{neighbour}", "wrong terminal", words,
                (f"{end.cable}/{end.conductor}",), site_of(survey, place), odds.of_kind[kind],
                (Form(survey=with_landing(survey, end, f"{place}.{neighbour}")),),
            )  # fmt: skip


def _crossed_links(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Two links of an adapter, each at one end where the other belongs."""
    survey, kind = house.survey, "adapter mis-wired"
    for place in (name for name in survey.equipment if house.kind(name).group == "adapter"):
        own = [
            i for i, j in enumerate(survey.jumpers) if j.present is True and any(_at(end, place) for end in j.between)
        ]
        for a, b in combinations(own, 2):
            (here_a, there_a), (here_b, there_b) = (_from_place(survey.jumpers[i].between, place) for i in (a, b))
            crossed = {a: (here_b, there_a), b: (here_a, there_b)}
            if here_a == here_b or there_a == there_b or any(one == other for one, other in crossed.values()):
                continue
            jumpers = tuple(
                jumper.model_copy(update={"between": crossed[i]}) if i in crossed else jumper
                for i, jumper in enumerate(survey.jumpers)
            )
            words = _("the leads of {place} to {one} and {other} are crossed").format(
                place=place, one=there_a, other=there_b
            )
            tags = tuple("jumper {} to {}".format(*survey.jumpers[i].between) for i in (a, b))
            yield Hypothesis(
                f"{kind}: {tags[0]} and {tags[1]}", "adapter mis-wired", words, tags, site_of(survey, place),
                odds.of_kind[kind], (Form(survey=survey.model_copy(update={"jumpers": jumpers})),),
            )  # fmt: skip


def _at(end: str, place: str) -> bool:
    return split_terminal(end)[0] == place


def _from_place(between: tuple[str, str], place: str) -> tuple[str, str]:
    """Return a link's ends, the one at a place first."""
    return between if _at(between[0], place) else (between[1], between[0])


def _terminals(house: House, place: str) -> tuple[str, ...]:
    if place in house.survey.controls:
        return house.survey.controls[place].old.terminals
    if place in house.survey.equipment:
        return tuple(house.kind(place).terminals)
    return ("common", "hot")


def _extra_links(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """A link that joins a control's two supplies, or a supply and the heating terminal, left where it must not be."""
    kind: FaultKind = "link extra"
    linked = {frozenset(jumper.between) for jumper in house.survey.jumpers if jumper.present is True}
    for name, control in house.survey.controls.items():
        marked = control.old.terminals
        supplies = [terminal for terminal in ("R", "Rh", "Rc") if terminal in marked]
        outputs = [terminal for terminal in ("W", "W1", "Y", "Y1", "G") if terminal in marked]
        pairs: list[tuple[str, str]] = [*combinations(supplies, 2)] if control.old.supplies == "separate" else []
        pairs += [(control.old.supply_of(output) or "", output) for output in outputs]
        for a, b in pairs:
            nodes = (f"{name}.{a}", f"{name}.{b}")
            if not set(nodes) <= house.netlist.index.keys() or frozenset(nodes) in linked:
                continue
            words = _("a link joins {one} and {other} at {control}, where none belongs").format(
                one=a, other=b, control=name
            )
            form = Form(changes=(bridged(*nodes, JUMPER_OHM),))
            yield Hypothesis(f"{kind}: {nodes[0]}+{b}", kind, words, nodes, name, odds.of_kind[kind], (form,))


def _settings(house: House, odds: Odds) -> Iterator[Hypothesis]:
    """Changeover the wrong way round, a heat pump taken for a furnace or the other way, the fan left to the wrong one."""
    outputs = {switch.tag for switch in house.netlist.of(Switch)}
    for name, control in house.survey.controls.items():
        right = settings_for(house.survey, house.catalog, name)
        turned = any(f"{name}/{terminal}" in outputs for terminal in ("O/B",))
        if right.changeover is not None and turned:
            wrong: Literal["cooling", "heating"] = "heating" if right.changeover == "cooling" else "cooling"
            words = (
                _("the changeover of {name} is set to be energised in heating, not in cooling")
                if wrong == "heating"
                else _("the changeover of {name} is set to be energised in cooling, not in heating")
            ).format(name=name)
            yield _set(
                odds, "changeover set wrong", name, words, Form(settings=((name, replace(right, changeover=wrong)),))
            )
        if control.old.power == "none":
            continue  # a mechanical control has nothing to set
        other = replace(right, compressor_heats=not right.compressor_heats)
        if not other.compressor_heats:
            other = replace(other, changeover=None)
        words = (
            _("{name} is set for a heat pump, which this house does not have in that place")
            if other.compressor_heats
            else _("{name} is set for a furnace, which this house does not have in that place")
        ).format(name=name)
        yield _set(odds, "equipment type set wrong", name, words, Form(settings=((name, other),)))
        fan = replace(right, fan_with_heat=not right.fan_with_heat)
        words = (
            _("{name} is set to run the fan with heat, against what this equipment needs")
            if fan.fan_with_heat
            else _("{name} is set to leave the fan with heat, against what this equipment needs")
        ).format(name=name)
        yield _set(odds, "equipment type set wrong", name, words, Form(settings=((name, fan),)), "fan")


def _set(odds: Odds, kind: FaultKind, name: str, words: str, form: Form, more: str = "") -> Hypothesis:
    return Hypothesis(
        f"{kind}: {name}{' ' * bool(more)}{more}", kind, words, (name,), name, odds.of_kind[kind], (form,)
    )


__all__ = ["slip_faults"]
