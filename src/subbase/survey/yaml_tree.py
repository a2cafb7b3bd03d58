"""YAML or JSON text as plain data, with the line and column of every field kept beside it.

All scalars stay text: YAML's own guesses (``no`` is false, ``1_0`` is ten) are not wanted here. Aliases, tags,
repeated keys and deep nesting are refused.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import yaml
from yaml.reader import ReaderError

from subbase.errors import Fault, InputError, printable
from subbase.words import _

MOST_BYTES = 1_000_000
"""A file larger than this is refused."""
MOST_DEPTH = 16
MOST_EVENTS = 20_000
"""About twenty times what a house with eight controls needs."""
MOST_SHOWN = 40
"""Characters of a file's own words that a fault repeats."""
_JSON_PAIR = re.compile(r"(?<!\\)((?:\\\\)*)\\u(d[89ab][0-9a-f]{2})\\u(d[c-f][0-9a-f]{2})", re.IGNORECASE)
_HIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
"""Control characters, and those that turn the direction of writing: they could pass one text off as another."""

Path = tuple[str | int, ...]
Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Mark:
    """A position in a file, counted from 1."""

    line: int
    column: int


@dataclass(frozen=True, slots=True)
class Tree:
    """Plain data (dict, list, str) and where each part of it stands."""

    data: Any
    marks: dict[Path, Mark]
    file: str
    faults: tuple[Fault, ...] = ()
    """Repeated or unreadable keys; the first of each is kept, so that the rest of the file can still be judged."""
    kept: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    """Top-level list -> which of the file's items are still judged, when some did not fit and were left out."""
    dropped: frozenset[Path] = frozenset()
    """Parts of the file that did not fit and are judged no further."""

    def in_file(self, path: Path) -> Path:
        """Return the path that a part of what is still judged has in the file."""
        if len(path) > 1 and isinstance(path[1], int) and path[0] in self.kept:
            return (path[0], self.kept[str(path[0])][path[1]], *path[2:])
        return path

    def mark(self, path: Path) -> Mark:
        """Return the position of a field, or of the nearest part of the file that holds it."""
        path = self.in_file(path)
        while path and path not in self.marks:
            path = path[:-1]
        return self.marks.get(path, Mark(0, 0))

    def fault(self, path: Path, message: str) -> Fault:
        """Return a fault at a field."""
        mark = self.mark(path)
        return Fault(message, where=dotted(self.in_file(path)), file=self.file, line=mark.line, column=mark.column)


def dotted(path: Path) -> str:
    """Return a path as people write it: ``cables.wall.conductors.red``."""
    return ".".join(str(step + 1) if isinstance(step, int) else plain_words(step) for step in path)


def visible(text: str) -> str:
    """Return a text without the characters that no survey may hold, for words that were typed or pasted into a form."""
    return _HIDDEN.sub("", text)


def plain_words(text: str) -> str:
    """Return a file's own words fit for one line of a terminal: not too long, nothing in them that is not print."""
    text = printable(text[: MOST_SHOWN + 1]).replace("\n", "\\n")
    return f"{text[:MOST_SHOWN]}..." if len(text) > MOST_SHOWN else text


def read_tree(raw: bytes, file: str) -> Tree:
    """Return the data of one YAML or JSON document.

    Raises
    ------
    InputError
        When it is too large, not UTF-8, not YAML, or uses aliases or tags.
    """
    if len(raw) > MOST_BYTES:
        raise InputError(
            (
                Fault(
                    _("The file has {count} bytes; at most {most_bytes} are read.").format(
                        count=len(raw), most_bytes=MOST_BYTES
                    ),
                    file=file,
                ),
            )
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise InputError(
            (Fault(_("The file is not UTF-8 text; save it as UTF-8."), file=file, line=line, column=1),)
        ) from None
    if text.lstrip().startswith("{"):
        # JSON writes characters beyond U+FFFF as two escapes, which YAML does not know.
        text = _JSON_PAIR.sub(_one_character, text)
    try:
        faults = _shape_faults(text, file)
        if faults:
            raise InputError(tuple(faults))
        root = yaml.compose(text, Loader=Loader)
    except ReaderError as error:
        raise InputError((_character_fault(error, text, file),)) from None
    except yaml.YAMLError as error:
        raise InputError((_syntax_fault(error, file),)) from None
    except ValueError as error:
        raise InputError((Fault(_("This is not readable YAML: {error}.").format(error=error), file=file),)) from None
    if root is None:
        raise InputError((Fault(_("The file is empty; 'subbase new' writes a survey to start from."), file=file),))
    marks: dict[Path, Mark] = {}
    data = _plain(root, (), marks, faults, file)
    return Tree(data, marks, file, tuple(faults))


def _one_character(pair: re.Match[str]) -> str:
    high, low = int(pair[2], 16), int(pair[3], 16)
    return pair[1] + chr(0x10000 + ((high - 0xD800) << 10) + (low - 0xDC00))


def _character_fault(error: ReaderError, text: str, file: str) -> Fault:
    found = max(0, text.find(chr(error.character)))
    line_start = text.rfind("\n", 0, found) + 1
    message = _("The character U+{character:04X} cannot stand in this file ({reason}); take it out.").format(
        character=error.character, reason=error.reason
    )
    return Fault(message, file=file, line=text.count("\n", 0, found) + 1, column=found - line_start + 1)


def _shape_faults(text: str, file: str) -> list[Fault]:
    """Walk the events without building anything, so that a hostile file costs nothing."""
    depth = 0
    documents = 0
    for count, event in enumerate(yaml.parse(text, Loader=Loader)):

        def refused(message: str, mark: Any = event.start_mark) -> list[Fault]:
            return [Fault(message, file=file, line=mark.line + 1, column=mark.column + 1)]

        if count > MOST_EVENTS:
            return refused(
                _("The file holds more than {most_events} items; a survey of one address never does.").format(
                    most_events=MOST_EVENTS
                )
            )
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            return refused(_("Anchors and aliases (& and *) are not read; write the value out."))
        tag = getattr(event, "tag", None)
        if tag:
            return refused(_("Tags ({tag}) are not read; write the value alone.").format(tag=plain_words(tag)))
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                return refused(_("One file holds one survey; a second document starts here."))
        depth += isinstance(event, yaml.CollectionStartEvent)
        depth -= isinstance(event, yaml.CollectionEndEvent)
        if depth > MOST_DEPTH:
            return refused(_("The file is nested more than {most_depth} deep.").format(most_depth=MOST_DEPTH))
    return []


def _syntax_fault(error: yaml.YAMLError, file: str) -> Fault:
    mark = getattr(error, "problem_mark", None)
    problem = getattr(error, "problem", None) or str(error).splitlines()[0]
    line, column = (mark.line + 1, mark.column + 1) if mark else (0, 0)
    return Fault(
        _("This is not readable YAML: {problem}.").format(problem=problem), file=file, line=line, column=column
    )


def _plain(node: yaml.Node, path: Path, marks: dict[Path, Mark], faults: list[Fault], file: str) -> Any:
    mark = Mark(node.start_mark.line + 1, node.start_mark.column + 1)
    marks.setdefault(path, mark)
    if isinstance(node, yaml.ScalarNode):
        if _HIDDEN.search(node.value):
            message = _("'{node}' holds characters that do not print; take them out.").format(
                node=plain_words(node.value)
            )
            faults.append(Fault(message, dotted(path), file, mark.line, mark.column))
        return node.value
    if isinstance(node, yaml.SequenceNode):
        return [_plain(item, (*path, index), marks, faults, file) for index, item in enumerate(node.value)]
    data: dict[str, Any] = {}
    for key_node, value_node in node.value:
        at = Mark(key_node.start_mark.line + 1, key_node.start_mark.column + 1)
        if not isinstance(key_node, yaml.ScalarNode):
            faults.append(Fault(_("A field's name must be plain text."), dotted(path), file, at.line, at.column))
            continue
        key = key_node.value
        if key in data:
            first = marks[(*path, key)].line
            message = _("'{key}' is given twice, first in line {first}; keep one.").format(
                key=plain_words(key), first=first
            )
            faults.append(Fault(message, dotted((*path, key)), file, at.line, at.column))
            continue
        marks[(*path, key)] = at
        data[key] = _plain(value_node, (*path, key), marks, faults, file)
    return data
