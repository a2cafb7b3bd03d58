"""The short ways of writing a survey, brought to the one long way that the model reads.

``red: R`` is a conductor on R at both ends; ``length: 40`` is in the survey's units; ``unknown`` and
``{either: [O, B]}`` are facts not known; ``{value: 40, known: measured}`` says how a fact is known.
"""

from __future__ import annotations

import re
from typing import Any

from subbase.errors import Fault
from subbase.survey.model import NOWHERE
from subbase.survey.yaml_tree import Path, Tree, dotted
from subbase.units import METRES_PER_FOOT

FREE_TEXT = ("name", "notes", "at", "feeds")
COLOURS = (
    "red", "white", "green", "yellow", "blue", "black", "brown", "orange", "grey", "gray", "purple", "violet",
    "pink", "tan", "clear",
)  # fmt: skip
_LENGTH = re.compile(r"^\s*([0-9]*\.?[0-9]+)\s*(ft|feet|m|)\s*$")
Known = dict[str, str]


def expand(tree: Tree, faults: list[Fault]) -> dict[str, Any]:
    """Return the tree's data in the model's own words; faults met on the way are added to ``faults``."""
    if not isinstance(tree.data, dict):
        faults.append(tree.fault((), "A survey is a set of named fields; this file holds something else."))
        return {}
    known: Known = {}
    data: dict[str, Any] = _facts(tree.data, (), known)
    units = data.get("units", "us")
    for name, cable in _mappings(data.get("cables")):
        _expand_cable(tree, ("cables", name), cable, units, faults)
    jumpers = data.get("jumpers")
    if isinstance(jumpers, list):
        data["jumpers"] = [{"between": item} if isinstance(item, list) else item for item in jumpers]
    data["known"] = {**known, **(data.get("known") or {})}
    return data


def _mappings(data: Any) -> list[tuple[str, dict[str, Any]]]:
    return [(k, v) for k, v in data.items() if isinstance(v, dict)] if isinstance(data, dict) else []


def _facts(data: Any, path: Path, known: Known) -> Any:
    """Unwrap ``value``/``known`` pairs and mark what is unknown."""
    if isinstance(data, list):
        return [_facts(item, (*path, index), known) for index, item in enumerate(data)]
    if isinstance(data, dict):
        if "value" in data and set(data) <= {"value", "known"}:
            known[dotted(path)] = data.get("known", "seen")
            return _facts(data["value"], path, known)
        if set(data) == {"either"} and isinstance(data["either"], list):
            return {"unknown": True, "either": data["either"]}
        return {key: _facts(value, (*path, key), known) for key, value in data.items()}
    if data == "unknown" and not (path and path[-1] in FREE_TEXT):
        return {"unknown": True}
    return data


def _expand_cable(tree: Tree, path: Path, cable: dict[str, Any], units: str, faults: list[Fault]) -> None:
    if "length" in cable:
        length = cable.pop("length")
        cable["length_m"] = length if isinstance(length, dict) else _metres(tree, path, str(length), units, faults)
    ends = (cable.get("from"), cable.get("to"))
    conductors = cable.get("conductors")
    if not isinstance(conductors, dict):
        return
    for name, conductor in list(conductors.items()):
        conductors[name] = _expand_conductor(name, conductor, ends)


def _metres(tree: Tree, path: Path, text: str, units: str, faults: list[Fault]) -> Any:
    match = _LENGTH.match(text)
    if match is None:
        faults.append(
            tree.fault((*path, "length"), f"'{text}' is not a length; write a number, or '40 ft', or '12 m'.")
        )
        return {"unknown": True}
    unit = match[2] or ("m" if units == "si" else "ft")
    return float(match[1]) * (1.0 if unit == "m" else METRES_PER_FOOT)


def _expand_conductor(name: str, conductor: Any, ends: tuple[Any, Any]) -> Any:
    if isinstance(conductor, str) or (isinstance(conductor, dict) and "unknown" in conductor):
        conductor = {"from": conductor, "to": conductor}
    if not isinstance(conductor, dict):
        return conductor
    conductor = dict(conductor)
    if "colour" in conductor:
        conductor["colours"] = [conductor.pop("colour")] * 2
    elif "colours" not in conductor:
        base = name.split(maxsplit=1)[0].split("-", maxsplit=1)[0]
        conductor["colours"] = [name, name] if base in COLOURS else ["", ""]
    for key, place in zip(("from", "to"), ends, strict=True):
        conductor[key] = _qualified(conductor.get(key), place)
    return {key: value for key, value in conductor.items() if value is not None}


def _qualified(landing: Any, place: Any) -> Any:
    """Return ``place.terminal`` for a landing that names only the terminal."""
    if isinstance(landing, dict):
        either = landing.get("either")
        if isinstance(either, list):
            return {**landing, "either": [_qualified(item, place) for item in either]}
        return landing
    if not isinstance(landing, str) or landing in NOWHERE or "." in landing:
        return landing
    return f"{place}.{landing}"
