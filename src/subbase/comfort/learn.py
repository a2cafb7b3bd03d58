"""What a log tells of a house: loss, time constants, gains and how far outdoors may fall, with bounds.

Grey-box maximum likelihood of the two-node house (``log_filter``). Temperatures and run times alone tell ratios: how many
kelvin full output lifts the house over outdoors, its time constants, what the gains lift it. With the equipment's output
from nameplate or meter the same ratios are watts. Bounds are 95 % by the curvature of the likelihood at its top; that
of watts holds the output's own doubt too. Sun comes in as the shape of a mean day, so a log must tell the time of day. On
houses of EnergyPlus, which are neither of two nodes nor without clouds, losses of light ones come out within the bounds and
those of heavy ones up to a fifth low (tests/outside/test_comfort_learning_energyplus.py). Where the data cannot tell, that is said, and why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from subbase.comfort.log_filter import PARAMETERS, predict
from subbase.comfort.log_reading import HouseLog
from subbase.comfort.weather import Floats
from subbase.words import _

Z95 = 1.959964
LEAST_HOURS = 48.0
LEAST_SWING_K = 0.5
"""Indoor temperature must have moved at least so far for time constants to show [judgement]."""
LEAST_LIFT_K = 4.0
"""Mean of indoors over outdoors under which a loss cannot be told from gains [judgement]."""
WIDEST = 0.5
"""A bound wider than this part of the value is told as not known [judgement]."""
MOST_CORRELATION = 0.35
"""Of one step's surprise with the next one's; above it the two-node house does not fit the log [judgement]."""
OUTPUT_SPREAD = 0.10
"""How far an output from a nameplate may be off, one standard deviation [judgement]."""
J_PER_WH = 3600.0
MOST_ROUNDS = 60
HIDDEN = 0.025
"""Standard deviation, as a part of a value, added for what no fit of this kind sees: when in a step the equipment ran, and
that the control answers to the same air that is read. Over 200 made-up logs losses came out 1 to 2 % high from it."""
SUN_FROM_H, SUN_TO_H = 8.0, 17.0
LONGEST_H = 400.0
"""A house that stays warm longer than this has been misread."""
HIDDEN_FAST = 0.2
"""The same for the short time constant, which a step may outlast [judgement]."""
WORST_CONDITION = 1e13


@dataclass(frozen=True, slots=True)
class Bounded:
    """A value with its 95 % bounds."""

    value: float
    low: float
    high: float

    def holds(self, truth: float) -> bool:
        """Return whether a value lies within the bounds."""
        return self.low <= truth <= self.high

    @property
    def spread(self) -> float:
        """Return half the width as a part of the value."""
        return (self.high - self.low) / (2.0 * abs(self.value)) if self.value else math.inf


@dataclass(frozen=True, slots=True)
class Learnt:
    """What a log tells."""

    lift_k: Bounded
    """Full output holds the house this many kelvin over outdoors, gains left out."""
    gain_lift_k: Bounded
    """Sun, people and appliances lift it so far, in the mean."""
    slow_h: Bounded
    """The long time constant: how the whole house cools."""
    fast_h: Bounded
    """The short one: air against mass."""
    loss_w_k: Bounded | None
    """UA; None when the output is not known."""
    capacity_j_k: Bounded | None
    """Air and mass together."""
    gain_w: Bounded | None
    reading_noise_k: float
    correlation: float
    """Of one step's surprise with the next one's; about 0 when the model fits."""
    hours: float
    doubts: tuple[str, ...] = ()
    """Why something cannot be told; empty when all can."""

    def runs_all_the_time_c(self, indoor_c: float) -> float:
        """Return the outdoor temperature at which the equipment never rests."""
        return indoor_c - self.lift_k.value - self.gain_lift_k.value


@dataclass(frozen=True, slots=True)
class CannotTell:
    """A log that tells nothing worth setting a control by, with the reasons."""

    reasons: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Data:
    """A log as the filter wants it."""

    step_h: float
    indoor_c: Floats
    inputs: Floats
    """(n, 3) mean outdoors, output share and shape of the sun over each step."""
    starts: Floats


def data_of(log: HouseLog, output_share: tuple[float, float] = (0.0, 1.0)) -> Data:
    """Return a log's arrays.

    ``output_share`` (per K, at 0 °C) is the equipment's full output against outdoor temperature as a part of the output
    asked about: (0, 1) for a burner or strips, a slope for a heat pump.
    """
    outdoor, on, sun, starts = [], [], [], []
    for stretch in log.stretches:
        mean_c = 0.5 * (stretch.outdoor_c + np.concatenate([stretch.outdoor_c[:1], stretch.outdoor_c[:-1]]))
        outdoor.append(mean_c)
        on.append(stretch.on * np.maximum(output_share[1] + output_share[0] * mean_c, 0.05))
        sun.append(np.zeros(len(stretch)) if stretch.hour is None else sun_shape(stretch.hour, log.step_s / 3600.0))
        begin = np.zeros(len(stretch))
        begin[0] = 1.0
        starts.append(begin)
    return Data(
        step_h=log.step_s / 3600.0,
        indoor_c=np.concatenate([stretch.indoor_c for stretch in log.stretches]),
        inputs=np.ascontiguousarray(
            np.stack([np.concatenate(outdoor), np.concatenate(on), np.concatenate(sun)], axis=1)
        ),
        starts=np.concatenate(starts),
    )


def sun_shape(hour: Floats, step_h: float) -> Floats:
    """Return the sun of a mean day over the step that ends at each hour, of mean 1: a half sine from 8 to 17 h.

    What clouds and seasons do to it is left to the noise of the mass; days of a winter month are much alike in shape.
    """
    middle = (hour - 0.5 * step_h) % 24.0
    length = SUN_TO_H - SUN_FROM_H
    up = np.clip((middle - SUN_FROM_H) / length, 0.0, 1.0)
    return np.asarray(np.sin(np.pi * up) * 24.0 * np.pi / (2.0 * length))


def learn(
    log: HouseLog,
    output_w: float | None = None,
    *,
    output_spread: float = OUTPUT_SPREAD,
    output_share: tuple[float, float] = (0.0, 1.0),
) -> Learnt | CannotTell:
    """Return what a log tells, or why it tells nothing.

    Parameters
    ----------
    output_w
        Full heat output [W], from nameplate or meter; without it no watts are told.
    output_spread
        Its standard deviation as a part of it.
    output_share
        As in ``data_of``.
    """
    reasons = _too_little(log)
    if reasons:
        return CannotTell(tuple(reasons))
    data = data_of(log, output_share)
    best = fit(data)
    _score, information, scatter = score_and_information(best, data)
    if np.linalg.cond(information) > WORST_CONDITION:
        return CannotTell(
            (_("Many different houses explain this log equally well; log through some colder and warmer nights."),)
        )
    covariance: Floats = np.asarray(np.linalg.inv(information), dtype=np.float64)
    robust = covariance @ scatter @ covariance
    return _told(best, (covariance, robust), data, log, (output_w, output_spread))


def fit(data: Data) -> Floats:
    """Return the parameters at the top of the likelihood, from the best of several starts."""
    found = [_climb(start, data) for start in _starts(data)]
    return min(found, key=lambda item: item[1])[0]


def minus_log_posterior(parameters: Floats, data: Data) -> float:
    """Return minus the log-likelihood, less a weak belief about noise that keeps it from vanishing."""
    found = np.empty((len(data.indoor_c), 2))
    if not predict(parameters, data.step_h, data.indoor_c, data.inputs, data.starts, found):
        return math.inf
    value = 0.5 * float(np.sum(np.log(found[:, 1]) + found[:, 0] ** 2 / found[:, 1]))
    return value + 0.5 * float(np.sum(((parameters - _BELIEF) / _BELIEF_SD) ** 2))


def score_and_information(parameters: Floats, data: Data, step: float = 1e-4) -> tuple[Floats, Floats, Floats]:
    """Return the slope of minus the log-posterior (9,), its expected curvature (9, 9) and the slope's scatter (9, 9).

    Of Gaussian innovations e with variance v: e e'/v and half v'v'/v², summed; their derivatives by central differences.
    """
    count, rows = len(parameters), len(data.indoor_c)
    here = np.empty((rows, 2))
    predict(parameters, data.step_h, data.indoor_c, data.inputs, data.starts, here)
    slopes = np.empty((count, rows, 2))
    up, down = np.empty((rows, 2)), np.empty((rows, 2))
    for k in range(count):
        shift = np.zeros(count)
        shift[k] = step
        predict(parameters + shift, data.step_h, data.indoor_c, data.inputs, data.starts, up)
        predict(parameters - shift, data.step_h, data.indoor_c, data.inputs, data.starts, down)
        slopes[k] = (up - down) / (2.0 * step)
    off, variance = here[:, 0], here[:, 1]
    by_off, by_variance = slopes[:, :, 0], slopes[:, :, 1]
    by_row = by_off * (off / variance) + by_variance * (0.5 / variance - 0.5 * off**2 / variance**2)
    score = by_row.sum(axis=1)
    scaled = by_variance / variance
    information = (by_off / variance) @ by_off.T + 0.5 * scaled @ scaled.T
    belief = 1.0 / _BELIEF_SD**2
    days = np.add.reduceat(by_row, np.arange(0, rows, max(round(24.0 / data.step_h), 1)), axis=1)
    return score + (parameters - _BELIEF) * belief, information + np.diag(belief), days @ days.T + np.diag(belief)


def _climb(start: Floats, data: Data) -> tuple[Floats, float]:
    """Return where Fisher's scoring, damped by Levenberg and Marquardt, comes to rest, and its value."""
    now, value, damping = start, minus_log_posterior(start, data), 1e-2
    for _round in range(MOST_ROUNDS):
        score, information, _scatter = score_and_information(now, data)
        for _try in range(8):
            step = np.linalg.solve(information + damping * np.diag(np.diag(information)), score)
            there = now - np.clip(step, -1.0, 1.0)
            reached = minus_log_posterior(there, data)
            if reached < value:
                break
            damping *= 10.0
        else:
            break
        gained = value - reached
        now, value, damping = there, reached, max(damping * 0.1, 1e-9)
        if gained < 1e-5:
            break
    return now, value


def derived(parameters: Floats, data: Data) -> Floats:
    """Return log lift, gain lift, log slow and fast time constants, log capacity over output, (5,)."""
    loss, air, mass, link = np.exp(parameters[:4])
    half = -0.5 * ((link + loss) / air + link / mass)
    root = math.sqrt(max(half * half - loss * link / (air * mass), 0.0))
    slow, fast = -1.0 / (half + root), -1.0 / (half - root)
    return np.array(
        [-parameters[0], float(_gains(data) @ parameters) / loss, math.log(slow), math.log(fast), math.log(air + mass)]
    )


_BELIEF = np.array([0.0, 0.0, 0.0, 0.0, 0.0, -2.5, -3.5, -3.0, 0.03])
_BELIEF_SD = np.array([1e3, 1e3, 1e3, 1e3, 1e3, 1.5, 1.5, 1.5, 0.1])
"""Noise is a tenth of a kelvin, give or take a factor of four [judgement]; the sun is a few per cent of full output; of the house
itself nothing is believed beforehand."""


def _starts(data: Data) -> list[Floats]:
    """Return starting points: the loss from the mean balance, the rest typical."""
    lift = float(np.mean(data.indoor_c - data.inputs[:, 0]))
    on = float(np.mean(data.inputs[:, 1]))
    gain = 0.15 * on + 0.02
    loss = max((on + gain) / max(lift, 2.0), 1e-3)
    rows = []
    for slow_h, air_share, link in ((35.0, 0.08, 8.0), (18.0, 0.2, 4.0), (60.0, 0.04, 15.0)):
        capacity = slow_h * loss
        rows.append(
            np.array(
                [
                    math.log(loss), math.log(capacity * air_share), math.log(capacity * (1.0 - air_share)),
                    math.log(loss * link), gain, -2.0, -3.0, -2.5, 0.03,
                ]
            )
        )  # fmt: skip
    return rows


def _gains(data: Data) -> Floats:
    """Return what adds up to the gains; the sun is no part of it where the log does not tell the time of day."""
    found = np.zeros(len(PARAMETERS))
    found[4], found[8] = 1.0, float(data.inputs[:, 2].any())
    return found


def _too_little(log: HouseLog) -> list[str]:
    reasons = []
    if log.hours < LEAST_HOURS or not log.stretches:
        reasons.append(
            _(
                "{hours:.0f} hours without gaps are too few; at least {least:.0f} are needed, two weeks are better."
            ).format(hours=log.hours, least=LEAST_HOURS)
        )
        return reasons
    indoor = np.concatenate([stretch.indoor_c for stretch in log.stretches])
    outdoor = np.concatenate([stretch.outdoor_c for stretch in log.stretches])
    on = np.concatenate([stretch.on for stretch in log.stretches])
    swing = float(np.percentile(indoor, 97.5) - np.percentile(indoor, 2.5))
    if float(on.max()) < 0.02:
        reasons.append(_("The equipment never ran, so nothing tells how much its heat does."))
    if float(on.min()) > 0.98:
        reasons.append(_("The equipment never rested, so nothing tells how the house cools by itself."))
    if swing < LEAST_SWING_K:
        reasons.append(
            _("Indoors moved by only {swing:.1f} K; let a setback run for a few nights and log those.").format(
                swing=swing
            )
        )
    if float(np.mean(indoor - outdoor)) < LEAST_LIFT_K:
        reasons.append(
            _(
                "It was hardly colder outside than inside; the heat lost cannot be told from sun and people. Log colder days."
            )
        )
    return reasons


def _told(
    best: Floats, covariances: tuple[Floats, Floats], data: Data, log: HouseLog, output: tuple[float | None, float]
) -> Learnt | CannotTell:
    slope = np.stack(
        [(derived(best + d, data) - derived(best - d, data)) / 2e-5 for d in np.eye(len(best)) * 1e-5], axis=1
    )
    about = derived(best, data)
    # Where the house of two nodes does not fit, slopes of whole days scatter more than they should; the wider one counts.
    sd = np.sqrt(np.maximum.reduce([np.diag(slope @ one @ slope.T) for one in covariances]))
    mean_lift_k = float(np.mean(data.indoor_c - data.inputs[:, 0]))
    # A loss that is off puts the difference into the gains.
    hidden_gain = HIDDEN * math.exp(float(best[0])) * abs(mean_lift_k)
    parts = _gains(data)
    gain_alone = math.hypot(max(float(parts @ one @ parts) for one in covariances) ** 0.5, hidden_gain)
    sd = np.hypot(sd, [HIDDEN, hidden_gain * math.exp(float(about[0])), HIDDEN, HIDDEN_FAST, HIDDEN])
    lift, slow, fast = (_log_bounds(about[k], sd[k]) for k in (0, 2, 3))
    gain = Bounded(float(about[1]), float(about[1] - Z95 * sd[1]), float(about[1] + Z95 * sd[1]))
    found = np.empty((len(data.indoor_c), 2))
    predict(best, data.step_h, data.indoor_c, data.inputs, data.starts, found)
    innovations = found[:, 0] / np.sqrt(found[:, 1])
    inside = (data.starts[1:] == 0.0) & (data.starts[:-1] == 0.0)
    one, two = innovations[:-1][inside], innovations[1:][inside]
    correlation = float(np.mean(one * two) / max(float(np.mean(one * one)), 1e-12))
    doubts = _doubts(lift, slow, correlation)
    if not np.isfinite(sd).all() or lift.spread > 2.0 * WIDEST or slow.value > LONGEST_H or slow.spread > 2.0:
        return CannotTell(
            (_("The bounds are too wide to set anything by; log longer, or with deeper setbacks."), *doubts)
        )
    loss = capacity = gains = None
    output_w, spread = output
    if output_w is not None:
        # Doubts of the output and of the log are apart from each other, so they add as squares.
        loss = _log_bounds(math.log(output_w) - about[0], math.hypot(sd[0], spread))
        capacity = _log_bounds(math.log(output_w * J_PER_WH) + about[4], math.hypot(sd[4], spread))
        gain_sd = output_w * math.hypot(gain_alone, spread * float(parts @ best))
        gains = Bounded(
            float(output_w * float(parts @ best)),
            float(output_w * float(parts @ best) - Z95 * gain_sd),
            float(output_w * float(parts @ best) + Z95 * gain_sd),
        )
    return Learnt(
        lift, gain, slow, fast, loss, capacity, gains, math.exp(float(best[7])), correlation, log.hours, tuple(doubts)
    )


def _doubts(lift: Bounded, slow: Bounded, correlation: float) -> list[str]:
    found = []
    if lift.spread > WIDEST:
        found.append(_("How fast the house loses heat is hardly known; log colder days."))
    if slow.spread > WIDEST:
        found.append(_("How long the house stays warm is hardly known; log some nights with a deep setback."))
    if abs(correlation) > MOST_CORRELATION:
        found.append(
            _(
                "The log has a rhythm that two nodes do not explain (sun, a stove, a door); take the bounds as too narrow."
            )
        )
    return found


def _log_bounds(log_value: float, sd: float) -> Bounded:
    low, high = log_value - Z95 * sd, min(log_value + Z95 * sd, 300.0)
    return Bounded(float(np.exp(log_value)), float(np.exp(low)), float(np.exp(high)))
