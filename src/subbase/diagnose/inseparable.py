"""Causes that no test in the house can tell apart are one group: the person repairs them by the same look.

Two causes are in one group when each form of either has a form of the other that predicts the same of every test on offer,
to within what a meter and the line leave unsure.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.costs import offers
from subbase.diagnose.dead import scale, single_ohms
from subbase.diagnose.predictions import Predictions, amps_through, volts_between
from subbase.diagnose.sights import answer_probabilities

Ints = NDArray[np.int64]
Singles = NDArray[np.float32]

ALIKE_V = 0.6
"""Volts that differ by less are alike; other features are scaled to this."""
FLOATING_V = -6.0
"""Stands for volts that nothing defines; far from every voltage."""
OHM_STEP, AMP_STEP, SURE_STEP = 2.0, 8.0, 3.0
"""Volts for one step of ``dead.scale``, one ampere, and the whole of a probability."""


def groups_of(predictions: Predictions) -> Ints:
    """Return (n_hypothesis,) the group of each hypothesis, numbered from 0 in the order of hypotheses; worked out once."""
    if "groups" not in predictions.memory:
        predictions.memory["groups"] = _groups(predictions)
    found = predictions.memory["groups"]
    assert isinstance(found, np.ndarray)
    return found


def features(predictions: Predictions) -> Singles:
    """Return (n_form, n_test) what each form of a single fault predicts of every test, in volts or scaled to them."""
    columns = []
    ohm_pairs = []
    for offer in offers(predictions):
        probe = offer.probe
        if probe.kind == "ohms":
            ohm_pairs.append(probe.between)
            continue
        block = predictions.singles(probe.state)
        if probe.kind == "volts":
            volts, joined = volts_between(block, *(predictions.column(node) for node in probe.between))
            columns.append(np.where(joined, volts, FLOATING_V))
        elif probe.kind == "amps":
            columns.append(AMP_STEP * np.minimum(amps_through(predictions, block, probe.through), 10.0))
        else:
            columns.extend(SURE_STEP * answer_probabilities(predictions, block, probe).T)
    ohms = OHM_STEP * scale(single_ohms(predictions, ohm_pairs))
    return np.column_stack((*columns, ohms)).astype(np.float32)


def _groups(predictions: Predictions) -> Ints:
    seen = features(predictions)
    rows = predictions.rows
    count = len(rows.hypotheses)
    like = np.zeros((len(seen), len(seen)), dtype=np.bool_)
    for i, own in enumerate(seen):
        like[i] = np.abs(seen - own).max(axis=1) <= ALIKE_V
    # A form of hypothesis h is matched by hypothesis k when any of k's forms is like it.
    starts = np.flatnonzero(np.diff(rows.owner, prepend=-1))
    matched = np.logical_or.reduceat(like, starts, axis=1)
    covered = np.logical_and.reduceat(matched, starts, axis=0)
    alike = covered & covered.T
    group = np.full(count, -1, dtype=np.int64)
    number = 0
    for h in range(count):
        if group[h] < 0:
            mates = np.flatnonzero(alike[h] & (group < 0))
            group[mates] = number
            group[h] = number
            number += 1
    return group


__all__ = ["features", "groups_of"]
