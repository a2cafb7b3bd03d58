"""The lengths of rooms as people write them, turned into metres before the model sees them."""

from __future__ import annotations

import re
from math import isfinite
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel

from subbase.errors import Fault
from subbase.survey import fields
from subbase.survey.rooms import LONGEST_M
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.units import METRES_PER_FOOT
from subbase.words import _

_UNITS_M = MappingProxyType(
    {"ft": METRES_PER_FOOT, "feet": METRES_PER_FOOT, "'": METRES_PER_FOOT, "in": METRES_PER_FOOT / 12,
     '"': METRES_PER_FOOT / 12, "m": 1.0, "cm": 0.01, "mm": 0.001}
)  # fmt: skip
_NUMBER = r"(-?[0-9]+(?:\.[0-9]*)?|-?\.[0-9]+)"
_PLAIN = re.compile(rf"\s*{_NUMBER}\s*(?:(ft|feet|'|in|\"|mm|cm|m)\s*)?")
_FEET_AND_INCHES = re.compile(rf"\s*{_NUMBER}\s*(?:ft|feet|')\s*([0-9]+(?:\.[0-9]*)?)\s*(?:(?:in|\")\s*)?")


def expand_site(data: dict[str, Any], tree: Tree, faults: list[Fault]) -> None:
    """Turn the lengths under ``site`` into metres, in place of the survey's plain data; what is not known is taken out."""
    if isinstance(data.get("site"), dict):
        units = data.get("units", "us")
        data["site"] = _expanded(data["site"], ("site",), "m" if units == "si" else "ft", tree, faults)


def _expanded(data: Any, path: Path, unit: str, tree: Tree, faults: list[Fault]) -> Any:
    model = fields.model_at(path)
    if isinstance(data, list):
        return [_expanded(item, (*path, index), unit, tree, faults) for index, item in enumerate(data)]
    if not isinstance(data, dict):
        return data
    if model is None:
        return {key: _expanded(value, (*path, key), unit, tree, faults) for key, value in data.items()}
    lengths, inner = _lengths(model)
    found: dict[str, Any] = {}
    for key, value in data.items():
        here = (*path, key)
        if key in inner:
            faults.append(
                tree.fault(
                    here, _("'{key}' is not a field here; did you mean '{inner}'?").format(key=key, inner=inner[key])
                )
            )
        elif key in lengths:
            if value != "unknown" or lengths[key]:
                found[key] = _metres(value, here, unit, tree, faults)
        elif value == "unknown" and _may_be_left_out(model, key):
            continue
        else:
            found[key] = _expanded(value, here, unit, tree, faults)
    return found


def _lengths(model: type[BaseModel]) -> tuple[dict[str, bool], dict[str, str]]:
    """Return (file word of each length -> whether it must be known, the model's own name -> file word)."""
    words = {name: str(field.alias) for name, field in model.model_fields.items() if name.endswith("_m")}
    return {word: model.model_fields[name].is_required() for name, word in words.items()}, words


def _may_be_left_out(model: type[BaseModel], word: str) -> bool:
    """Return whether ``unknown`` for a field means the same as leaving it out."""
    field = model.model_fields.get(word)
    return field is not None and field.default is None and not field.is_required()


def _metres(value: Any, path: Path, unit: str, tree: Tree, faults: list[Fault]) -> Any:
    """Return a length [m], or a list of such; text that is no length is told and stands as 0."""
    if isinstance(value, list):
        return [_metres(item, (*path, index), unit, tree, faults) for index, item in enumerate(value)]
    found = _length_m(value, unit) if isinstance(value, str) else None
    if found is not None and isfinite(found) and abs(found) <= LONGEST_M:
        return found
    shown = f"'{plain_words(value)}'" if isinstance(value, str) else _("This")
    message = _("{shown} is not a length; write a number, or '5 ft 3 in', or '160 cm' (at most 100 m).").format(
        shown=shown
    )
    if fields.field_at(path) is not None:
        field = fields.field_at(path)
        message += f" {_(field.description)}" if field is not None and field.description else ""
    faults.append(tree.fault(path, message))
    return 0.0


def _length_m(text: str, unit: str) -> float | None:
    both = _FEET_AND_INCHES.fullmatch(text)
    if both is not None:
        feet = float(both[1])
        return (feet + (-1 if both[1].startswith("-") else 1) * float(both[2]) / 12) * METRES_PER_FOOT
    plain = _PLAIN.fullmatch(text)
    return float(plain[1]) * _UNITS_M[plain[2] or unit] if plain is not None else None
