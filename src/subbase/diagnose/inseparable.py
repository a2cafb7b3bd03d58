"""Causes that no test in the house can tell apart are one group, and so are those that the same work puts right.

Two causes are inseparable when each form of either has a form of the other that predicts the same of every test on offer, to
within what a meter and the line leave unsure. An entry of the ranking is a group: causes that are inseparable, together with
whatever the same work at the same part puts right (``answers``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.answers import answers_of
from subbase.diagnose.costs import offers
from subbase.diagnose.dead import scale, single_ohms
from subbase.diagnose.predictions import Predictions, single_amps, volts_between
from subbase.diagnose.sights import answer_probabilities

Ints = NDArray[np.int64]
Singles = NDArray[np.float32]

ALIKE_V = 0.6
"""Volts that differ by less are alike; other features are scaled to this."""
QUICK_LOOK = 40
"""Tests that tell most over all, compared before the rest."""
FLOATING_V = -6.0
"""Stands for volts that nothing defines; far from every voltage."""
OHM_STEP, AMP_STEP, SURE_STEP = 2.0, 8.0, 3.0
"""Volts for one step of ``dead.scale``, one ampere, and the whole of a probability."""


def groups_of(predictions: Predictions) -> Ints:
    """Return (n_hypothesis,) the group of each hypothesis, numbered from 0 in the order of hypotheses; worked out once."""
    if "groups" not in predictions.memory:
        predictions.memory["groups"] = _joined(inseparable_of(predictions), answers_of(predictions.hypotheses))
    found = predictions.memory["groups"]
    assert isinstance(found, np.ndarray)
    return found


def inseparable_of(predictions: Predictions) -> Ints:
    """Return (n_hypothesis,) the same number for hypotheses that no test on offer can tell apart; worked out once."""
    if "inseparable" not in predictions.memory:
        predictions.memory["inseparable"] = _inseparable(predictions)
    found = predictions.memory["inseparable"]
    assert isinstance(found, np.ndarray)
    return found


def _joined(one: Ints, other: Ints) -> Ints:
    """Return the finest numbering in which what either numbering holds for the same is the same."""
    group = one.copy()
    for number in np.unique(other):
        mates = np.unique(group[other == number])
        group[np.isin(group, mates)] = mates[0]
    _, first, label = np.unique(group, return_index=True, return_inverse=True)
    return np.asarray(np.argsort(np.argsort(first))[label], dtype=np.int64)


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
            columns.append(AMP_STEP * np.minimum(single_amps(predictions, probe.state, probe.through), 10.0))
        else:
            columns.extend(SURE_STEP * answer_probabilities(predictions, block, probe).T)
    ohms = OHM_STEP * scale(single_ohms(predictions, ohm_pairs))
    return np.column_stack((*columns, ohms)).astype(np.float32)


def _inseparable(predictions: Predictions) -> Ints:
    seen = features(predictions)
    rows = predictions.rows
    count = len(rows.hypotheses)
    like = np.zeros((len(seen), len(seen)), dtype=np.bool_)
    telling = seen[:, np.argsort(-seen.std(axis=0))[:QUICK_LOOK]]
    for i, own in enumerate(seen):
        near = np.flatnonzero(np.abs(telling - telling[i]).max(axis=1) <= ALIKE_V)
        like[i, near] = np.abs(seen[near] - own).max(axis=1) <= ALIKE_V
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


__all__ = ["features", "groups_of", "inseparable_of"]
