"""Balance points of a heat pump: where it no longer carries the house, and where another fuel becomes cheaper.

Capacity and power follow AHRI 210/240 (``equipment.heat_pump_line``): three straight lines, with a step at 45 °F where
frost begins. A straight load is the same shape, so both points are the zero of one such line and are found exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from subbase.comfort.equipment import F17_C, F35_C, F45_C, F47_C, HeatPumpRating

WARMEST_C = (65 - 32) / 1.8
"""Above this no house needs heat; a point that is not met here is never met."""
BTU_PER_KWH = 3412.14
BTU_PER_THERM = 100_000.0
_RATED_C = (F17_C, F35_C, F47_C)

AHRI_REGIONS = {
    "I": (37.0, 58.0, 1.10),
    "II": (27.0, 57.0, 1.06),
    "III": (17.0, 56.0, 1.30),
    "IV": (5.0, 55.0, 1.15),
    "V": (-10.0, 55.0, 1.16),
    "VI": (30.0, 57.0, 1.11),
}
"""Climate region -> (design outdoor °F, zero-load °F, slope factor C) of AHRI 210/240-2023, as EnergyPlus gives them."""


@dataclass(frozen=True, slots=True)
class LoadLine:
    """What a house loses against outdoor temperature: ``loss_w_k`` times the kelvins under ``no_heat_c``."""

    loss_w_k: float
    no_heat_c: float
    """Outdoor temperature at which sun, people and appliances keep the house warm alone."""

    def load_w(self, outdoor_c: float) -> float:
        """Return the heat needed [W]; negative above ``no_heat_c``."""
        return self.loss_w_k * (self.no_heat_c - outdoor_c)


def load_line(loss_w: float, design_c: float, no_heat_c: float) -> LoadLine:
    """Return the line through a heat loss at a design temperature.

    Raises
    ------
    ValueError
        The design temperature is not under the no-heat temperature, or the loss is not above zero.
    """
    if design_c >= no_heat_c:
        raise ValueError(
            f"A design temperature of {design_c:g} °C must lie under {no_heat_c:g} °C, where no heat is needed."
        )
    if not loss_w > 0.0:
        raise ValueError(f"A heat loss of {loss_w:g} W must be above zero.")
    return LoadLine(loss_w / (no_heat_c - design_c), no_heat_c)


def ahri_load_line(region: str, cool_95f_w: float) -> LoadLine:
    """Return the building load line of AHRI 210/240-2023 for a region ('I' to 'VI') and a rated cooling capacity [W]."""
    design_f, zero_f, factor = AHRI_REGIONS[region]
    return load_line(factor * cool_95f_w, (design_f - 32.0) / 1.8, (zero_f - 32.0) / 1.8)


def thermal_balance_c(rating: HeatPumpRating, load: LoadLine) -> float:
    """Return the outdoor temperature under which the heat pump alone falls short [°C].

    ``inf`` when it falls short at any temperature, ``-inf`` when it never does. Under 17 °F the line is the rating's
    own, drawn on; a compressor's own low limit is not in it.
    """
    heat = (rating.heat_17f_w, rating.heat_35f_w, rating.heat_47f_w)
    spare = [have_w - load.load_w(at_c) for have_w, at_c in zip(heat, _RATED_C, strict=True)]
    return _short_below_c(*spare)


def economic_balance_c(rating: HeatPumpRating, break_even: float) -> float:
    """Return the outdoor temperature under which the heat pump's COP is under a break-even COP [°C].

    ``inf`` when it is so at any temperature, ``-inf`` when at none. Cycling and defrost beyond the 35 °F rating are
    left out: both make the heat pump a little dearer.
    """
    return _short_below_c(
        rating.heat_17f_w - break_even * rating.power_17f_w,
        rating.heat_35f_w - break_even * rating.power_35f_w,
        rating.heat_47f_w - break_even * rating.power_47f_w,
    )


def break_even_cop(electricity_per_kwh: float, fuel_per_therm: float, fuel_efficiency: float) -> float:
    """Return the COP at which a unit of heat costs the same from a heat pump and from a burner.

    An identity: (price/kWh)/3412.14 per COP against (price/therm)/100000 per efficiency. One currency for both prices.

    Raises
    ------
    ValueError
        A price or the efficiency is not above zero, or the efficiency is above 1.
    """
    if not (electricity_per_kwh > 0.0 and fuel_per_therm > 0.0):
        raise ValueError("Both prices must be above zero.")
    if not 0.0 < fuel_efficiency <= 1.0:
        raise ValueError(f"An efficiency of {fuel_efficiency:g} must lie above 0 and not above 1.")
    return electricity_per_kwh / BTU_PER_KWH * BTU_PER_THERM * fuel_efficiency / fuel_per_therm


def _short_below_c(at_17: float, at_35: float, at_47: float) -> float:
    """Return the warmest outdoor temperature under which an AHRI line is below zero, seen from the warm side."""
    dry = (at_47 - at_17) / (F47_C - F17_C)
    frost = (at_35 - at_17) / (F35_C - F17_C)
    if at_17 + dry * (WARMEST_C - F17_C) < 0.0:
        return math.inf
    if at_17 + dry * (F45_C - F17_C) < 0.0:
        return F17_C - at_17 / dry
    if at_17 + frost * (F45_C - F17_C) < 0.0:
        return F45_C
    if at_17 < 0.0:
        return F17_C - at_17 / frost
    return F17_C - at_17 / dry if dry > 0.0 else -math.inf
