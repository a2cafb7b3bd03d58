"""The short ways of writing a survey, brought to the one long way that the model reads.

``red: R`` is a conductor on R at both ends; ``length: 40`` is in the survey's units; ``unknown`` and
``{either: [O, B]}`` are facts not known; ``{value: 40, known: measured}`` says how a fact is known.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from subbase.errors import Fault, InputError
from subbase.names import or_words
from subbase.survey.fields import FILE_WORD, may_be_unknown, may_say_how, model_at
from subbase.survey.model import LONGEST_M, NOWHERE, SHORTEST_M, How
from subbase.survey.yaml_tree import Path, Tree, dotted, plain_words
from subbase.units import METRES_PER_FOOT
from subbase.words import _

COLOURS = (
    "red", "white", "green", "yellow", "blue", "black", "brown", "orange", "grey", "gray", "purple", "violet",
    "pink", "tan", "clear",
)  # fmt: skip
INTERNAL = frozenset(FILE_WORD)
"""The model's own names of fields, which are no words of the file."""
HOWS = tuple(how.value for how in How)
_LENGTH = re.compile(r"\s*([0-9]+(?:\.[0-9]*)?|\.[0-9]+)\s*(?:(ft|feet|m)\s*)?")


def expand(tree: Tree, faults: list[Fault]) -> dict[str, Any]:
    """Return the tree's data in the model's own words; faults met on the way are added to ``faults``.

    Raises
    ------
    InputError
        When the file holds no named fields at all.
    """
    if not isinstance(tree.data, dict):
        raise InputError((tree.fault((), _("A survey is a set of named fields; this file holds something else.")),))
    facts = _Facts(tree, faults, {})
    data: dict[str, Any] = facts.read(tree.data, ())
    units = data.get("units", "us")
    for name, cable in _mappings(data.get("cables")):
        _expand_cable(tree, ("cables", name), cable, str(units), faults)
    jumpers = data.get("jumpers")
    if isinstance(jumpers, list):
        data["jumpers"] = [{"between": item} if isinstance(item, list) else item for item in jumpers]
    told = data.get("known", {})
    data["known"] = {**facts.known, **told} if isinstance(told, dict) else told
    return data


def _mappings(data: Any) -> list[tuple[str, dict[str, Any]]]:
    return [(k, v) for k, v in data.items() if isinstance(v, dict)] if isinstance(data, dict) else []


@dataclass(frozen=True, slots=True)
class _Facts:
    """Unwraps ``value``/``known`` pairs, and marks what is unknown, where the model has a place for it."""

    tree: Tree
    faults: list[Fault]
    known: dict[str, str]

    def read(self, data: Any, path: Path) -> Any:
        """Return plain data with its facts unwrapped."""
        if isinstance(data, dict) and may_say_how(path) and "value" in data and set(data) <= {"value", "known"}:
            self._say_how(path, data.get("known", "seen"))
            data = data["value"]
        if isinstance(data, list):
            return [self.read(item, (*path, index)) for index, item in enumerate(data)]
        if isinstance(data, dict):
            if set(data) == {"either"} and isinstance(data["either"], list) and may_be_unknown(path):
                if not data["either"]:
                    message = _("'either' lists what it may be; with nothing to list write unknown.")
                    self.faults.append(self.tree.fault(path, message))
                return {"unknown": True, "either": list(data["either"])}
            return {key: self.read(value, (*path, key)) for key, value in self._own_words(data, path)}
        return {"unknown": True} if data == "unknown" and may_be_unknown(path) else data

    def _say_how(self, path: Path, how: Any) -> None:
        if how in HOWS:
            self.known[dotted(path)] = how
        else:
            message = _("'known' says how a value is known: {words}.").format(words=or_words(HOWS))
            self.faults.append(self.tree.fault((*path, "known"), message))

    def _own_words(self, data: dict[str, Any], path: Path) -> Iterator[tuple[str, Any]]:
        """Yield a mapping's items without the model's internal names, which a file does not use."""
        for key, value in data.items():
            if key in INTERNAL and model_at(path) is not None:
                message = _("'{key}' is not a field here; did you mean '{file_word}'?").format(
                    key=key, file_word=FILE_WORD[key]
                )
                self.faults.append(self.tree.fault((*path, key), message))
            else:
                yield key, value


def _expand_cable(tree: Tree, path: Path, cable: dict[str, Any], units: str, faults: list[Fault]) -> None:
    if "length" in cable:
        length = cable.pop("length")
        metres = _Lengths(tree, (*path, "length"), units, faults)
        either = length.get("either") if isinstance(length, dict) else None
        if either is not None:
            cable["length_m"] = {
                "unknown": True,
                "either": [m for m in map(metres.read, either) if isinstance(m, float)],
            }
        else:
            cable["length_m"] = length if length == {"unknown": True} else metres.read(length)
    ends = (cable.get("from"), cable.get("to"))
    conductors = cable.get("conductors")
    if not isinstance(conductors, dict):
        return
    for name, conductor in list(conductors.items()):
        conductors[name] = _expand_conductor(tree, (*path, "conductors", name), conductor, ends, faults)


@dataclass(frozen=True, slots=True)
class _Lengths:
    """Reads lengths in the survey's units, or in their own."""

    tree: Tree
    path: Path
    units: str
    faults: list[Fault]

    def read(self, length: Any) -> Any:
        """Return a length [m], or an unknown after a fault."""
        match = _LENGTH.fullmatch(length) if isinstance(length, str) else None
        if match is not None:
            unit = match[2] or ("m" if self.units == "si" else "ft")
            length_m = float(match[1]) * (1.0 if unit == "m" else METRES_PER_FOOT)
            if SHORTEST_M <= length_m <= LONGEST_M:
                return length_m
        shown = f"'{plain_words(length)}'" if isinstance(length, str) else _("This")
        message = _(
            "{shown} is not the length of a cable; write a number, or '40 ft', or '12 m' (at most 1 km), or unknown."
        ).format(shown=shown)
        self.faults.append(self.tree.fault(self.path, message))
        return {"unknown": True}


def _expand_conductor(tree: Tree, path: Path, conductor: Any, ends: tuple[Any, Any], faults: list[Fault]) -> Any:
    if isinstance(conductor, str) or (isinstance(conductor, dict) and "unknown" in conductor):
        conductor = {"from": conductor, "to": conductor}
    if not isinstance(conductor, dict):
        return conductor
    conductor = dict(conductor)
    if "colour" in conductor:
        colour = conductor.pop("colour")
        if not isinstance(colour, str) or "colours" in conductor:
            message = _("'colour' is one word for both ends; where they differ write 'colours: [FROM, TO]' instead.")
            faults.append(tree.fault((*path, "colour"), message))
        else:
            conductor["colours"] = [colour, colour]
    elif "colours" not in conductor:
        name = str(path[-1])
        base = re.split(r"[\s-]", name.strip(), maxsplit=1)[0]
        conductor["colours"] = [name, name] if base in COLOURS else ["", ""]
    for key, place in zip(("from", "to"), ends, strict=True):
        if key in conductor:
            conductor[key] = _qualified(conductor[key], place)
    return conductor


def _qualified(landing: Any, place: Any) -> Any:
    """Return ``place.terminal`` for a landing that names only the terminal."""
    if isinstance(landing, dict):
        either = landing.get("either")
        if isinstance(either, list):
            return {**landing, "either": [_qualified(item, place) for item in either]}
        return landing
    if not isinstance(landing, str) or not isinstance(place, str) or landing in NOWHERE or "." in landing:
        return landing
    return f"{place}.{landing}"
