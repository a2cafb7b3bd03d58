"""Setback and recovery: the closed form against worked values, and the loop against the closed form."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.comfort.closed_form import OneNode, decay_c, night
from subbase.comfort.equipment import Equipment, cycles_per_h, furnace, on_off_s, part_load_factor
from subbase.comfort.loop import Case, Control, Setpoints, run_minutes
from subbase.comfort.two_node import TwoNode, plant_of_two_node
from tests.comfort_cases import steady_drive

HOUSE = OneNode(loss_w_k=300.0, time_constant_s=30 * 3600.0, heat_w=18e3)


@pytest.mark.outside(
    source="Mathematics of one resistance and one capacity: UA 300 W/K, τ 30 h, 18 kW, 20 to 15 °C for 8 h.",
    how="worked apart from this code",
)
@pytest.mark.parametrize(
    ("outdoor_c", "lowest_c", "reached_h", "recovery_min", "saved_kwh"),
    [(0.0, 15.319, None, 199.22, 8.156), (-10.0, 15.0, 5.470, 277.47, 11.402), (-20.0, 15.0, 4.006, 401.66, 13.897)],
)
def test_a_night(
    outdoor_c: float, lowest_c: float, reached_h: float | None, recovery_min: float, saved_kwh: float
) -> None:
    """Fall, recovery and saving to the digits given."""
    found = night(HOUSE, 20.0, 15.0, outdoor_c, 8 * 3600.0)
    assert found.lowest_c == pytest.approx(lowest_c, abs=5e-4)
    assert (found.reached_s is None) == (reached_h is None)
    if reached_h is not None and found.reached_s is not None:
        assert found.reached_s / 3600.0 == pytest.approx(reached_h, abs=5e-4)
    assert found.recovery_s is not None
    assert found.recovery_s / 60.0 == pytest.approx(recovery_min, abs=5e-3)
    assert found.saved_j / 3.6e6 == pytest.approx(saved_kwh, abs=5e-4)


def test_no_recovery_without_the_capacity() -> None:
    """Equipment that cannot hold the day setpoint never recovers."""
    assert night(HOUSE, 20.0, 15.0, -41.0, 8 * 3600.0).recovery_s is None


@pytest.mark.outside(
    source="Mathematics of one resistance and one capacity, by the numbers above.",
    how="closed form against the loop's minutes",
)
@pytest.mark.parametrize("outdoor_c", [0.0, -20.0])
def test_the_loop_falls_and_recovers_as_the_closed_form(outdoor_c: float) -> None:
    """A house whose mass follows its air within seconds falls to the same temperature and is back in the same minutes."""
    capacity_j_k = HOUSE.capacity_j_k
    plant = plant_of_two_node(TwoNode(0.01 * capacity_j_k, 0.99 * capacity_j_k, 5e7, HOUSE.loss_w_k))
    heat_c = np.full(35040, 20.0)
    heat_c[40 * 96 : 40 * 96 + 32] = 15.0
    kind = Equipment("burner", furnace(HOUSE.heat_w, 1.0).heating, lowest_share=0.0)
    minutes = run_minutes(
        Case(plant, kind, Setpoints(heat_c, heat_c + 20.0), Control()),
        steady_drive(outdoor_c),
        40 * 24,
        24,
        warm_up_h=500,
    )
    found = night(HOUSE, 20.0, 15.0, outdoor_c, 8 * 3600.0)
    assert minutes.air_c[8 * 60 - 1] == pytest.approx(found.lowest_c, abs=2e-3)
    assert minutes.air_c[119] == pytest.approx(decay_c(HOUSE, 20.0, outdoor_c, 7200.0), abs=2e-3)
    back = int(np.argmax(minutes.air_c[8 * 60 :] > 20.0 - 1e-6)) + 1
    assert found.recovery_s is not None
    assert back == pytest.approx(found.recovery_s / 60.0, abs=1.5)


@pytest.mark.outside(
    source="The cycling curve N = 4 N_max X (1 - X) and PLF = 1 - C_d (1 - X) (NEMA DC 3; Parken, Beausoliel and Kelly 1977; "
    "EnergyPlus engineering reference).",
    how="values read in EnergyPlus's form; NEMA and the paper from memory",
)
def test_cycling_curve() -> None:
    """Three cycles an hour at half load: 10 minutes on and off; a quarter: 2.25 an hour; PLF .875 at half load."""
    assert cycles_per_h(0.25, 3.0) == pytest.approx(2.25)
    assert [round(value / 60.0, 3) for value in on_off_s(0.25, 3.0)] == [6.667, 20.0]
    assert on_off_s(0.5, 3.0) == pytest.approx((600.0, 600.0))
    assert part_load_factor(0.5, 0.25) == pytest.approx(0.875)
    assert 0.5 / part_load_factor(0.5, 0.25) == pytest.approx(0.5714, abs=5e-5)
