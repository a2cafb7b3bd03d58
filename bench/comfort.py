"""A year of a house under control, minute by minute: EnergyPlus, scipy, the readable reference and the kernel."""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from bench.report import Result, timed
from subbase.comfort.closed_form import OneNode
from subbase.comfort.equipment import air_conditioner, furnace, heat_pump, ideal, typical_heat_pump
from subbase.comfort.habits import Habits, Wishes
from subbase.comfort.house import HouseFacts, believe, sample, typical
from subbase.comfort.loop import Case, Minutes, Setpoints, run_many, run_minutes, run_year, weekly_setpoints
from subbase.comfort.loop_reference import run_reference
from subbase.comfort.network import plant_of
from subbase.comfort.optimise import cheapest_week
from subbase.comfort.outcomes import Scene
from subbase.comfort.prices import Prices, time_of_use
from subbase.comfort.schedule import PricedDay, cheapest_day
from subbase.comfort.sun_on_windows import N_INSTANT, Drive, drive_of
from subbase.comfort.weather import Floats, read_epw
from tests.outside.energyplus_runner import run_energyplus, weather_path

PLACE = "Chicago"
YEAR_MIN = 525_600
HOUSES = 1_000
PIECE = (14 * 24, 24)
"""First hour and hours of what the slow ways are timed on."""


def run(docs: Path) -> Result:
    """Measure all ways on one house, then the kernel on many."""
    del docs
    weather = read_epw(weather_path(PLACE))
    drive = drive_of(weather)
    facts = HouseFacts(180.0)
    building = typical(facts)
    equipment = furnace(14e3, 0.92, (0.6, 1.0)).with_cooling(air_conditioner(9e3, 3.4))
    pump = heat_pump(typical_heat_pump(9e3), (5e3, 5e3), compressor_lockout_c=-12.0, auxiliary_lockout_c=4.0)
    heat_c, cool_c, setpoints = night()
    case = Case(plant_of(building), equipment, setpoints)
    many = [Case(plant_of(house), pump, setpoints) for house in sample(believe(facts), HOUSES, seed=1)]
    piece_min = PIECE[1] * 60
    scene = Scene(case.plant, pump, drive, Habits(), Wishes(), Prices(time_of_use(0.15, 0.45, range(16, 21)), 1.5))
    searched = cheapest_week(scene).years_run
    begun_s = time.process_time()
    run_many(many, drive, threads=2)
    cpu_s = time.process_time() - begun_s
    kernel = run_minutes(case, drive, *PIECE, warm_up_h=24)
    error_k = np.abs(kernel.air_c - integrated(case, drive, kernel)).max()
    if error_k > 1e-6:
        raise SystemExit(f"The kernel and scipy disagree by {error_k} K; speed means nothing until they agree.")
    rows = [
        timed(
            "EnergyPlus, ten-minute steps",
            YEAR_MIN,
            lambda: run_energyplus(building, weather_path(PLACE), heat_c, cool_c, wall_height_m=facts.ceiling_m),
            runs=3,
        ),
        timed("scipy, one day", piece_min, lambda: integrated(case, drive, kernel), runs=3),
        timed("reference, one day", piece_min, lambda: run_reference(case, drive, *PIECE, warm_up_h=0), runs=3),
        timed(
            "kernel, one house, ideal loads",
            YEAR_MIN,
            lambda: run_year(Case(case.plant, ideal(), setpoints), drive, hourly=False),
            runs=15,
        ),
        timed("kernel, one house", YEAR_MIN, lambda: run_year(case, drive, hourly=False), runs=15),
        timed("kernel, one house, heat pump", YEAR_MIN, lambda: run_year(many[0], drive, hourly=False), runs=15),
        timed("kernel, 1,000 houses, one thread", HOUSES * YEAR_MIN, lambda: run_many(many, drive, threads=1), runs=3),
        timed("kernel, 1,000 houses, two threads", HOUSES * YEAR_MIN, lambda: run_many(many, drive, threads=2), runs=5),
        timed(
            f"the cheapest week searched, {searched} years", searched * YEAR_MIN, lambda: cheapest_week(scene), runs=5
        ),
        timed("the cheapest year of hours, one linear programme", YEAR_MIN, lambda: cheapest_day(*programme()), runs=5),
        timed(
            "1,000 houses from facts to plants",
            HOUSES * YEAR_MIN,
            lambda: [plant_of(h) for h in sample(believe(facts), HOUSES, seed=1)],
            runs=3,
        ),
    ]
    return Result(
        title="A year of a house under control",
        unit="house minutes",
        rows=rows,
        notes=(
            f"House of 180 m² under the TMY3 year of {PLACE}, a night setback, a furnace of two stages with an air "
            "conditioner or a heat pump with two strips; five thermal modes and the control's decision in every minute. "
            "A year of the loop also runs the 14 days before it.",
            "EnergyPlus solves every surface anew in ten-minute steps, as a whole process with its start: far more "
            "physics, and no control. The two agree within 10 % a year (tests/outside/test_energyplus.py).",
            f"1,000 houses on two threads take {cpu_s:.2f} s of processor time, {cpu_s / HOUSES * 1e3:.1f} ms a house-year, "
            f"{HOUSES * YEAR_MIN / cpu_s / 1e6:.0f} M house minutes for a second of one core; where the rows above are slower than "
            "that, other work had the cores.",
            "The cheapest week is found by running the year of every candidate with prices that change by the hour (two "
            "threads, hours kept); the linear programme is the cheapest year of a house of one node, by HiGHS.",
            f"scipy integrates the same house minute by minute (`solve_ivp`, RK45) under the kernel's own heat; they differ by at most {error_k:.0e} K.",
        ),
    )


def programme() -> tuple[OneNode, PricedDay, float]:
    """Return a year of 8,760 hours with a winter and dear evenings, for a house of one node."""
    hours = np.arange(8760)
    clock = hours % 24
    outdoor_c = 8.0 - 12.0 * np.cos(2.0 * np.pi * hours / 8760.0) + 4.0 * np.sin(2.0 * np.pi * (clock - 9) / 24.0)
    price = np.where((clock >= 16) & (clock < 21), 0.45, np.where(clock < 6, 0.12, 0.22))
    lowest_c = np.where((clock >= 6) & (clock < 22), 20.0, 17.0)
    year = PricedDay(3600.0, outdoor_c, price, np.full(8760, 3.0), lowest_c, np.full(8760, 60.0))
    return OneNode(300.0, 30 * 3600.0, 12e3), year, 20.0


def night() -> tuple[Floats, Floats, Setpoints]:
    """Return setpoints by hour of the day, and the same for the loop."""
    heat_c, cool_c = np.full(24, 20.0), np.full(24, 25.0)
    heat_c[:6] = heat_c[22:] = 16.0
    return heat_c, cool_c, weekly_setpoints(np.repeat(heat_c, 4), np.repeat(cool_c, 4))


def integrated(case: Case, drive: Drive, kernel: Minutes) -> Floats:
    """Return the air of the house at the end of each minute, integrated by scipy under heat that is given."""
    plant, air_c = case.plant, []
    modes = _start(case, drive)
    for minute, heat_w in enumerate(kernel.heat_w):
        hour = PIECE[0] + minute // 60
        now, part = drive.values[hour].copy(), (minute % 60 + 0.5) / 60.0
        now[:N_INSTANT] = (1.0 - part) * drive.values[hour - 1, :N_INSTANT] + part * drive.values[hour, :N_INSTANT]
        force = plant.drive_to_mode @ now + plant.heat_to_mode * heat_w
        found = solve_ivp(
            lambda _, z, force=force: force - plant.decay_per_s * z, (0.0, 60.0), modes, rtol=1e-9, atol=1e-9
        )
        modes = found.y[:, -1]
        air_c.append(float(plant.air_of_mode @ modes))
    return np.array(air_c)


def _start(case: Case, drive: Drive) -> Floats:
    """Return the modes at the start of the piece, by the day before it in exact steps under the kernel's heat."""
    plant, kept = case.plant, np.exp(-case.plant.decay_per_s * 60.0)
    first = PIECE[0] - 24
    before = run_minutes(case, drive, first, 24, warm_up_h=0)
    modes = None
    for minute, heat_w in enumerate(before.heat_w):
        hour = first + minute // 60
        now, part = drive.values[hour].copy(), (minute % 60 + 0.5) / 60.0
        now[:N_INSTANT] = (1.0 - part) * drive.values[hour - 1, :N_INSTANT] + part * drive.values[hour, :N_INSTANT]
        force = plant.drive_to_mode @ now
        if modes is None:
            rest_w = (
                case.setpoints.heat_c[first * 4] - plant.air_of_mode @ (force / plant.decay_per_s)
            ) * plant.loss_w_k
            modes = (force + plant.heat_to_mode * rest_w) / plant.decay_per_s
        modes = kept * modes + (1.0 - kept) / plant.decay_per_s * (force + plant.heat_to_mode * heat_w)
    assert modes is not None
    found: Floats = modes
    return found
