"""How wide a text is on paper, on the safe side, and how to break it into lines.

Drawings are laid out before any font is at hand, and the viewer of an SVG may lack the font it names. Widths are
therefore upper bounds by class of character, wide enough for the usual sans-serif faces; a test holds them against the
font that the papers embed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from unicodedata import category, combining, east_asian_width

ASCENT_EM, DESCENT_EM = 0.78, 0.24
"""What a line of text takes above and below its baseline, as a share of its size."""
LINE_EM = 1.18
"""Distance of two baselines, as a share of the size."""
_WIDTHS_EM = (
    (" \N{NO-BREAK SPACE}ijl|!.,:;'`·[]()", 0.35),
    ('frtI{}/-"', 0.42),
    ("ceksvxyzJ?_*^1\\", 0.56),
    ("abdghnopquLFTZ$~<>=+", 0.61),
    ("023456789", 0.66),
    ("ABCDEHKNPRSUVXYw#&", 0.73),
    ("GOQ", 0.79),
    ("mM", 0.87),
    ("W%", 0.95),
    ("@", 1.02),
)
_WIDTH_EM = {character: width for characters, width in _WIDTHS_EM for character in characters}
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(V|VA|A|AWG|ft|m|ohm|min)\b)")
_OTHER_EM, _WIDEST_EM = 0.86, 1.40
BOLD = 1.12
"""How much wider a bold text may be."""


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Return an upper bound of a text's width, in the unit of ``size``."""
    return sum(map(_character_em, text)) * size * (BOLD if bold else 1.0)


def _character_em(character: str) -> float:
    known = _WIDTH_EM.get(character)
    if known is not None:
        return known
    if combining(character):
        return 0.0
    return _WIDEST_EM if east_asian_width(character) in "WF" or ord(character) > 0xFFFF else _OTHER_EM


def clean(text: str) -> str:
    """Return a text on one line, without the control characters that no XML and no page can hold."""
    kept = (" " if c.isspace() else c for c in text if c.isspace() or category(c) not in ("Cc", "Cf", "Cs", "Cn", "Co"))
    return " ".join("".join(kept).split())


def shortened(text: str, most: float, size: float, *, bold: bool = False) -> str:
    """Return a text that fits into a width; what does not fit is left out and marked with an ellipsis."""
    text = clean(text)
    if width_of(text, size, bold=bold) <= most:
        return text
    while text and width_of(f"{text}…", size, bold=bold) > most:
        text = text[:-1]
    return f"{text.rstrip()}…"


def wrapped(text: str, most: float, size: float, *, bold: bool = False, lines: int = 99) -> tuple[str, ...]:
    """Return a text as lines no wider than ``most``: broken at spaces, inside a word only where it must be.

    A number stays with its unit.
    ``lines`` is the most lines; the last one ends in an ellipsis when that cuts the text.
    """
    held = _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", clean(text))
    found = [line.replace("\N{NO-BREAK SPACE}", " ") for line in _lines(held, most, size, bold)]
    if len(found) > lines:
        kept = found[: lines - 1]
        return (*kept, shortened(" ".join(found[lines - 1 :]), most, size, bold=bold))
    return tuple(found)


def _lines(text: str, most: float, size: float, bold: bool) -> Iterator[str]:
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if width_of(longer, size, bold=bold) <= most:
            line = longer
            continue
        if line:
            yield line
        while width_of(word, size, bold=bold) > most and len(word) > 1:
            count = next(
                n for n in range(len(word) - 1, 0, -1) if n == 1 or width_of(word[:n], size, bold=bold) <= most
            )
            yield word[:count]
            word = word[count:]  # noqa: PLW2901 - the rest of a word too long for a line
        line = word
    if line:
        yield line
