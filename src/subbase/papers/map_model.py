"""What a wiring map shows: places as boxes with terminals, and runs between two ends (conductors, leads, jumpers)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from subbase.catalog import Catalog
from subbase.names import conductor_words, or_words
from subbase.survey import CUT_SHORT, LOOSE, Survey, Unknown, split_terminal
from subbase.survey.cross import terminals_of
from subbase.units import feet_from_metres
from subbase.words import _, mark, plural

NOT_KNOWN = "not known"
JUMPER, INSIDE = "jumper", "inside"
_NOWHERE_WORDS = {LOOSE: mark("loose"), CUT_SHORT: mark("cut short"), NOT_KNOWN: mark("not known")}
RunKey = tuple[str, str]
"""(cable, conductor) of a conductor; a jumper is ('jumper', 'A to B') with the terminals as in the survey."""
Changed = frozenset[RunKey]
"""What is to be marked and numbered."""


@dataclass(frozen=True, slots=True)
class Marking:
    """What one of two maps, as found and as left, marks of what lies between them."""

    changed: Changed
    gone: Changed = frozenset()
    """Runs that are taken away: they bear a cross and no number."""
    before: bool = False
    """Whether it is the map as found: what will move bears its number in a ring."""


def markings(found: Survey, left: Survey, changed: Changed) -> tuple[Marking, Marking]:
    """Return how the maps as found and as left mark the conductors of ``changed`` and every jumper or lead put in or out.

    A conductor bears the same number on both.
    """
    before, after = ({run.key for run in runs_of(survey, frozenset())} for survey in (found, left))
    return (
        Marking(changed & before, frozenset(before - after), before=True),
        Marking(changed | frozenset(after - before)),
    )


@dataclass(frozen=True, slots=True)
class Box:
    """One place."""

    place: str
    about: tuple[str, ...]
    """Second-rank lines: what it is, where it stands."""
    terminals: tuple[str, ...]
    host: str
    """Place in whose cabinet it lies; its own name when it stands alone."""
    is_control: bool = False


@dataclass(frozen=True, slots=True)
class End:
    """One end of a run: on a terminal, or at a place without one."""

    place: str
    terminal: str
    """Empty when it is on none."""
    nowhere: str
    """'loose', 'cut short' or 'not known'; empty when it is on a terminal."""
    label: str
    colour: str
    maybe: tuple[str, ...] = ()
    """Terminals that it may be on."""

    @property
    def said(self) -> str:
        """Return why it is on no terminal, in words."""
        if self.maybe:
            return _("not known: {places}").format(places=or_words(self.maybe))
        return _(_NOWHERE_WORDS[self.nowhere]) if self.nowhere else ""


@dataclass(frozen=True, slots=True)
class Run:
    """Something conducting between two ends."""

    kind: Literal["conductor", "lead", "inside"]
    cable: str
    conductor: str
    ends: tuple[End, End]
    number: int = 0
    """Number of its mark; 0 when nothing about it changes."""
    before: bool = False
    """Whether its number says where it was, not where it is now."""
    gone: bool = False
    """Whether it is marked as taken away."""
    doubtful: bool = False
    """Whether it is not known to be there."""

    @property
    def key(self) -> RunKey:
        """Return what it is known by."""
        return self.cable, self.conductor

    @property
    def marked(self) -> bool:
        """Return whether it bears a mark."""
        return bool(self.number) or self.gone


def boxes_of(survey: Survey, catalog: Catalog) -> tuple[Box, ...]:
    """Return every place of a survey as a box, controls first."""
    used = _terminals_used(survey)
    hosts = _hosts(survey)
    return tuple(
        Box(
            place,
            _about(survey, catalog, place),
            _terminals(survey, catalog, place, used),
            hosts[place],
            is_control=place in survey.controls,
        )
        for place in survey.places()
    )


def _terminals(survey: Survey, catalog: Catalog, place: str, used: Mapping[str, list[str]]) -> tuple[str, ...]:
    if place in survey.controls:
        known: list[str] = list(survey.controls[place].old.terminals)
    else:
        known = terminals_of(survey, catalog, place)
    return tuple(dict.fromkeys((*known, *used.get(place, ()))))


def _terminals_used(survey: Survey) -> dict[str, list[str]]:
    """Return place -> terminals that something lands on, wire nuts among them."""
    landings = [end for _, _, _, c in survey.conductors() for end in (c.from_, c.to) if isinstance(end, str)]
    landings += [end for jumper in survey.jumpers for end in jumper.between]
    used: dict[str, list[str]] = {}
    for place, terminal in map(split_terminal, landings):
        if terminal:
            used.setdefault(place, []).append(terminal)
    return used


def _hosts(survey: Survey) -> dict[str, str]:
    at = {name: item.at for name, item in survey.equipment.items()}
    at |= {name: transformer.at for name, transformer in survey.transformers.items()}
    places = set(survey.places())
    hosts = {}
    for place in survey.places():
        host, seen = place, {place}
        while at.get(host, "") in places - seen:
            host = at[host]
            seen.add(host)
        hosts[place] = host
    return hosts


def _about(survey: Survey, catalog: Catalog, place: str) -> tuple[str, ...]:
    if place in survey.controls:
        at = survey.controls[place].at
        return (_("control, {at}").format(at=at) if at and at != place else _("control"),)
    if place in survey.transformers:
        transformer = survey.transformers[place]
        va = _("VA not known") if isinstance(transformer.va, Unknown) else f"{transformer.va:g} VA"
        volts = "" if isinstance(transformer.volts, Unknown) else f", {transformer.volts:g} V"
        return (_("transformer"), f"{va}{volts}", *_where(survey, transformer.at))
    item = survey.equipment[place]
    if isinstance(item.kind, Unknown):
        title = _("kind not known")
    else:
        title = _(catalog[item.kind].title) if item.kind in catalog else item.kind
    return (title, *_where(survey, item.at))


def _where(survey: Survey, at: str) -> tuple[str, ...]:
    if not at:
        return ()
    return (_("in or beside {place}").format(place=at) if at in survey.places() else at,)


def cable_letters(survey: Survey) -> dict[str, str]:
    """Return cable -> letter on the drawing: A to Z, then A2 and so on."""
    return {
        name: chr(ord("A") + number % 26) + (str(number // 26 + 1) if number >= 26 else "")
        for number, name in enumerate(survey.cables)
    }


def cable_words(survey: Survey, name: str) -> str:
    """Return a cable in words, its length in the survey's units."""
    cable = survey.cables[name]
    if isinstance(cable.length_m, Unknown):
        length = _("length not known")
    elif survey.units == "us":
        length = f"{feet_from_metres(cable.length_m):.0f} ft"
    else:
        length = f"{cable.length_m:.1f} m"
    gauge = _("gauge not known") if isinstance(cable.gauge_awg, Unknown) else f"{cable.gauge_awg} AWG"
    count = len(cable.conductors)
    words = plural(
        "{name}: {a} to {b}, {length}, {gauge}, {count} conductor",
        "{name}: {a} to {b}, {length}, {gauge}, {count} conductors",
        count,
    )
    return words.format(name=name, a=cable.from_, b=cable.to, length=length, gauge=gauge, count=count)


def runs_of(survey: Survey, changed: Changed | Marking) -> tuple[Run, ...]:
    """Return everything that is drawn between two ends; what changes is numbered in the survey's order."""
    marking = changed if isinstance(changed, Marking) else Marking(changed)
    return tuple(_numbered([*_conductor_runs(survey), *_jumper_runs(survey), *_inside_runs(survey)], marking))


def _numbered(runs: list[Run], marking: Marking) -> Iterator[Run]:
    number = 0
    for run in runs:
        if run.key in marking.gone:
            yield replace(run, gone=True)
        elif run.key in marking.changed:
            number += 1
            yield replace(run, number=number, before=marking.before)
        else:
            yield run


def _conductor_runs(survey: Survey) -> Iterator[Run]:
    letters = cable_letters(survey)
    for cable_name, cable, name, conductor in survey.conductors():
        ends = []
        for landing, place, colour in (
            (conductor.from_, cable.from_, conductor.colours[0]),
            (conductor.to, cable.to, conductor.colours[1]),
        ):
            ends.append(_end(landing, place, f"{letters[cable_name]} {_called(name, colour)}", colour))
        yield Run("conductor", cable_name, name, (ends[0], ends[1]))


def _called(name: str, colour: str) -> str:
    """Return what one end is called: its colour, and the conductor's name where that says something else."""
    if not colour or name in colour:
        return conductor_words(colour or name)
    said = conductor_words(colour)
    return said if colour in name else f"{said} ({conductor_words(name)})"


def _end(landing: str | Unknown, place: str, label: str, colour: str) -> End:
    if isinstance(landing, Unknown):
        maybe = tuple(split_terminal(str(item))[1] or str(item) for item in landing.either)
        return End(place, "", NOT_KNOWN, label, colour, maybe)
    if landing in (LOOSE, CUT_SHORT):
        return End(place, "", landing, label, colour)
    where, terminal = split_terminal(landing)
    return End(where, terminal, "", label, colour)


def _jumper_runs(survey: Survey) -> Iterator[Run]:
    for jumper in survey.jumpers:
        if jumper.present is False:
            continue
        a, b = jumper.between
        doubtful = isinstance(jumper.present, Unknown)
        ends = (_lead_end(a, b, doubtful), _lead_end(b, a, doubtful))
        yield Run("lead", JUMPER, f"{a} to {b}", ends, doubtful=doubtful)


def _lead_end(here: str, there: str, doubtful: bool) -> End:
    place, terminal = split_terminal(here)
    far_place, far_terminal = split_terminal(there)
    # The line itself leads to the other place; its terminal is what the eye loses on the way.
    words = _("jumper to {terminal}") if place == far_place else _("to {terminal}")
    text = words.format(terminal=far_terminal)
    return End(place, terminal, "", f"{text}?" if doubtful else text, "")


def _inside_runs(survey: Survey) -> Iterator[Run]:
    for place, control in survey.controls.items():
        if control.old.supplies == "joined":
            ends = (End(place, "Rh", "", _("joined inside"), ""), End(place, "Rc", "", _("joined inside"), ""))
            yield Run("inside", INSIDE, f"{place}.Rh to {place}.Rc", ends)


def parts_of(survey: Survey, runs: Sequence[Run]) -> dict[str, frozenset[RunKey]]:
    """Return runs shared out over sheets: one for each control and its cables, one for the rest.

    Every run is on exactly one sheet.
    """
    left = {run.key: run for run in runs}
    parts: dict[str, frozenset[RunKey]] = {}
    for control in survey.controls:
        cables = {name for name, cable in survey.cables.items() if control in (cable.from_, cable.to)}
        own = [run for run in left.values() if run.kind == "conductor" and run.cable in cables]
        places = {end.place for run in own for end in run.ends} | {control}
        leads = [run for run in left.values() if run.kind != "conductor" and all(e.place in places for e in run.ends)]
        # A lead between two pieces of equipment stays with the rest, unless one of them serves this control only.
        near = [run for run in leads if any(_belongs(survey, end.place, control) for end in run.ends)]
        found = frozenset(run.key for run in (*own, *near))
        if found:
            parts[control] = found
            left = {key: run for key, run in left.items() if key not in found}
    if left:
        parts["equipment"] = frozenset(left)
    return parts


def _belongs(survey: Survey, place: str, control: str) -> bool:
    item = survey.equipment.get(place)
    return place == control or (item is not None and (item.at == control or item.serves == (control,)))


def end_words(end: End) -> str:
    """Return an end as 'hall C', or why it is on no terminal and where."""
    if end.terminal:
        return f"{end.place} {end.terminal}"
    return _("{what} at {place}").format(what=end.said, place=end.place)


def run_words(run: Run) -> str:
    """Return a run with both its ends."""
    a, b = (end_words(end) for end in run.ends)
    what = f"{run.cable}, {run.conductor}" if run.kind == "conductor" else _("link")
    return _("{what}: {a} to {b}").format(what=what, a=a, b=b)
