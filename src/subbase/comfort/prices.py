"""What energy costs and what it gives off: prices by the hour of the week, and a bill of a year's use.

The carbon factors are starting values that anybody may change: a mean of the United States grid, about 0.37 kg a kWh (EPA
eGRID, 823 lb/MWh of 2022 [from memory]; hours and regions differ by a factor of three), and 5.3 kg a therm of natural gas
burnt (EPA greenhouse gas equivalencies [from memory]; leaks left out).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from subbase.comfort.loop import Hourly, Years
from subbase.comfort.weather import HOURS, Floats

GRID_KG_PER_KWH = 0.37
GAS_KG_PER_THERM = 5.3
J_PER_KWH = 3.6e6
J_PER_THERM = 1.05505585262e8
"""100,000 Btu, international table."""


@dataclass(frozen=True, slots=True)
class Prices:
    """What is paid and what is given off; one currency."""

    electricity_per_kwh: tuple[float, ...]
    """(168,) from Monday midnight, or (1,) for a price that never changes."""
    fuel_per_therm: float = 0.0
    electricity_kg_per_kwh: float = GRID_KG_PER_KWH
    fuel_kg_per_therm: float = GAS_KG_PER_THERM

    @property
    def changes(self) -> bool:
        """Return whether the price of electricity depends on the hour."""
        return len(set(self.electricity_per_kwh)) > 1

    def by_hour(self, first_weekday: int = 0) -> Floats:
        """Return the price of electricity in every hour of the year, (8760,); ``first_weekday`` is that of 1 January."""
        week = np.asarray(self.electricity_per_kwh, dtype=np.float64)
        if len(week) == 1:
            return np.full(HOURS, week[0])
        return np.tile(np.roll(week, -24 * first_weekday), 53)[:HOURS]


@dataclass(frozen=True, slots=True)
class Bill:
    """A year's use, from the equipment's side."""

    electric_kwh: float
    """With strips and cooling."""
    strip_kwh: float
    cooling_kwh: float
    therms: float
    cost: float
    co2_kg: float


def time_of_use(low: float, peak: float, hours: range, days: range = range(5)) -> tuple[float, ...]:
    """Return (168,) prices: ``peak`` in these hours of these days (0 is Monday), else ``low``.

    >>> prices = time_of_use(0.20, 0.45, range(16, 21))
    >>> prices[16], prices[15], prices[24 * 5 + 16]
    (0.45, 0.2, 0.2)
    """
    return tuple(peak if day in days and hour in hours else low for day in range(7) for hour in range(24))


def yearly_costs(hourly: Hourly, prices: Prices) -> Floats:
    """Return the cost of each case's year, (n,)."""
    electricity = hourly.electric_w.astype(np.float64) @ prices.by_hour() / 1000.0
    therms = hourly.fuel_w.astype(np.float64).sum(axis=1) * 3600.0 / J_PER_THERM
    return np.asarray(electricity + therms * prices.fuel_per_therm)


def bill(years: Years, case: int, prices: Prices) -> Bill:
    """Return the bill of one case; the years must hold hours.

    Raises
    ------
    ValueError
        The years were run without hours, so that no price by the hour can be put on them.
    """
    if years.hourly is None:
        raise ValueError("A bill needs the hours of the year: run it with hourly=True.")
    electric_kwh = float(years.electric_j[case]) / J_PER_KWH
    therms = float(years.fuel_j[case]) / J_PER_THERM
    return Bill(
        electric_kwh=electric_kwh,
        strip_kwh=float(years.strip_j[case]) / J_PER_KWH,
        cooling_kwh=float(years.cool_electric_j[case]) / J_PER_KWH,
        therms=therms,
        cost=float(yearly_costs(years.hourly, prices)[case]),
        co2_kg=electric_kwh * prices.electricity_kg_per_kwh + therms * prices.fuel_kg_per_therm,
    )
