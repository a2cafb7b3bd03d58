"""Conductors of a document: the short and the long way of writing them, their two ends, their colours."""

from __future__ import annotations

import re
from typing import Any

from subbase.survey.shorthand import COLOURS
from subbase.web.survey_document import Document, at, is_either, named, plain, put, rewrapped

ENDS = ("from", "to")
AS_WRITTEN = "as written"
"""What a form sends for a landing that it can only show: one of several, not known which."""
ONE_COLOUR = (
    "red", "white", "green", "yellow", "blue", "black", "brown", "orange", "grey", "purple", "pink", "tan", "clear",
)  # fmt: skip
"""In the order in which they are offered."""


def landing(document: Document, cable: str, conductor: str, end: str) -> Any:
    """Return where an end lands, a terminal of the cable's own place without the place before it; None when not said."""
    value = plain(at(document, "cables", cable, "conductors", conductor))
    found = value if isinstance(value, str) or is_either(value) else at(value, end)
    found = plain(found)
    return bare(found, at(document, "cables", cable, end)) if isinstance(found, str) else found


def bare(text: str, place: Any) -> str:
    """Return ``R`` for ``hall.R`` at the hall."""
    return text.removeprefix(f"{place}.") if isinstance(place, str) else text


def with_landing(document: Document, path: tuple[str, str, str], value: str) -> Document:
    """Return the document with one end (cable, conductor, end) landed; an end that is so already is left as written."""
    cable, conductor, end = path
    held = at(document, "cables", cable, "conductors")
    if end not in ENDS or not isinstance(held, dict) or conductor not in held:
        return document
    if value in (AS_WRITTEN, "") or landing(document, cable, conductor, end) == value:
        return document
    both = {other: landing(document, cable, conductor, other) for other in ENDS} | {end: value}
    return _written(document, cable, conductor, both)


def _written(document: Document, cable: str, conductor: str, both: dict[str, Any]) -> Document:
    """Return the document with a conductor in the shortest way of writing that says the same."""
    path = ("cables", cable, "conductors", conductor)
    before = at(document, *path)
    inner = plain(before)
    rest = {key: value for key, value in inner.items() if key not in ENDS} if isinstance(inner, dict) else {}
    rest.pop("either", None)
    ends = {end: value for end, value in both.items() if value is not None}
    first, second = both["from"], both["to"]
    # A conductor that changes colour keeps the long way: it says which end is which.
    short = not rest and isinstance(first, str) and first == second
    return put(document, path, rewrapped(before, first if short else {**ends, **rest}))


def colours(document: Document, cable: str, conductor: str) -> tuple[str, str]:
    """Return the insulation's colour at both ends; empty where none is said."""
    value = plain(at(document, "cables", cable, "conductors", conductor))
    said = at(value, "colour")
    if isinstance(said, str):
        return said, said
    both = at(value, "colours")
    if isinstance(both, list) and len(both) == 2:
        return str(both[0]), str(both[1])
    named_so = re.split(r"[\s-]", conductor.strip(), maxsplit=1)[0] in COLOURS
    return (conductor, conductor) if named_so else ("", "")


def with_colour(document: Document, path: tuple[str, str, str], colour: str) -> Document:
    """Return the document with the colour at one end (cable, conductor, end) said."""
    cable, conductor, end = path
    before = colours(document, cable, conductor)
    if end not in ENDS or conductor not in named(document, "cables", cable, "conductors"):
        return document
    colour = " ".join(colour.split())[:40]
    both = (colour, before[1]) if end == "from" else (before[0], colour)
    if both == before:
        return document
    ends = {name: landing(document, cable, conductor, name) for name in ENDS}
    place = ("cables", cable, "conductors", conductor)
    held = at(document, *place)
    inner = plain(held)
    rest = (
        {k: v for k, v in inner.items() if k not in (*ENDS, "either", "colour", "colours")}
        if isinstance(inner, dict)
        else {}
    )
    made = {**{k: v for k, v in ends.items() if v is not None}, **rest}
    if colours({"cables": {cable: {"conductors": {conductor: made}}}}, cable, conductor) != both:
        made["colours"] = list(both)
    return put(document, place, rewrapped(held, made))


def is_open(value: Any) -> bool:
    """Return whether an end is still to be settled."""
    return value is None or value == "unknown" or is_either(value)
