"""Sun on walls, roof and glass, hour by hour, and the other drives of a building's heat.

Sun position by the NREL algorithm (Reda and Andreas 2004) and sky by Perez et al. (1990), both as pvlib gives them;
glass by Fresnel's equations and Bouguer's law for panes of clear glass (Duffie and Beckman, Solar Engineering of Thermal
Processes, chapter 5 [from memory]).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
import pvlib
from numpy.typing import NDArray

from subbase.comfort.building import COMPASS, Face
from subbase.comfort.weather import HOURS, KELVIN, STEFAN_BOLTZMANN, Floats, Site, WeatherYear

PARTS = 4
"""Sun positions in an hour; with one, the hours of sunrise and sunset are off."""
GROUND_REFLECTANCE = 0.2
"""Of ground without snow; the value of ASHRAE Standard 140 and EnergyPlus."""
GLASS_INDEX = 1.526
"""Refractive index of clear glass."""
GLASS_KL = 0.0943
"""Extinction times thickness of a 3 mm pane of clear glass; gives its 0.834 at normal incidence (ASHRAE 140-2020 [from memory])."""
PANES = 2
_AZIMUTH_DEG = {Face.NORTH: 0.0, Face.EAST: 90.0, Face.SOUTH: 180.0, Face.WEST: 270.0}

DRIVES = (
    "outdoor_c",
    "ground_c",
    "sky_level_w_m2",
    "sky_upright_w_m2",
    "internal",
    "sun_north_w_m2",
    "sun_east_w_m2",
    "sun_south_w_m2",
    "sun_west_w_m2",
    "sun_sky_w_m2",
    "glass_north_w_m2",
    "glass_east_w_m2",
    "glass_south_w_m2",
    "glass_west_w_m2",
)
"""Columns of a drive. ``sky`` is infrared from the sky less what a black body at outdoor temperature sends (mostly
below 0), per unit of emissivity; ``sun`` falls on a facing; ``glass`` is the sun that counts behind clear double glass,
so that times area and ``shgc`` it is the gain; ``internal`` is a multiple of the mean gain."""
N_INSTANT = 4
"""The first columns are of the instant that ends the hour and are joined by straight lines; the others are hourly means."""


@dataclass(frozen=True, slots=True, eq=False)
class Drive:
    """What the weather and the people do to a house; shared by all houses at one place."""

    values: Floats
    """(8760, 14) columns as in ``DRIVES``."""
    outdoor_c: Floats
    """(8760,) mean over each hour."""


@dataclass(frozen=True, slots=True, eq=False)
class SurfaceSun:
    """Sun on one surface, (8760,) each [W/m²]."""

    beam: Floats
    sky: Floats
    ground: Floats
    through_glass: Floats
    """What passes clear double glass, as a share-weighted sum, relative to normal incidence."""

    @property
    def total(self) -> Floats:
        """All sun on the surface."""
        return self.beam + self.sky + self.ground


@dataclass(frozen=True, slots=True, eq=False)
class _Sky:
    """Sun positions and what they carry, (8760 × PARTS,) each."""

    zenith_deg: Floats
    azimuth_deg: Floats
    extra_w_m2: Floats
    airmass: Floats
    direct_w_m2: Floats
    diffuse_w_m2: Floats


def drive_of(weather: WeatherYear, turned_deg: float = 0.0, gain_by_hour: tuple[float, ...] = (1.0,) * 24) -> Drive:
    """Return the drives of a house whose north side looks ``turned_deg`` east of north."""
    sky = _sky(weather)
    black_w_m2 = STEFAN_BOLTZMANN * (weather.outdoor_c + KELVIN) ** 4
    loss_w_m2 = weather.sky_infrared_w_m2 - black_w_m2
    gains = np.asarray(gain_by_hour, dtype=np.float64)
    sides = [_on_surface(sky, 90.0, (_AZIMUTH_DEG[face] + turned_deg) % 360.0) for face in COMPASS]
    level = _on_surface(sky, 0.0, 180.0)
    columns = [
        weather.outdoor_c,
        weather.ground_c,
        loss_w_m2,
        # Walther's weights as EnergyPlus uses them: an upright surface sees half the sky, of which part counts as air.
        loss_w_m2 * 0.5 * np.sqrt(0.5),
        np.tile(gains, HOURS // 24),
        *(side.total for side in sides),
        level.total,
        *(side.through_glass for side in sides),
    ]
    values = np.ascontiguousarray(np.stack(columns, axis=1))
    values.flags.writeable = False
    return Drive(values, weather.mean_outdoor_c)


def sun_on_surface(weather: WeatherYear, tilt_deg: float, azimuth_deg: float) -> SurfaceSun:
    """Return the sun on a surface; tilt 0 looks up, azimuth is from north by east."""
    return _on_surface(_sky(weather), tilt_deg, azimuth_deg)


def sun_position(
    site: Site, times: pd.DatetimeIndex, pressure_pa: float = 101325.0, outdoor_c: float = 12.0
) -> tuple[Floats, Floats]:
    """Return (zenith seen through air, azimuth) of the sun [degree], one for each time."""
    found = pvlib.solarposition.get_solarposition(
        times, site.latitude_deg, site.longitude_deg, site.elevation_m, pressure_pa, temperature=outdoor_c
    )
    return found["apparent_zenith"].to_numpy(), found["azimuth"].to_numpy()


@lru_cache(maxsize=8)
def _positions(site: Site) -> tuple[Floats, Floats, Floats]:
    """Return zenith, azimuth and extraterrestrial radiation at the middle of each part of each hour of an ordinary year."""
    step = pd.Timedelta(hours=1) / PARTS
    zone = pd.Timedelta(hours=site.utc_offset_h)
    times = pd.date_range("2005-01-01", periods=HOURS * PARTS, freq=step, tz="UTC") + step / 2 - zone
    zenith_deg, azimuth_deg = sun_position(site, times)
    extra_w_m2 = np.asarray(pvlib.irradiance.get_extra_radiation(times.day_of_year.to_numpy()))
    return zenith_deg, azimuth_deg, extra_w_m2


def _sky(weather: WeatherYear) -> _Sky:
    zenith_deg, azimuth_deg, extra_w_m2 = _positions(weather.site)
    up = zenith_deg.reshape(HOURS, PARTS) < np.float64(90.0)
    # The hour's radiation came while the sun was up: at sunrise and sunset that is a part of the hour only.
    share_up = np.maximum(up.mean(axis=1), 1.0 / PARTS)
    direct = np.where(up, (weather.direct_normal_w_m2 / share_up)[:, None], 0.0)
    any_up = np.repeat(up.max(axis=1), PARTS).reshape(HOURS, PARTS)
    diffuse = np.where(any_up, np.where(up, (weather.diffuse_horizontal_w_m2 / share_up)[:, None], 0.0), 0.0)
    airmass = pvlib.atmosphere.get_relative_airmass(np.minimum(zenith_deg, 89.9))
    return _Sky(zenith_deg, azimuth_deg, extra_w_m2, airmass, direct.ravel(), diffuse.ravel())


def _on_surface(sky: _Sky, tilt_deg: float, azimuth_deg: float) -> SurfaceSun:
    cos_incidence = np.clip(
        pvlib.irradiance.aoi_projection(tilt_deg, azimuth_deg, sky.zenith_deg, sky.azimuth_deg), 0.0, 1.0
    )
    cos_zenith = np.maximum(np.cos(np.radians(sky.zenith_deg)), 0.0)
    beam = sky.direct_w_m2 * cos_incidence
    if tilt_deg == 0.0:
        sky_diffuse = sky.diffuse_w_m2
    else:
        with np.errstate(divide="ignore", invalid="ignore"):
            sky_diffuse = pvlib.irradiance.perez(
                tilt_deg,
                azimuth_deg,
                sky.diffuse_w_m2,
                sky.direct_w_m2,
                sky.extra_w_m2,
                sky.zenith_deg,
                sky.azimuth_deg,
                airmass=sky.airmass,
            )
        sky_diffuse = np.nan_to_num(sky_diffuse, nan=0.0)
    view_of_ground = 0.5 * (1.0 - np.cos(np.radians(tilt_deg)))
    ground = GROUND_REFLECTANCE * view_of_ground * (sky.direct_w_m2 * cos_zenith + sky.diffuse_w_m2)
    normal, diffuse_share = clear_glass_gain(np.array([1.0]))[0], _diffuse_glass_gain()
    through = (beam * clear_glass_gain(cos_incidence) + (sky_diffuse + ground) * diffuse_share) / normal

    def hourly(parts: Floats) -> Floats:
        return np.asarray(parts.reshape(HOURS, PARTS).mean(axis=1))

    return SurfaceSun(hourly(beam), hourly(sky_diffuse), hourly(ground), hourly(through))


def clear_glass_gain(cos_incidence: NDArray[np.float64], panes: int = PANES) -> Floats:
    """Return the part of beam sun that clear panes let through at an angle (transmitted only), 0 to 1.

    Panes with the same properties in a row; each pane by Fresnel and Bouguer, both polarisations apart.
    """
    cos_in = np.clip(cos_incidence, 1e-6, 1.0)
    cos_glass = np.sqrt(1.0 - (1.0 - cos_in**2) / GLASS_INDEX**2)
    across = ((cos_in - GLASS_INDEX * cos_glass) / (cos_in + GLASS_INDEX * cos_glass)) ** 2
    along = ((GLASS_INDEX * cos_in - cos_glass) / (GLASS_INDEX * cos_in + cos_glass)) ** 2
    path = np.exp(-GLASS_KL / cos_glass)
    total = np.zeros_like(cos_in)
    for reflected in (across, along):
        through = path * (1.0 - reflected) ** 2 / (1.0 - (reflected * path) ** 2)
        back = reflected * (1.0 + through * path)
        passed, returned = through, back
        for _ in range(panes - 1):
            between = 1.0 - returned * back
            passed, returned = passed * through / between, returned + passed**2 * back / between
        total += 0.5 * passed
    return np.where(cos_incidence > 0.0, total, 0.0)


@lru_cache(maxsize=1)
def _diffuse_glass_gain() -> float:
    """Return the same for light from a whole even half-space."""
    middle = (np.arange(2000, dtype=np.float64) + np.float64(0.5)) / np.float64(2000.0)
    # Weighted by 2 μ dμ.
    return float((clear_glass_gain(middle) * 2.0 * middle).mean())
