"""What a meter must show, in words: the one place where bounds become text, for papers, pages, terminal and verdicts."""

from __future__ import annotations

import math

from subbase.words import _

OVER_RANGE = "OL"
"""What a meter shows of an open circuit."""


def bounds_words(low: float, high: float, unit: str) -> str:
    """Return bounds as they are read off a meter: '22.0 to 26.4 V', '40.0 ohm to OL', 'OL'."""
    if math.isinf(low) and low > 0:
        return OVER_RANGE
    if math.isinf(low):
        return _("{high} {unit} or less").format(high=f"{high:.1f}", unit=unit)
    if math.isinf(high) and unit != "ohm":
        return _("{low} {unit} or more").format(low=f"{low:.1f}", unit=unit)
    if math.isinf(high):
        return _("{low} {unit} to OL").format(low=f"{low:.1f}", unit=unit)
    return _("{low} to {high} {unit}").format(low=f"{low:.1f}", high=f"{high:.1f}", unit=unit)


def temperature_words(low: float, high: float, unit: str) -> str:
    """Return bounds of a temperature in whole degrees of ``unit``; an infinite end is left open."""
    if math.isinf(high):
        return _("{low} {unit} or more").format(low=f"{low:.0f}", unit=unit)
    if math.isinf(low):
        return _("{high} {unit} or less").format(high=f"{high:.0f}", unit=unit)
    return _("{low} to {high} {unit}").format(low=f"{low:.0f}", high=f"{high:.0f}", unit=unit)
