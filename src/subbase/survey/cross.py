"""Faults that no single field shows: names that do not exist, terminals that a place has not, landings used twice."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog, Kind, LoadPart, TransformerPart
from subbase.catalog.model import FusePart, ResistorPart
from subbase.errors import Fault
from subbase.survey.faults import nearest
from subbase.survey.model import NOWHERE, Equipment, Profile, Survey, Unknown, split_terminal
from subbase.survey.yaml_tree import Path, Tree

JOINT = "joint "
_NAMEPLATE = {
    LoadPart: ("va", "pf", "va_inrush", "pf_inrush", "volts", "pull_in", "drop_out", "delay_s"),
    TransformerPart: ("va", "volts", "regulation"),
    FusePart: ("rating_a",),
    ResistorPart: ("ohm",),
}


def cross_faults(survey: Survey, catalog: Catalog, tree: Tree) -> Iterator[Fault]:
    """Iterate over faults between fields."""
    yield from _place_faults(survey, tree)
    for name, item in survey.equipment.items():
        yield from _equipment_faults(survey, catalog, tree, name, item)
    yield from _cable_faults(survey, catalog, tree)
    for index, jumper in enumerate(survey.jumpers):
        for end, landing in enumerate(jumper.between):
            yield from _terminal_faults(survey, catalog, tree, ("jumpers", index, "between", end), landing)
        if jumper.between[0] == jumper.between[1]:
            yield tree.fault(("jumpers", index), "A jumper joins two different terminals; these are the same.")
    for index, reading in enumerate(survey.readings):
        path: Path = ("readings", index)
        for end, landing in enumerate(reading.between):
            yield from _terminal_faults(survey, catalog, tree, (*path, "between", end), landing)
        if (reading.volts is None) == (reading.ohms is None):
            yield tree.fault(path, "A reading gives either 'volts' or 'ohms'.")
        if reading.control is not None and reading.control not in survey.controls:
            yield tree.fault((*path, "control"), _no_such("control", reading.control, list(survey.controls)))
    for field in survey.known:
        steps = tuple(field.split("."))
        if not steps or steps[0] not in Survey.model_fields:
            yield tree.fault(("known", field), f"'{field}' does not name a field of this survey.")


def _no_such(what: str, name: str, valid: list[str]) -> str:
    return f"There is no {what} '{name}'; {nearest(name, valid)}"


def _place_faults(survey: Survey, tree: Tree) -> Iterator[Fault]:
    owner: dict[str, str] = {}
    if not survey.controls:
        yield tree.fault(("controls",), "A survey needs at least one control.")
    for group in ("controls", "equipment", "transformers"):
        for name in getattr(survey, group):
            if "." in name or "/" in name or not name.strip() or len(name) > 40:
                yield tree.fault((group, name), "A place's name is 1 to 40 characters without '.' or '/'.")
            if name in owner:
                yield tree.fault(
                    (group, name), f"'{name}' is already the name of one of the {owner[name]}; choose another."
                )
            owner.setdefault(name, group)
    for name, control in survey.controls.items():
        for which in ("old", "new"):
            profile = getattr(control, which)
            if profile is not None:
                yield from _profile_faults(profile, ("controls", name, which), tree)


def _profile_faults(profile: Profile, path: Path, tree: Tree) -> Iterator[Fault]:
    repeated = {t for t in profile.terminals if profile.terminals.count(t) > 1}
    for terminal in sorted(repeated):
        yield tree.fault((*path, "terminals"), f"Terminal '{terminal}' is listed twice; list it once.")
    has_two = "Rh" in profile.terminals and "Rc" in profile.terminals
    if profile.supplies in ("joined", "separate") and not has_two:
        yield tree.fault(
            (*path, "supplies"), f"'{profile.supplies}' needs the terminals Rh and Rc; list them, or write 'one'."
        )
    if profile.supplies == "one" and has_two:
        yield tree.fault(
            (*path, "terminals"), "With Rh and Rc say in 'supplies' whether they are 'joined' inside or 'separate'."
        )
    if profile.power == "common" and "C" not in profile.terminals:
        yield tree.fault((*path, "terminals"), "A control fed by a common needs the terminal C in its list.")


def _equipment_faults(survey: Survey, catalog: Catalog, tree: Tree, name: str, item: Equipment) -> Iterator[Fault]:
    path: Path = ("equipment", name)
    kinds = item.kind.either if isinstance(item.kind, Unknown) else (item.kind,)
    for kind in kinds:
        if kind not in catalog:
            yield tree.fault((*path, "kind"), _no_such("kind", str(kind), sorted(catalog)))
    if isinstance(item.kind, Unknown) and not item.kind.either:
        message = "Say what it may be: {either: [KIND, KIND]}. With no idea at all nothing can be planned; look at its nameplate."
        yield tree.fault((*path, "kind"), message)
    for control in (*item.serves, *item.zones.values()):
        if control not in survey.controls:
            yield tree.fault(
                (*path, "serves" if item.serves else "zones"), _no_such("control", control, list(survey.controls))
            )
    for found in (catalog[str(name)] for name in kinds if name in catalog):
        yield from _kind_faults(found, item, path, tree)


def _kind_faults(kind: Kind, item: Equipment, path: Path, tree: Tree) -> Iterator[Fault]:
    ids = [part.id for part in kind.parts]
    for part_id, values in item.nameplate.items():
        part = kind.part(part_id)
        if part is None:
            yield tree.fault((*path, "nameplate", part_id), _no_such(f"part of {kind.kind}", part_id, ids))
            continue
        valid = list(_NAMEPLATE.get(type(part), ()))
        for value, number in values.items():
            if value not in valid:
                yield tree.fault(
                    (*path, "nameplate", part_id, value),
                    f"'{value}' is not a value of {part_id}; {nearest(value, valid)}",
                )
            elif not 0 < number < 1e6:
                yield tree.fault(
                    (*path, "nameplate", part_id, value),
                    f"'{number:g}' is not a possible value; expected a number above 0.",
                )
    for part_id in item.without:
        if part_id not in ids:
            yield tree.fault((*path, "without"), _no_such(f"part of {kind.kind}", part_id, ids))
    for zone in item.zones:
        if zone not in kind.zones:
            yield tree.fault(
                (*path, "zones", str(zone)), f"{kind.kind} has no zone {zone}; it has {sorted(kind.zones) or 'none'}."
            )


def _cable_faults(survey: Survey, catalog: Catalog, tree: Tree) -> Iterator[Fault]:
    for cable_name, cable in survey.cables.items():
        path: Path = ("cables", cable_name)
        for end, place in (("from", cable.from_), ("to", cable.to)):
            if place not in survey.places():
                yield tree.fault((*path, end), _no_such("place", place, list(survey.places())))
        if not cable.conductors:
            yield tree.fault((*path, "conductors"), "A cable holds at least one conductor.")
        for name, conductor in cable.conductors.items():
            here: Path = (*path, "conductors", name)
            for end, landing in (("from", conductor.from_), ("to", conductor.to)):
                candidates = landing.either if isinstance(landing, Unknown) else (landing,)
                for candidate in candidates:
                    yield from _terminal_faults(survey, catalog, tree, (*here, end), str(candidate))
            if (
                conductor.from_ == conductor.to
                and conductor.from_ not in NOWHERE
                and not isinstance(conductor.from_, Unknown)
            ):
                yield tree.fault(here, "Both ends land on the same terminal; a conductor has two ends in two places.")


def terminals_of(survey: Survey, catalog: Catalog, place: str) -> list[str]:
    """Return the terminals a place has, for every kind it may be."""
    if place in survey.controls:
        control = survey.controls[place]
        profiles = [control.old] + ([control.new] if control.new else [])
        return list(dict.fromkeys(t for profile in profiles for t in profile.terminals))
    if place in survey.transformers:
        return ["hot", "common"]
    kind = survey.equipment[place].kind
    kinds = kind.either if isinstance(kind, Unknown) else (kind,)
    return list(dict.fromkeys(t for k in kinds if k in catalog for t in catalog[str(k)].terminals))


def _terminal_faults(survey: Survey, catalog: Catalog, tree: Tree, path: Path, landing: str) -> Iterator[Fault]:
    if landing in NOWHERE:
        return
    place, terminal = split_terminal(landing)
    if place not in survey.places():
        yield tree.fault(
            path,
            _no_such("place", place, list(survey.places()))
            + " A landing is PLACE.TERMINAL, loose, cut short or unknown.",
        )
        return
    if terminal.startswith(JOINT):
        return
    valid = terminals_of(survey, catalog, place)
    if valid and terminal not in valid:
        yield tree.fault(path, f"'{place}' has no terminal '{terminal}'; {nearest(terminal, [*valid, *NOWHERE])}")
