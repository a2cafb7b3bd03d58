"""Every label that the program shows or asks for by name: commands, options, stages, headings, fields, words with a meaning.

They are gathered from the code, so that a new one without a mark in ``labels.toml`` (trade, standard or own) fails a test and
is read through before it goes out: no label may be taken from a product made for this job.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import click
from pydantic import BaseModel

from subbase import names
from subbase.cli.main import main as command
from subbase.survey import model, rooms
from subbase.web.looks import STAGES

ROOT = Path(__file__).parents[1]
MARKS = Path(__file__).with_name("labels.toml")
KINDS = ("trade", "standard", "own")
_HEADING = re.compile(r"<h[12][^>]*>(.*?)</h[12]>", re.DOTALL)
_SAID = re.compile(r'_\("((?:[^"\\]|\\.)*)"')


def labels() -> dict[str, str]:
    """Return label -> where it comes from, in the order of the alphabet."""
    found = {
        **{f"subbase {name}": "command" for name in _commands(command, "")},
        **dict.fromkeys(_options(command), "option"),
        **{stage.title: "stage of a job" for stage in STAGES},
        **dict.fromkeys(_headings(), "heading of a page"),
        **dict.fromkeys(_fields(), "field of a survey"),
        **dict.fromkeys(_words(), "word with a meaning"),
    }
    return dict(sorted(found.items(), key=lambda item: (item[0].lower(), item[0])))


def _commands(group: click.Command, before: str) -> Iterator[str]:
    for name, below in getattr(group, "commands", {}).items():
        yield f"{before}{name}"
        yield from _commands(below, f"{before}{name} ")


def _options(found: click.Command) -> Iterator[str]:
    for parameter in found.params:
        yield from (option for option in parameter.opts if option.startswith("--"))
    for below in getattr(found, "commands", {}).values():
        yield from _options(below)


def _headings() -> Iterator[str]:
    for file in sorted((ROOT / "src" / "subbase" / "web" / "templates").glob("*.html")):
        for heading in _HEADING.findall(file.read_text("utf-8")):
            yield from _SAID.findall(heading)


def _fields() -> Iterator[str]:
    for module in (model, rooms):
        for found in vars(module).values():
            if isinstance(found, type) and issubclass(found, BaseModel) and found.__module__ == module.__name__:
                yield from ((field.alias or name).rstrip("_") for name, field in found.model_fields.items())


def _words() -> Iterator[str]:
    for name, words in vars(names).items():
        if name.endswith("_NAMES") and not name.startswith(("COLOUR", "PLACE")):
            yield from words


def marks() -> dict[str, str]:
    """Return label -> trade, standard or own, as they are marked.

    Raises
    ------
    ValueError
        When a label is marked twice.
    """
    found: dict[str, str] = {}
    for kind, listed in tomllib.loads(MARKS.read_text("utf-8")).items():
        for label in listed:
            if label in found:
                raise ValueError(f"{label} is marked {found[label]} and {kind}")
            found[label] = kind
    return found


if __name__ == "__main__":
    for label, where in labels().items():
        print(f"{where}\t{label}")
