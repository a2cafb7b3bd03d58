"""The landing table as a code on paper: compact plain text that any phone shows, without a server or an address.

The format is told in ``docs/data-out/landing-code.md``; ``read_landing_code`` reads it back. Every symbol stands by
itself: it names the job and says which part it is. What does not fit is left out, cable by cable, the ones that the work
did not touch first, and the text says so.
"""

from __future__ import annotations

import datetime
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from urllib.parse import unquote

from subbase.errors import Fault, InputError
from subbase.plan import Plan
from subbase.survey import NOWHERE, Survey, Unknown
from subbase.words import _

HEAD = "subbase landings 1"
MOST_BYTES = 660
"""Of one symbol: version 20 at level M holds 666 (ISO/IEC 18004); its modules are 0.4 mm on a symbol of 42 mm."""
MOST_CODES = 3
"""Side by side on a cover."""
NAME_BYTES = 60
"""Of the job's name; the rest of a longer one is left out."""
_ESCAPED = {"%": "%25", ":": "%3A", ">": "%3E", ";": "%3B", "\n": "%0A", "\r": "%0D", "#": "%23", "+": "%2B"}


@dataclass(frozen=True, slots=True)
class CodedWire:
    """One conductor: its landing at each end; empty when not known."""

    cable: str
    conductor: str
    first: str
    second: str


@dataclass(frozen=True, slots=True)
class LandingCode:
    """What a set of codes says."""

    name: str
    date: datetime.date
    cables: tuple[tuple[str, str, str], ...]
    """(cable, place of its first end, place of its second end)."""
    wires: tuple[CodedWire, ...]
    jumpers: tuple[tuple[str, str], ...]
    left_out: tuple[str, ...] = ()
    """Cables that had no room."""


def landing_code(plan: Plan, *, date: datetime.date) -> tuple[str, ...]:
    """Return the texts of the codes, in order; empty when nothing is planned."""
    left = plan.left
    if left is None:
        return ()
    touched = {x.cable for item in plan.controls for x in item.chosen.landings}
    names = sorted(left.cables, key=lambda name: name not in touched)
    pieces = {name: _cable_lines(left, name) for name in names}
    jumpers = [
        f"+{_end(a)}>{_end(b)}" for a, b in (jumper.between for jumper in left.jumpers if jumper.present is True)
    ]
    for count in range(len(names), -1, -1):
        lines = [line for name in names[:count] for line in pieces[name]]
        left_out = [f"-{_escaped(name)}" for name in names[count:]]
        parts = _shared_out(_head(plan, date), [*lines, *jumpers, *left_out])
        if parts is not None:
            return parts
    return ()


def _head(plan: Plan, date: datetime.date) -> str:
    name = _escaped(plan.survey.name.encode()[:NAME_BYTES].decode("utf-8", "ignore"))
    return f"{name};{date.isoformat()}"


def _cable_lines(left: Survey, name: str) -> list[str]:
    cable = left.cables[name]
    lines = [f"#{_escaped(name)}:{_escaped(cable.from_)}>{_escaped(cable.to)}"]
    for conductor, wire in cable.conductors.items():
        lines.append(f"{_escaped(conductor)}:{_end(wire.from_, cable.from_)}>{_end(wire.to, cable.to)}")
    return lines


def _end(landing: str | Unknown, place: str = "") -> str:
    """Return a landing, without its place where that is the cable's own."""
    if isinstance(landing, Unknown):
        return ""
    terminal = landing.removeprefix(f"{place}.") if place else landing
    return _escaped(landing if "." in terminal else terminal)


def _escaped(text: str) -> str:
    return "".join(_ESCAPED.get(letter, letter) for letter in text)


def _shared_out(head: str, lines: Sequence[str]) -> tuple[str, ...] | None:
    """Return lines as parts that each fit a symbol; None when that takes too many. A cable begun anew is named anew."""
    room = MOST_BYTES - len(f"{HEAD} 9/9\n{head}\n".encode())
    parts: list[list[str]] = [[]]
    used, cable = 0, ""
    for line in lines:
        if line.startswith("#"):
            cable = line
        elif line.startswith(("+", "-")):
            cable = ""
        size = len(line.encode()) + 1
        if used + size > room:
            again = [cable] if cable and line != cable else []
            used = sum(len(held.encode()) + 1 for held in again)
            parts.append(again)
            if used + size > room:
                return None
        parts[-1].append(line)
        used += size
    if len(parts) > MOST_CODES:
        return None
    count = len(parts)
    return tuple("\n".join([f"{HEAD} {n}/{count}", head, *part]) for n, part in enumerate(parts, start=1))


# --- reading ---------------------------------------------------------------------------------------------------------


def read_landing_code(texts: Sequence[str]) -> LandingCode:
    """Return what a set of codes says, in whatever order they were scanned.

    Raises
    ------
    InputError
        When one is no such text, a part is missing, or they are of different jobs.
    """
    parts: dict[int, list[str]] = {}
    heads, counts = set(), set()
    for text in texts:
        first, *rest = text.split("\n")
        number, _slash, count = first.removeprefix(f"{HEAD} ").partition("/")
        if not first.startswith(f"{HEAD} ") or not rest or not number.isdecimal() or not count.isdecimal():
            raise _fault(_("This text is no landing code, format 1; scan the code on the packet's cover."))
        heads.add(rest[0])
        counts.add(int(count))
        parts[int(number)] = rest[1:]
    if len(heads) != 1 or len(counts) != 1:
        raise _fault(_("These codes belong to different packets; scan those of one cover."))
    missing = sorted(set(range(1, counts.pop() + 1)) - set(parts))
    if missing:
        raise _fault(_("Code {number} is missing; scan it too.").format(number=missing[0]))
    name, _semicolon, day = heads.pop().rpartition(";")
    try:
        date = datetime.date.fromisoformat(day)
    except ValueError:
        raise _fault(_("The date '{day}' of the landing code cannot be read.").format(day=day)) from None
    return _read_lines(unquote(name), date, [line for number in sorted(parts) for line in parts[number]])


def _read_lines(name: str, date: datetime.date, lines: Sequence[str]) -> LandingCode:
    cables: dict[str, tuple[str, str, str]] = {}
    wires, jumpers, left_out = [], [], []
    cable = ""
    for line in lines:
        if line.startswith("-") and ":" not in line and ">" not in line:
            left_out.append(unquote(line[1:]))
            continue
        named, colon, ends = line.rpartition(":")
        first, arrow, second = (ends if colon else line.removeprefix("+")).partition(">")
        if not arrow or (not colon and not line.startswith("+")):
            raise _fault(_("The line '{line}' of the landing code cannot be read.").format(line=line))
        first, second = unquote(first), unquote(second)
        if line.startswith("+"):
            jumpers.append((first, second))
        elif line.startswith("#"):
            cable = unquote(named[1:])
            cables[cable] = (cable, first, second)
        else:
            _cable, at_first, at_second = cables.get(cable, ("", "", ""))
            wires.append(CodedWire(cable, unquote(named), _landed(first, at_first), _landed(second, at_second)))
    return LandingCode(name, date, tuple(cables.values()), tuple(wires), tuple(jumpers), tuple(left_out))


def _landed(end: str, place: str) -> str:
    return end if not end or end in NOWHERE or "." in end else f"{place}.{end}"


def _fault(message: str) -> InputError:
    return InputError((Fault(message),))


# --- drawing ---------------------------------------------------------------------------------------------------------


def code_svgs(texts: Sequence[str]) -> Iterator[tuple[str, int]]:
    """Yield each text as (SVG of its symbol, modules along a side with the quiet zone); level M, the same every time."""
    import segno

    for text in texts:
        symbol = segno.make(text, error="m", micro=False, boost_error=False)
        stream = io.BytesIO()
        symbol.save(stream, kind="svg", scale=1, border=4, xmldecl=False, svgns=True, light="#ffffff")
        yield stream.getvalue().decode(), int(symbol.symbol_size(border=4)[0])
