"""One field of the survey page's form: its name, its value in the document, what else may be chosen there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from subbase.web.survey_document import UNKNOWN, Document, anchor, at, is_either, joined, listed, plain, texts, words_of
from subbase.web.survey_parts import Choice, Field
from subbase.web.survey_wires import AS_WRITTEN
from subbase.words import _, mark

OPTIONS: dict[str, tuple[tuple[str, str], ...]] = {
    "units": (("us", mark("feet")), ("si", mark("metres"))),
    "role": (
        ("as usual", mark("as usual")), ("main", mark("main")), ("auxiliary", mark("auxiliary")),
        ("second fuel", mark("second fuel")),
    ),
    "wiring": (
        ("low voltage", mark("24 V")), ("line voltage", mark("line voltage")), ("millivolt", mark("millivolt")),
        ("serial data", mark("serial data")), (UNKNOWN, mark("not known")),
    ),
    "power of old": (
        ("none", mark("nothing")), ("battery", mark("battery")), ("common", mark("R and C")),
        ("stealing", mark("leak through its loads")),
    ),
    "power of new": (
        ("common", mark("R and C")), ("battery", mark("battery")), ("stealing", mark("leak through its loads")),
        ("none", mark("nothing")),
    ),
    "supplies": (("one", mark("one")), ("joined", mark("joined inside")), ("separate", mark("kept apart"))),
    "yes": (("no", mark("no")), ("yes", mark("yes"))),
    "class_2": (("yes", mark("yes")), ("no", mark("no")), (UNKNOWN, mark("not known"))),
    "gauge": (*((text, text) for text in ("16", "18", "20", "22")), (UNKNOWN, mark("not known"))),
    "present": (("yes", mark("there")), ("no", mark("not there")), (UNKNOWN, mark("not known"))),
}  # fmt: skip


def text_field(document: Document, *path: str) -> Field:
    """Return a field of free text, as the document has it."""
    return Field(joined("f", *path), anchor(*path), words_of(at(document, *path)))


def choice_field(document: Document, *path: str, options: str, usual: str = "") -> Field:
    """Return a field with one of ``OPTIONS`` chosen; ``usual`` where the document says nothing."""
    value = plain(at(document, *path))
    chosen = usual if value is None else AS_WRITTEN if not isinstance(value, str) else value
    found = [Choice(v, _(label), v == chosen) for v, label in OPTIONS[options]]
    if chosen and not any(choice.chosen for choice in found):
        found.append(Choice(chosen, said(value), True))
    return Field(joined("f", *path), anchor(*path), chosen, tuple(found))


def select_field(
    document: Document, path: tuple[str, ...], options: Iterable[str], *, identifiers: bool = False
) -> Field:
    """Return a field with one of the words offered chosen, and what the document has among them."""
    value = plain(at(document, *path))
    chosen = value if isinstance(value, str) else ""
    offered = dict.fromkeys((*options, *([chosen] if chosen else [])))
    shown = tuple(Choice(v, _(v) if identifiers else v, v == chosen) for v in offered)
    return Field(joined("f", *path), anchor(*path), chosen, shown)


def toggle_field(document: Document, path: tuple[str, ...], options: Sequence[tuple[str, str]]) -> Field:
    """Return a field of which several may be chosen, and what the document has beside the (value, label) given."""
    held = list(texts(listed(document, *path)))
    known = {value for value, _label in options}
    shown = [*options, *((item, item) for item in held if item not in known)]
    choices = tuple(Choice(value, label, value in held) for value, label in shown)
    return Field(joined("s", *path), anchor(*path), "", choices)


def said(value: Any) -> str:
    """Return a value that no choice stands for, in words."""
    if is_either(value):
        return _("{several}: which is not known").format(several=words_of(value))
    return value if isinstance(value, str) else _("as written in the text")
