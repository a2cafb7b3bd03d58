"""A language that is not one: every message in brackets, so that a sentence outside of them was never looked up.

``⟦Land red on ⟦hall.R⟧⟧``: what a message holds in its fields may be a message itself. What is not in brackets is data:
names of the survey, terminals, numbers, units, and what a document says in words of its own.
"""

from __future__ import annotations

import gettext
import re
from collections.abc import Iterator
from contextlib import contextmanager
from html.parser import HTMLParser
from typing import Any

import pytest

from subbase import words

CODE = "xx"
OPEN, CLOSE = "⟦", "⟧"
_INNER = re.compile(r"⟦[^⟦⟧]*⟧")
_WORD = re.compile(r"[^\W\d_]{2,}")
SENTENCE = 2
"""So many words in a row that are no data are taken for a sentence or a piece of one."""


class Bracketed(gettext.NullTranslations):
    """Puts every message in brackets."""

    def gettext(self, message: str) -> str:
        """Return a message in brackets."""
        return f"{OPEN}{message}{CLOSE}"

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """Return the form of a message that goes with a count, in brackets."""
        return f"{OPEN}{msgid1 if n == 1 else msgid2}{CLOSE}"


@contextmanager
def pseudo(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Speak the pseudo-language inside a block."""
    monkeypatch.setitem(words.LANGUAGES, CODE, "Pseudo")
    monkeypatch.setattr(words, "_catalogue", lambda _code: Bracketed())
    with words.language(CODE):
        yield


def outside_brackets(text: str) -> str:
    """Return what of a text stands in no brackets; brackets that are nested or broken over lines count as one."""
    flat = text
    while _INNER.search(flat):
        flat = _INNER.sub(" ", flat)
    return flat


def unlooked(text: str, data: frozenset[str] = frozenset(), *, least: int = SENTENCE) -> list[str]:
    """Return the lines of a text that hold words outside brackets which are no data."""
    found = []
    for line in outside_brackets(text).splitlines():
        names = [word for word in _WORD.findall(line) if word.lower() not in data]
        if len(names) >= least:
            found.append(line.strip())
    return found


class _Shown(HTMLParser):
    """Gathers what a page shows: its text and the names of its controls; scripts, drawings and typed-in text left out."""

    OUT = frozenset({"script", "style", "textarea", "pre", "code", "svg"})
    NAMED = ("title", "aria-label", "placeholder", "alt")

    def __init__(self) -> None:
        super().__init__()
        self.said: list[str] = []
        self._out = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._out += tag in self.OUT
        self.said += ["\n", *(value for name, value in attrs if name in self.NAMED and value), "\n"]

    def handle_endtag(self, tag: str) -> None:
        self._out -= tag in self.OUT
        self.said.append("\n")

    def handle_data(self, data: str) -> None:
        if not self._out:
            self.said.append(" ".join(data.split()))


def shown_on(page: str) -> str:
    """Return what a page of HTML shows, a line for each piece."""
    parser = _Shown()
    parser.feed(page)
    return "".join(parser.said)


def texts_in(data: Any) -> Iterator[str]:
    """Yield every text of nested data that is shown: values, not keys; of a drawing its texts; soft breaks taken out."""
    if isinstance(data, dict):
        for key, value in data.items():
            if key not in ("kind", "paper", "page"):
                yield from texts_in(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from texts_in(value)
    elif isinstance(data, str):
        drawn = _DRAWN.findall(data) if data.lstrip().startswith("<") else [data]
        yield from (text.replace("\u200b", "").replace("\u00ad", "") for text in drawn)


_DRAWN = re.compile(r"<(?:text|title|desc|tspan)[^>]*>([^<]*)<")


def words_of(*texts: str) -> frozenset[str]:
    """Return every word of texts that are data: names in a survey."""
    return frozenset(word.lower() for text in texts for word in _WORD.findall(text))
