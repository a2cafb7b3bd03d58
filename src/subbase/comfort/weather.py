"""A year of hourly weather, read from an EPW file.

EPW is the open format of the EnergyPlus Auxiliary Programs guide ("EnergyPlus Weather File (EPW) Data Dictionary"):
eight header lines, then 8,760 rows. A row is labelled with the hour that ends at it; temperatures are of that instant,
radiation is the sum over the hour before it. Index ``h`` here is the hour from ``h`` to ``h + 1`` after new year, in
local standard time.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.words import _

Floats = NDArray[np.float64]

HOURS = 8760
"""Hours in a weather year; a leap day is left out."""
HEADER_LINES = 8
MOST_BYTES = 10_000_000
"""Of a file that is read."""
MAX_FAULTS = 20
"""Reading stops after this many faults: more would bury the first."""
DAYS_IN_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
STEFAN_BOLTZMANN = 5.670374419e-8
"""W/(m² K⁴), exact to its digits (SI 2019)."""
KELVIN = 273.15


@dataclass(frozen=True, slots=True)
class Site:
    """Where the weather was taken."""

    name: str
    latitude_deg: float
    longitude_deg: float
    """East is positive."""
    utc_offset_h: float
    elevation_m: float


@dataclass(frozen=True, slots=True, eq=False)
class WeatherYear:
    """8,760 hours of weather; every array is (8760,), read-only."""

    site: Site
    outdoor_c: Floats
    """Dry bulb at the end of each hour."""
    dew_point_c: Floats
    pressure_pa: Floats
    wind_m_s: Floats
    global_horizontal_w_m2: Floats
    """Mean over each hour, as the two below."""
    direct_normal_w_m2: Floats
    diffuse_horizontal_w_m2: Floats
    sky_infrared_w_m2: Floats
    """Infrared from the sky on a level surface, at the end of each hour."""
    ground_c: Floats
    """Ground at half a metre, by the month; the year's mean air where the file gives none."""
    mean_outdoor_c: Floats
    """Mean dry bulb over each hour, the file's instants joined by straight lines."""


@dataclass(frozen=True, slots=True)
class _Column:
    """One column of a row: where it is, what it may be and what stands for missing."""

    name: str
    index: int
    low: float
    high: float
    missing: float


# Ranges and missing marks of the data dictionary; the low bound of dry bulb and the high ones of radiation are judgement.
_COLUMNS = (
    _Column("dry bulb", 6, -70.0, 70.0, 99.9),
    _Column("dew point", 7, -80.0, 70.0, 99.9),
    _Column("pressure", 9, 31000.0, 120000.0, 999999.0),
    _Column("infrared from the sky", 12, 0.0, 900.0, 9999.0),
    _Column("global horizontal radiation", 13, 0.0, 1600.0, 9999.0),
    _Column("direct normal radiation", 14, 0.0, 1500.0, 9999.0),
    _Column("diffuse horizontal radiation", 15, 0.0, 1200.0, 9999.0),
    _Column("wind speed", 21, 0.0, 60.0, 999.0),
)
_MAY_BE_MISSING = {"dew point", "infrared from the sky", "pressure", "wind speed", "global horizontal radiation"}
_LAST_COLUMN = 21


def read_epw(path: str | Path) -> WeatherYear:
    """Return the weather of an EPW file.

    Missing dew point, pressure, wind and sky infrared are filled (sky infrared by the file's dew point and a clear
    sky, Walton 1983 as the EnergyPlus engineering reference gives it, from memory); missing temperature or radiation
    is a fault, because a year's energy follows from them.

    Raises
    ------
    InputError
        The file is not a readable EPW year; every fault has its line.
    """
    path = Path(path)
    name = str(path)
    raw = read_at_most(path, MOST_BYTES)
    if len(raw) > MOST_BYTES:
        said = _("The file is larger than {most} MB; a year of weather is about 1.6 MB.")
        raise InputError((Fault(said.format(most=MOST_BYTES // 1_000_000), file=name),))
    return parse_epw(raw.decode("latin-1"), name)


def parse_epw(text: str, name: str = "") -> WeatherYear:
    """Return the weather of an EPW text; ``name`` is that of its file, for faults.

    Raises
    ------
    InputError
        As ``read_epw``.
    """
    lines = text.splitlines()
    if not lines or not lines[0].upper().startswith("LOCATION"):
        message = _("This is no EPW weather file: its first line must begin with LOCATION.")
        raise InputError((Fault(message, file=name, line=1, column=1),))
    site = _read_site(lines[0], name)
    values = _read_rows(lines, name)
    ground_c = _read_ground(lines[:HEADER_LINES], values["dry bulb"])
    return _weather(site, values, ground_c)


def weather_year(site: Site, outdoor_c: Floats, **given: Floats) -> WeatherYear:
    """Return a weather year from arrays (8760,), for made-up weather: what is not given is dark, dry and still.

    ``given`` may hold any other array field of ``WeatherYear`` except ``mean_outdoor_c``.
    """
    zeros = np.zeros(HOURS)
    values = {
        "dry bulb": np.asarray(outdoor_c, dtype=np.float64),
        "dew point": given.get("dew_point_c", outdoor_c - 5.0),
        "pressure": given.get("pressure_pa", np.full(HOURS, standard_pressure_pa(site.elevation_m))),
        "infrared from the sky": given.get("sky_infrared_w_m2", STEFAN_BOLTZMANN * (outdoor_c + KELVIN) ** 4),
        "global horizontal radiation": given.get("global_horizontal_w_m2", zeros),
        "direct normal radiation": given.get("direct_normal_w_m2", zeros),
        "diffuse horizontal radiation": given.get("diffuse_horizontal_w_m2", zeros),
        "wind speed": given.get("wind_m_s", zeros),
    }
    return _weather(site, values, given.get("ground_c", np.full(HOURS, float(np.mean(outdoor_c)))))


def standard_pressure_pa(elevation_m: float) -> float:
    """Return the pressure of the standard atmosphere (ASHRAE Fundamentals, chapter 1, equation 3) [Pa]."""
    return float(101325.0 * (1.0 - 2.25577e-5 * elevation_m) ** 5.2559)


def heating_degree_days(weather: WeatherYear, base_c: float = 18.0 + 1.0 / 3.0) -> float:
    """Return heating degree days from daily means of the 24 hourly values [K day]; the base is 65 °F unless given."""
    daily_c = weather.outdoor_c.reshape(365, 24).mean(axis=1)
    return float(np.maximum(base_c - daily_c, 0.0).sum())


def cooling_degree_days(weather: WeatherYear, base_c: float = 18.0 + 1.0 / 3.0) -> float:
    """Return cooling degree days from daily means of the 24 hourly values [K day]; the base is 65 °F unless given."""
    daily_c = weather.outdoor_c.reshape(365, 24).mean(axis=1)
    return float(np.maximum(daily_c - base_c, 0.0).sum())


def _weather(site: Site, values: dict[str, Floats], ground_c: Floats) -> WeatherYear:
    outdoor_c = values["dry bulb"]

    def frozen(array: Floats) -> Floats:
        copy = np.array(array, dtype=np.float64)
        copy.flags.writeable = False
        return copy

    return WeatherYear(
        site=site,
        outdoor_c=frozen(outdoor_c),
        dew_point_c=frozen(values["dew point"]),
        pressure_pa=frozen(values["pressure"]),
        wind_m_s=frozen(values["wind speed"]),
        global_horizontal_w_m2=frozen(values["global horizontal radiation"]),
        direct_normal_w_m2=frozen(values["direct normal radiation"]),
        diffuse_horizontal_w_m2=frozen(values["diffuse horizontal radiation"]),
        sky_infrared_w_m2=frozen(values["infrared from the sky"]),
        ground_c=frozen(ground_c),
        mean_outdoor_c=frozen(0.5 * (outdoor_c + np.roll(outdoor_c, 1))),
    )


def _read_site(line: str, file: str) -> Site:
    """Read the LOCATION line: city, state, country, source, station, latitude, longitude, time zone, elevation."""
    cells = [cell.strip() for cell in line.split(",")]
    if len(cells) < 10:
        message = _("LOCATION has {count} cells and needs 10: name to elevation.").format(count=len(cells))
        raise InputError((Fault(message, file=file, line=1, column=1),))
    wanted = (("latitude", 90.0), ("longitude", 180.0), ("time zone", 14.0), ("elevation", 9000.0))
    found: list[float] = []
    faults: list[Fault] = []
    for (name, most), cell in zip(wanted, cells[6:10], strict=True):
        value = _number(cell)
        if value is None or abs(value) > most:
            message = _("{cell!r} must be a number up to ±{most:g}.").format(cell=cell[:40], most=most)
            faults.append(Fault(message, name, file, 1, 1))
        else:
            found.append(value)
    if faults:
        raise InputError(tuple(faults))
    return Site(", ".join(cell for cell in cells[1:3] if cell and cell != "-"), *found)


def _read_rows(lines: list[str], file: str) -> dict[str, Floats]:
    """Read the hourly rows, 29 February left out."""
    faults: list[Fault] = []
    table: list[list[float]] = []
    for number, line in enumerate(lines[HEADER_LINES:], start=HEADER_LINES + 1):
        if not line.strip():
            continue
        cells = line.split(",")
        if len(cells) <= _LAST_COLUMN:
            message = _("The row has {count} cells and needs at least {least}; is the file cut off here?").format(
                count=len(cells), least=_LAST_COLUMN + 1
            )
            faults.append(Fault(message, "", file, number, 1))
        elif (cells[1].strip().lstrip("0"), cells[2].strip().lstrip("0")) != ("2", "29"):
            table.append(_read_row(cells, file, number, faults))
        if len(faults) >= MAX_FAULTS:
            break
    if len(table) != HOURS and not faults:
        message = _("The file holds {count} hours and needs {needed}: one whole year of hourly rows.").format(
            count=len(table), needed=HOURS
        )
        faults.append(Fault(message, "", file, len(lines), 1))
    if faults:
        raise InputError(tuple(faults))
    array = np.array(table)
    values = {column.name: array[:, k].copy() for k, column in enumerate(_COLUMNS)}
    return _filled(values)


def _read_row(cells: list[str], file: str, number: int, faults: list[Fault]) -> list[float]:
    row: list[float] = []
    for column in _COLUMNS:
        cell = cells[column.index].strip()
        value = _number(cell)
        place = 1 + sum(len(before) + 1 for before in cells[: column.index])
        if value is None:
            message = _("{cell!r} is no number.").format(cell=cell[:40])
            faults.append(Fault(message, column.name, file, number, place))
        elif value >= column.missing or (value < column.low or value > column.high):
            if value >= column.missing and column.name in _MAY_BE_MISSING:
                value = np.nan
            elif value >= column.missing:
                message = _("The value is marked missing, and a year's energy cannot be told without it.")
                faults.append(Fault(message, column.name, file, number, place))
            else:
                message = _("{cell} is outside {low:g} to {high:g}.").format(
                    cell=cell[:40], low=column.low, high=column.high
                )
                faults.append(Fault(message, column.name, file, number, place))
        row.append(np.nan if value is None else value)
    return row


def _filled(values: dict[str, Floats]) -> dict[str, Floats]:
    """Fill what may be missing: by the hours beside it, or by a rule where the whole column is missing."""
    outdoor_c = values["dry bulb"]
    rules = {
        "dew point": outdoor_c - 5.0,
        "pressure": np.full(len(outdoor_c), 101325.0),
        "wind speed": np.full(len(outdoor_c), 3.0),
    }
    hours = np.arange(len(outdoor_c))
    for name, rule in rules.items():
        known = ~np.isnan(values[name])
        values[name] = np.interp(hours, hours[known], values[name][known]) if known.any() else rule
    lacking = np.isnan(values["global horizontal radiation"])
    # Not used by the sums on tilted surfaces, so the diffuse part stands in.
    values["global horizontal radiation"][lacking] = values["diffuse horizontal radiation"][lacking]
    sky = values["infrared from the sky"]
    lacking = np.isnan(sky) | (sky <= 0.0)
    emissivity = 0.787 + 0.764 * np.log((values["dew point"] + KELVIN) / KELVIN)
    values["infrared from the sky"] = np.where(lacking, emissivity * STEFAN_BOLTZMANN * (outdoor_c + KELVIN) ** 4, sky)
    return values


def _read_ground(header: list[str], outdoor_c: Floats) -> Floats:
    """Return the ground temperature by hour from the shallowest depth given, or the year's mean air."""
    for line in header:
        cells = [cell.strip() for cell in line.split(",")]
        if cells[0].upper() != "GROUND TEMPERATURES" or len(cells) < 18 or _number(cells[1]) in (None, 0.0):
            continue
        months = [_number(cell) for cell in cells[6:18]]
        known = [value for value in months if value is not None]
        if len(known) == 12:
            return np.repeat(known, [days * 24 for days in DAYS_IN_MONTH])
    return np.full(len(outdoor_c), float(outdoor_c.mean()))


def _number(cell: str) -> float | None:
    try:
        value = float(cell)
    except ValueError:
        return None
    return value if np.isfinite(value) else None
