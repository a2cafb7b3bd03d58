"""Learning a house from its log: how long it takes, and how often the truth lies within the bounds."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import numpy as np

from bench.report import Result, timed
from subbase.comfort.learn import Learnt, learn
from tests.comfort_logs import made_log, random_truth

LOGS = 100
STEPS_MIN = (5, 15, 30, 60)
SEED = 11


def run(docs: Path) -> Result:
    """Learn a hundred logs with known truth, then time one of each step."""
    del docs
    rng = np.random.default_rng(SEED)
    inside = {"loss": 0, "heat stored": 0, "gains": 0}
    widths, logs = [], {}
    for number in range(LOGS):
        truth, step_min = random_truth(rng), STEPS_MIN[number % len(STEPS_MIN)]
        log = made_log(truth, rng, step_min=step_min)
        logs[step_min] = (log, truth.output_w)
        found = learn(log, truth.output_w, output_spread=0.0)
        if not (isinstance(found, Learnt) and found.loss_w_k and found.capacity_j_k and found.gain_w):
            continue
        stored = truth.house.air_capacity_j_k + truth.house.mass_capacity_j_k
        inside["loss"] += found.loss_w_k.holds(truth.house.loss_w_k)
        inside["heat stored"] += found.capacity_j_k.holds(stored)
        inside["gains"] += found.gain_w.holds(truth.gain_w)
        widths.append(found.loss_w_k.spread)
    rows = [
        timed(
            f"14 days in steps of {step_min} minutes", logs[step_min][0].rows, partial(learn, *logs[step_min]), runs=5
        )
        for step_min in sorted(STEPS_MIN, reverse=True)
    ]
    told = ", ".join(f"{name} {count}" for name, count in inside.items())
    return Result(
        title="A house learnt from its log",
        unit="rows",
        rows=rows,
        notes=(
            f"Of {LOGS} logs made from known houses with noise, in steps of 5 minutes to an hour, the truth lies within the "
            f"95 % bounds for: {told}. Half the bounds of the loss are narrower than {np.median(widths):.0%} either way.",
            "Two-node grey box, Kalman filter, maximum likelihood by Fisher's scoring from three starts (Bacher and Madsen 2011).",
        ),
    )
