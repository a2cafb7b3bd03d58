"""Where messages stand in the code: calls in Python, help texts of commands, fields of a survey, templates, data files.

``_``, ``mark`` and ``plural`` are found in Python by its syntax, so that a message may be written in several pieces; in
templates by Jinja's own extractor. Commands keep their help where click looks for it (a docstring, ``help=``), a field
of a survey keeps its description where pydantic does, and equipment kinds and repairs are TOML: what of them is shown to
people is a message too, in English in its place, and looked up where it is shown.
"""

from __future__ import annotations

import ast
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from babel.messages.extract import extract

from subbase.cli.reader_language import help_paragraphs

ROOT = Path(__file__).parents[1]
SOURCE = ROOT / "src" / "subbase"
Found = tuple[Path, int, str | tuple[str, str]]
"""(file, line, message; two of them where a count decides)."""
CALLS = {"_": 1, "mark": 1, "plural": 2}
FIELDS_IN = ("survey/model.py", "survey/rooms.py", "survey/rooms_reading.py")
"""Files whose fields' descriptions are said in faults and on forms."""
TOML_WORDS = {
    "catalog/kinds/*.toml": frozenset(
        {"title", "about", "what", "acts_when", "why", "cautions", "terminals", "source"}
    ),
    "diagnose/repairs.toml": frozenset({"do", "part", "stop"}),
}
"""Data files -> the keys whose texts people see."""


class NotAMessage(Exception):
    """Something in the code that no catalogue can hold."""


def messages() -> Iterator[Found]:
    """Yield every message of the code, file by file."""
    for file in sorted(SOURCE.rglob("*.py")):
        yield from ((file, line, message) for line, message in in_python(file))
    for file in sorted((SOURCE / "web" / "templates").rglob("*.html")):
        yield from in_template(file)
    for pattern, words in TOML_WORDS.items():
        for file in sorted(SOURCE.glob(pattern)):
            yield from ((file, 0, text) for text in in_toml(tomllib.loads(file.read_text("utf-8")), words))


def in_python(file: Path) -> Iterator[tuple[int, str | tuple[str, str]]]:
    """Yield (line, message) of one file of Python."""
    described = any(file == SOURCE / name for name in FIELDS_IN)
    for node in ast.walk(ast.parse(file.read_text("utf-8"))):
        if isinstance(node, ast.Call):
            yield from _of_call(node, file)
            yield from _of_help(node)
            if described and _name(node.func) == "Field":
                yield from _keyword(node, "description")
        elif isinstance(node, ast.FunctionDef) and any(map(_is_command, node.decorator_list)):
            text = ast.get_docstring(node, clean=False)
            yield from ((node.lineno, said) for __, said in help_paragraphs(text or "") if said)


def _name(node: ast.expr) -> str:
    return node.id if isinstance(node, ast.Name) else node.attr if isinstance(node, ast.Attribute) else ""


def _is_command(node: ast.expr) -> bool:
    called = node.func if isinstance(node, ast.Call) else node
    return isinstance(called, ast.Attribute) and called.attr in ("command", "group")


def _of_call(node: ast.Call, file: Path) -> Iterator[tuple[int, str | tuple[str, str]]]:
    count = CALLS.get(node.func.id, 0) if isinstance(node.func, ast.Name) else 0
    if not count:
        return
    said = [arg.value for arg in node.args[:count] if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
    if any(isinstance(arg, ast.JoinedStr | ast.BinOp) for arg in node.args[:count]):
        raise NotAMessage(f"{file}:{node.lineno}: a message is one text; put its parts in with format().")
    if len(said) == count and all(said):
        yield node.lineno, said[0] if count == 1 else (said[0], said[1])


def _of_help(node: ast.Call) -> Iterator[tuple[int, str]]:
    if isinstance(node.func, ast.Attribute) and node.func.attr in ("option", "argument", "command", "group"):
        for line, text in _keyword(node, "help"):
            yield from ((line, said) for __, said in help_paragraphs(text))


def _keyword(node: ast.Call, name: str) -> Iterator[tuple[int, str]]:
    for keyword in node.keywords:
        value = keyword.value
        if keyword.arg == name and isinstance(value, ast.Constant) and isinstance(value.value, str) and value.value:
            yield value.lineno, value.value


def in_template(file: Path) -> Iterator[Found]:
    """Yield the messages of one template."""
    with file.open("rb") as stream:
        options = {"trimmed": "true"}
        for line, message, _comments, _context in extract(
            "jinja2.ext:babel_extract", stream, keywords=TEMPLATE_CALLS, options=options
        ):
            yield file, line, message if isinstance(message, str) else (message[0], message[1])


TEMPLATE_CALLS: dict[str, Any] = {"_": None, "plural": (1, 2)}
_INNER = re.compile(r"-")


def in_toml(data: Any, words: frozenset[str]) -> Iterator[str]:
    """Yield what of a data file people see: the texts under the given keys, and what parts and conditions are called."""
    if isinstance(data, list):
        for item in data:
            yield from in_toml(item, words)
    elif isinstance(data, dict):
        if {"id", "type", "between"} <= data.keys() and not data.get("what"):
            yield _INNER.sub(" ", data["id"])
        for key, value in data.items():
            if key in words:
                yield from _texts(value)
            else:
                if key == "conditions":
                    yield from value
                yield from in_toml(value, words)


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        if value:
            yield value
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _texts(item)


__all__ = ["NotAMessage", "in_python", "messages"]
