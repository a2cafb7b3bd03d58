"""Faults that no single field shows: names that do not exist, terminals that a place has not, landings that cannot be.

What was left out of the survey because it does not fit (``Tree.dropped``) is still a name of the file: nothing is said
against those who use it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from subbase.catalog import Catalog
from subbase.errors import Fault
from subbase.survey.faults import nearest
from subbase.survey.fields import file_word
from subbase.survey.kinds import LEAST, kind_faults, kinds_of
from subbase.survey.model import NOWHERE, Conductor, Equipment, Frozen, Profile, Survey, Unknown, split_terminal
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.words import _

JOINT = "joint "
PLACES = ("controls", "equipment", "transformers")


@dataclass(frozen=True, slots=True)
class _Names:
    """The names of a survey, and those that its file holds in parts that did not fit."""

    survey: Survey
    tree: Tree
    places: frozenset[str]
    dropped: frozenset[str]
    blind: bool
    """Whether a whole group of places did not fit, so that no name can be said not to be there."""
    terminals: dict[str, list[str]]

    def is_place(self, name: str) -> bool:
        return name in self.places or name in self.dropped or self.blind

    def no_place(self, name: str) -> str:
        valid = list(self.survey.places())
        return _("There is no place '{name}'; {nearest}").format(name=plain_words(name), nearest=nearest(name, valid))

    def conductors(self, place: str) -> set[str]:
        """Return the names of the conductors that come to a place."""
        at = {place} | {name for name, item in self.survey.equipment.items() if item.at == place}
        at |= {item.at for name, item in self.survey.equipment.items() if name == place and item.at}
        return {
            name for cable in self.survey.cables.values() if at & {cable.from_, cable.to} for name in cable.conductors
        }

    def is_control(self, name: str) -> bool:
        dropped = self.tree.dropped
        return name in self.survey.controls or ("controls",) in dropped or ("controls", name) in dropped

    def no_control(self, name: str) -> str:
        valid = list(self.survey.controls)
        return _("There is no control '{name}'; {nearest}").format(name=plain_words(name), nearest=nearest(name, valid))


def cross_faults(survey: Survey, catalog: Catalog, tree: Tree) -> Iterator[Fault]:
    """Iterate over faults between fields."""
    dropped = frozenset(str(path[1]) for path in tree.dropped if len(path) == 2 and path[0] in PLACES)
    blind = any((group,) in tree.dropped for group in PLACES)
    # Of a name that two places bear, nobody can say which terminals it has.
    single = [place for place, count in Counter(survey.places()).items() if count == 1]
    terminals = {place: terminals_of(survey, catalog, place) for place in single}
    names = _Names(survey, tree, frozenset(survey.places()), dropped, blind, terminals)
    yield from _place_faults(survey, tree)
    yield from _unknown_faults(survey, tree)
    for name, item in survey.equipment.items():
        yield from _serving_faults(names, ("equipment", name), item)
        yield from kind_faults(catalog, tree, ("equipment", name), item)
    yield from _cable_faults(names)
    yield from _link_faults(names)
    for field in survey.known:
        if field.split(".")[0] not in Survey.model_fields:
            yield tree.fault(
                ("known", field), _("'{field}' does not name a field of this survey.").format(field=plain_words(field))
            )


def _is_name(name: str) -> bool:
    return bool(name.strip()) and len(name) <= 40 and name.isprintable()


def _place_faults(survey: Survey, tree: Tree) -> Iterator[Fault]:
    owner: dict[str, str] = {}
    if not survey.controls and not any(path[0] == "controls" for path in tree.dropped):
        yield tree.fault(("controls",), _("A survey needs at least one control."))
    for group in (*PLACES, "cables"):
        for name in getattr(survey, group):
            if not _is_name(name) or "." in name or "/" in name:
                message = (
                    _("A cable's name is 1 to 40 characters without '.' or '/'.")
                    if group == "cables"
                    else _("A place's name is 1 to 40 characters without '.' or '/'.")
                )
                yield tree.fault((group, name), message)
            if name in owner:
                taken = _("'{name}' is already the name of one of the {owner}; choose another.").format(
                    name=plain_words(name), owner=owner[name]
                )
                yield tree.fault((group, name), taken)
            owner.setdefault(name, group)
    for name, control in survey.controls.items():
        for which in ("old", "new"):
            profile = getattr(control, which)
            if profile is not None:
                yield from _profile_faults(profile, ("controls", name, which), tree)


def _profile_faults(profile: Profile, path: Path, tree: Tree) -> Iterator[Fault]:
    for index, terminal in enumerate(profile.terminals):
        if not 0 < len(terminal) <= 12 or any(c == "." or c.isspace() or not c.isprintable() for c in terminal):
            message = _("A terminal is written as it is marked, 1 to 12 characters without '.' or spaces.")
            yield tree.fault((*path, "terminals", index), message)
    for word in ("asleep_va", "awake_va", "leak_ma"):
        value = getattr(profile, word)
        if 0 < value < LEAST:
            yield tree.fault((*path, word), _("'{value:g}' is too little to be measured; write 0.").format(value=value))
    for terminal, count in Counter(profile.terminals).items():
        if count > 1:
            message = _("Terminal '{terminal}' is listed twice; list it once.").format(terminal=plain_words(terminal))
            yield tree.fault((*path, "terminals"), message)
    has_two = "Rh" in profile.terminals and "Rc" in profile.terminals
    if profile.supplies in ("joined", "separate") and not has_two:
        yield tree.fault(
            (*path, "supplies"),
            _("'{supplies}' needs the terminals Rh and Rc; list them, or write 'one'.").format(
                supplies=profile.supplies
            ),
        )
    if profile.supplies == "one" and has_two:
        yield tree.fault(
            (*path, "terminals"), _("With Rh and Rc say in 'supplies' whether they are 'joined' inside or 'separate'.")
        )
    if profile.power == "common" and "C" not in profile.terminals:
        yield tree.fault((*path, "terminals"), _("A control fed by a common needs the terminal C in its list."))


def _unknown_faults(survey: Survey, tree: Tree) -> Iterator[Fault]:
    """Hold what an unknown may be against the field that it stands in; kinds and landings are held against names."""
    parts: list[tuple[Path, Frozen]] = [(("transformers", n), item) for n, item in survey.transformers.items()]
    parts += [(("cables", name), cable) for name, cable in survey.cables.items()]
    parts += [(("jumpers", index), jumper) for index, jumper in enumerate(survey.jumpers)]
    parts += [
        (("controls", n, which), p) for n, c in survey.controls.items() for which, p in c if isinstance(p, Profile)
    ]
    for path, part in parts:
        for name, info in type(part).model_fields.items():
            value = getattr(part, name)
            for candidate in value.either if isinstance(value, Unknown) else ():
                word = file_word(name, info)
                try:
                    TypeAdapter(info.annotation or object).validate_python(candidate)
                except ValidationError:
                    message = _("'{candidate}' is not a value that '{word}' may have.").format(
                        candidate=plain_words(str(candidate)), word=word
                    )
                    yield tree.fault((*path, word), message)


def _serving_faults(names: _Names, path: Path, item: Equipment) -> Iterator[Fault]:
    for word, controls in (("serves", item.serves), ("zones", tuple(item.zones.values()))):
        for control in controls:
            if not names.is_control(control):
                yield names.tree.fault((*path, word), names.no_control(control))


def _cable_faults(names: _Names) -> Iterator[Fault]:
    for cable_name, cable in names.survey.cables.items():
        path: Path = ("cables", cable_name)
        ends = (("from", cable.from_), ("to", cable.to))
        for end, place in ends:
            if not names.is_place(place):
                yield names.tree.fault((*path, end), names.no_place(place))
        if cable.from_ == cable.to:
            yield names.tree.fault(path, _("A cable runs between two places; both its ends are at the same one."))
            continue
        if not cable.conductors and (*path, "conductors") not in names.tree.dropped:
            yield names.tree.fault((*path, "conductors"), _("A cable holds at least one conductor."))
        for name, conductor in cable.conductors.items():
            yield from _conductor_faults(names, (*path, "conductors", name), conductor, ends)


def _conductor_faults(
    names: _Names, path: Path, conductor: Conductor, ends: tuple[tuple[str, str], ...]
) -> Iterator[Fault]:
    if not _is_name(str(path[-1])):
        yield names.tree.fault(path, _("A conductor's name is 1 to 40 characters."))
    if conductor.from_ == conductor.to and conductor.from_ not in NOWHERE and not isinstance(conductor.from_, Unknown):
        yield names.tree.fault(path, _("Both ends land on the same terminal; a conductor has two ends in two places."))
        return
    for (end, place), landing in zip(ends, (conductor.from_, conductor.to), strict=True):
        for candidate in landing.either if isinstance(landing, Unknown) else (landing,):
            # A cable's end that names no place is told once, not again for every conductor.
            if split_terminal(str(candidate))[0] != place or names.is_place(place):
                yield from _terminal_faults(names, (*path, end), str(candidate))
            yield from _end_faults(names, (*path, end), place, str(candidate))


def _end_faults(names: _Names, path: Path, place: str, landing: str) -> Iterator[Fault]:
    """Find ends that are told the wrong way round: at a control a conductor lands on that control or on what hangs at it."""
    where = split_terminal(landing)[0]
    if landing in NOWHERE or where == place or not {place, where} <= names.places:
        return
    controls, equipment = names.survey.controls, names.survey.equipment
    beside = equipment[where].at == place if where in equipment else False
    if where in controls or (place in controls and not beside):
        message = _(
            "This end of the cable is at '{place}', and '{where}' is not there; are the two ends the other way round?"
        ).format(place=place, where=where)
        yield names.tree.fault(path, message)


def _link_faults(names: _Names) -> Iterator[Fault]:
    tree, survey = names.tree, names.survey
    seen: set[frozenset[str]] = set()
    for index, jumper in enumerate(survey.jumpers):
        yield from _pair_faults(names, ("jumpers", index), jumper.between)
        pair = frozenset(jumper.between)
        if pair in seen:
            yield tree.fault(("jumpers", index), _("The same jumper is listed twice; list it once."))
        seen.add(pair)
    for index, reading in enumerate(survey.readings):
        path: Path = ("readings", index)
        yield from _pair_faults(names, path, reading.between)
        in_file = tree.in_file(path)
        if (reading.volts is None) == (reading.ohms is None) and not any(p[:2] == in_file for p in tree.dropped):
            yield tree.fault(path, _("A reading gives either 'volts' or 'ohms'."))
        if reading.control is not None and not names.is_control(reading.control):
            yield tree.fault((*path, "control"), names.no_control(reading.control))


def _pair_faults(names: _Names, path: Path, between: tuple[str, str]) -> Iterator[Fault]:
    for end, landing in enumerate(between):
        here: Path = (*path, "between", end)
        if landing in NOWHERE:
            yield names.tree.fault(
                here,
                _("'{landing}' is no terminal; a jumper or a reading is between two terminals.").format(
                    landing=landing
                ),
            )
        else:
            yield from _terminal_faults(names, here, landing)
    if between[0] == between[1]:
        yield names.tree.fault(path, _("A jumper or a reading is between two different terminals; these are the same."))


def terminals_of(survey: Survey, catalog: Catalog, place: str) -> list[str]:
    """Return the terminals a place has, for every kind it may be."""
    if place in survey.controls:
        control = survey.controls[place]
        profiles = [control.old] + ([control.new] if control.new else [])
        return list(dict.fromkeys(t for profile in profiles for t in profile.terminals))
    if place in survey.transformers:
        return ["hot", "common"]
    found = (catalog[kind] for kind in kinds_of(survey.equipment[place]) if kind in catalog)
    return list(dict.fromkeys(terminal for kind in found for terminal in kind.terminals))


def _terminal_faults(names: _Names, path: Path, landing: str) -> Iterator[Fault]:
    if landing in NOWHERE:
        return
    place, terminal = split_terminal(landing)
    if not names.is_place(place):
        help_text = _("A landing is PLACE.TERMINAL, loose, cut short or unknown.")
        yield names.tree.fault(path, f"{names.no_place(place)} {help_text}")
        return
    valid = names.terminals.get(place, [])
    if valid and terminal not in valid and terminal in names.conductors(place):
        # A colour in place of a terminal; the nearest terminal by spelling would be a guess that hurts.
        message = _(
            "'{terminal}' is a conductor here, and '{place}' has no terminal of that name: write what is marked at the screw that it is under; {valid}"
        ).format(place=plain_words(place), terminal=plain_words(terminal), valid=nearest("", [*valid, *NOWHERE]))
        yield names.tree.fault(path, message)
    elif valid and terminal not in valid and not terminal.startswith(JOINT):
        message = _("'{place}' has no terminal '{terminal}'; {nearest}").format(
            place=plain_words(place),
            terminal=plain_words(terminal),
            nearest=nearest(terminal, [*valid, *NOWHERE]),
        )
        yield names.tree.fault(path, message)
