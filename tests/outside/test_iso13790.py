"""The simple hourly method against known answers."""

from __future__ import annotations

import pytest

from subbase.comfort.hourly import HourlyDrive, HourlyZone, step


@pytest.mark.outside(
    source="ISO 13790:2008 annex C; four single hours worked by an open implementation that cites each equation "
    "(floor 1 m², mass 165 kJ/K, transmission 6 W/K, sun 1 W).",
    how="read in open code and run there; digits as printed",
)
@pytest.mark.parametrize(
    ("flow_m3_s", "outdoor_c", "mass_c", "need_w", "mass_end_c", "air_c"),
    [
        (1.0, 0.0, 5.0, 18087.667428, 4.827470, 8.307387),
        (0.01, 13.0, 11.0, 56.158672, 11.990968, 15.0),
        (1.0, 25.0, 17.0, -5980.425990, 18.718524, 20.0),
        (1.0, 30.0, 27.0, -12061.446779, 26.567408, 21.705865),
    ],
)
def test_hours_of_the_hourly_method(
    flow_m3_s: float, outdoor_c: float, mass_c: float, need_w: float, mass_end_c: float, air_c: float
) -> None:
    """Unrestricted need, mass and air temperature to six decimals, limited and not, heating and cooling."""
    zone = HourlyZone(
        A_f=1.0, A_m=2.5, C_m=165e3, H_op=6.0, H_w=0.0, H_ve=1200.0 * flow_m3_s, heat_limit_w=1e4, cool_limit_w=1e4
    )
    hour = step(zone, HourlyDrive(outdoor_c, outdoor_c, internal_w=0.0, sun_w=1.0), mass_c, heat_c=15.0, cool_c=20.0)
    assert hour.unrestricted_w == pytest.approx(need_w, abs=1e-6)
    assert hour.given_w == pytest.approx(max(min(need_w, 1e4), -1e4), abs=1e-6)
    assert hour.mass_c == pytest.approx(mass_end_c, abs=1e-6)
    assert hour.air_c == pytest.approx(air_c, abs=1e-6)
