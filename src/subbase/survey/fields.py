"""Which model, and which of its fields, stands at a path of the file: what the reader and the JSON Schema both go by."""

from __future__ import annotations

from types import UnionType
from typing import Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from subbase.survey import model, rooms
from subbase.survey.yaml_tree import Path

MODELS: dict[tuple[str, ...], type[BaseModel]] = {
    (): model.Survey,
    ("place",): model.Place,
    ("transformers", "*"): model.Transformer,
    ("equipment", "*"): model.Equipment,
    ("controls", "*"): model.Control,
    ("controls", "*", "old"): model.Profile,
    ("controls", "*", "new"): model.Profile,
    ("cables", "*"): model.Cable,
    ("cables", "*", "conductors", "*"): model.Conductor,
    ("jumpers", "*"): model.Jumper,
    ("readings", "*"): model.Reading,
    ("site",): rooms.Site,
    ("site", "access_point"): rooms.AccessPoint,
    ("site", "rooms", "*"): rooms.Room,
    ("site", "rooms", "*", "walls", "*"): rooms.WallFacts,
    ("site", "rooms", "*", "windows", "*"): rooms.Window,
    ("site", "rooms", "*", "doors", "*"): rooms.Door,
    ("site", "rooms", "*", "things", "*"): rooms.Thing,
    ("site", "rooms", "*", "furniture", "*"): rooms.Furniture,
    ("site", "rooms", "*", "candidates", "*"): rooms.Candidate,
}
FILE_WORD = {"from_": "from", "length_m": "length", "gauge_awg": "gauge"}
"""The model's own name of a field -> the word for it in a file."""
CONDUCTOR = ("cables", "*", "conductors", "*")


def matches(path: Path, pattern: tuple[str, ...]) -> bool:
    """Return whether a path fits a pattern in which ``*`` stands for any step."""
    return len(path) == len(pattern) and all(p in ("*", step) for p, step in zip(pattern, path, strict=True))


def model_at(path: Path) -> type[BaseModel] | None:
    """Return the model that stands at a path, or None."""
    return next((found for pattern, found in MODELS.items() if matches(path, pattern)), None)


def field_at(path: Path) -> FieldInfo | None:
    """Return the field at a path, by the file's word for it, or None."""
    holder = model_at(path[:-1]) if path else None
    if holder is None:
        return None
    return next((field for name, field in holder.model_fields.items() if file_word(name, field) == path[-1]), None)


def file_word(name: str, field: FieldInfo) -> str:
    """Return the word that a file uses for a field of a model."""
    return FILE_WORD.get(name, field.alias or name)


def allows_unknown(field: FieldInfo) -> bool:
    """Return whether a field may be left unknown."""
    return get_origin(field.annotation) in (Union, UnionType) and model.Unknown in get_args(field.annotation)


def may_be_unknown(path: Path) -> bool:
    """Return whether ``unknown`` or ``{either: [...]}`` means something at a path; of a conductor it means both ends."""
    field = field_at(path)
    return matches(path, CONDUCTOR) or (field is not None and allows_unknown(field))


def may_say_how(path: Path) -> bool:
    """Return whether a value at a path may be written ``{value: ..., known: ...}``: a conductor, or a part's field."""
    return matches(path, CONDUCTOR) or (len(path) > 1 and model_at(path[:-1]) is not None)
