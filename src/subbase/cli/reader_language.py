"""The reader's language on the command line: which it is, and every help text in it.

The language is that of ``--language``, else of LANGUAGE, LC_ALL, LC_MESSAGES or LANG. Help texts stand in the code in
English (docstrings and ``help=``); the catalogue holds them like every other message, and a command is copied with its
texts looked up when it is asked for. What click says itself it looks up with Python's own gettext, in the same catalogue.
"""

from __future__ import annotations

import contextlib
import copy
import gettext
import inspect
import os
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import click

from subbase.words import LANGUAGES, _, current_language, language, mark, nearest_language, plural

OPTION = "--language"
LOCALE = Path(__file__).parents[1] / "locale"
_ASKED = ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG")
CLICK_WORDS = (
    mark("Usage:"),
    mark("Options"),
    mark("Positional arguments"),
    mark("Commands"),
    mark("Error: {message}"),
    mark("Aborted!"),
    mark("Try '{command} {option}' for help."),
    mark("Show this message and exit."),
    mark("Show the version and exit."),
    mark("%(prog)s, version %(version)s"),
    mark("Invalid value: {message}"),
    mark("Invalid value for {param_hint}: {message}"),
    mark("Missing argument"),
    mark("Missing option"),
    mark("Missing parameter"),
    mark("Missing command."),
    mark("No such command {name!r}."),
    mark("No such option {name!r}."),
    mark("Option {name!r} does not take a value."),
    mark("{value!r} is not a valid {number_type}."),
    mark("{value} is not in the range {range}."),
    mark("{name} {filename!r} does not exist."),
    mark("{name} {filename!r} is a directory."),
    mark("{name} {filename!r} is a file."),
    mark("{name} {filename!r} is not readable."),
    mark("default: {default}"),
    mark("file"),
    mark("path"),
    mark("directory"),
)
"""What click says itself."""
_AS_IS = "\b"
"""With this click has a paragraph printed line by line."""


def click_plurals(count: int) -> tuple[str, ...]:
    """Return what click says itself of one thing or of several."""
    return (
        plural("Got unexpected extra argument ({args})", "Got unexpected extra arguments ({args})", count),
        plural("Option {name!r} requires an argument.", "Option {name!r} requires {nargs} arguments.", count),
        plural("{value!r} is not {choice}.", "{value!r} is not one of {choices}.", count),
        plural(
            "{value!r} does not match the format {format}.", "{value!r} does not match the formats {formats}.", count
        ),
        plural("Did you mean {possibility}?", "(Did you mean one of: {possibilities}?)", count),
    )


AnyCommand = TypeVar("AnyCommand", bound=click.Command)


def split_language(words: Sequence[str]) -> tuple[list[str], str | None]:
    """Return the words with ``--language`` and its value brought to the front, and the value; None where it is not."""
    rest = list(words)
    for index, word in enumerate(rest):
        if word == "--":
            break
        if word.startswith(f"{OPTION}="):
            value = word.partition("=")[2]
            return [OPTION, value, *rest[:index], *rest[index + 1 :]], value
        if word == OPTION and index + 1 < len(rest):
            value = rest[index + 1]
            return [OPTION, value, *rest[:index], *rest[index + 2 :]], value
    return rest, None


def asked_language(environment: Mapping[str, str]) -> str:
    """Return the language that the environment asks for, by the first of its variables that says one."""
    said = next((environment[name] for name in _ASKED if environment.get(name)), "")
    return nearest_language(said.replace(":", ","))


@contextlib.contextmanager
def speaking(code: str) -> Iterator[None]:
    """Speak a language inside a block, click too."""
    before = os.environ.get("LANGUAGE")
    domain = gettext.textdomain()
    gettext.bindtextdomain("subbase", str(LOCALE))
    gettext.textdomain("subbase")
    os.environ["LANGUAGE"] = code
    try:
        with language(code):
            yield
    finally:
        gettext.textdomain(domain)
        if before is None:
            os.environ.pop("LANGUAGE", None)
        else:
            os.environ["LANGUAGE"] = before


def translated(command: AnyCommand) -> AnyCommand:
    """Return a command, and all commands and options below it, with help texts in the language that is set."""
    if current_language() == "en":
        return command
    found = copy.copy(command)
    vars(found)["_help_option"] = None  # click keeps the one it made first, in the language of then
    found.help = _help(command.help)
    found.short_help = _(command.short_help) if command.short_help else None
    found.params = [_parameter(parameter) for parameter in command.params]
    if isinstance(found, click.Group) and isinstance(command, click.Group):
        found.commands = {name: translated(below) for name, below in command.commands.items()}
    return found


def help_paragraphs(text: str) -> tuple[tuple[bool, str], ...]:
    """Return the paragraphs of a help text as messages, each with whether its lines stay as they are."""
    found = []
    for paragraph in inspect.cleandoc(text).split("\n\n"):
        kept = paragraph.startswith(_AS_IS)
        lines = paragraph.removeprefix(_AS_IS).strip("\n").splitlines()
        found.append((kept, "\n".join(lines) if kept else " ".join(line.strip() for line in lines)))
    return tuple(found)


def _help(text: str | None) -> str | None:
    if not text:
        return text
    return "\n\n".join(f"{_AS_IS}\n{_(said)}" if kept else _(said) for kept, said in help_paragraphs(text))


def _parameter(parameter: click.Parameter) -> click.Parameter:
    if not isinstance(parameter, click.Option) or not parameter.help:
        return parameter
    found = copy.copy(parameter)
    found.help = _help(parameter.help)
    return found


language_option = click.option(
    OPTION, type=click.Choice(list(LANGUAGES)), expose_value=False,
    help="Language of all that is said; the system's when left out. JSON is always English.",
)  # fmt: skip

__all__ = [
    "CLICK_WORDS",
    "asked_language",
    "help_paragraphs",
    "language_option",
    "speaking",
    "split_language",
    "translated",
]
