"""Balance points of a heat pump against worked values, and against a plain search."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.comfort.balance import (
    WARMEST_C,
    LoadLine,
    ahri_load_line,
    break_even_cop,
    economic_balance_c,
    load_line,
    thermal_balance_c,
)
from subbase.comfort.equipment import F17_C, W_PER_BTU_H, HeatPumpRating, heat_pump_line, typical_heat_pump


def rating(heat_btu_h: tuple[float, float, float], cop: tuple[float, float, float] = (2.3, 2.8, 3.6)) -> HeatPumpRating:
    """Return a rating from Btu/h and COP at 17, 35 and 47 °F."""
    heat = [value * W_PER_BTU_H for value in heat_btu_h]
    power = [h / c for h, c in zip(heat, cop, strict=True)]
    return HeatPumpRating(heat[0], heat[1], heat[2], power[0], power[1], power[2], 36000 * W_PER_BTU_H, 3000.0)


WORKED = rating((22000, 31000, 36000))


@pytest.mark.outside(
    source="AHRI 210/240-2023, building load line of region IV and capacity by straight lines, as EnergyPlus gives them.",
    how="own example worked by hand: 828 (55 - T) = 22000 + 500 (T - 17) Btu/h",
)
def test_thermal_balance_point_of_a_worked_example() -> None:
    """The load at 17 °F and the balance point to the digits given."""
    line = ahri_load_line("IV", 36000 * W_PER_BTU_H)
    assert line.load_w(F17_C) / W_PER_BTU_H == pytest.approx(31464, abs=0.5)
    assert thermal_balance_c(WORKED, line) * 1.8 + 32 == pytest.approx(24.13, abs=0.005)


@pytest.mark.outside(
    source="Identity of the cost of heat from electricity and from fuel; 3412.14 Btu/kWh, 100,000 Btu/therm.",
    how="worked apart from this code",
)
@pytest.mark.parametrize(
    ("electricity", "fuel", "efficiency", "cop"),
    [(0.15, 1.20, 0.95, 3.4802), (0.12, 1.80, 0.90, 1.7584), (0.20, 1.00, 0.95, 5.5684)],
)
def test_break_even_cop(electricity: float, fuel: float, efficiency: float, cop: float) -> None:
    """The break-even COP to the digits given."""
    assert break_even_cop(electricity, fuel, efficiency) == pytest.approx(cop, abs=5e-5)


@given(
    st.floats(50.0, 900.0),
    st.floats(8.0, 18.0),
    st.tuples(st.floats(0.4, 1.0), st.floats(0.6, 1.2), st.floats(0.8, 1.4)),
)
def test_thermal_balance_is_where_a_search_finds_it(
    loss_w_k: float, no_heat_c: float, shares: tuple[float, float, float]
) -> None:
    """Warmer than the point the capacity is enough, just under it it is not."""
    heat_17, heat_35, heat_47 = sorted(shares)
    pump = rating((36000 * heat_17, 36000 * heat_35, 36000 * heat_47))
    line = LoadLine(loss_w_k, no_heat_c)
    point = thermal_balance_c(pump, line)

    def spare_w(outdoor_c: float | np.ndarray) -> np.ndarray:
        at = np.asarray(outdoor_c, dtype=np.float64)
        return heat_pump_line(pump.heat_17f_w, pump.heat_35f_w, pump.heat_47f_w, at) - loss_w_k * (no_heat_c - at)

    if math.isinf(point):
        assert point > 0
        assert spare_w(WARMEST_C) < 0
        return
    assert (spare_w(np.linspace(point + 1e-6, max(WARMEST_C, point + 1.0), 400)) >= 0).all()
    assert spare_w(point - 1e-3) < 0


def test_economic_balance_is_where_the_cop_crosses() -> None:
    """At the point the COP is the break-even COP; extremes are told as always and never."""
    pump = typical_heat_pump(10_000.0)
    point = economic_balance_c(pump, 2.5)
    at = np.array([point])
    cop = heat_pump_line(pump.heat_17f_w, pump.heat_35f_w, pump.heat_47f_w, at) / heat_pump_line(
        pump.power_17f_w, pump.power_35f_w, pump.power_47f_w, at
    )
    assert float(cop[0]) == pytest.approx(2.5, abs=1e-9)
    assert economic_balance_c(pump, 9.0) == math.inf
    flat = replace(pump, heat_17f_w=pump.heat_47f_w, power_17f_w=pump.power_47f_w)
    assert economic_balance_c(flat, 1.0) == -math.inf


def test_what_makes_no_sense_is_refused_in_words() -> None:
    """Prices, efficiency and temperatures that cannot be."""
    with pytest.raises(ValueError, match="prices must be above zero"):
        break_even_cop(0.0, 1.0, 0.9)
    with pytest.raises(ValueError, match="efficiency of 95"):
        break_even_cop(0.1, 1.0, 95.0)
    with pytest.raises(ValueError, match="where no heat is needed"):
        load_line(9000.0, 20.0, 18.0)
    with pytest.raises(ValueError, match="above zero"):
        load_line(0.0, -10.0, 18.0)
