"""A made-up year of weather from two monthly means and a latitude, for where no weather file is at hand.

Not a forecast and not a typical year: the seasons as a cosine, days as a cosine with the swing usual inland, and spells of
cold and of cloud drawn with a fixed seed. Clear sky by Haurwitz (1945) as pvlib gives it, parts of it by Erbs, Klein and
Duffie (1982). It serves to compare schedules; a year's bill from it may be off by a quarter [judgement].
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pvlib

from subbase.comfort.sun_on_windows import sun_position
from subbase.comfort.weather import HOURS, KELVIN, STEFAN_BOLTZMANN, Floats, Site, WeatherYear, weather_year

COLDEST_DAY = 18
"""Of the year, north of the equator [judgement]: about four weeks after the solstice."""
DAY_SWING_K = 5.0
"""Half of it, between the coldest and the warmest hour of a clear day [judgement]."""
SPELL_K, SPELL_H = 4.5, 60.0
"""Standard deviation and lasting of warm and cold spells [judgement]."""
CLOUD_MEAN, CLOUD_SPREAD, CLOUD_H = 0.66, 0.25, 20.0
"""Clear-sky index: mean, standard deviation, lasting [judgement]."""
SEED = 20


def made_weather(winter_c: float, summer_c: float, latitude_deg: float, elevation_m: float = 0.0) -> WeatherYear:
    """Return a made-up year; ``winter_c`` and ``summer_c`` are means of the coldest and the warmest month."""
    longitude = -90.0
    site = Site("made-up weather", latitude_deg, longitude, longitude / 15.0, elevation_m)
    hours = np.arange(HOURS)
    coldest_h = 24.0 * (COLDEST_DAY if latitude_deg >= 0.0 else COLDEST_DAY + 182)
    mean_c, half_k = 0.5 * (winter_c + summer_c), 0.5 * (summer_c - winter_c)
    season = mean_c - half_k * np.cos(2.0 * np.pi * (hours - coldest_h) / HOURS)
    rng = np.random.default_rng(SEED)
    cloud = np.clip(CLOUD_MEAN + CLOUD_SPREAD * _spells(rng, CLOUD_H), 0.12, 1.0)
    swing = -DAY_SWING_K * (0.5 + 0.5 * cloud) * np.cos(2.0 * np.pi * (hours % 24 - 4.0) / 24.0)
    spells_k = SPELL_K * _spells(rng, SPELL_H)
    # Spells come and go within a month; its mean was asked for.
    outdoor_c = season + swing + spells_k - _month_around(spells_k)
    times = pd.date_range("2005-01-01 00:30", periods=HOURS, freq="h", tz="UTC") - pd.Timedelta(hours=site.utc_offset_h)
    zenith_deg, _azimuth = sun_position(site, times)
    clear = pvlib.clearsky.haurwitz(pd.Series(zenith_deg)).to_numpy()[:, 0]
    level = np.where(zenith_deg < 87.0, clear * cloud, 0.0)
    parts = pvlib.irradiance.erbs(level, np.minimum(zenith_deg, 86.9), times.day_of_year)
    sky_emissivity = 0.787 + 0.0028 * (outdoor_c - 5.0) + 0.12 * (1.0 - cloud)
    return weather_year(
        site,
        outdoor_c,
        global_horizontal_w_m2=level,
        direct_normal_w_m2=np.clip(np.nan_to_num(np.asarray(parts["dni"])), 0.0, 1100.0),
        diffuse_horizontal_w_m2=np.clip(np.nan_to_num(np.asarray(parts["dhi"])), 0.0, None),
        sky_infrared_w_m2=np.clip(sky_emissivity, 0.6, 1.0) * STEFAN_BOLTZMANN * (outdoor_c + KELVIN) ** 4,
        wind_m_s=np.full(HOURS, 3.5),
        ground_c=mean_c - 0.5 * half_k * np.cos(2.0 * np.pi * (hours - coldest_h - 24.0 * 40.0) / HOURS),
    )


def _month_around(values: Floats) -> Floats:
    """Return the mean of the thirty days around each hour, the year taken as a ring, (8760,)."""
    half = 15 * 24
    ring = np.concatenate([values[-half:], values, values[:half]])
    sums = np.concatenate([[0.0], np.cumsum(ring)])
    return np.asarray((sums[2 * half :] - sums[: -2 * half])[:HOURS] / (2 * half))


def _spells(rng: np.random.Generator, lasting_h: float) -> Floats:
    """Return noise of mean 0 and variance 1 that forgets itself after a time, (8760,)."""
    keep = np.exp(-1.0 / lasting_h)
    shocks = rng.standard_normal(HOURS) * np.sqrt(1.0 - keep**2)
    found = np.empty(HOURS)
    last = float(rng.standard_normal())
    for hour, shock in enumerate(shocks):
        last = keep * last + shock
        found[hour] = last
    return np.asarray((found - found.mean()) / found.std())
