"""Numbers as they stand on paper: the one place where volts, amperes and shares become text.

Digits follow the decimal point in every language there is a catalogue for; a language that writes them otherwise is
given its form here and nowhere else.
"""

from __future__ import annotations

from subbase.words import _

MINUS = "\N{MINUS SIGN}"


def number(value: float, digits: int = 0) -> str:
    """Return a number with a fixed count of digits behind the point."""
    return f"{value:.{digits}f}".replace("-", MINUS)


def share(value: float) -> str:
    """Return a share as whole percent: 0.073 is '7%'."""
    return f"{value:.0%}".replace("-", MINUS)


def signed_share(value: float) -> str:
    """Return a change as whole percent with its sign."""
    return f"{value:+.0%}".replace("-", MINUS)


def span(low: float, high: float, digits: int = 1) -> str:
    """Return two bounds: '22.0 to 26.4'."""
    return _("{low} to {high}").format(low=number(low, digits), high=number(high, digits))


def clock(at: str, units: str) -> str:
    """Return a time of day such as '17:00' as people there read it: '5:00 pm' where the survey has US units."""
    if units != "us":
        return at
    hour, _colon, minute = at.partition(":")
    twelve = int(hour) % 12 or 12
    told = _("{hour}:{minute} am") if int(hour) < 12 else _("{hour}:{minute} pm")
    return told.format(hour=twelve, minute=minute)


def degrees(fahrenheit: float, units: str) -> str:
    """Return a room temperature in the survey's units; whole °F, half °C, as controls take them."""
    if units == "us":
        return f"{fahrenheit:.0f} °F"
    return f"{round((fahrenheit - 32.0) / 1.8 * 2.0) / 2.0:g} °C"
