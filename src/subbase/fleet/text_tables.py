"""Rows of a delimited text file as people send them: any common encoding and delimiter, quotes, broken lines.

Read line by line and never all at once. A quote that is opened and not closed costs the line it stands in, not the rest
of the file.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from subbase.errors import Fault, InputError
from subbase.words import _

DELIMITERS = (",", ";", "\t", "|")
MOST_LINES = 20
"""A quoted cell that spans more lines than this is a quote that was never closed (judgement)."""
LONGEST_LINE = 1_000_000


@dataclass(frozen=True, slots=True)
class Line:
    """One row: where it begins, its cells, and its text as it stood there."""

    number: int
    cells: tuple[str, ...]
    raw: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Dialect:
    """How a file is written."""

    encoding: str
    delimiter: str


def encoding_of(path: Path) -> str:
    """Return the encoding of a text file: by its mark, or the first of the common ones that it fits whole."""
    with path.open("rb") as stream:
        head = stream.read(4)
        if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            return "utf-16"
        stream.seek(0)
        fits = {name: codecs.getincrementaldecoder(name)() for name in ("utf-8-sig", "cp1252")}
        while block := stream.read(1 << 20):
            for name in tuple(fits):
                try:
                    fits[name].decode(block)
                except UnicodeDecodeError:
                    del fits[name]
        if "utf-8-sig" in fits:
            try:
                fits["utf-8-sig"].decode(b"", final=True)
            except UnicodeDecodeError:
                del fits["utf-8-sig"]
    return next((name for name in ("utf-8-sig", "cp1252") if name in fits), "latin-1")


def dialect_of(path: Path, *, encoding: str | None = None) -> Dialect:
    """Return how a file is written; the delimiter is the one that its heading holds most often.

    Raises
    ------
    InputError
        When the file is empty or its heading holds one column only.
    """
    encoding = encoding or encoding_of(path)
    try:
        with path.open(encoding=encoding, errors="replace", newline="") as stream:
            heading = stream.readline(LONGEST_LINE)
    except (LookupError, UnicodeError) as error:
        message = _("The file cannot be read as '{encoding}': {error}.").format(encoding=encoding, error=error)
        raise InputError((Fault(message, file=str(path)),)) from None
    if not heading.strip():
        raise InputError((Fault(_("The file is empty; its first line names the columns."), file=str(path), line=1),))
    counts = {delimiter: len(_split(heading, delimiter)) for delimiter in DELIMITERS}
    return Dialect(encoding, max(DELIMITERS, key=lambda delimiter: counts[delimiter]))


def read_lines(path: Path, dialect: Dialect) -> Iterator[Line]:
    """Yield every row, the heading first; a row that cannot be read bears its problem."""
    with path.open(encoding=dialect.encoding, errors="replace", newline="") as stream:
        numbered = enumerate(_physical(stream), start=1)
        waiting: list[tuple[int, str]] = []
        while True:
            number, text = waiting.pop(0) if waiting else next(numbered, (0, ""))
            if not number:
                return
            if not text.strip():
                continue
            held = [(number, text)]
            while _is_open(held) and len(held) <= MOST_LINES:
                more = waiting.pop(0) if waiting else next(numbered, None)
                if more is None:
                    break
                held.append(more)
            if _is_open(held):
                waiting = held[1:] + waiting
                yield Line(number, (), text.rstrip("\r\n"), _("A quote is opened in this line and never closed."))
                continue
            raw = "".join(part for __, part in held).rstrip("\r\n")
            yield Line(number, tuple(_split(raw, dialect.delimiter)), raw)


def _physical(stream: io.TextIOBase) -> Iterator[str]:
    while line := stream.readline(LONGEST_LINE):
        yield line


def _is_open(held: list[tuple[int, str]]) -> bool:
    return bool(sum(text.count('"') for __, text in held) % 2)


def _split(text: str, delimiter: str) -> list[str]:
    text = text.rstrip("\r\n")
    if '"' not in text:
        return text.split(delimiter)
    try:
        return next(csv.reader([text], delimiter=delimiter), [])
    except csv.Error:
        return text.split(delimiter)
