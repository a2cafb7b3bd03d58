"""What was sketched as rows of fields, and what the fields send brought back into the document."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import get_args

from subbase.survey.rooms import Material, Site, Swing
from subbase.web.rooms_sketch import BY_NAME
from subbase.web.survey_document import Document, at, joined, listed, named, put, split
from subbase.words import _, mark

Path = tuple[str, ...]
MOST_TEXT = 60
NONE = "none"
ASKED = "asked"
LENGTHS: dict[str, str] = {
    "along": mark("From the left end"), "width": mark("Width"), "sill": mark("Sill"), "head": mark("Head"),
    "overhang": mark("Overhang"), "above": mark("Head to overhang"), "depth": mark("Depth of the wall"),
    "height": mark("Height"),
}  # fmt: skip
OTHERS: dict[str, str] = {
    "wall": mark("Wall"), "swing": mark("Opens"), "outside": mark("To outside"),
    "skyline_deg": mark("Skyline, degrees"), "rssi_dbm": mark("Signal read, dBm"), "power_dbm": mark("Radiates, dBm"),
    "walls_of": mark("Walls of"), "floor": mark("Storey"), "north": mark("Top of sheet, degrees from north"),
    "reach": mark("Reach"), "latitude_deg": mark("Latitude, degrees"), "longitude_deg": mark("Longitude, degrees"),
    "year_built": mark("Year built"),
}  # fmt: skip
ROWS: dict[str, tuple[str, ...]] = {
    "windows": ("wall", "along", "width", "sill", "head", "overhang", "above", "depth", "skyline_deg"),
    "doors": ("wall", "along", "width", "swing", "outside"),
    "things": ("wall", "along", "width", "height"),
    "candidates": ("wall", "along", "height", "rssi_dbm"),
}
MUST: frozenset[str] = frozenset({"wall", "along", "width", "sill", "head"})
"""What a row cannot be without: a field sent empty leaves it as it was."""
CHOICES: dict[str, tuple[str, ...]] = {
    "swing": get_args(Swing),
    "outside": ("", "yes", "no"),
    "walls_of": get_args(Material),
    "reach": ("unknown", "usual", "accessible"),
}
CHOICE_WORDS: dict[str, str] = {
    "": mark("not known"), "unknown": mark("not known"), "yes": mark("yes"), "no": mark("no"),
    "usual": mark("usual"), "accessible": mark("from a wheelchair"),
    "in, hinged left": mark("in, hinged left"), "in, hinged right": mark("in, hinged right"), "out": mark("out"),
    "sliding": mark("sliding"), "none": mark("no leaf"), "plasterboard": mark("plasterboard"),
    "plaster and lath": mark("plaster and lath"), "brick": mark("brick"), "concrete": mark("concrete"),
    "wood": mark("wood"), "glass": mark("glass"), "left": mark("left"), "right": mark("right"), "top": mark("top"),
    "bottom": mark("bottom"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Field:
    """One field of the page."""

    name: str
    label: str
    value: str
    choices: tuple[tuple[str, str], ...] = ()
    """(value, words); none for a field that is typed."""


@dataclass(frozen=True, slots=True)
class Row:
    """One window, door, thing or place."""

    title: str
    remove: str
    """Name of the button that takes it out."""
    fields: tuple[Field, ...]
    rename: Field | None = None


@dataclass(frozen=True, slots=True)
class RoomForm:
    """One room with everything in it."""

    name: str
    remove: str
    rename: Field
    fields: tuple[Field, ...]
    outside_name: str
    outside: tuple[tuple[str, str, bool], ...]
    """(wall, words, whether marked); the last says that none is."""
    rows: tuple[Row, ...]


def house_fields(document: Document) -> tuple[Field, ...]:
    """Return the fields of the whole house."""
    paths: list[Path] = [
        ("site", "north"),
        ("site", "reach"),
        *(("place", word) for word in ("latitude_deg", "longitude_deg")),
    ]
    if at(document, "site", "access_point"):
        paths += [("site", "access_point", "height"), ("site", "access_point", "power_dbm")]
    fields = [_field(document, path) for path in paths]
    return tuple(
        Field(f.name, _("Height of the radio"), f.value) if "access_point/height" in f.name else f for f in fields
    )


def room_forms(document: Document, site: Site, *, storey: int) -> tuple[RoomForm, ...]:
    """Return the rooms of one storey as they can be filled in."""
    found, number = [], 0
    for name, room in site.rooms.items():
        if room.floor != storey:
            continue
        path = ("site", "rooms", name)
        walls = tuple(wall.name for wall in room.walls_found())
        rows: list[Row] = []
        for group in ("windows", "doors", "things"):
            for index, item in enumerate(listed(document, *path, group)):
                kind = at(item, "kind") or {"windows": "window", "doors": "door"}[group]
                title = _(BY_NAME[kind].title) if kind in BY_NAME else str(kind)
                rows.append(_row(document, (*path, group, str(index)), title, walls))
        for place in named(document, *path, "candidates"):
            number += 1
            title = f"{number} {place}"
            here = (*path, "candidates", place)
            rename = Field(joined("n", *here), _("Name"), place)
            rows.append(Row(title, joined("remove", *here), _row(document, here, title, walls).fields, rename))
        marked = room.outside
        outside = [(wall, _(CHOICE_WORDS.get(wall, wall)), marked is not None and wall in marked) for wall in walls]
        outside.append((NONE, _("none of them"), marked == ()))
        words = ["height", "walls_of", *(("size/0", "size/1") if room.size_m is not None else ())]
        fields = tuple(_room_field(document, path, word) for word in words)
        found.append(
            RoomForm(
                name,
                joined("remove", *path),
                Field(joined("n", *path), _("Name of the room"), name),
                fields,
                joined("s", *path, "outside"),
                tuple(outside),
                tuple(rows),
            )
        )
    return tuple(found)


def _room_field(document: Document, path: Path, word: str) -> Field:
    labels = {"size/0": _("Across"), "size/1": _("Up the sheet"), "height": _("Floor to ceiling")}
    field = _field(document, (*path, *word.split("/")))
    return Field(field.name, labels.get(word, field.label), field.value, field.choices)


def _row(document: Document, path: Path, title: str, walls: Sequence[str]) -> Row:
    words = [word for word in ROWS[path[3]] if path[3] != "things" or word == "height" or at(document, *path, "wall")]
    fields = []
    for word in words:
        field = _field(document, (*path, word))
        choices = tuple((wall, _(CHOICE_WORDS.get(wall, wall))) for wall in walls) if word == "wall" else field.choices
        fields.append(Field(field.name, field.label, field.value, choices))
    return Row(title, joined("remove", *path), tuple(fields))


def _field(document: Document, path: Path) -> Field:
    word = path[-1]
    value = at(document, *path)
    shown = value if isinstance(value, str) else ""
    choices = tuple((choice, _(CHOICE_WORDS[choice])) for choice in CHOICES.get(word, ()))
    if choices and shown == "":
        shown = choices[0][0] if choices[0][0] == "" else "unknown"
    label = LENGTHS.get(word) or OTHERS.get(word) or word
    return Field(joined("r", *path), _(label), "" if shown == "unknown" and not choices else shown, choices)


def with_room_fields(document: Document, fields: Iterable[tuple[str, str]]) -> Document:
    """Return the document with what the rooms page sent; fields of no known path are passed over."""
    made = document
    outside: dict[Path, list[str]] = {}
    names: list[tuple[Path, str]] = []
    for name, value in fields:
        sort, *steps = split(name)
        path, text = tuple(steps), value[:MOST_TEXT].replace("\x00", "").strip()
        if sort == "r" and _known(path):
            made = _with(made, path, text)
        elif sort == "s" and len(path) == 4 and path[3] == "outside":
            outside.setdefault(path, []).append(text)
        elif sort == "n" and text and text != path[-1]:
            names.append((path, text))
    for path, values in outside.items():
        made = _with_outside(made, path, [value for value in values if value != ASKED])
    for path, text in names:
        made = _renamed(made, path, text)
    return made


def _known(path: Path) -> bool:
    if path[:1] == ("place",):
        return len(path) == 2 and path[1] in ("latitude_deg", "longitude_deg")
    if path[:2] == ("site", "rooms") and len(path) >= 4:
        inner = path[3:]
        if inner in (("height",), ("walls_of",), ("size", "0"), ("size", "1")):
            return True
        return len(inner) == 3 and inner[2] in ROWS.get(inner[0], ())
    return path in (
        ("site", "north"),
        ("site", "reach"),
        ("site", "access_point", "height"),
        ("site", "access_point", "power_dbm"),
    )


def _with(document: Document, path: Path, text: str) -> Document:
    before = at(document, *path)
    holder = at(document, *path[:-1])
    if holder is None and path[0] == "site":
        return document
    unknown = text in ("", "unknown")
    if text == before or (unknown and (before is None or path[-1] in MUST or path[-2:-1] == ("size",))):
        return document
    return put(document, path, None if unknown else text)


def _with_outside(document: Document, path: Path, values: list[str]) -> Document:
    if at(document, *path[:-1]) is None:
        return document
    chosen: list[str] | None = [value for value in values if value != NONE]
    if not chosen and NONE not in values:
        chosen = None
    return document if chosen == at(document, *path) else put(document, path, chosen)


def _renamed(document: Document, path: Path, text: str) -> Document:
    """Give a room or a place another name, where it stood; a name that is taken changes nothing."""
    group, old = path[:-1], path[-1]
    held = named(document, *group)
    if old not in held or text in held or len(path) not in (3, 5):
        return document
    made = put(document, group, {text if name == old else name: value for name, value in held.items()})
    if len(path) == 3 and at(made, "site", "access_point", "room") == old:
        made = put(made, ("site", "access_point", "room"), text)
    return made


__all__ = ["Field", "RoomForm", "Row", "house_fields", "room_forms", "with_room_fields"]
