"""Laws of the control in the loop: energy balance, order, and agreement of the kernel with the readable reference."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.equipment import (
    Equipment,
    air_conditioner,
    boiler,
    furnace,
    heat_pump,
    ideal,
    part_load_factor,
    start_time_constant_s,
    strip_heat,
    typical_heat_pump,
)
from subbase.comfort.house import Mass
from subbase.comfort.loop import (
    Case,
    Control,
    Setpoints,
    flat_setpoints,
    run_many,
    run_minutes,
    run_year,
    weekly_setpoints,
)
from subbase.comfort.loop_reference import run_reference
from subbase.comfort.two_node import TwoNode, plant_of_two_node
from tests.comfort_cases import chicago_drive, house_plant, steady_drive

EQUIPMENT = {
    "ideal": ideal(20e3, 20e3),
    "furnace of two stages": furnace(14e3, 0.92, (0.6, 1.0)).with_cooling(air_conditioner(9e3, 3.4, (0.6, 1.0))),
    "modulating boiler": boiler(14e3, 0.92, lowest_share=0.2),
    "strips": strip_heat((5e3, 5e3, 5e3)),
    "heat pump": heat_pump(typical_heat_pump(9e3), (5e3, 5e3), compressor_lockout_c=-12.0, auxiliary_lockout_c=4.0),
    "dual fuel": heat_pump(
        typical_heat_pump(9e3), compressor_lockout_c=-2.0, auxiliary_lockout_c=-2.0, backup=furnace(18e3, 0.9)
    ),
}


def night_setpoints(day_c: float = 20.5, night_c: float = 17.0, cool_c: float = 25.0) -> Setpoints:
    """Return a night from ten to six."""
    heat = np.full(96, day_c)
    heat[:24] = heat[88:] = night_c
    return weekly_setpoints(heat, np.full(96, cool_c))


@pytest.mark.parametrize("kind", EQUIPMENT)
@pytest.mark.parametrize(
    "control",
    [Control(), Control(optimum_start=True, recovery_per_outdoor_k=0.03, spare_auxiliary=True)],
    ids=["plain", "early"],
)
def test_kernel_follows_the_reference_minute_by_minute(kind: str, control: Control) -> None:
    """Five winter days and two summer days are the same to the last digits, whatever the equipment."""
    case = Case(house_plant(), EQUIPMENT[kind], night_setpoints(), control)
    for first_hour, hours in ((14 * 24, 60), (200 * 24, 30)):
        fast = run_minutes(case, chicago_drive(), first_hour, hours, warm_up_h=24)
        slow = run_reference(case, chicago_drive(), first_hour, hours, warm_up_h=24)
        assert np.abs(fast.air_c - slow.air_c).max() < 1e-8
        assert np.abs(fast.heat_w - slow.heat_w).max() < 1e-3
        assert (fast.runs == slow.runs).all()


def test_sums_are_those_of_the_minutes() -> None:
    """A year's heat equals its minutes' heat, and its hours' heat."""
    case = Case(house_plant(), EQUIPMENT["heat pump"], night_setpoints())
    years = run_year(case, chicago_drive())
    minutes = run_minutes(case, chicago_drive(), 0, 8760)
    assert years.hourly is not None
    assert years.heat_j[0] == pytest.approx(np.maximum(minutes.heat_w, 0.0).sum() * 60.0, rel=1e-9)
    assert years.heat_j[0] == pytest.approx(years.hourly.heat_w.astype(float).sum() * 3600.0, rel=1e-5)
    assert years.electric_j[0] == pytest.approx(years.hourly.electric_w.astype(float).sum() * 3600.0, rel=1e-5)
    assert years.mean_c[0] == pytest.approx(minutes.air_c.mean(), abs=1e-6)


def test_threads_and_company_change_nothing() -> None:
    """A case gives the same year alone and among others on several threads."""
    cases = [Case(house_plant(), kind, night_setpoints()) for kind in EQUIPMENT.values()]
    together = run_many(cases, chicago_drive(), threads=3)
    for k in (1, 4):
        alone = run_year(cases[k], chicago_drive(), hourly=False)
        assert alone.heat_j[0] == together.heat_j[k]
        assert alone.cool_starts[0] == together.cool_starts[k]


@settings(max_examples=15, deadline=None)
@given(outdoor_c=st.floats(-25.0, 12.0), set_c=st.floats(16.0, 24.0))
def test_heat_balances_loss_when_nothing_changes(outdoor_c: float, set_c: float) -> None:
    """Under a steady sky the heat given is UA times the difference that the gains leave, to rounding."""
    plant = house_plant()
    lift_c = plant.steady_air_k()[[0, 1, 4]] @ np.array([outdoor_c, outdoor_c, 1.0])
    expected_w = max((set_c - lift_c) * plant.loss_w_k, 0.0)
    minutes = run_minutes(
        Case(plant, ideal(), flat_setpoints(set_c, 40.0)), steady_drive(outdoor_c), 0, 24, warm_up_h=2000
    )
    assert minutes.heat_w.mean() == pytest.approx(expected_w, rel=1e-5, abs=1.0)


@settings(max_examples=8, deadline=None)
@given(first_c=st.floats(15.0, 22.0), more_k=st.floats(0.5, 4.0))
def test_warmer_costs_more(first_c: float, more_k: float) -> None:
    """A higher setpoint never takes less heat, and a deeper setback never more."""
    cases = [
        Case(house_plant(), ideal(), setpoints)
        for setpoints in (
            flat_setpoints(first_c, 40.0),
            flat_setpoints(first_c + more_k, 40.0),
            night_setpoints(first_c + more_k, first_c, 40.0),
        )
    ]
    low, high, night = run_many(cases, chicago_drive(), threads=1).heat_j
    assert low <= night <= high


def test_least_times_are_kept() -> None:
    """No run and no rest is shorter than the control's least times."""
    control = Control(least_on_s=420.0, least_off_s=600.0, heat_band_k=0.2)
    minutes = run_minutes(
        Case(house_plant(), furnace(20e3, 0.8), night_setpoints(), control), chicago_drive(), 24, 24 * 20
    )
    changes = np.flatnonzero(np.diff((minutes.runs > 0.0).astype(int)))
    lengths = np.diff(changes)
    rises = (minutes.runs[changes + 1] > 0.0)[:-1]
    assert len(lengths) > 50
    assert lengths[rises].min() >= 7
    assert lengths[~rises].min() >= 10


def test_auxiliary_heat_stays_off_above_its_lockout() -> None:
    """Strips never run above the lockout, and run below the compressor's."""
    years = run_year(Case(house_plant(), EQUIPMENT["heat pump"], night_setpoints()), chicago_drive())
    assert years.hourly is not None
    outdoor_c = chicago_drive().outdoor_c
    assert years.hourly.strip_w[0][outdoor_c >= 4.0].max() == 0.0
    assert years.hourly.strip_w[0][outdoor_c < -12.5].mean() > 0.0


def test_early_start_is_warm_in_time() -> None:
    """Optimum start leaves far fewer cold hours than starting at the hour, and costs a little."""
    controls = (Control(), Control(optimum_start=True, recovery_k_per_h=1.0))
    late, early = (
        run_year(Case(house_plant(Mass.HEAVY), furnace(12e3, 0.9), night_setpoints(), control), chicago_drive())
        for control in controls
    )
    assert early.cold_h[0] < 0.3 * late.cold_h[0]
    assert early.heat_j[0] > late.heat_j[0]


@pytest.mark.parametrize("load_share", [0.3, 0.5, 0.7])
def test_cycling_loses_what_the_part_load_curve_says(load_share: float) -> None:
    """Heat lost to starting, at the cycle rate of the cycling curve, is C_d (1 - X) within a fifth of it."""
    most_per_h, degradation = 3.0, 0.25
    tau_s = start_time_constant_s(degradation, most_per_h)
    on_s = 3600.0 / (4.0 * most_per_h * (1.0 - load_share))
    lost = tau_s / on_s * (1.0 - np.exp(-on_s / tau_s))
    assert 1.0 - lost == pytest.approx(
        part_load_factor(load_share, degradation), abs=0.2 * degradation * (1.0 - load_share)
    )


def starting_loss_j(given_back: float) -> tuple[float, float]:
    """Return heat lost to starting in a year and starts times τ times the level's heat."""
    house = TwoNode(air_capacity_j_k=6e6, mass_capacity_j_k=30e6, air_to_mass_w_k=2500.0, air_to_outdoor_w_k=250.0)
    level = replace(furnace(12e3, 0.9).heating[0], given_back=given_back)
    control = Control(heat_band_k=1.5, least_on_s=600.0)
    equipment = Equipment("one level", (level,), heat_start_s=60.0)
    year = run_year(Case(plant_of_two_node(house), equipment, flat_setpoints(20.0, 40.0), control), steady_drive(-5.0))
    return float(year.heat_on_h[0] * 3600.0 * 12e3 - year.heat_j[0]), float(year.heat_starts[0] * 60.0 * 12e3)


def test_a_start_loses_heat_in_the_loop() -> None:
    """The loop's starting loss equals starts times τ times the level's heat, when runs are long against τ."""
    lost_j, starts_j = starting_loss_j(0.0)
    assert lost_j == pytest.approx(starts_j, rel=0.01)


def test_warm_iron_and_water_give_it_back() -> None:
    """What a burner's start lacks comes after its stop: nothing is lost but in rounding."""
    lost_j, starts_j = starting_loss_j(1.0)
    assert abs(lost_j) < 0.002 * starts_j
