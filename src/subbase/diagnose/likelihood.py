"""How likely a reading is under each row: honest about the meter, the line, what is not known, and plain mistakes.

- The line may be up to 10 % low or high, and all supplies with it: ``LINE`` holds its levels, and likelihoods are kept
  level by level, so that one reading of the supply sharpens all others.
- Between points that no path joins, a meter of high impedance shows anything from nothing to nearly the supply (ghost
  voltage, NEMA Engineering Bulletin 88); one of low impedance shows next to nothing.
- With probability ``Reading.doubt`` a reading is wrong altogether and could have been anything, so that no single one can
  exclude the truth.
- Faults of degree (a poor joint, a weak supply) are predicted at several degrees, and the belief sums over them; what lies
  between two is covered by a spread as wide as the step from one to the next.
- Where a relay is near its pull-in, nobody knows what it does: such a row is blended with what anything may give.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from subbase.diagnose.dead import row_ohms, scale
from subbase.diagnose.predictions import Block, Predictions, amps_through, single_amps, volts_between
from subbase.diagnose.probes import ANSWERS, Probe, Reading
from subbase.diagnose.sights import answer_probabilities

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

LINE = np.array([0.90, 0.933, 0.967, 1.0, 1.033, 1.067, 1.10])
LINE_SHARES = np.array([0.05, 0.12, 0.20, 0.26, 0.20, 0.12, 0.05])
"""Line voltage over nominal and how often (judgement)."""
MODEL_V, MODEL_SHARE = 0.2, 0.02
"""What the model itself may be off, one standard deviation: loads, copper, contacts (judgement)."""
BETWEEN_DEGREES = 0.3
"""Spread of a fault of degree, over what it changes in the reading, where it is one of two faults."""
BETWEEN_NEIGHBOURS = 0.4
"""The same in a single fault, over what the next degree up or down changes: nearly flat from one to the next."""
MARGINAL = 0.45
"""Probability that a relay near its pull-in does not do what the nominal circuit says (judgement)."""
GHOST_NONE, GHOST_V = 0.4, 0.5
"""Share of floating points that show next to nothing, and what that is (judgement); the rest show anything."""
LOW_IMPEDANCE_OHM = 500e3
"""Meters below this load ghost voltages away."""
REACH = 1.3
"""A mistaken reading lies anywhere up to so many times the largest supply."""
MODEL_A, MODEL_A_SHARE = 0.01, 0.06
OHM_METAL, OHM_SPREAD = 0.12, 0.32
"""Spread on ``dead.scale`` of what is metal, and of what goes through windings or electronics (judgement)."""
OHM_CLASS = 0.07
"""How often ohms are shown where OL was predicted (judgement)."""
SHOWS_OL = ((250.0, 0.3), (30.0, 0.12), (5.0, 0.05), (0.0, 0.01))
"""(ohms expected at least, how often OL is shown all the same): electronics, windings, metal (judgement)."""
NO_CONTACT = 0.35
"""Of readings that are wrong altogether: leads that did not touch, so 0 V, or OL (judgement)."""
OL_SCALE = 7.7


def degree_spread(predictions: Predictions, block: Block, of_row: Reals, of_form: Reals) -> Reals:
    """Return (n, ...) the spread that a reading has because a fault may be of any degree between two that are weighed.

    Parameters
    ----------
    of_row : (n, ...)
        What the rows of the block give.
    of_form : (n_form, ...)
        What the forms of single faults give, the house without a fault first.
    """
    rows = predictions.rows
    graded, before, after = _degrees(predictions)
    step = np.maximum(np.abs(of_form - of_form[before]), np.abs(of_form - of_form[after]))
    first, second = rows.form[block.rows, 0], rows.form[block.rows, 1]
    either = graded[first] | ((second >= 0) & graded[second])
    double = BETWEEN_DEGREES * np.abs(of_row - of_form[0])
    more = (1,) * (of_row.ndim - 1)
    found: Reals = np.where(
        (second < 0).reshape(-1, *more), BETWEEN_NEIGHBOURS * step[first], either.reshape(-1, *more) * double
    )
    return found


def _degrees(predictions: Predictions) -> tuple[Bools, Ints, Ints]:
    """Return ((n_form,) whether it is of degree and of effect, (n_form,) the next form of less, and of more of it)."""
    key = "degrees"
    if key not in predictions.memory:
        forms, owner = predictions.rows.forms, predictions.rows.owner
        before, after = np.arange(len(forms)), np.arange(len(forms))
        last: dict[object, int] = {}
        for i, form in enumerate(forms):
            if not form.degree:
                continue
            family = (int(owner[i]), form.degree, form.gone, form.silent)
            if family in last:
                before[i], after[last[family]] = last[family], i
            last[family] = i
        # What a short has blown is open whatever its degree.
        graded = np.array([bool(form.degree) and not form.gone for form in forms], dtype=np.bool_)
        predictions.memory[key] = (graded, before, after)
    found = predictions.memory[key]
    assert isinstance(found, tuple)
    return found


def reach_v(predictions: Predictions, probe: Probe) -> float:
    """Return the voltage up to which anything is possible between two points."""
    del probe
    return REACH * predictions.most_v


def volts_expected(predictions: Predictions, block: Block, probe: Probe) -> tuple[Reals, Reals, Bools]:
    """Return (n,) volts at the nominal line, (n,) their spread by degree, and (n,) whether anything defines them."""
    a, b = (predictions.column(node) for node in probe.between)
    firm, joined = volts_between(block, a, b, leaky=False)
    spread = np.zeros_like(firm)
    if block.leaky_island is not block.island:
        through_leak, anyhow = volts_between(block, a, b, leaky=True)
        by_leak = anyhow & ~joined
        loaded = probe.meter.input_ohm < LOW_IMPEDANCE_OHM
        # A meter of low impedance pulls down what only leakage holds up; by how much depends on the leak.
        firm = np.where(by_leak, through_leak * (0.4 if loaded else 1.0), firm)
        spread = np.where(by_leak, (0.3 if loaded else 0.05) * through_leak, spread)
        joined = anyhow
    of_form, _ = volts_between(predictions.singles(probe.state), a, b)
    return firm, np.hypot(spread, degree_spread(predictions, block, firm, of_form)), joined


def good_and_wild(predictions: Predictions, block: Block, reading: Reading) -> tuple[Reals, float]:
    """Return ((n, n_line) likelihood of a reading taken rightly, likelihood of one that is wrong altogether).

    Likelihoods are densities per volt, ampere or step of ``dead.scale``, or probabilities of an answer.

    Raises
    ------
    ValueError
        When the reading says 'don't know', or is of what the house does not have.
    """
    probe, value = reading.probe, reading.value
    if value is None:
        raise ValueError("A reading that is not known has no likelihood.")
    match probe.kind:
        case "volts":
            return _volts(predictions, block, reading, float(value))
        case "amps":
            amps = amps_through(predictions, block, probe.state, probe.through)
            sd = np.hypot(MODEL_A + reading.error_offset / 20.0, (MODEL_A_SHARE + reading.error_share) * amps)
            of_form = single_amps(predictions, probe.state, probe.through)
            sd = np.hypot(sd, degree_spread(predictions, block, amps, of_form))
            good = _normal(float(value), amps[:, None] * LINE, sd[:, None])
            return _with_doubtful_relays(block, good, 0.2), 0.2
        case "ohms":
            good = _ohms(row_ohms(predictions, block.rows, probe.between), float(value))
            return np.repeat(good[:, None], len(LINE), axis=1), _wild_ohm(float(value))
        case "seen":
            answers = ANSWERS[probe.sight] if probe.sight else ()
            good = answer_probabilities(predictions, block, probe)[:, answers.index(str(value))]
            if probe.sight != "display":
                good = _with_doubtful_relays(block, good[:, None], 1.0 / len(answers))[:, 0]
            return np.repeat(good[:, None], len(LINE), axis=1), 1.0 / len(answers)


def _with_doubtful_relays(block: Block, good: Reals, anything: float) -> Reals:
    """Return likelihoods of rows in which some relay is near its pull-in blended with what anything may give."""
    return np.where(block.marginal[:, None], (1.0 - MARGINAL) * good + MARGINAL * anything, good)


def _volts(predictions: Predictions, block: Block, reading: Reading, value: float) -> tuple[Reals, float]:
    mean, spread, joined = volts_expected(predictions, block, reading.probe)
    at_line = mean[:, None] * LINE
    sd = np.sqrt(
        (MODEL_V + reading.error_offset / 2.0) ** 2
        + ((MODEL_SHARE + reading.error_share / 2.0) * at_line) ** 2
        + spread[:, None] ** 2
    )
    reach = reach_v(predictions, reading.probe)
    good = np.where(joined[:, None], _folded(value, at_line, sd), _ghost(predictions, reading.probe, value))
    good = _with_doubtful_relays(block, good, 1.0 / reach if value <= reach else 0.0)
    good[block.chatter] = 1.0 / reach
    return good, wild_volts(value, reach)


def _ghost(predictions: Predictions, probe: Probe, value: float) -> float:
    """Return the density of what a meter shows between points that no path joins [1/V]."""
    none = 2.0 * _normal_at(value, 0.0, GHOST_V)
    if probe.meter.input_ohm < LOW_IMPEDANCE_OHM:
        return none
    reach = reach_v(predictions, probe) / REACH
    return GHOST_NONE * none + (1.0 - GHOST_NONE) * (1.0 / reach if value <= reach else 0.0)


def _ohms(expected: Reals, value: float) -> Reals:
    at, shown = scale(expected), float(scale(np.array([value]))[0])
    spread = np.where(expected < 5.0, OHM_METAL, OHM_SPREAD)
    is_open, shows_open = np.isinf(expected), math.isinf(value)
    none = ol_share(expected)
    if shows_open:
        return none
    finite = _normal(shown, at, spread)
    return np.where(is_open, OHM_CLASS / OL_SCALE, (1.0 - none) * finite)


def ol_share(expected: Reals) -> Reals:
    """Return how often OL is shown where ohms are expected, or OL."""
    found = np.full(np.shape(expected), 1.0 - OHM_CLASS)
    for least, share in reversed(SHOWS_OL):
        found = np.where(np.isfinite(expected) & (expected >= least), share, found)
    return found


def _wild_ohm(value: float) -> float:
    return 0.5 if math.isinf(value) else 0.5 / OL_SCALE


def wild_volts(value: float, reach: float) -> float:
    """Return the density of a reading of volts that is wrong altogether [1/V]."""
    return NO_CONTACT * 2.0 * _normal_at(value, 0.0, GHOST_V) + (1.0 - NO_CONTACT) / max(reach, value)


def _normal(value: float, mean: Reals, sd: Reals) -> Reals:
    density: Reals = np.exp(-0.5 * ((value - mean) / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi))
    return density


def _normal_at(value: float, mean: float, sd: float) -> float:
    return math.exp(-0.5 * ((value - mean) / sd) ** 2) / (sd * math.sqrt(2.0 * math.pi))


def _folded(value: float, mean: Reals, sd: Reals) -> Reals:
    """Return the density of a modulus: what would lie below 0 is shown above it."""
    return _normal(value, mean, sd) + _normal(-value, mean, sd)


def volt_shares(mean: Reals, sd: Reals, edges: Reals) -> Reals:
    """Return (..., n_bin) share of a folded normal in each bin; the last bin has no upper end."""
    z = (edges - mean[..., None]) / sd[..., None]
    mirrored = (-edges - mean[..., None]) / sd[..., None]
    upto = ndtr(z) - ndtr(mirrored)
    upto[..., 0] = 0.0
    shares: Reals = np.diff(upto, axis=-1, append=1.0)
    return shares


def ghost_shares(edges: Reals, reach: float, *, low_impedance: bool) -> Reals:
    """Return (n_bin,) share of what a meter shows between points that no path joins."""
    near: Reals = np.diff(2.0 * ndtr(edges / GHOST_V) - 1.0, append=1.0)
    if low_impedance:
        return near
    wide: Reals = np.diff(np.minimum(edges / reach, 1.0), append=1.0)
    return GHOST_NONE * near + (1.0 - GHOST_NONE) * wide


__all__ = [
    "LINE",
    "LINE_SHARES",
    "degree_spread",
    "ghost_shares",
    "good_and_wild",
    "ol_share",
    "reach_v",
    "volt_shares",
    "volts_expected",
]
