"""The loop in readable Python: the definition of its rules, to which the kernel is held by tests.

Slow (about a quarter of a million times), so for days, not years. Nothing here is shared with the kernel but the data.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from subbase.comfort.equipment import GRID_C, Level
from subbase.comfort.loop import SLOTS_PER_H, STEP_S, Case, Minutes, next_rise
from subbase.comfort.sun_on_windows import N_INSTANT, Drive
from subbase.comfort.weather import HOURS, Floats


@dataclass(slots=True)
class _State:
    """What the control remembers."""

    modes: Floats
    heating: int = 0
    """Level, 0 is off."""
    cooling: int = 0
    since_s: float = 1e9
    """Since the equipment last started or stopped."""
    level_since_s: float = 1e9
    """Since the level last changed."""
    started_s: float = 1e9
    """Running time since the last start."""
    lacking: float = 1.0
    """Part of the heat that was lacking at the last start: less than all where iron and water were still warm."""
    warm_w: float = 0.0
    """What comes yet after a stop."""
    recovering: bool = False


@dataclass(frozen=True, slots=True)
class _Rung:
    heat_w: float
    given_back: float


def run_reference(case: Case, drive: Drive, first_hour: int, hours: int, *, warm_up_h: int = 24) -> Minutes:
    """Return air and heat minute by minute, as ``loop.run_minutes`` does."""
    rise_to_c, rise_in = next_rise(case.setpoints.heat_c)
    start = (first_hour - warm_up_h) % HOURS
    state = _State(_at_rest(case, drive, start, float(case.setpoints.heat_c[start * SLOTS_PER_H])))
    air_c, heat_w, runs = [], [], []
    for offset in range(-warm_up_h, hours):
        hour = (first_hour + offset) % HOURS
        outdoor_c = float(drive.outdoor_c[hour])
        heat_ladder = _ladder(case.equipment.heating, outdoor_c)
        cool_ladder = _ladder(case.equipment.cooling, outdoor_c)
        for minute in range(60):
            slot = hour * SLOTS_PER_H + minute // 15
            told_c, cool_c = float(case.setpoints.heat_c[slot]), float(case.setpoints.cool_c[slot])
            if minute % 15 == 0:
                rise = (float(rise_to_c[slot]), rise_in[slot] / SLOTS_PER_H)
                _look_ahead(state, case, told_c, rise, outdoor_c)
            heat_c = float(rise_to_c[slot]) if state.recovering else told_c
            top = min(len(heat_ladder), 1) if state.recovering and case.control.spare_auxiliary else len(heat_ladder)
            state.heating, state.cooling = min(state.heating, top), min(state.cooling, len(cool_ladder))
            force = _force(case, drive, hour, minute)
            q_w = _decide(state, case, (heat_c, cool_c), (heat_ladder[:top], cool_ladder), force)
            state.modes = _step(case, state.modes, force, q_w)
            if offset >= 0:
                air_c.append(_air(case, state.modes))
                heat_w.append(q_w)
                runs.append(_runs(state, case, q_w))
    return Minutes(np.array(air_c), np.array(heat_w), np.array(runs))


def _runs(state: _State, case: Case, q_w: float) -> float:
    """Return 1 while heating runs, -1 while cooling does; ideal equipment runs whenever it gives anything."""
    if case.equipment.lowest_share <= 0.0:
        return float(np.sign(q_w))
    return 1.0 if state.heating else -1.0 if state.cooling else 0.0


def _look_ahead(state: _State, case: Case, told_c: float, rise: tuple[float, float], outdoor_c: float) -> None:
    """Start a recovery when the time left is no more than the time needed."""
    control = case.control
    rise_c, away_h = rise
    pace_k_per_h = max(control.recovery_k_per_h + control.recovery_per_outdoor_k * outdoor_c, 0.1)
    if not control.optimum_start or away_h > control.most_lead_h or rise_c <= told_c:
        state.recovering = False
    elif (rise_c - _air(case, state.modes)) / pace_k_per_h >= away_h:
        state.recovering = True


def _decide(
    state: _State, case: Case, setpoints: tuple[float, float], ladders: tuple[list[_Rung], list[_Rung]], force: Floats
) -> float:
    """Return the heat of the next minute [W], cooling below 0."""
    (heat_c, cool_c), (heat_ladder, cool_ladder) = setpoints, ladders
    free_c, gain = _air(case, _step(case, state.modes, force, 0.0)), _gain(case)
    if case.equipment.lowest_share <= 0.0:
        if heat_ladder and free_c < heat_c:
            return min((heat_c - free_c) / gain, heat_ladder[-1].heat_w)
        if cool_ladder and free_c > cool_c:
            return -min((free_c - cool_c) / gain, cool_ladder[-1].heat_w)
        return 0.0
    air_c = _air(case, state.modes)
    was_off = not state.heating and not state.cooling
    _switch(state, case, (heat_c - air_c, air_c - cool_c), (len(heat_ladder), len(cool_ladder)))
    if was_off and (state.heating or state.cooling):
        state.lacking = 1.0 - (min(state.warm_w / heat_ladder[0].heat_w, 1.0) if state.heating else 0.0)
    state.since_s += STEP_S
    state.level_since_s += STEP_S
    equipment = case.equipment
    if not state.heating and not state.cooling:
        given_w = state.warm_w * _lack(0.0, equipment.heat_start_s)
        state.warm_w *= _left(STEP_S, equipment.heat_start_s)
        return given_w
    rung, start_s, need_k = (
        (heat_ladder[state.heating - 1], equipment.heat_start_s, heat_c - free_c)
        if state.heating
        else (cool_ladder[state.cooling - 1], equipment.cool_start_s, free_c - cool_c)
    )
    share = min(max(need_k / (gain * rung.heat_w), equipment.lowest_share), 1.0)
    given_w = share * rung.heat_w * (1.0 - state.lacking * _lack(state.started_s, start_s))
    state.started_s += STEP_S
    if not state.heating:
        return -given_w
    state.warm_w = share * rung.heat_w * (1.0 - state.lacking * _left(state.started_s, start_s)) * rung.given_back
    return given_w


def _switch(state: _State, case: Case, off_k: tuple[float, float], tops: tuple[int, int]) -> None:
    """Start, stop and change levels; ``off_k`` is how far under heating and over cooling setpoint the air is."""
    control = case.control
    if state.heating:
        state.heating = _climb(state, case, (state.heating, tops[0]), off_k[0], control.heat_band_k / 2)
    elif state.cooling:
        state.cooling = _climb(state, case, (state.cooling, tops[1]), off_k[1], control.cool_band_k / 2)
    elif state.since_s >= control.least_off_s:
        wants_heat = off_k[0] > control.heat_band_k / 2 and tops[0] > 0
        wants_cool = off_k[1] > control.cool_band_k / 2 and tops[1] > 0
        if wants_heat or wants_cool:
            state.heating, state.cooling = (1, 0) if wants_heat else (0, 1)
            state.since_s = state.level_since_s = state.started_s = 0.0


def _climb(state: _State, case: Case, level_and_top: tuple[int, int], off_k: float, half_band_k: float) -> int:
    """Return the new level of equipment that runs."""
    level, top = level_and_top
    control = case.control
    if off_k < -half_band_k and state.since_s >= control.least_on_s:
        state.since_s = 0.0
        return 0
    if level < top and off_k > control.stage_up_k and state.level_since_s >= control.stage_delay_s:
        state.level_since_s = 0.0
        return level + 1
    if level > 1 and off_k < 0.0:
        state.level_since_s = 0.0
        return level - 1
    return level


def _left(running_s: float, start_s: float) -> float:
    """Return exp(-t/τ)."""
    return math.exp(-running_s / start_s) if start_s > 0.0 else 0.0


def _lack(running_s: float, start_s: float) -> float:
    """Return the mean of exp(-t/τ) over the next minute."""
    return _left(running_s, start_s) * (1.0 - _left(STEP_S, start_s)) * start_s / STEP_S


def _ladder(levels: tuple[Level, ...], outdoor_c: float) -> list[_Rung]:
    """Return the allowed levels that each give more than the one before."""
    rungs: list[_Rung] = []
    for level in levels:
        heat_w = float(np.interp(outdoor_c, GRID_C, level.heat_w))
        if level.above_c <= outdoor_c < level.below_c and heat_w > (rungs[-1].heat_w if rungs else 0.0):
            rungs.append(_Rung(heat_w, level.given_back))
    return rungs


def _force(case: Case, drive: Drive, hour: int, minute: int) -> Floats:
    """Return what the drives do to each mode in a minute: instants at its middle, means of its hour."""
    now = drive.values[hour].copy()
    part = (minute + 0.5) / 60.0
    now[:N_INSTANT] = (1.0 - part) * drive.values[hour - 1, :N_INSTANT] + part * drive.values[hour, :N_INSTANT]
    return np.asarray(case.plant.drive_to_mode @ now)


def _step(case: Case, modes: Floats, force: Floats, q_w: float) -> Floats:
    plant = case.plant
    kept = np.exp(-plant.decay_per_s * STEP_S)
    return np.asarray(kept * modes + (1.0 - kept) / plant.decay_per_s * (force + plant.heat_to_mode * q_w))


def _air(case: Case, modes: Floats) -> float:
    return float(case.plant.air_of_mode @ modes)


def _gain(case: Case) -> float:
    """Return K of air after a minute per W."""
    return _air(case, _step(case, np.zeros(len(case.plant.decay_per_s)), np.zeros(len(case.plant.decay_per_s)), 1.0))


def _at_rest(case: Case, drive: Drive, hour: int, air_c: float) -> Floats:
    """Return the modes at rest at an air temperature."""
    plant = case.plant
    force = _force(case, drive, hour, 0)
    q_w = (air_c - float(plant.air_of_mode @ (force / plant.decay_per_s))) * plant.loss_w_k
    return np.asarray((force + plant.heat_to_mode * q_w) / plant.decay_per_s)
