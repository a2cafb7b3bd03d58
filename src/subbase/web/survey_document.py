"""A survey's text as a plain document that a form can edit: its parts by path, and names of fields by path.

All scalars are text, as ``read_tree`` gives them. What a form does not know is left where it stands.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import quote, unquote

from subbase.errors import InputError
from subbase.journal.merge import written
from subbase.survey.yaml_tree import Path, dotted, read_tree

Document = dict[str, Any]
UNKNOWN = "unknown"
PLACES = ("controls", "equipment", "transformers")


def read_document(text: str, name: str = "") -> Document | None:
    """Return a survey text as a document; None when it is no YAML of named fields, or says a thing twice.

    An empty text is an empty survey that bears ``name``.
    """
    if not text.strip():
        return {"survey": "1", "name": name or "survey", "units": "us"}
    try:
        tree = read_tree(text.encode(), "")
    except InputError:
        return None
    return None if tree.faults or not isinstance(tree.data, dict) else tree.data


def document_text(document: Document) -> str:
    """Return a document as survey text; the same document gives the same text."""
    return written(document)


def at(document: Any, *path: str) -> Any:
    """Return a part of a document; None when it is not there. Steps into a list count from 0."""
    here = document
    for step in path:
        if isinstance(here, dict):
            here = here.get(step)
        elif isinstance(here, list) and step.isdigit() and int(step) < len(here):
            here = here[int(step)]
        else:
            return None
    return here


def named(document: Any, *path: str) -> dict[str, Any]:
    """Return the named parts at a path; empty when there are none."""
    found = at(document, *path)
    return found if isinstance(found, dict) else {}


def listed(document: Any, *path: str) -> list[Any]:
    """Return the items at a path; empty when there are none."""
    found = at(document, *path)
    return found if isinstance(found, list) else []


def put(document: Document, path: tuple[str, ...], value: Any) -> Document:
    """Return the document with one part set; None takes it out, and a group that is left empty with it.

    A part whose holder is something else than named fields or a list stays as it is.
    """
    made = _put(document, path, value, ())
    return made if isinstance(made, dict) else {}


def _put(here: Any, path: tuple[str, ...], value: Any, above: tuple[str, ...]) -> Any:
    step, rest = path[0], path[1:]
    if isinstance(here, list):
        if not step.isdigit() or int(step) >= len(here):
            return here
        index = int(step)
        inner = _put(here[index], rest, value, (*above, step)) if rest else value
        items = [*here[:index], *([] if inner is None else [inner]), *here[index + 1 :]]
        return items or None
    if here is not None and not isinstance(here, dict):
        return here
    held = dict(here or {})
    inner = _put(held.get(step), rest, value, (*above, step)) if rest else value
    if inner is None:
        held.pop(step, None)
    else:
        held[step] = inner
    return held if held or not _is_group(above) else None


def _is_group(path: tuple[str, ...]) -> bool:
    """Return whether a part means nothing when it is empty."""
    return len(path) == 1 or path[2:3] in (("zones",), ("nameplate",))


def names_used(document: Document) -> set[str]:
    """Return every name of a place or a cable."""
    return {name for group in (*PLACES, "cables") for name in named(document, group)}


def fresh_name(wanted: str, used: set[str]) -> str:
    """Return a name that is not used yet: the one wanted, or with a number after it."""
    wanted = " ".join(wanted.replace(".", " ").replace("/", " ").split())[:36] or "part"
    found, number = wanted, 2
    while found in used:
        found, number = f"{wanted} {number}", number + 1
    return found


def is_either(value: Any) -> bool:
    """Return whether a value says what a thing may be."""
    return isinstance(value, dict) and set(value) == {"either"} and isinstance(value["either"], list)


def is_wrapped(value: Any) -> bool:
    """Return whether a value says how it is known."""
    return isinstance(value, dict) and "value" in value and set(value) <= {"value", "known"}


def plain(value: Any) -> Any:
    """Return a value without how it is known."""
    return value["value"] if is_wrapped(value) else value


def rewrapped(before: Any, value: Any) -> Any:
    """Return a new value with how the old one was known."""
    return {**before, "value": value} if is_wrapped(before) and value is not None else value


def words_of(value: Any) -> str:
    """Return a value as a text field shows it: ``40``, ``40 or 60``, nothing for what is not known."""
    value = plain(value)
    if is_either(value):
        return " or ".join(str(item) for item in value["either"])
    return value if isinstance(value, str) and value != UNKNOWN else ""


def joined(*steps: str) -> str:
    """Return steps as one name of a field or of an action; any text may stand in a step."""
    return "/".join(quote(step, safe="") for step in steps)


def split(name: str) -> tuple[str, ...]:
    """Return the steps of a name that ``joined`` made."""
    return tuple(unquote(step) for step in name.split("/"))


def anchor(*path: str) -> str:
    """Return the id that a field's place on the page bears."""
    is_row = len(path) > 1 and path[0] in ("jumpers", "readings") and path[1].isdigit()
    steps: Path = (path[0], int(path[1]), *path[2:]) if is_row else path
    return "f-" + "_".join(dotted(steps).split())


def texts(found: Any) -> Iterator[str]:
    """Iterate over the items of a list that are text."""
    for item in found if isinstance(found, list) else ():
        if isinstance(item, str):
            yield item
