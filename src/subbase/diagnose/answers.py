"""Causes that the same work at the same part puts right: to the one who repairs they are one answer.

A joint that has failed is open or poor, a coil is open, burnt or stuck, a supply gives the wrong volts by its tap or by its
age. Which of them it is shows when the work is done, and changes nothing about where to go and what to do first.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.hypothesis import FaultKind, Hypothesis

Ints = NDArray[np.int64]

SAME_WORK: tuple[frozenset[FaultKind], ...] = (
    frozenset({"conductor open", "poor joint"}),  # both landings remade, or a spare used
    frozenset({"coil open", "shorted turns", "coil does not act"}),  # the load that holds the coil replaced
    frozenset({"supply weak", "supply mis-tapped"}),  # its tap looked at, then the transformer replaced
)
"""Kinds of fault that the same work at the same part puts right (``repairs.toml`` says what it is)."""


def answer_key(hypothesis: Hypothesis) -> tuple[object, ...]:
    """Return what is alike for causes that the same work at the same part puts right."""
    same = next((kinds for kinds in SAME_WORK if hypothesis.kind in kinds), None)
    return (hypothesis.id,) if same is None else (min(same), hypothesis.tags)


def answers_of(hypotheses: Sequence[Hypothesis]) -> Ints:
    """Return (n_hypothesis,) the answer of each, numbered from 0 in the order of hypotheses."""
    number: dict[tuple[object, ...], int] = {}
    return np.array([number.setdefault(answer_key(h), len(number)) for h in hypotheses], dtype=np.int64)


__all__ = ["SAME_WORK", "answer_key", "answers_of"]
