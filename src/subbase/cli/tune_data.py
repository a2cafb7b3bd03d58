"""A study of a house and what a log tells, as plain data: SI, English keys."""

from __future__ import annotations

import math
from typing import Any

from subbase.comfort.answers import stored
from subbase.comfort.learn import Bounded, CannotTell, Learnt
from subbase.comfort.study import Range, Study
from subbase.papers.tune_tables import best_week, outcome_data


def study_data(found: Study) -> dict[str, Any]:
    """Return everything of a study but its charts."""
    data: dict[str, Any] = {
        "weather": found.place,
        "weather_made_up": found.made_up,
        "answers": stored(found.answers),
        "house": {
            "loss_w_k": _range(found.house.loss_w_k),
            "time_constant_h": _range(found.house.slow_h),
            "by_log": found.house.by_log,
            "coldest_hours_w": round(found.served.heat_peak_w),
        },
        "reckoned_with": list(found.served.told),
        "schedules": {name: outcome_data(outcome) for name, outcome in found.outcomes.items()},
        "saving": {name: _range(saving) for name, saving in found.saving.items()},
        "week": [
            {"day": step.day, "from": step.at, "heat_c": _two(step.heat_c), "cool_c": _two(step.cool_c)}
            for step in best_week(found).steps
        ],
    }
    if found.setback is not None:
        way, depth_k = found.setback.advice
        data["setback"] = {
            "depths_k": found.setback.depths_k.tolist(),
            "curves": {
                curve.recovery.value: {
                    "cost": [round(float(v), 2) for v in curve.cost],
                    "strip_h": [round(float(v), 1) for v in curve.strip_h],
                    "too_cold_h": [round(float(v), 2) for v in curve.cold_h],
                    "saves_most_at_k": found.setback.best_k(curve.recovery),
                    "saving_eaten_at_k": found.setback.eaten_k(curve.recovery),
                }
                for curve in found.setback.curves
            },
            "advised": {"recovery": way.value, "depth_k": depth_k},
        }
    if found.balance is not None:
        data["balance"] = {
            "thermal_c": _finite(found.balance.thermal_c),
            "economic_c": None if found.balance.economic_c is None else _finite(found.balance.economic_c),
        }
    return data


def learnt_data(found: Learnt | CannotTell) -> dict[str, Any]:
    """Return what a log tells; ``tells`` is false when it tells nothing, with the reasons."""
    if isinstance(found, CannotTell):
        return {"tells": False, "reasons": list(found.reasons)}
    names = ("lift_k", "gain_lift_k", "slow_h", "fast_h", "loss_w_k", "capacity_j_k", "gain_w")
    values = {name: _bounded(getattr(found, name)) for name in names}
    return {"tells": True, **values, "hours": round(found.hours, 1), "doubts": list(found.doubts)}


def _bounded(found: Bounded | None) -> dict[str, float] | None:
    if found is None:
        return None
    return {"value": _digits(found.value), "low": _digits(found.low), "high": _digits(found.high)}


def _range(found: Range) -> dict[str, float]:
    return {"low": _digits(found.low), "middle": _digits(found.middle), "high": _digits(found.high)}


def _digits(value: float) -> float:
    return float(f"{value:.5g}")


def _finite(value: float) -> float | str:
    return round(value, 2) if math.isfinite(value) else "always" if value > 0 else "never"


def _two(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
