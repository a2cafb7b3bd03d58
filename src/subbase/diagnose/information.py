"""What a test is expected to tell: entropies in bits, before and after.

The best next probe is the one that leaves the least expected entropy (de Kleer and Williams, Artificial Intelligence 32
(1987) 97-130).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Ints = NDArray[np.int64]


def entropy_bits(p: Reals, axis: int | tuple[int, ...] = -1) -> Reals:
    """Return −Σ p·log2 p along an axis or several; p need not be normalised, 0·log 0 is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        terms = np.where(p > 0.0, p * np.log2(p), 0.0)
    return np.asarray(-terms.sum(axis=axis))


def expected_entropy_bits(weight: Reals, outcome: Reals) -> Reals:
    """Return the entropy expected after a test [bit].

    Parameters
    ----------
    weight : (n_candidate,)
        Probabilities, adding up to 1.
    outcome : (..., n_candidate, n_outcome)
        Probability of each outcome under each candidate.
    """
    joint = weight[:, None] * outcome
    return entropy_bits(joint, axis=(-2, -1)) - entropy_bits(joint.sum(axis=-2))


def information_bits(weight: Reals, outcome: Reals) -> Reals:
    """Return what a test is expected to tell of the candidates [bit]: mutual information."""
    return np.maximum(entropy_bits(weight) - expected_entropy_bits(weight, outcome), 0.0)


def merged(weight: Reals, outcome: Reals, label: Ints, count: int) -> tuple[Reals, Reals]:
    """Return weights and outcomes of groups of candidates.

    Parameters
    ----------
    label : (n_candidate,)
        Group of each candidate, 0 to ``count`` − 1, each with some weight.
    """
    order = np.argsort(label, kind="stable")
    _, starts = np.unique(label[order], return_index=True)
    joint = np.add.reduceat(weight[order][:, None] * outcome[..., order, :], starts, axis=-2)
    total: Reals = np.bincount(label, weights=weight, minlength=count).astype(np.float64)
    return total, joint / np.maximum(total, 1e-300)[:, None]


__all__ = ["entropy_bits", "expected_entropy_bits", "information_bits", "merged"]
