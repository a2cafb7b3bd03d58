"""A house as two nodes, air and mass, and its exact step.

The least model with the two time constants that a log shows: minutes to an hour for the air, a day or more for the
mass. Bacher and Madsen, Energy and Buildings 43 (2011) 1511-1522, model TiTm, with the envelope's loss on the air or on
the mass. The step is the matrix exponential of a 2×2 matrix in closed form.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from subbase.comfort.building import COMPASS
from subbase.comfort.network import Network, Plant, reduced
from subbase.comfort.sun_on_windows import DRIVES
from subbase.comfort.weather import Floats


@dataclass(frozen=True, slots=True)
class TwoNode:
    """Air and mass: C_a dT_a = [H_am (T_m - T_a) + H_ao (T_o - T_a) + q + gains_a] dt, and the same for the mass."""

    air_capacity_j_k: float
    mass_capacity_j_k: float
    air_to_mass_w_k: float
    air_to_outdoor_w_k: float
    mass_to_outdoor_w_k: float = 0.0
    internal_gain_w: float = 0.0
    """Mean, all into the air."""
    sun_m2: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    """Effective aperture (area × SHGC × screen) facing north, east, south, west."""
    sun_to_mass: float = 0.7
    """Part of the sun that the mass takes [judgement]."""

    @property
    def loss_w_k(self) -> float:
        """Steady loss per kelvin of air temperature [W/K]."""
        series = self.air_to_mass_w_k + self.mass_to_outdoor_w_k
        return self.air_to_outdoor_w_k + (self.air_to_mass_w_k * self.mass_to_outdoor_w_k / series if series else 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """An exact step: T(t + dt) = state @ T(t) + forced @ (outdoor °C, W into air, W into mass), all held over dt."""

    state: Floats
    """(2, 2)"""
    forced: Floats
    """(2, 3)"""


def continuous(house: TwoNode) -> tuple[Floats, Floats]:
    """Return A (2, 2) [1/s] and B (2, 3) of dT/dt = A T + B (outdoor, W into air, W into mass)."""
    c_air, c_mass = house.air_capacity_j_k, house.mass_capacity_j_k
    am, ao, mo = house.air_to_mass_w_k, house.air_to_outdoor_w_k, house.mass_to_outdoor_w_k
    a = np.array([[-(am + ao) / c_air, am / c_air], [am / c_mass, -(am + mo) / c_mass]])
    b = np.array([[ao / c_air, 1.0 / c_air, 0.0], [mo / c_mass, 0.0, 1.0 / c_mass]])
    return a, b


def step_of(house: TwoNode, step_s: float) -> Step:
    """Return the exact step of ``step_s`` seconds; the loss must not be 0."""
    a, b = continuous(house)
    state = exponential_2x2(a * step_s)
    forced = np.asarray(np.linalg.solve(a, (state - np.eye(2)) @ b), dtype=np.float64)
    return Step(state, forced)


def exponential_2x2(m: Floats) -> Floats:
    """Return the exponential of a 2×2 matrix with real eigenvalues.

    exp(M) = e^s [cosh(d) I + (sinh(d)/d)(M - s I)], s half the trace, d² = s² - det M (Cayley and Hamilton).
    """
    s = 0.5 * (m[0, 0] + m[1, 1])
    d = math.sqrt(max(s * s - (m[0, 0] * m[1, 1] - m[0, 1] * m[1, 0]), 0.0))
    # e^s cosh d and e^s sinh d without overflow when both are large.
    plus, minus = math.exp(s + d), math.exp(s - d)
    mean = 0.5 * (plus + minus)
    slope = 0.5 * (plus - minus) / d if d > 1e-9 else math.exp(s)
    return np.asarray(mean * np.eye(2) + slope * (m - s * np.eye(2)))


def plant_of_two_node(house: TwoNode) -> Plant:
    """Return the same house for the loop; nothing is lost."""
    am, ao, mo = house.air_to_mass_w_k, house.air_to_outdoor_w_k, house.mass_to_outdoor_w_k
    drive = np.zeros((2, len(DRIVES)))
    drive[:, DRIVES.index("outdoor_c")] = (ao, mo)
    drive[0, DRIVES.index("internal")] = house.internal_gain_w
    for face, aperture_m2 in zip(COMPASS, house.sun_m2, strict=True):
        column = DRIVES.index(f"glass_{face}_w_m2")
        drive[:, column] = (aperture_m2 * (1.0 - house.sun_to_mass), aperture_m2 * house.sun_to_mass)
    return reduced(
        Network(
            capacity_j_k=np.array([house.air_capacity_j_k, house.mass_capacity_j_k]),
            conductance_w_k=np.array([[am + ao, -am], [-am, am + mo]]),
            drive_to_node=drive,
            heat_to_node=np.array([1.0, 0.0]),
        )
    )
