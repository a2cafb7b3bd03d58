"""The ground: exact conversions between the SI units used inside and the US units used at the edge."""

from __future__ import annotations

METRES_PER_FOOT = 0.3048
"""Exact, by the international yard and pound agreement (1959)."""
METRES_PER_INCH = 0.0254
"""Exact."""


def feet_from_metres(length_m: float) -> float:
    """Return a length in feet."""
    return length_m / METRES_PER_FOOT


def metres_from_feet(length_ft: float) -> float:
    """Return a length in metres."""
    return length_ft * METRES_PER_FOOT


def fahrenheit_from_celsius(temperature_c: float) -> float:
    """Return a temperature in degrees Fahrenheit."""
    return temperature_c * 9.0 / 5.0 + 32.0


def celsius_from_fahrenheit(temperature_f: float) -> float:
    """Return a temperature in degrees Celsius."""
    return (temperature_f - 32.0) * 5.0 / 9.0
