"""Names of places and cables: changed wherever they are used, taken out with what hangs on them."""

from __future__ import annotations

from typing import Any

from subbase.web.survey_document import PLACES, Document, at, is_either, is_wrapped, listed, named, names_used, put

GROUPS = (*PLACES, "cables")


def renamed(document: Document, group: str, old: str, new: str) -> Document:
    """Return the document with a place, cable or conductor named anew, and all that speaks of it following.

    A name that is empty or taken changes nothing: the page says so by showing the old one.
    """
    new = " ".join(new.split())
    if group not in GROUPS or old not in named(document, group) or not new or new == old or new in names_used(document):
        return document
    if group == "cables":
        return document | {"cables": _key(named(document, "cables"), old, new)}
    made = document | {group: _key(named(document, group), old, new)}
    made = _in_cables(made, old, new)
    for name in ("jumpers", "readings"):
        if listed(made, name):
            made = made | {name: [_in_row(row, old, new) for row in listed(made, name)]}
    for name, item in named(made, "equipment").items():
        if isinstance(item, dict):
            made = put(made, ("equipment", name), _in_equipment(item, old, new))
    for name, item in named(made, "transformers").items():
        if at(item, "at") == old:
            made = put(made, ("transformers", name, "at"), new)
    return made


def conductor_renamed(document: Document, cable: str, old: str, new: str) -> Document:
    """Return the document with one conductor named anew; a taken or empty name changes nothing."""
    held = named(document, "cables", cable, "conductors")
    new = " ".join(new.split())
    if old not in held or not new or new in held:
        return document
    return put(document, ("cables", cable, "conductors"), _key(held, old, new))


def removed(document: Document, path: tuple[str, ...]) -> Document:
    """Return the document without a part; a place takes along the cables, jumpers and readings that end at it."""
    if not path or at(document, *path) is None:
        return document
    made = put(document, path, None)
    if len(path) != 2 or path[0] not in PLACES:
        return made
    place = path[1]
    for name, cable in named(made, "cables").items():
        if place in (at(cable, "from"), at(cable, "to")):
            made = put(made, ("cables", name), None)
    for group in ("jumpers", "readings"):
        kept = [row for row in listed(made, group) if not _touches(row, place)]
        if len(kept) != len(listed(made, group)):
            made = put(made, (group,), kept or None)
    return made


def _key(held: dict[str, Any], old: str, new: str) -> dict[str, Any]:
    return {new if key == old else key: value for key, value in held.items()}


def _landing(value: Any, old: str, new: str) -> Any:
    if isinstance(value, str):
        return f"{new}.{value[len(old) + 1 :]}" if value.startswith(f"{old}.") else value
    if is_either(value):
        return {"either": [_landing(item, old, new) for item in value["either"]]}
    if is_wrapped(value):
        return {**value, "value": _landing(value["value"], old, new)}
    if isinstance(value, dict):
        return {key: _landing(item, old, new) if key in ("from", "to") else item for key, item in value.items()}
    return value


def _in_cables(document: Document, old: str, new: str) -> Document:
    made = document
    for name, cable in named(document, "cables").items():
        if not isinstance(cable, dict):
            continue
        held = {key: (new if key in ("from", "to") and value == old else value) for key, value in cable.items()}
        wires = held.get("conductors")
        if isinstance(wires, dict):
            held["conductors"] = {wire: _landing(value, old, new) for wire, value in wires.items()}
        made = put(made, ("cables", name), held)
    return made


def _in_row(row: Any, old: str, new: str) -> Any:
    if isinstance(row, list):
        return [_landing(item, old, new) for item in row]
    if isinstance(row, dict):
        between = [_landing(item, old, new) for item in listed(row, "between")]
        made = {**row, "between": between} if "between" in row else row
        return {**made, "control": new} if made.get("control") == old else made
    return row


def _in_equipment(item: dict[str, Any], old: str, new: str) -> dict[str, Any]:
    made = dict(item)
    if made.get("at") == old:
        made["at"] = new
    if isinstance(made.get("serves"), list):
        made["serves"] = [new if name == old else name for name in made["serves"]]
    if isinstance(made.get("zones"), dict):
        made["zones"] = {zone: new if name == old else name for zone, name in made["zones"].items()}
    return made


def _touches(row: Any, place: str) -> bool:
    between = row if isinstance(row, list) else listed(row, "between")
    return any(isinstance(end, str) and end.startswith(f"{place}.") for end in between)
