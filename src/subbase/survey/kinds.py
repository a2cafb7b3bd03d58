"""Faults of equipment against its kind: the kind itself, nameplate values, parts left out, zones."""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import ValidationError

from subbase.catalog import Catalog, ContactPart, Kind, LoadPart, Part, TransformerPart
from subbase.catalog.model import FusePart, ResistorPart
from subbase.errors import Fault
from subbase.survey.faults import nearest
from subbase.survey.model import Equipment, Unknown
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.words import _

_NAMEPLATE = {
    LoadPart: ("va", "pf", "va_inrush", "pf_inrush", "volts", "pull_in", "drop_out", "delay_s"),
    TransformerPart: ("va", "volts", "regulation"),
    FusePart: ("rating_a",),
    ResistorPart: ("ohm",),
}
LEAST, MOST = 1e-3, 1e6
"""No nameplate says less or more, in whatever unit; only a delay may be 0."""


def kinds_of(item: Equipment) -> tuple[str, ...]:
    """Return the kinds that a piece of equipment is or may be."""
    return tuple(map(str, item.kind.either)) if isinstance(item.kind, Unknown) else (item.kind,)


def kind_faults(catalog: Catalog, tree: Tree, path: Path, item: Equipment) -> Iterator[Fault]:
    """Iterate over the faults of one piece of equipment."""
    kinds = kinds_of(item)
    for kind in kinds:
        if kind not in catalog:
            message = _("There is no kind '{kind}'; {nearest}").format(
                kind=plain_words(kind), nearest=nearest(kind, sorted(catalog))
            )
            yield tree.fault((*path, "kind"), message)
    if not kinds:
        message = _(
            "Say what it may be: {either: [KIND, KIND]}. With no idea at all nothing can be planned; look at its nameplate."
        )
        yield tree.fault((*path, "kind"), message)
    for found in (catalog[kind] for kind in kinds if kind in catalog):
        yield from _nameplate_faults(found, item, path, tree)
        yield from _without_faults(found, item, path, tree)
        for zone in item.zones:
            if zone not in found.zones:
                has = ", ".join(map(str, sorted(found.zones))) or _("none")
                yield tree.fault(
                    (*path, "zones", str(zone)),
                    _("{kind} has no zone {zone}; it has {has}.").format(kind=found.kind, zone=zone, has=has),
                )


def _no_part(kind: Kind, part_id: str) -> str:
    valid = [part.id for part in kind.parts]
    return _("There is no part of {kind} '{part_id}'; {nearest}").format(
        kind=kind.kind, part_id=plain_words(part_id), nearest=nearest(part_id, valid)
    )


def _nameplate_faults(kind: Kind, item: Equipment, path: Path, tree: Tree) -> Iterator[Fault]:
    for part_id, values in item.nameplate.items():
        here: Path = (*path, "nameplate", part_id)
        part = kind.part(part_id)
        if part is None:
            yield tree.fault(here, _no_part(kind, part_id))
            continue
        valid = list(_NAMEPLATE.get(type(part), ()))
        for word, number in values.items():
            if word not in valid:
                message = _("'{word}' is not a value of {part_id}; {nearest}").format(
                    word=plain_words(word), part_id=part_id, nearest=nearest(word, valid)
                )
                yield tree.fault((*here, word), message)
            elif not _possible(part, word, number):
                yield tree.fault(
                    (*here, word),
                    _("'{number:g}' is not a possible value for '{word}' of {part_id}.").format(
                        number=number, word=word, part_id=part_id
                    ),
                )


def _possible(part: Part, word: str, number: float) -> bool:
    if not (LEAST <= number <= MOST or (word == "delay_s" and number == 0)):
        return False
    try:
        part.model_validate({**part.model_dump(), word: number})
    except ValidationError:
        return False
    return True


def _without_faults(kind: Kind, item: Equipment, path: Path, tree: Tree) -> Iterator[Fault]:
    for part_id in item.without:
        if kind.part(part_id) is None:
            yield tree.fault((*path, "without"), _no_part(kind, part_id))
            continue
        during = next((name for name, condition in kind.conditions.items() if part_id in condition.on), None)
        works = [p.id for p in kind.parts if isinstance(p, ContactPart) and part_id in p.worked_by]
        left = [name for name in works if name not in item.without]
        if during is not None:
            message = _("'{part_id}' must come on in {during}; without it this is another kind of equipment.").format(
                part_id=part_id, during=during
            )
            yield tree.fault((*path, "without"), message)
        elif left:
            message = _("'{part_id}' works '{other}'; leave that out too, or neither.").format(
                part_id=part_id, other=left[0]
            )
            yield tree.fault((*path, "without"), message)
