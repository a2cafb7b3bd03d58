"""One value of a sheet of readings: a number that may bear its unit, a word out of a few, seconds, or what a display shows."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from typing import Literal, TypeVar

from subbase.survey.faults import nearest
from subbase.survey.yaml_tree import plain_words
from subbase.words import _
from subbase.work.air_and_water import K_PER_F, M3_S_PER_CFM, M3_S_PER_GPM, W_PER_BTUH

T = TypeVar("T")
NOT_KNOWN = ("don't know", "dont know", "unknown", "not taken")
_NUMBER = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([^\d\s.,].*)?", re.ASCII)
ELECTRIC: dict[str, tuple[Literal["V", "ohm"], float]] = {
    "V": ("V", 1.0), "mV": ("V", 1e-3), "ohm": ("ohm", 1.0), "kohm": ("ohm", 1e3), "Mohm": ("ohm", 1e6),
    "Ω": ("ohm", 1.0), "kΩ": ("ohm", 1e3), "MΩ": ("ohm", 1e6),
}  # fmt: skip
MOST_VALUE = 1e9
Kind = Literal["temperature", "difference", "air flow", "water flow", "heat", "minutes", "share"]
UNITS_OF: dict[Kind, dict[str, tuple[float, float]]] = {
    "temperature": {"F": (K_PER_F, -32.0 * K_PER_F), "C": (1.0, 0.0)},
    "difference": {"F": (K_PER_F, 0.0), "K": (1.0, 0.0), "C": (1.0, 0.0)},
    "air flow": {"cfm": (M3_S_PER_CFM, 0.0), "m3/h": (1 / 3600.0, 0.0), "L/s": (1e-3, 0.0)},
    "water flow": {"gpm": (M3_S_PER_GPM, 0.0), "L/min": (1e-3 / 60.0, 0.0), "m3/h": (1 / 3600.0, 0.0)},
    "heat": {"Btu/h": (W_PER_BTUH, 0.0), "kW": (1000.0, 0.0)},
    "minutes": {"min": (1.0, 0.0)},
    "share": {"": (1.0, 0.0), "%": (0.01, 0.0)},
}
"""Unit -> (factor, offset) to SI; the first is that of a survey in US units, the second that of one in SI."""


class WrongValue(Exception):
    """A value that cannot be; its text is the sentence of the fault."""


def quantity(written: str, word: str, kind: Kind, *, si: bool) -> float:
    """Return a quantity in SI; a number without a unit is in the survey's.

    Raises
    ------
    WrongValue
        When it is no number, or its unit is not one of the kind, or it cannot be.
    """
    units = UNITS_OF[kind]
    number, unit = split_number(written)
    unit = unit.lstrip("°").strip()
    if unit and unit not in units:
        raise WrongValue(
            _("'{unit}' is not a unit of {word}; {nearest}").format(
                unit=plain_words(unit), word=word, nearest=nearest(unit, [u for u in units if u])
            )
        )
    own = list(units.values())
    factor, offset = units[unit] if unit else own[1 if si and len(own) > 1 and kind != "share" else 0]
    found = number * factor + offset
    if kind == "temperature" and not -60.0 <= found <= 300.0:
        raise WrongValue(
            _("'{written}' is no temperature of air or water in a house.").format(written=plain_words(written))
        )
    if kind != "temperature" and found < 0.0:
        raise WrongValue(_("'{word}' cannot be below 0.").format(word=word))
    return found


def one_of(words: tuple[str, ...]) -> Callable[[str], str]:
    """Return what reads one of a few words."""

    def read(written: str) -> str:
        if written in words:
            return written
        close = next((word for word in words if word.lower() == written.lower()), None)
        if close is None:
            raise WrongValue(
                _("'{written}' is not valid here; {nearest}").format(
                    written=plain_words(written), nearest=nearest(written, list(words))
                )
            )
        return close

    return read


def literal(word: str | None, words: tuple[T, ...]) -> T | None:
    """Return the one of some words that a word is."""
    return next((known for known in words if known == word), None)


def split_number(written: str) -> tuple[float, str]:
    """Return (number, what follows it)."""
    match = _NUMBER.fullmatch(written)
    if match is None:
        raise WrongValue(
            _("'{written}' is not a number; write it as 26.4, or leave it empty when it was not taken.").format(
                written=plain_words(written)
            )
        )
    number = float(match[1])
    if not abs(number) <= MOST_VALUE:
        raise WrongValue(_("'{written}' is more than any meter shows.").format(written=plain_words(written)))
    return number, (match[2] or "").strip()


def amount_shown(written: str) -> tuple[float, str | None]:
    """Return (number, unit where it bears one) of a meter's display; OL is infinite."""
    word, __, rest = written.partition(" ")
    if word.upper() in ("OL", "0L", "O.L", "O.L.") and rest in ("", *ELECTRIC):
        return math.inf, rest or None
    number, unit = split_number(written)
    if unit and unit not in ELECTRIC:
        raise WrongValue(
            _("'{unit}' is not a unit here; {nearest}").format(
                unit=plain_words(unit), nearest=nearest(unit, list(ELECTRIC))
            )
        )
    return number, unit or None


def seconds(written: str) -> float:
    """Return seconds; infinite for what never came."""
    if written.lower() == "never":
        return math.inf
    number, unit = split_number(written)
    if unit not in ("", "s", "min"):
        raise WrongValue(_("'{unit}' is not a unit of time here; valid: s, min.").format(unit=plain_words(unit)))
    if number < 0.0:
        raise WrongValue(_("A time is counted from the call, or from its end, and cannot be below 0."))
    return number * (60.0 if unit == "min" else 1.0)


__all__ = [
    "ELECTRIC", "NOT_KNOWN", "Kind", "WrongValue", "amount_shown", "literal", "one_of", "quantity", "seconds",
]  # fmt: skip
