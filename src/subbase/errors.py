"""Every error of our own, in two branches: bad input and no solution (a stop is no error: it is a plan's verdict).

Each carries its data as attributes and survives pickling, so a worker process can hand it back whole.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from subbase.words import _, mark

_NUMBER, _WHOLE, _LIST, _FIELDS, _YES_OR_NO = (
    mark("expected a number"),
    mark("expected a whole number"),
    mark("expected a list"),
    mark("expected named fields"),
    mark("expected yes or no"),
)
ONE_VALUE = mark("expected one value")
_EXPECTED = {
    "float_parsing": _NUMBER, "float_type": _NUMBER, "finite_number": _NUMBER,
    "int_parsing": _WHOLE, "int_type": _WHOLE, "int_from_float": _WHOLE, "int_parsing_size": _WHOLE,
    "greater_than": mark("expected a number above {gt:g}"),
    "greater_than_equal": mark("expected a number not below {ge:g}"),
    "less_than": mark("expected a number below {lt:g}"),
    "less_than_equal": mark("expected a number not above {le:g}"),
    "bool_parsing": _YES_OR_NO, "bool_type": _YES_OR_NO,
    "model_type": _FIELDS, "dict_type": _FIELDS, "model_attributes_type": _FIELDS,
    "tuple_type": _LIST, "list_type": _LIST,
    "literal_error": ONE_VALUE, "enum": ONE_VALUE, "string_type": ONE_VALUE,
    "string_too_long": mark("expected at most {max_length} characters"),
    "string_too_short": mark("expected some words"),
    "too_long": mark("expected at most {max_length} items"),
    "missing": mark("this field is missing"),
    "extra_forbidden": mark("no such field is known here; leave it out"),
}  # fmt: skip
"""pydantic's name of an error -> what was expected."""


def expected_words(error: Mapping[str, Any]) -> str:
    """Return what a model has against a value, one of pydantic's errors, as a clause in the reader's language.

    What the table does not know is said as pydantic says it, in English.
    """
    pattern = _EXPECTED.get(str(error["type"]))
    if pattern is None:
        return str(error["msg"]).removeprefix("Value error, ")
    return _(pattern).format(**error.get("ctx", {}))


def printable(text: str) -> str:
    """Return a text with everything that is not print written as an escape, line ends left as they are."""
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\n" else c.encode("unicode_escape").decode() for c in text)


class SubbaseError(Exception):
    """Root of all errors that this package raises on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with an input, told in one sentence."""

    message: str
    """What is wrong and what would put it right."""
    where: str = ""
    """The field, written as in the file: ``cables.wall.conductors.red.to``."""
    file: str = ""
    line: int = 0
    """Counted from 1; 0 when the place is not known."""
    column: int = 0

    def __post_init__(self) -> None:
        # A file's own words may stand in any of these; nothing in them may move a terminal's cursor or turn its text round.
        for field in ("message", "where", "file"):
            text = printable(getattr(self, field))
            object.__setattr__(self, field, text if field == "message" else text.replace("\n", "\\n"))

    def __str__(self) -> str:
        place = self.file
        if self.line:
            place = f"{place}:{self.line}:{self.column}"
        parts = [part for part in (place, self.where, self.message) if part]
        return ": ".join(parts)


class InputError(SubbaseError):
    """An input cannot be read; ``faults`` holds every fault found, in the file's order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class NoSolution(SubbaseError):
    """A circuit or a search has no answer; subclasses say what clashes."""


class FloatingNodes(NoSolution):
    """Some nodes have no path to any supply; ``nodes`` names them as on the diagram."""

    def __init__(self, nodes: tuple[str, ...]) -> None:
        super().__init__(nodes)
        self.nodes = nodes

    def __str__(self) -> str:
        return _("No path to any supply from: {nodes}.").format(nodes=", ".join(self.nodes))


class Chatter(NoSolution):
    """Relay logic never comes to rest; ``coils`` names those that pull in and fall out by turns."""

    def __init__(self, coils: tuple[str, ...]) -> None:
        super().__init__(coils)
        self.coils = coils

    def __str__(self) -> str:
        return _("These coils pull in and fall out by turns and never settle: {coils}.").format(
            coils=", ".join(self.coils)
        )
