"""Houses scaled to what a log says: they lose and store just that, also far from what age and size let one guess."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.answers import read_answers
from subbase.comfort.fitted import Target, fit, targets_of
from subbase.comfort.house import HouseFacts, Mass, believe
from subbase.comfort.learn import Bounded, Learnt, learn
from subbase.comfort.study import Place, house_of
from tests.comfort_cases import chicago, chicago_drive, house_plant
from tests.comfort_logs import made_log, random_truth

WIND_M_S = 1.8


@settings(max_examples=12, deadline=None)
@given(times=st.floats(0.8, 1.6), slower=st.floats(0.7, 1.5), mass=st.sampled_from(Mass))
def test_a_house_is_scaled_to_its_target(times: float, slower: float, mass: Mass) -> None:
    """Loss and time constant come out within 2 % of what is asked."""
    facts = HouseFacts(180.0, mass=mass)
    plain = house_plant(mass)
    target = Target(times * plain.loss_w_k, slower * plain.time_constant_s / 3600.0)
    found = fit(facts, believe(facts).medians, target, WIND_M_S)
    assert found.loss_w_k == pytest.approx(target.loss_w_k, rel=0.02)
    assert found.time_constant_s / 3600.0 == pytest.approx(target.slow_h, rel=0.02)


def test_targets_spread_as_the_bounds_do() -> None:
    """Their middle is the value, and nineteen in twenty lie within the bounds."""
    loss, slow = Bounded(300.0, 250.0, 360.0), Bounded(30.0, 20.0, 45.0)
    found = targets_of(loss, slow, 200, seed=3)
    losses, slows = np.array([one.loss_w_k for one in found]), np.array([one.slow_h for one in found])
    assert np.median(losses) == pytest.approx(300.0, rel=0.01)
    assert 0.93 < np.mean((losses > 250.0) & (losses < 360.0)) < 0.97
    assert 0.93 < np.mean((slows > 20.0) & (slows < 45.0)) < 0.97
    assert abs(np.corrcoef(losses, slows)[0, 1]) < 0.2


def test_the_study_reckons_with_the_house_of_the_log() -> None:
    """A log of a house far leakier as its answers say is believed, not the answers."""
    place = Place(chicago(), chicago_drive(), made_up=False)
    answers = read_answers({"area": "150", "insulation": "ordinary"}, "si")
    rng = np.random.default_rng(77)
    truth = random_truth(rng)
    told = learn(made_log(truth, rng, step_min=15), truth.output_w, output_spread=0.0)
    assert isinstance(told, Learnt)
    assert told.loss_w_k is not None
    guessed, found = house_of(answers, place), house_of(answers, place, told)
    assert guessed.loss_w_k.high < 0.8 * told.loss_w_k.value
    assert found.by_log
    assert found.plant.loss_w_k == pytest.approx(told.loss_w_k.value, rel=0.03)
    assert found.loss_w_k.middle == pytest.approx(told.loss_w_k.value, rel=0.05)
    assert told.loss_w_k.low <= found.loss_w_k.low < found.loss_w_k.high <= told.loss_w_k.high
