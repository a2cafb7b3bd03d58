"""How likely a log is, for a house of two nodes: a Kalman filter, compiled.

Bacher and Madsen, Energy and Buildings 43 (2011) 1511-1522: stochastic differential equations for air and mass,
discretised exactly with inputs held over a step, one-step predictions by a Kalman filter, and the likelihood from its
innovations. Everything is divided by the equipment's full output, because temperatures and run times tell only ratios.
"""

from __future__ import annotations

import math

import numpy as np

from subbase.comfort.loop_kernel import compiled
from subbase.comfort.weather import Floats

PARAMETERS = ("loss", "air", "mass", "link", "gain", "air_noise", "mass_noise", "reading_noise", "sun")
"""Per unit of full output: UA [1/K], air's and mass's capacity [h/K], link between them [1/K], gain [1]; then process noise
of air and mass [K/sqrt(h)] and noise of a reading [K]; all but the gain as logarithms. Last the sun's mean gain, of which
air and mass take their parts by ``SUN_TO_AIR``."""
SUN_TO_AIR = 0.3
"""Part of the sun that warms the air at once [judgement]."""
FIRST_AIR_K2, FIRST_MASS_K2 = 1.0, 9.0
"""Variance of the state at the start of each stretch [K²]."""


@compiled
def exact_step(parameters: Floats, step_h: float, state: Floats, forced: Floats, noise: Floats) -> bool:
    """Write the exact step: state (2, 2), what a unit of heat does (2, 2), process noise (2, 2); False if it cannot be.

    The eigenvalues of two coupled nodes are real and below 0, so all three follow from them.
    """
    loss, air, mass, link = (
        math.exp(parameters[0]),
        math.exp(parameters[1]),
        math.exp(parameters[2]),
        math.exp(parameters[3]),
    )
    a, b, c, d = -(link + loss) / air, link / air, link / mass, -link / mass
    half, spread = 0.5 * (a + d), math.sqrt(0.25 * (a - d) ** 2 + b * c)
    fast, slow = half - spread, half + spread
    if not (slow < -1e-9 and fast > -1e6 and spread > 1e-12):
        return False
    # A = V diag(λ) V⁻¹, columns of V are (b, λ - a).
    v = np.empty((2, 2))
    v[0, 0], v[0, 1], v[1, 0], v[1, 1] = b, b, fast - a, slow - a
    det = v[0, 0] * v[1, 1] - v[0, 1] * v[1, 0]
    w = np.empty((2, 2))
    w[0, 0], w[0, 1], w[1, 0], w[1, 1] = v[1, 1] / det, -v[0, 1] / det, -v[1, 0] / det, v[0, 0] / det
    lam = (fast, slow)
    sa, sm = math.exp(2.0 * parameters[5]), math.exp(2.0 * parameters[6])
    for i in range(2):
        for j in range(2):
            state[i, j], noise[i, j] = 0.0, 0.0
            for k in range(2):
                state[i, j] += v[i, k] * math.exp(lam[k] * step_h) * w[k, j]
                for m in range(2):
                    core = w[k, 0] * sa * w[m, 0] + w[k, 1] * sm * w[m, 1]
                    both = lam[k] + lam[m]
                    noise[i, j] += v[i, k] * v[j, m] * core * (math.exp(both * step_h) - 1.0) / both
        forced[i, 0], forced[i, 1] = 0.0, 0.0
        for k in range(2):
            grown = v[i, k] * (math.exp(lam[k] * step_h) - 1.0) / lam[k]
            forced[i, 0] += grown * w[k, 0] / air
            forced[i, 1] += grown * w[k, 1] / mass
    return True


@compiled
def predict(parameters: Floats, step_h: float, indoor_c: Floats, inputs: Floats, starts: Floats, found: Floats) -> bool:
    """Write each row's innovation [K] and its variance [K²] into ``found`` (n, 2); False if the house cannot be.

    ``inputs`` (n, 3) are mean outdoor temperature, output and shape of the sun over the step that ends at each row;
    ``starts`` (n,) is 1 at
    the first row of a stretch, whose innovation is 0 with variance 1: nothing predicts it.
    """
    state, forced, noise = np.empty((2, 2)), np.empty((2, 2)), np.empty((2, 2))
    if not exact_step(parameters, step_h, state, forced, noise):
        return False
    loss, gain, reading = math.exp(parameters[0]), parameters[4], math.exp(2.0 * parameters[7])
    sun_air, sun_mass = SUN_TO_AIR * parameters[8], (1.0 - SUN_TO_AIR) * parameters[8]
    s00, s01, s10, s11 = state[0, 0], state[0, 1], state[1, 0], state[1, 1]
    air, mass, p00, p01, p11 = 0.0, 0.0, 0.0, 0.0, 0.0
    for n in range(len(indoor_c)):
        if starts[n] > 0.0:
            air, mass = indoor_c[n], indoor_c[n]
            p00, p01, p11 = FIRST_AIR_K2, 0.0, FIRST_MASS_K2
        else:
            force = loss * inputs[n, 0] + inputs[n, 1] + gain
            to_air, to_mass = force + sun_air * inputs[n, 2], sun_mass * inputs[n, 2]
            next_air = s00 * air + s01 * mass + forced[0, 0] * to_air + forced[0, 1] * to_mass
            mass = s10 * air + s11 * mass + forced[1, 0] * to_air + forced[1, 1] * to_mass
            air = next_air
            q00 = s00 * (s00 * p00 + s01 * p01) + s01 * (s00 * p01 + s01 * p11) + noise[0, 0]
            q01 = s10 * (s00 * p00 + s01 * p01) + s11 * (s00 * p01 + s01 * p11) + noise[0, 1]
            p11 = s10 * (s10 * p00 + s11 * p01) + s11 * (s10 * p01 + s11 * p11) + noise[1, 1]
            p00, p01 = q00, q01
        variance = p00 + reading
        off = indoor_c[n] - air
        found[n, 0], found[n, 1] = (off, variance) if starts[n] == 0.0 else (0.0, 1.0)
        k0, k1 = p00 / variance, p01 / variance
        air += k0 * off
        mass += k1 * off
        p11 -= k1 * p01
        p01 -= k0 * p01
        p00 -= k0 * p00
    return True
