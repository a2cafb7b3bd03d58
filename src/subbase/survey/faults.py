"""What the model has against a file, said as sentences a person can act on."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Any

from pydantic import BaseModel
from pydantic_core import ErrorDetails

from subbase.errors import Fault
from subbase.survey import model
from subbase.survey.yaml_tree import Path, Tree

_MODELS: dict[tuple[str, ...], type[BaseModel]] = {
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
}
_FILE_WORD = {"from_": "from", "length_m": "length", "gauge_awg": "gauge"}


def nearest(word: str, valid: list[str]) -> str:
    """Return a clause that names the nearest valid word, or all of them when few."""
    close = get_close_matches(word.lower(), [v.lower() for v in valid], n=1, cutoff=0.5)
    if close:
        return f"did you mean '{next(v for v in valid if v.lower() == close[0])}'?"
    shown = ", ".join(valid[:16]) + (", ..." if len(valid) > 16 else "")
    return f"valid here: {shown}." if valid else "nothing is valid here."


def fault_sentences(errors: list[ErrorDetails], tree: Tree, data: Any) -> list[Fault]:
    """Return one fault for each place that the model refuses, in the file's order."""
    by_place: dict[Path, list[ErrorDetails]] = {}
    for error in errors:
        by_place.setdefault(real_path(error, data), []).append(error)
    faults = [tree.fault(_as_written(path), _sentence(path, group, data)) for path, group in by_place.items()]
    return sorted(faults, key=lambda fault: (fault.line, fault.column))


def _as_written(path: Path) -> Path:
    return tuple(_FILE_WORD.get(step, step) if isinstance(step, str) else step for step in path)


def real_path(error: ErrorDetails, data: Any) -> Path:
    """Return the part of an error's location that stands in the file, without the model's own type names."""
    path: list[str | int] = []
    here: Any = data
    for step in error["loc"]:
        key = _key_in(here, step)
        if key is not None:
            here = here[key]
        else:
            if error["type"] in ("missing", "extra_forbidden") and step == error["loc"][-1]:
                path.append(step)
            break
        path.append(step)
    return tuple(path)


def _key_in(here: Any, step: int | str) -> Any:
    """Return the key or index under which a step of a location stands in plain data; None when it does not."""
    if isinstance(here, list):
        return step if isinstance(step, int) and step < len(here) else None
    if isinstance(here, dict):
        return next((key for key in (step, str(step)) if key in here), None)
    return None


def _sentence(path: Path, group: list[ErrorDetails], data: Any) -> str:
    kinds = {error["type"] for error in group}
    error = group[0]
    word = _as_written(path)[-1] if path else "survey"
    if kinds == {"missing"}:
        return f"'{word}' is missing: {_description(path)}"
    if "extra_forbidden" in kinds and len(kinds) == 1:
        fields = [_FILE_WORD.get(f.alias or n, f.alias or n) for n, f in _model_at(path[:-1]).model_fields.items()]
        return f"'{word}' is not a field here; {nearest(str(word), fields)}"
    seen = _shown(_at(data, path))
    literal = next((e for e in group if e["type"] in ("literal_error", "enum")), None)
    if literal is not None:
        valid = [
            v.strip().strip("'")
            for v in str(literal.get("ctx", {}).get("expected", "")).replace(" or ", ", ").split(",")
        ]
        return f"{seen} is not valid for '{word}'; {nearest(seen.strip(chr(39)), valid)}"
    return f"{seen} is not valid for '{word}': {_expected(error)}. {_description(path)}".rstrip()


def _expected(error: ErrorDetails) -> str:
    context = error.get("ctx", {})
    match error["type"]:
        case "float_parsing" | "float_type" | "int_parsing" | "int_type" | "finite_number" | "int_from_float":
            whole = "whole " if error["type"].startswith("int") else ""
            return f"expected a {whole}number, or unknown"
        case "greater_than":
            return f"expected a number above {context['gt']:g}"
        case "greater_than_equal":
            return f"expected a number not below {context['ge']:g}"
        case "less_than_equal":
            return f"expected a number not above {context['le']:g}"
        case "bool_parsing" | "bool_type":
            return "expected yes or no, or unknown"
        case "model_type" | "dict_type" | "model_attributes_type":
            return "expected named fields"
        case "tuple_type" | "list_type":
            return "expected a list"
        case "too_short":
            return f"expected at least {context['min_length']} item(s)"
        case "string_too_long":
            return f"expected at most {context['max_length']} characters"
    return str(error["msg"]).lower()


def _at(data: Any, path: Path) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return "a set of fields"
    if isinstance(value, list):
        return "a list"
    text = str(value)
    return f"'{text[:40]}...'" if len(text) > 40 else f"'{text}'"


def _model_at(path: Path) -> type[BaseModel]:
    for pattern, found in _MODELS.items():
        if len(pattern) == len(path) and all(p in ("*", s) for p, s in zip(pattern, path, strict=True)):
            return found
    return model.Survey


def _description(path: Path) -> str:
    if not path:
        return ""
    word = str(path[-1])
    for name, found in _model_at(path[:-1]).model_fields.items():
        if word in (name, found.alias):
            return found.description or ""
    return ""
