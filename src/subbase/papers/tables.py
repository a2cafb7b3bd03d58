"""A plan's landings as tables and sentences: plain rows of text that the packet, the terminal and a page can all show."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby

from subbase.names import and_words, carried_words, colour_words, list_words, named
from subbase.names import conductor_words as conductor_name
from subbase.papers.map_model import Changed, runs_of
from subbase.plan import ControlPlan, Landing, Plan
from subbase.plan.result import known_end
from subbase.survey import NOWHERE, Survey, split_terminal
from subbase.words import _, mark

Rows = tuple[tuple[str, ...], ...]
ACTION_WORDS = {"add": mark("put in"), "remove": mark("take out"), "keep": mark("keep")}


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under a head; ``weights`` share out the width."""

    title: str
    head: tuple[str, ...]
    rows: Rows
    weights: tuple[float, ...]
    note: str = ""


def terminal_words(landing: str) -> str:
    """Return ``hall.W1`` as 'hall W1', and what is no terminal in words."""
    if landing in NOWHERE:
        return named(landing)
    return " ".join(split_terminal(landing)).rstrip()


def pair_words(between: tuple[str, str]) -> str:
    """Return two terminals, the place said once when they share it."""
    (place, a), (other, b) = map(split_terminal, between)
    if place == other:
        return _("{place} {a} to {b}").format(place=place, a=a, b=b)
    return _("{place} {a} to {other} {b}").format(place=place, a=a, other=other, b=b)


def conductor_words(landing: Landing) -> str:
    """Return a conductor by cable and name, with its colours where the name does not say them."""
    colours = [colour for colour in dict.fromkeys(landing.colours) if colour and colour not in landing.conductor]
    told = f" ({' / '.join(map(colour_words, colours))})" if colours else ""
    return f"{landing.cable}, {conductor_name(landing.conductor)}{told}"


def calls_words(calls: Iterable[str]) -> str:
    """Return calls one after the other."""
    return list_words(map(named, calls))


def changed_conductors(plan: Plan) -> Changed:
    """Return the conductors that the plan lands or moves."""
    return frozenset(
        (landing.cable, landing.conductor)
        for item in plan.controls
        for landing in item.chosen.landings
        if landing.moved
    )


def marks(plan: Plan) -> Mapping[tuple[str, str], int]:
    """Return conductor -> the number it bears on the wiring map of the house as left."""
    if plan.left is None:
        return {}
    runs = runs_of(plan.left, changed_conductors(plan))
    return {(run.cable, run.conductor): run.number for run in runs if run.number}


# --- landings --------------------------------------------------------------------------------------------------------


def landing_table(plan: Plan, item: ControlPlan) -> Table:
    """Return where each conductor of a control's cable goes, as found and as left, at both ends."""
    numbers = marks(plan)
    rows = []
    for x in item.chosen.landings:
        number = numbers.get((x.cable, x.conductor), 0)
        rows.append(
            (
                str(number) if number else "",
                conductor_words(x),
                carried_words(x.carries),
                _found_words(plan.survey, x, x.wall_found, at_wall=True),
                terminal_words(x.wall_left),
                _found_words(plan.survey, x, x.far_found, at_wall=False),
                terminal_words(x.far_left),
                change_words(x),
            )
        )
    head = (
        _("No."), _("Conductor"), _("Carries"), _("Wall, found"), _("Wall, left"),
        _("Equipment, found"), _("Equipment, left"), _("Do"),
    )  # fmt: skip
    note = _("Known by both ends, never by colour. Numbers are those of the wiring map.")
    weights = (0.5, 1.7, 1.4, 1.2, 1.2, 1.4, 1.4, 1.7)
    title = _("Where each conductor of {control} goes").format(control=item.control)
    return Table(title, head, tuple(rows), weights, note)


def _found_words(survey: Survey, landing: Landing, found: str, *, at_wall: bool) -> str:
    """Return a landing as found; 'not known' where the survey does not know it, whatever the plan was proved for."""
    return terminal_words(found) if known_end(survey, landing, at_wall=at_wall) else _("not known")


def change_words(landing: Landing) -> str:
    """Return what is to be done with a conductor, in a few words."""
    wall = landing.wall_found != landing.wall_left
    far = landing.far_found != landing.far_left
    if landing.carries == "nothing":
        if landing.far_left in NOWHERE:
            return _("take off and cap") if far else _("leave capped")
        return _("cap at the wall")
    if far and landing.wall_found in NOWHERE and landing.far_found in NOWHERE:
        return _("land both ends")
    if far:
        return _("move at both ends") if wall else _("move at the equipment")
    if landing.moved:
        return _("move at the wall")
    return _("stays; new letter") if wall else _("stays")


def jumper_table(plan: Plan) -> Table:
    """Return every jumper and lead: put in, take out, keep."""
    rows = []
    for item in plan.controls:
        for change in item.chosen.jumpers:
            a, b = map(terminal_words, change.jumper.between)
            rows.append((change.action, a, b, change.why))
    ordered = sorted(dict.fromkeys(rows), key=lambda row: tuple(ACTION_WORDS).index(row[0]))
    told = tuple((_(ACTION_WORDS[action]), *rest) for action, *rest in ordered)
    return Table(_("Jumpers and leads"), (_("Do"), _("From"), _("To"), _("Why")), told, (0.8, 1.6, 1.6, 2.4))


def settings_rows(item: ControlPlan) -> Rows:
    """Return how a control is to be set, as (setting, value)."""
    settings = item.settings
    rows = [
        (
            _("Kind of system"),
            _("heat pump: heating runs the compressor") if settings.compressor_heats else _("no heat pump"),
        )
    ]
    if settings.changeover:
        rows.append((_("Changeover (O/B) energised in"), named(settings.changeover)))
    rows.append((_("Fan in heating run by"), _("the control") if settings.fan_with_heat else _("the equipment")))
    if item.chosen.lost:
        rows.append((_("Not available any more"), calls_words(item.chosen.lost)))
    return tuple(rows)


# --- what to do, in sentences ----------------------------------------------------------------------------------------


def steps(item: ControlPlan) -> tuple[str, ...]:
    """Return what to do for one control, in short sentences in the order of work."""
    return tuple(_steps(item))


def _steps(item: ControlPlan) -> Iterator[str]:
    route, control = item.chosen, item.control
    yield _("Lock the supply out and prove it dead before a wire is touched; photograph both ends as found.")
    far = [x for x in route.landings if x.far_found != x.far_left]
    for place, found in groupby(sorted(far, key=lambda x: x.far_place), key=lambda x: x.far_place):
        yield _("At {place}: {what}.").format(place=place, what="; ".join(_far_words(x) for x in found))
    landed = [
        _("{conductor} on {terminal}").format(conductor=conductor_name(x.conductor), terminal=_at(x.wall_left, control))
        for x in route.landings
        if x.carries != "nothing"
    ]
    if landed:
        yield _("At {place}: {what}.").format(place=control, what=and_words(landed))
    capped = [
        conductor_name(x.conductor) for x in route.landings if x.carries == "nothing" and x.wall_found not in NOWHERE
    ]
    if capped:
        yield _("Cap at {place}: {what}.").format(place=control, what=and_words(capped))
    for action, sentence in (("remove", _("Take out: {what}.")), ("add", _("Put in: {what}."))):
        pairs = [
            _("{a} to {b}").format(a=terminal_words(c.jumper.between[0]), b=terminal_words(c.jumper.between[1]))
            for c in route.jumpers
            if c.action == action
        ]
        if pairs:
            yield sentence.format(what=and_words(pairs))
    yield _("Power up, set {control} ({settings}), and read every call against the table of readings.").format(
        control=control, settings="; ".join(_settings_said(item))
    )


def _settings_said(item: ControlPlan) -> Iterator[str]:
    settings = item.settings
    yield _("heat pump") if settings.compressor_heats else _("no heat pump")
    if settings.changeover:
        yield _("changeover energised in {call}").format(call=named(settings.changeover))
    yield (
        _("the control runs the fan in heating")
        if settings.fan_with_heat
        else _("the equipment runs the fan in heating")
    )


def _far_words(x: Landing) -> str:
    found, left = _at(x.far_found, x.far_place), _at(x.far_left, x.far_place)
    if x.far_left in NOWHERE:
        return _("take {conductor} off {terminal} and cap it").format(
            conductor=conductor_name(x.conductor), terminal=found
        )
    if x.far_found in NOWHERE:
        return _("land {conductor} on {terminal}").format(conductor=conductor_name(x.conductor), terminal=left)
    return _("move {conductor} from {found} to {left}").format(
        conductor=conductor_name(x.conductor), found=found, left=left
    )


def _at(landing: str, place: str) -> str:
    """Return a terminal, its place only where it is another than the one spoken of."""
    where, terminal = split_terminal(landing)
    return terminal if where == place else terminal_words(landing)
