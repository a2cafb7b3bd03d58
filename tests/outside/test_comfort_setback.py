"""What a setback costs a heat pump with strips: the loop against the closed form, and where strips eat the saving."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.comfort.closed_form import OneNode, night, strip_night
from subbase.comfort.equipment import GRID_C, Equipment, Level, heat_pump, typical_heat_pump
from subbase.comfort.habits import Habits, Span, Wishes
from subbase.comfort.loop import Case, Control, Setpoints, flat_setpoints, run_minutes
from subbase.comfort.network import Plant
from subbase.comfort.outcomes import Scene
from subbase.comfort.prices import Prices
from subbase.comfort.setback import Recovery, crossing, setback_study
from subbase.comfort.sun_on_windows import DRIVES
from tests.comfort_cases import chicago_drive, house_plant, steady_drive

HOUSE = OneNode(loss_w_k=250.0, time_constant_s=20 * 3600.0, heat_w=16e3)
PUMP_W, STRIPS_W, COP = 8e3, 8e3, 2.5
DAY_C, OUTDOOR_C, NIGHT_H = 20.0, 0.0, 8


def plant() -> Plant:
    """Return the house of one node for the loop."""
    drive = np.zeros((1, len(DRIVES)))
    drive[0, DRIVES.index("outdoor_c")] = 1.0 / HOUSE.time_constant_s
    return Plant(np.array([1.0 / HOUSE.time_constant_s]), np.array([1.0]), np.array([1.0 / HOUSE.capacity_j_k]), drive)


def pump() -> Equipment:
    """Return a heat pump of constant heat, with strips that join it."""
    none, ones = np.zeros_like(GRID_C), np.ones_like(GRID_C)
    alone = Level("compressor", PUMP_W * ones, PUMP_W / COP * ones, none, none)
    both = Level("with strips", (PUMP_W + STRIPS_W) * ones, PUMP_W / COP * ones, STRIPS_W * ones, none)
    return Equipment("heat pump", (alone, both))


def electricity_j(back_k: float) -> float:
    """Return the electricity of one day in the loop with a night so far back; strips join at once."""
    setpoints = flat_setpoints(DAY_C, 60.0)
    heat_c = setpoints.heat_c.copy().reshape(-1, 96)
    heat_c[:, 4 : 4 + 4 * NIGHT_H] -= back_k
    control = Control(heat_band_k=0.1, least_on_s=60.0, least_off_s=60.0, stage_delay_s=60.0, stage_up_k=0.08)
    case = Case(plant(), pump(), Setpoints(heat_c.ravel(), setpoints.cool_c), control)
    heat_w = run_minutes(case, steady_drive(OUTDOOR_C), 240, 240, warm_up_h=240).heat_w
    strips_w = np.maximum(heat_w - PUMP_W, 0.0)
    return float(((heat_w - strips_w) / COP + strips_w).sum()) * 60.0 / 10.0


@pytest.mark.outside(
    source="1R1C closed form of setback and recovery (mathematics), electricity by COP and strips at 1",
    how="worked apart from the loop",
)
@pytest.mark.parametrize("back_k", [1.0, 2.0, 3.0, 5.0])
def test_the_loop_pays_what_the_closed_form_says(back_k: float) -> None:
    """Electricity saved by a night, strips in the recovery, is that of the closed form within 2 % of a night's use."""
    told = strip_night(STRIPS_W, COP, night(HOUSE, DAY_C, DAY_C - back_k, OUTDOOR_C, NIGHT_H * 3600.0))
    saved_j = electricity_j(0.0) - electricity_j(back_k)
    night_j = HOUSE.loss_w_k * (DAY_C - OUTDOOR_C) * NIGHT_H * 3600.0 / COP
    assert saved_j == pytest.approx(told.saved_electric_j, abs=0.02 * night_j)


def test_strips_eat_the_saving_of_the_closed_form() -> None:
    """With large strips every depth costs more than it saves; held off, the same night saves."""
    nights = [night(OneNode(250.0, 72e3, 28e3), DAY_C, DAY_C - k, OUTDOOR_C, 6 * 3600.0) for k in (1.0, 2.0, 3.0)]
    assert all(strip_night(20e3, 3.0, one).saved_electric_j < 0.0 for one in nights)
    alone = [night(OneNode(250.0, 72e3, 8e3), DAY_C, DAY_C - k, OUTDOOR_C, 6 * 3600.0) for k in (1.0, 2.0, 3.0)]
    assert all(strip_night(0.0, 3.0, one).saved_electric_j > 0.0 for one in alone)


def test_a_crossing_is_found_by_straight_lines() -> None:
    """Where a saving falls under nothing, and nowhere when it never does."""
    depths = np.array([0.0, 1.0, 2.0, 3.0])
    assert crossing(depths, np.array([0.0, 4.0, 2.0, -2.0])) == pytest.approx(2.5)
    assert crossing(depths, np.array([0.0, -1.0, -2.0, -3.0])) == 0.0
    assert crossing(depths, np.array([0.0, 1.0, 2.0, 3.0])) is None


def study_of(stage_delay_s: float, lockout_c: float) -> tuple[float, float, float | None]:
    """Return best depth, deepest saving as a part of the flat year, and where it is eaten, back at the hour with large strips."""
    kit = heat_pump(typical_heat_pump(10e3), (16e3,), auxiliary_lockout_c=lockout_c)
    scene = Scene(
        house_plant(), kit, chicago_drive(), Habits(Span(1380, 300), Span(0, 0), ()), Wishes(), Prices((0.15,)),
        Control(stage_delay_s=stage_delay_s, stage_up_k=0.5),
    )  # fmt: skip
    found = setback_study(scene, has_strips=True)
    curve = found.curve(Recovery.AT_THE_HOUR)
    spare = found.curve(Recovery.EARLY_COMPRESSOR_ONLY)
    assert (np.diff(curve.heat_kwh) < 1.0).all()
    # Holding strips off while recovering never costs more in strips.
    assert (spare.strip_kwh <= curve.strip_kwh + 1.0).all()
    return (
        found.best_k(Recovery.AT_THE_HOUR),
        float(curve.saving[-1] / curve.cost[0]),
        found.eaten_k(Recovery.AT_THE_HOUR),
    )


def test_a_lockout_and_patience_move_where_strips_eat_the_saving() -> None:
    """Strips at once and at any temperature eat the saving of a night; a lockout and half an hour of patience give it back."""
    hasty_best, hasty_saving, hasty_eaten = study_of(60.0, 30.0)
    best, saving, eaten = study_of(1800.0, -4.0)
    assert hasty_eaten is not None
    assert hasty_best < best
    assert saving > hasty_saving
    assert saving > 0.0
    assert eaten is None
