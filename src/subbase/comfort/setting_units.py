"""Outdoor temperatures of settings in the units of the house: as they are set, and as they are told."""

from __future__ import annotations

import math

from subbase.words import _

AUXILIARY_AT_MOST_F = 35.0
"""A published programme keeps auxiliary heat off above it; used as the cap while the house is not known."""


def fahrenheit(celsius: float) -> float:
    """Return a temperature in °F."""
    return celsius * 1.8 + 32.0


def limit_words(limit_f: float, units: str) -> tuple[str, float, str]:
    """Return a limit as it is set, rounded to the warmer whole degree, with its number and unit."""
    if units == "us":
        at = math.ceil(limit_f - 1e-6)
        return _("{at} °F").format(at=at), float(at), "°F"
    at = math.ceil((limit_f - 32.0) / 1.8 - 1e-6)
    return _("{at} °C").format(at=at), float(at), "°C"


def until_known(units: str) -> tuple[str, float, str]:
    """Return the safe limit while the house is not known."""
    _words, limit, unit = limit_words(AUXILIARY_AT_MOST_F, units)
    if units == "us":
        return _("not known; {limit:g} °F until it is").format(limit=limit), limit, unit
    return _("not known; {limit:g} °C until it is").format(limit=limit), limit, unit


def told(point_f: float, units: str) -> str:
    """Return an outdoor temperature that nobody sets, in words where it is none."""
    if math.isinf(point_f):
        return _("any outdoor temperature") if point_f > 0 else _("no outdoor temperature")
    if units == "us":
        return _("{point:.0f} °F").format(point=point_f)
    return _("{point:.0f} °C").format(point=(point_f - 32.0) / 1.8)
