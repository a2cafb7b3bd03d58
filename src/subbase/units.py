"""The ground: exact conversions between the SI units used inside and the US units used at the edge."""

from __future__ import annotations

METRES_PER_FOOT = 0.3048
"""Exact, by the international yard and pound agreement (1959)."""


def feet_from_metres(length_m: float) -> float:
    """Return a length in feet."""
    return length_m / METRES_PER_FOOT
