"""The sun's place: the algorithm's own worked example, and every interpolated minute against the library asked directly."""

from __future__ import annotations

import datetime
from math import acos, degrees

import numpy as np
import pandas as pd
import pvlib
import pytest

from subbase.siting.sun_year import sun_year, true_direction

SPA = "Reda and Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302, worked example"


@pytest.mark.outside(
    source=SPA, how="2003-10-17 12:30:30 UTC-7, 39.742476 N 105.1786 W: zenith 50.11162, azimuth 194.34024 deg"
)
def test_the_worked_example_of_the_algorithm() -> None:
    """At the published moment the sun stands at the published zenith and azimuth, but for site height and refraction.

    The example stands at 1830 m with its own air: parallax and refraction move the zenith by less than 0.02 degrees.
    """
    moment = datetime.datetime(2003, 10, 17, 19, 30, 30, tzinfo=datetime.UTC).timestamp()
    east, north, up = true_direction(np.array([moment]), 39.742476, -105.1786, 2003)[:, 0]
    assert degrees(np.arctan2(east, north)) % 360.0 == pytest.approx(194.34024, abs=2e-4)
    assert degrees(acos(up)) == pytest.approx(50.11162, abs=0.02)


@pytest.mark.outside(
    source="pvlib.solarposition.get_solarposition (nrel_numpy)", how="5,000 random minutes of the year at five places"
)
@pytest.mark.parametrize(
    ("latitude", "longitude", "offset"),
    [(41.9, -87.6, -6.0), (64.8, -147.7, -9.0), (1.3, 103.8, 8.0), (-33.9, 151.2, 10.0), (40.0, 0.0, 0.0)],
)
def test_every_interpolated_minute_is_the_library_s_own(latitude: float, longitude: float, offset: float) -> None:
    """Where the library asked for that very minute puts the sun, refraction included, the year has it within 0.001 degrees."""
    sun = sun_year(latitude, longitude, offset)
    picked = np.sort(np.random.default_rng(8).choice(sun.day.size, 5000, replace=False))
    start = pd.Timestamp(f"{sun.year}-01-01", tz="UTC") - pd.Timedelta(hours=offset)
    at = start + pd.to_timedelta((sun.day * 1440 + sun.minute)[picked] + 0.5, unit="min")
    found = pvlib.solarposition.get_solarposition(at, latitude, longitude, method="nrel_numpy")
    elevation, azimuth = np.radians(found["apparent_elevation"]), np.radians(found["azimuth"])
    want = np.stack([np.cos(elevation) * np.sin(azimuth), np.cos(elevation) * np.cos(azimuth), np.sin(elevation)])
    have = np.stack([sun.east, sun.north, sun.up])[:, picked]
    assert np.degrees(np.linalg.norm(want - have, axis=0)).max() < 1e-3


@pytest.mark.outside(
    source="the length of daylight",
    how="half the year and a little more, by refraction and the sun's height at the pole",
)
def test_half_of_all_minutes_have_the_sun_up() -> None:
    """At any place the sun is up for a little more than half the year."""
    for latitude in (0.0, 41.9, -60.0):
        assert 0.5 < sun_year(latitude, 0.0, 0.0).day.size / 525600 < 0.53
