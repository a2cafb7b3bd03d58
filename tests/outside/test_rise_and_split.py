"""Rise, split and sequence times against published figures."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.work.air_and_water import (
    AIR_J_PER_M3_K,
    K_PER_F,
    M3_S_PER_CFM,
    M3_S_PER_GPM,
    W_PER_BTUH,
    WATER_J_PER_M3_K,
    air_output_w,
    water_output_w,
)
from subbase.work.call_sequences import call_sequences
from tests.houses import plan_of


@pytest.mark.outside(
    source="The Engineering ToolBox, Cooling and Heating Equations: 1.006 kJ/kg°C, 1.202 kg/m³; 1.08 in US units",
    how="read in the open page; both forms are printed there, to three and four digits",
)
def test_sensible_heat_of_air_in_both_systems_of_units() -> None:
    """The printed SI constants and the printed 1.08 agree with ours within half a hundredth."""
    assert pytest.approx(1006 * 1.202, rel=0.005) == AIR_J_PER_M3_K
    btuh = air_output_w(1000 * M3_S_PER_CFM, 20 * K_PER_F) / W_PER_BTUH
    assert btuh == pytest.approx(1.08 * 1000 * 20, rel=0.005)


@pytest.mark.outside(
    source="A wholesaler's open tech tip on measuring rise: cfm = Btu/h input x efficiency / 1.085 / rise",
    how="read in the open page; 100,000 Btu/h at 80 % and 60 °F put into its formula",
)
def test_air_flow_by_the_rise_of_a_furnace() -> None:
    """With its 1.085 the flow is 1229 cfm; ours warms by 60 °F within one hundredth."""
    cfm = 100_000 * 0.80 / 1.085 / 60
    assert round(cfm) == 1229
    rise_f = 80_000 * W_PER_BTUH / air_output_w(cfm * M3_S_PER_CFM, K_PER_F)
    assert rise_f == pytest.approx(60.0, rel=0.01)


@pytest.mark.outside(
    source="Open hydronics texts: 500 Btu/h per gpm and °F from 8.33 lb/gal x 60 min/h x 1 Btu/lb°F",
    how="read in an open page; the properties of water at 60 °C (983 kg/m³, 4185 J/kgK) are from memory",
)
def test_heat_that_water_carries() -> None:
    """8.33 x 60 is 500 to three digits; the hot water of a boiler carries 2 % less."""
    btuh = water_output_w(1.0 * M3_S_PER_GPM, 1.0 * K_PER_F) / W_PER_BTUH
    assert btuh == pytest.approx(8.33 * 60, rel=0.001)
    assert pytest.approx(983 * 4185, rel=0.025) == WATER_J_PER_M3_K


@pytest.mark.outside(
    source="An open trade text, Furnace sequence of operations: inducer 30-60 s, igniter 10-30 s, blower within 30-90 s",
    how="read in the open page; the spans are added up from the call",
)
def test_published_spans_of_a_furnace_pass() -> None:
    """Igniter at 30 to 60 s, burner at 40 to 90 s and fan at 70 to 180 s after the call lie within what is accepted."""
    left = plan_of("01-no-common-spare-blue").left
    assert left is not None
    heat = next(s for s in call_sequences(left, load_catalog()) if s.words == "heat 1")
    for thing, earliest_s, latest_s in (("igniter", 30, 60), ("burner", 40, 90), ("fan", 70, 180)):
        step = heat.step(thing)
        assert step is not None
        assert step.earliest_s <= earliest_s
        assert latest_s <= step.latest_s


@pytest.mark.outside(
    source="An open trade text, High-Efficiency Furnaces Sequence of Operation: purge 34 s, fan 30 to 45 s after ignition",
    how="read in the open page",
)
def test_another_published_furnace_passes_too() -> None:
    """Ignition at 34 s and the fan at 64 to 79 s after the call lie within what is accepted."""
    left = plan_of("01-no-common-spare-blue").left
    assert left is not None
    heat = next(s for s in call_sequences(left, load_catalog()) if s.words == "heat 1")
    burner, fan = heat.step("burner"), heat.step("fan")
    assert burner is not None
    assert fan is not None
    assert burner.earliest_s <= 34 <= burner.latest_s
    assert fan.earliest_s <= 64
    assert fan.latest_s >= 79
