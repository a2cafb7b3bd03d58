"""The colours of insulation as they are drawn. A colour is a hint for the eye; the label at each end is what counts.

Black and white insulation are not quite the black and white of ink and paper, so that a dark page can turn the one
without the other.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from unicodedata import combining, normalize

NOT_KNOWN = "#b8b8b8"
COLOURS = {
    "red": "#d0211c",
    "white": "#fefefe",
    "green": "#1d8a3c",
    "yellow": "#f7d51d",
    "blue": "#1f62c4",
    "black": "#1a1a1a",
    "brown": "#7a4a21",
    "orange": "#f08a1d",
    "grey": "#8d8d8d",
    "gray": "#8d8d8d",
    "purple": "#7b3fa0",
    "violet": "#7b3fa0",
    "pink": "#f2a0b9",
    "tan": "#d2b48c",
    "clear": "#eef4f6",
}
_SPANISH = {
    "rojo": "red", "blanco": "white", "verde": "green", "amarillo": "yellow", "azul": "blue", "negro": "black",
    "marron": "brown", "cafe": "brown", "naranja": "orange", "gris": "grey", "morado": "purple", "violeta": "purple",
    "rosa": "pink", "transparente": "clear",
}  # fmt: skip
"""Names that a crew may write down as it says them."""


@dataclass(frozen=True, slots=True)
class Insulation:
    """What a piece of insulation looks like."""

    base: str
    stripe: str = ""
    """Colour of a tracer stripe; empty without one."""


def insulation_of(colour: str) -> Insulation:
    """Return how insulation called 'blue' or 'white-orange' looks; grey when no colour is named."""
    bare = "".join(c for c in normalize("NFD", colour.lower()) if not combining(c))
    words = (_SPANISH.get(word, word) for word in re.split(r"[^a-z]+", bare))
    named = [COLOURS[word] for word in words if word in COLOURS]
    if not named:
        return Insulation(NOT_KNOWN)
    return Insulation(named[0], named[1] if len(named) > 1 else "")
