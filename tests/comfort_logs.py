"""Logs with known truth: a house of two nodes with noise in it, under weather and a thermostat made up here."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from subbase.comfort.log_reading import HouseLog, Stretch
from subbase.comfort.two_node import TwoNode, step_of


@dataclass(frozen=True)
class Truth:
    """What a log is made from."""

    house: TwoNode
    output_w: float
    gain_w: float
    air_noise_k: float = 0.05
    """Per square root of an hour."""
    mass_noise_k: float = 0.02
    reading_noise_k: float = 0.05

    @property
    def lift_k(self) -> float:
        """Return how far full output lifts the house."""
        return self.output_w / self.house.loss_w_k

    @property
    def time_constants_h(self) -> tuple[float, float]:
        """Return the slow and the fast time constant, from the eigenvalues of the house's matrix."""
        from subbase.comfort.two_node import continuous

        a, _ = continuous(self.house)
        values = np.sort(np.linalg.eigvals(a).real)
        return float(-1.0 / values[1] / 3600.0), float(-1.0 / values[0] / 3600.0)


def random_truth(rng: np.random.Generator) -> Truth:
    """Return an ordinary house."""
    loss = float(rng.uniform(150.0, 500.0))
    slow_h = float(rng.uniform(18.0, 50.0))
    capacity = loss * slow_h * 3600.0
    air_share = float(rng.uniform(0.05, 0.2))
    house = TwoNode(
        air_capacity_j_k=capacity * air_share,
        mass_capacity_j_k=capacity * (1.0 - air_share),
        air_to_mass_w_k=loss * float(rng.uniform(3.0, 12.0)),
        air_to_outdoor_w_k=loss,
    )
    return Truth(house, output_w=loss * float(rng.uniform(35.0, 60.0)), gain_w=float(rng.uniform(200.0, 1200.0)))


def made_log(truth: Truth, rng: np.random.Generator, *, days: int = 14, step_min: int = 15) -> HouseLog:
    """Return a log: minutes simulated one by one with a thermostat of a night setback, then read step by step."""
    steps = days * 24 * 60 // step_min
    minutes = steps * step_min
    t = np.arange(minutes)
    slow = np.cumsum(rng.normal(0.0, 0.03, minutes))
    outdoor = -2.0 + 4.0 * np.sin(2 * np.pi * (t / 1440.0 - 0.4)) + slow - slow.mean()
    hour = (t // 60) % 24
    set_c = np.where((hour >= 22) | (hour < 6), 16.5, 20.5)
    step = step_of(truth.house, 60.0)
    shake = rng.normal(0.0, 1.0, (minutes, 2)) * np.array([truth.air_noise_k, truth.mass_noise_k]) / np.sqrt(60.0)
    air, mass, on = 20.0, 19.5, False
    indoor, ran = np.empty(minutes), np.empty(minutes)
    (s00, s01), (s10, s11) = step.state
    (f00, f01, _), (f10, f11, _) = step.forced
    for k in range(minutes):
        on = air < set_c[k] + (0.3 if on else -0.3)
        heat = truth.gain_w + truth.output_w * on
        air, mass = (
            s00 * air + s01 * mass + f00 * outdoor[k] + f01 * heat + shake[k, 0],
            s10 * air + s11 * mass + f10 * outdoor[k] + f11 * heat + shake[k, 1],
        )
        indoor[k], ran[k] = air, on
    rows = np.arange(step_min - 1, minutes, step_min)
    read = indoor[rows] + rng.normal(0.0, truth.reading_noise_k, steps)
    return HouseLog(step_min * 60.0, (Stretch(read, outdoor[rows], ran.reshape(steps, step_min).mean(axis=1)),))
