"""A made-up year: the means it was asked for, real sun for the latitude, the same every time."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.comfort.made_weather import made_weather
from subbase.comfort.weather import DAYS_IN_MONTH
from tests.comfort_cases import chicago


def months(values: np.ndarray) -> np.ndarray:
    """Return means by month."""
    ends = np.cumsum(np.array(DAYS_IN_MONTH) * 24)
    return np.array([part.mean() for part in np.split(values, ends[:-1])])


@pytest.mark.parametrize(
    ("winter", "more", "latitude"), [(-20.0, 40.0, 55.0), (-2.0, 8.0, 40.0), (12.0, 12.0, 5.0), (4.0, 16.0, -35.0)]
)
def test_the_months_are_as_asked(winter: float, more: float, latitude: float) -> None:
    """Coldest and warmest month within two kelvin of what was asked; no radiation at night or beyond the sun's."""
    year = made_weather(winter, winter + more, latitude)
    found = months(year.outdoor_c)
    assert found.min() == pytest.approx(winter, abs=2.0)
    assert found.max() == pytest.approx(winter + more, abs=2.0)
    assert (year.global_horizontal_w_m2 >= 0.0).all()
    assert year.direct_normal_w_m2.max() <= 1100.0
    assert (year.diffuse_horizontal_w_m2 <= year.global_horizontal_w_m2 + 1e-6).all()


def test_a_made_up_chicago_is_near_the_real_one() -> None:
    """From two means and the latitude: heating degree days within a tenth, sun within a quarter."""
    real = chicago()
    means = months(real.outdoor_c)
    made = made_weather(float(means.min()), float(means.max()), real.site.latitude_deg)

    def degree_days(outdoor_c: np.ndarray) -> float:
        return float(np.maximum(18.333 - outdoor_c.reshape(-1, 24).mean(axis=1), 0.0).sum())

    assert degree_days(made.outdoor_c) == pytest.approx(degree_days(real.outdoor_c), rel=0.10)
    assert made.global_horizontal_w_m2.mean() == pytest.approx(real.global_horizontal_w_m2.mean(), rel=0.25)


def test_it_is_the_same_twice() -> None:
    """Equal input gives equal years, byte for byte."""
    one, two = made_weather(-3.0, 24.0, 41.0), made_weather(-3.0, 24.0, 41.0)
    assert one.outdoor_c.tobytes() == two.outdoor_c.tobytes()
    assert one.direct_normal_w_m2.tobytes() == two.direct_normal_w_m2.tobytes()
