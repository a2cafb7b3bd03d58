"""The differential that a house and its equipment need: in the loop it makes the cycles of the cycling curve, and no more."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest

from subbase.comfort.differential import LEAST_K, MOST_K, band_k
from subbase.comfort.equipment import Equipment, boiler, furnace, strip_heat
from subbase.comfort.house import Mass
from subbase.comfort.loop import Case, Control, flat_setpoints, run_year
from subbase.comfort.served import Wired
from subbase.comfort.setting_records import CYCLES_PER_H, Heat, Setting, Tuning
from subbase.comfort.wired import wired_of
from tests.comfort_cases import house_plant, steady_drive

KINDS = {
    Heat.WARM_AIR: furnace(14e3, 0.9),
    Heat.WATER: boiler(14e3, 0.9),
    Heat.ELECTRIC: strip_heat((12e3,)),
}
SET_C = 20.0


def half_load_starts_per_h(kind: Equipment, mass: Mass, most: float) -> tuple[float, float]:
    """Return the band found and the starts an hour that it makes in the loop when the load is half of full heat."""
    plant, level = house_plant(mass), kind.heating[0]
    full_w = float(level.heat_w[0])
    lift_k = float(plant.steady_air_k()[4])
    outdoor_c = SET_C - lift_k - 0.5 * full_w / plant.loss_w_k
    band = band_k(plant, full_w, most, start_s=kind.heat_start_s, given_back=level.given_back)
    control = Control(heat_band_k=band, least_on_s=60.0, least_off_s=60.0)
    case = Case(plant, kind, flat_setpoints(SET_C, 60.0), control)
    return band, float(run_year(case, steady_drive(outdoor_c), hourly=False).heat_starts[0]) / 8760.0


@pytest.mark.parametrize(("heat", "mass"), list(product(KINDS, (Mass.LIGHT, Mass.HEAVY))))
def test_the_loop_cycles_by_the_curve(heat: Heat, mass: Mass) -> None:
    """At half load the loop starts as often as N_max says, within a fifth; where a bound of the band holds, less often."""
    most, _source = CYCLES_PER_H[heat]
    band, starts_per_h = half_load_starts_per_h(KINDS[heat], mass, most)
    assert LEAST_K <= band <= MOST_K
    assert starts_per_h < 1.2 * most
    if LEAST_K < band < MOST_K:
        assert starts_per_h > 0.8 * most


def test_fewer_cycles_need_a_wider_band() -> None:
    """The band grows as the cycles wanted fall, and with the heat."""
    plant = house_plant()
    bands = [band_k(plant, 8e3, most, start_s=45.0, given_back=1.0) for most in (9.0, 6.0, 4.0, 2.5)]
    assert bands == sorted(bands)
    assert band_k(plant, 4e3, 4.0, start_s=45.0, given_back=1.0) < band_k(plant, 8e3, 4.0, start_s=45.0, given_back=1.0)


def test_the_wait_before_strips_reaches_the_loop() -> None:
    """What the settings say of the wait is what the loop waits; without a word it is half an hour."""
    wait = Setting("auxiliary_wait", "wait", "15 minutes", "why", "source", 15.0, "min")
    assert wired_of(Tuning("hall", Heat.HEAT_PUMP, (wait,), (), "", "")).auxiliary_wait_s == 900.0
    assert wired_of(Tuning("hall", Heat.HEAT_PUMP, (), (), "", "")).auxiliary_wait_s == 1800.0


@pytest.mark.parametrize(("always", "compressor_above_c"), [(math.inf, math.inf), (-math.inf, -math.inf)])
def test_always_the_one_or_the_other_reaches_the_loop(always: float, compressor_above_c: float) -> None:
    """'The burner always' and 'the heat pump always' are run as they are told, not as a temperature that nobody named."""
    setting = Setting("second_fuel_changeover", "change", "always", "why", "source", always=always)
    stages = Setting("second_fuel_stages", "stages", "1", "why", "source", 1.0)
    told = wired_of(Tuning("hall", Heat.HEAT_PUMP, (stages, setting), (), "", ""))
    assert told == Wired(Heat.HEAT_PUMP, 1, 0, 0, True, compressor_above_c=compressor_above_c)
    assert np.isinf(told.compressor_above_c)
