"""Weather files that are broken: every fault in one sentence, with its line."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from subbase.comfort.weather import WeatherYear, cooling_degree_days, heating_degree_days, read_epw
from subbase.errors import Fault, InputError
from tests.comfort_cases import CHICAGO


@pytest.fixture(scope="module")
def lines() -> list[str]:
    """Return a good file's lines."""
    return CHICAGO.read_text(encoding="latin-1").splitlines()


def read(tmp_path: Path, lines: list[str]) -> WeatherYear:
    """Write lines to a file and read it."""
    path = tmp_path / "year.epw"
    path.write_text("\n".join(lines), encoding="latin-1")
    return read_epw(path)


def faults_of(tmp_path: Path, lines: list[str]) -> tuple[Fault, ...]:
    """Return the faults of a file that cannot be read."""
    with pytest.raises(InputError) as caught:
        read(tmp_path, lines)
    return caught.value.faults


def with_cell(lines: list[str], row: int, column: int, value: str) -> list[str]:
    """Return lines with one cell of an hourly row changed."""
    cells = lines[8 + row].split(",")
    cells[column] = value
    return [*lines[: 8 + row], ",".join(cells), *lines[9 + row :]]


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """A path that does not exist is one fault that names it."""
    with pytest.raises(InputError) as caught:
        read_epw(tmp_path / "none.epw")
    assert "none.epw" in str(caught.value)


def test_another_file_is_no_weather(tmp_path: Path) -> None:
    """A file that does not begin with LOCATION is refused, and an empty one too."""
    assert "LOCATION" in faults_of(tmp_path, ["name,value", "1,2"])[0].message
    assert "LOCATION" in faults_of(tmp_path, [""])[0].message


def test_bad_cells_have_line_and_name(tmp_path: Path, lines: list[str]) -> None:
    """A word, a temperature out of range and a missing one are three faults at their lines."""
    broken = with_cell(with_cell(with_cell(lines, 10, 6, "warm"), 20, 6, "-88"), 30, 6, "99.9")
    faults = faults_of(tmp_path, broken)
    assert [(fault.line, fault.where) for fault in faults] == [(19, "dry bulb"), (29, "dry bulb"), (39, "dry bulb")]
    assert "warm" in faults[0].message
    assert "missing" in faults[2].message


def test_a_cut_file_tells_its_hours(tmp_path: Path, lines: list[str]) -> None:
    """A file that ends early says how many hours it holds; a row cut in its middle has its line."""
    assert "500 hours" in faults_of(tmp_path, lines[:508])[0].message
    assert faults_of(tmp_path, [*lines[:600], "1999,1,1"])[0].line == 601


def test_a_bad_place_is_a_fault(tmp_path: Path, lines: list[str]) -> None:
    """Latitude out of range is named."""
    cells = lines[0].split(",")
    cells[6] = "123"
    assert faults_of(tmp_path, [",".join(cells), *lines[1:]])[0].where == "latitude"


def test_many_faults_end(tmp_path: Path, lines: list[str]) -> None:
    """Reading stops after twenty faults."""
    assert len(faults_of(tmp_path, [*lines[:8], *["1,2,3"] * 8760])) == 20


def test_what_may_be_missing_is_filled(tmp_path: Path, lines: list[str]) -> None:
    """Missing wind, dew point and sky infrared are filled with likely values."""
    good = read(tmp_path, lines)
    gaps = lines
    for column, mark in ((21, "999"), (7, "99.9"), (12, "9999")):
        gaps = with_cell(gaps, 100, column, mark)
    filled = read(tmp_path, gaps)
    for name in ("wind_m_s", "dew_point_c", "sky_infrared_w_m2"):
        assert np.isfinite(getattr(filled, name)).all()
    assert filled.sky_infrared_w_m2[100] == pytest.approx(good.sky_infrared_w_m2[100], rel=0.25)
    assert filled.wind_m_s[100] == pytest.approx((good.wind_m_s[99] + good.wind_m_s[101]) / 2)


def test_a_leap_day_is_left_out(tmp_path: Path, lines: list[str]) -> None:
    """A file with 29 February is a year of 8,760 hours."""
    end = 8 + (31 + 28) * 24
    leap = [
        ",".join([cells[0], "2", "29", *cells[3:]]) for cells in (line.split(",") for line in lines[end - 24 : end])
    ]
    assert np.array_equal(
        read(tmp_path, [*lines[:end], *leap, *lines[end:]]).outdoor_c, read(tmp_path, lines).outdoor_c
    )


def test_arrays_are_read_only(tmp_path: Path, lines: list[str]) -> None:
    """A year handed out cannot be changed; degree days of a higher base are more heating and less cooling."""
    weather = read(tmp_path, lines)
    with pytest.raises(ValueError, match="read-only"):
        weather.outdoor_c[0] = 0.0
    assert heating_degree_days(weather, 20.0) > heating_degree_days(weather, 15.0)
    assert cooling_degree_days(weather, 20.0) < cooling_degree_days(weather, 15.0)
