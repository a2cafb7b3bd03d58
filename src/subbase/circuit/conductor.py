"""Resistance of solid copper conductors from gauge, length and temperature."""

from __future__ import annotations

RESISTIVITY_20C_OHM_MM2_PER_M = 1.0 / 58.0
"""Annealed copper at 20 °C (IEC 60028 gives 1/58 ohm·mm²/m; value from memory)."""
TEMPERATURE_COEFFICIENT_20C_PER_K = 0.00393
"""Of annealed copper at 20 °C (IEC 60028; value from memory)."""
MM_PER_INCH = 25.4


def diameter_mm(gauge_awg: int) -> float:
    """Return the bare diameter of a gauge [mm].

    Notes
    -----
    d = 0.005 in · 92^((36 − n)/39), the diameter law of ASTM B258 (from memory).
    """
    return float(0.005 * MM_PER_INCH * 92.0 ** ((36 - gauge_awg) / 39))


def area_mm2(gauge_awg: int) -> float:
    """Return the copper cross-section of a solid gauge [mm²]."""
    pi_quarter = 0.7853981633974483
    return float(pi_quarter * diameter_mm(gauge_awg) ** 2)


def conductor_ohm(*, gauge_awg: int, length_m: float, temperature_c: float = 20.0) -> float:
    """Return the one-way resistance of a solid copper conductor [ohm].

    Parameters
    ----------
    gauge_awg : int
        American wire gauge, 10 to 30 in this trade.
    length_m : float
        One way [m].
    temperature_c : float
        Of the copper [°C]; linear law, good from −40 to 100 °C.
    """
    at_20c = RESISTIVITY_20C_OHM_MM2_PER_M * length_m / area_mm2(gauge_awg)
    return at_20c * (1.0 + TEMPERATURE_COEFFICIENT_20C_PER_K * (temperature_c - 20.0))
