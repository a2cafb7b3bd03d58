"""Laws of a house's heat: reduction, two nodes, order of insulation, and an honest spread."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from subbase.comfort.equipment import ideal
from subbase.comfort.house import (
    Below,
    HouseFacts,
    Insulation,
    Mass,
    Quantities,
    believe,
    building_of,
    insulation_of_year,
    quantiles,
    sample,
    typical,
)
from subbase.comfort.loop import Case, flat_setpoints, run_many, run_minutes
from subbase.comfort.network import network_of, plant_of, reduced
from subbase.comfort.sun_on_windows import DRIVES
from subbase.comfort.two_node import TwoNode, continuous, exponential_2x2, plant_of_two_node, step_of
from subbase.errors import InputError
from tests.comfort_cases import chicago_drive, steady_drive

HOUSES = st.builds(
    HouseFacts,
    floor_area_m2=st.floats(40.0, 500.0),
    storeys=st.integers(1, 3),
    insulation=st.sampled_from(Insulation),
    mass=st.sampled_from(Mass),
    below=st.sampled_from(Below),
    shared_walls=st.floats(0.0, 0.5),
    elevation_m=st.floats(0.0, 2500.0),
)
TWO_NODES = st.builds(
    TwoNode,
    air_capacity_j_k=st.floats(5e5, 2e7),
    mass_capacity_j_k=st.floats(5e6, 3e8),
    air_to_mass_w_k=st.floats(200.0, 8000.0),
    air_to_outdoor_w_k=st.floats(30.0, 1200.0),
    mass_to_outdoor_w_k=st.floats(0.0, 400.0),
)


@settings(max_examples=40, deadline=None)
@given(facts=HOUSES)
def test_reduction_keeps_every_steady_gain(facts: HouseFacts) -> None:
    """Five modes give the same steady air temperature per drive and per watt as all nodes do."""
    network = network_of(typical(facts))
    few, all_modes = reduced(network), reduced(network, (1.0,) * len(network.capacity_j_k))
    assert few.loss_w_k == pytest.approx(all_modes.loss_w_k, rel=1e-8)
    assert np.allclose(few.steady_air_k(), all_modes.steady_air_k(), rtol=1e-7, atol=1e-12)
    assert (few.decay_per_s > 0.0).all()


@settings(max_examples=40, deadline=None)
@given(facts=HOUSES)
def test_a_house_as_warm_as_its_surroundings_is_at_rest(facts: HouseFacts) -> None:
    """One kelvin more outdoors and in the ground is one kelvin more inside: no heat is lost or made."""
    steady = plant_of(typical(facts)).steady_air_k()
    assert steady[DRIVES.index("outdoor_c")] + steady[DRIVES.index("ground_c")] == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("mass", Mass)
def test_reduced_house_follows_the_whole_one(mass: Mass) -> None:
    """Under an hour of heat and the days after, five modes stay within 2 % of the rise of all nodes."""
    network = network_of(typical(HouseFacts(180.0, mass=mass)))
    few, whole = reduced(network), reduced(network, (1.0,) * len(network.capacity_j_k))
    times_s = np.array([300.0, 900.0, 3600.0, 3 * 3600.0, 8 * 3600.0, 30 * 3600.0, 100 * 3600.0])

    def rise(plant: object) -> np.ndarray:
        decay, answer = plant.decay_per_s, plant.air_of_mode * plant.heat_to_mode  # type: ignore[attr-defined]
        return np.array([(answer / decay * -np.expm1(-decay * time_s)).sum() for time_s in times_s])

    assert np.allclose(rise(few), rise(whole), rtol=0.02)


@given(house=TWO_NODES, step_s=st.floats(1.0, 90000.0))
def test_closed_form_step_is_the_matrix_exponential(house: TwoNode, step_s: float) -> None:
    """The 2×2 exponential agrees with scipy's, and the step leaves a house at rest at rest."""
    a, _ = continuous(house)
    assert np.allclose(exponential_2x2(a * step_s), expm(a * step_s), rtol=1e-9, atol=1e-12)
    step = step_of(house, step_s)
    assert np.allclose(step.state @ [20.0, 20.0] + step.forced @ [20.0, 0.0, 0.0], 20.0, atol=1e-7)


@given(house=TWO_NODES)
def test_two_half_steps_are_one_step(house: TwoNode) -> None:
    """Stepping 60 s twice is stepping 120 s, since the step is exact."""
    half, whole = step_of(house, 60.0), step_of(house, 120.0)
    assert np.allclose(half.state @ half.state, whole.state, rtol=1e-10, atol=1e-14)
    assert np.allclose(half.state @ half.forced + half.forced, whole.forced, rtol=1e-7, atol=1e-13)


def test_two_nodes_in_the_loop_are_two_nodes_by_hand() -> None:
    """The loop's plant of a two-node house cools as its own steps say."""
    house = TwoNode(3e6, 4e7, 1500.0, 200.0, 50.0)
    minutes = run_minutes(
        Case(plant_of_two_node(house), ideal(0.0, 0.0), flat_setpoints(20.0, 40.0)),
        steady_drive(-7.0),
        0,
        48,
        warm_up_h=0,
    )
    # The loop starts at rest at 20 °C under heat into the air.
    mass_c = (1500.0 * 20.0 + 50.0 * -7.0) / 1550.0
    step, state = step_of(house, 60.0), np.array([20.0, mass_c])
    by_hand = []
    for _ in range(48 * 60):
        state = step.state @ state + step.forced @ [-7.0, 0.0, 0.0]
        by_hand.append(state[0])
    assert np.abs(minutes.air_c - by_hand).max() < 1e-8
    assert house.loss_w_k == pytest.approx(plant_of_two_node(house).loss_w_k, rel=1e-9)


@settings(max_examples=30, deadline=None)
@given(facts=HOUSES)
def test_better_insulation_loses_less(facts: HouseFacts) -> None:
    """Each level of insulation has a lower loss than the one before."""
    losses = [plant_of(typical(dataclasses.replace(facts, insulation=level))).loss_w_k for level in Insulation]
    assert losses == sorted(losses, reverse=True)


@settings(max_examples=20, deadline=None)
@given(facts=HOUSES)
def test_heavier_is_slower(facts: HouseFacts) -> None:
    """A heavier house has a longer slowest time constant."""
    constants = [plant_of(typical(dataclasses.replace(facts, mass=mass))).time_constant_s for mass in Mass]
    assert constants == sorted(constants)


@settings(max_examples=30, deadline=None)
@given(facts=HOUSES, factor=st.floats(1.05, 2.0), which=st.sampled_from(["wall_m2k_w", "ceiling_m2k_w", "floor_m2k_w"]))
def test_more_insulation_in_any_part_helps(facts: HouseFacts, factor: float, which: str) -> None:
    """Raising any one R lowers the loss."""
    medians = believe(facts).medians
    better = dataclasses.replace(medians, **{which: getattr(medians, which) * factor})
    assert plant_of(building_of(facts, better)).loss_w_k < plant_of(building_of(facts, medians)).loss_w_k


def test_ordinary_houses_have_long_time_constants() -> None:
    """From ordinary insulation up, houses of a usual size lie in the 15 to 55 h measured in most North American winters."""
    for level in (Insulation.ORDINARY, Insulation.GOOD, Insulation.VERY_GOOD):
        hours = plant_of(typical(HouseFacts(200.0, insulation=level))).time_constant_s / 3600.0
        assert 15.0 <= hours <= 55.0


def test_samples_spread_as_they_say() -> None:
    """Drawn air changes have the median and the logarithmic deviation of the belief, and a seed repeats itself."""
    belief = believe(HouseFacts(150.0))
    houses = sample(belief, 4000, seed=3)
    logs = np.log([house.air_changes_per_h for house in houses])
    assert np.median(logs) == pytest.approx(math.log(belief.medians.air_changes_per_h), abs=0.03)
    assert logs.std() == pytest.approx(belief.spread.air_changes_per_h, rel=0.05)
    assert sample(belief, 5, seed=3) == houses[:5]
    assert sample(belief, 5, seed=4) != houses[:5]


def test_results_come_with_their_spread() -> None:
    """A year of sampled houses gives quantiles that hold the typical house between them and are a quarter apart or more."""
    belief = believe(HouseFacts(180.0))
    plants = [plant_of(building) for building in sample(belief, 60, seed=5)]
    equipment, setpoints = ideal(), flat_setpoints(20.0, 40.0)
    heat = run_many([Case(plant, equipment, setpoints) for plant in plants], chicago_drive()).heat_j
    middle = run_many([Case(plant_of(typical(belief.facts)), equipment, setpoints)], chicago_drive()).heat_j[0]
    low, _, high = quantiles(heat)
    assert low < middle < high
    assert high / low > 1.25


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"floor_area_m2": -5.0}, "floor_area_m2"),
        ({"storeys": 0}, "storeys"),
        ({"window_area_m2": 1e4}, "window_area_m2"),
        ({"window_shares": (1.0, 1.0, 0.0, 0.0)}, "window_shares"),
        ({"ceiling_m": 0.5}, "ceiling_m"),
        ({"people": -1}, "people"),
        ({"shared_walls": 1.0}, "shared_walls"),
    ],
)
def test_impossible_facts_are_refused_by_name(change: dict[str, object], field: str) -> None:
    """Each impossible fact is one fault that names its field."""
    with pytest.raises(InputError) as caught:
        believe(dataclasses.replace(HouseFacts(100.0), **change))  # type: ignore[arg-type]
    assert [fault.where for fault in caught.value.faults] == [field]


def test_newer_is_better_insulated() -> None:
    """The guess from the year of building never gets worse with time."""
    order = list(Insulation)
    guesses = [order.index(insulation_of_year(year)) for year in range(1880, 2030, 5)]
    assert guesses == sorted(guesses)


def test_measured_windows_are_believed() -> None:
    """A window area that was given has a small spread; every quantity has one."""
    given_area, guessed = believe(HouseFacts(100.0, window_area_m2=14.0)), believe(HouseFacts(100.0))
    assert given_area.spread.window_area_m2 < guessed.spread.window_area_m2
    assert all(getattr(guessed.spread, field.name) > 0.0 for field in dataclasses.fields(Quantities))
