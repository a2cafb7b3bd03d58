"""Posterior arithmetic, free of houses: rows with priors, readings with likelihoods, and one unknown that all readings share.

P(row, level | readings) ∝ prior(row) · share(level) · Π over readings [(1 − doubt)·good(row, level) + doubt·wild]

The mixture is what keeps one wrong reading from excluding the truth. Inputs are arrays; nothing here knows what a row is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Reals = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Likelihood:
    """One reading as arithmetic sees it."""

    good: Reals
    """(n_row, n_level) likelihood when it was taken rightly."""
    wild: float
    """Likelihood when it is wrong altogether, the same for every row."""
    doubt: float
    """Prior probability that it is wrong altogether."""

    def mixed(self) -> Reals:
        """Return (n_row, n_level) likelihood, mistakes allowed for."""
        return (1.0 - self.doubt) * self.good + self.doubt * self.wild

    def of(self, rows: Ints | None) -> Likelihood:
        """Return it with each row's likelihood taken from another row; as it is for None."""
        return self if rows is None else Likelihood(self.good[rows], self.wild, self.doubt)


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """What rows and levels are worth after readings."""

    joint: Reals
    """(n_row, n_level) adds up to 1 − ``none``."""
    none: float
    """Probability that it is nothing in the rows."""
    wrong: Reals
    """(n_reading,) probability that each reading is wrong altogether."""

    @property
    def rows(self) -> Reals:
        """Return (n_row,) probabilities."""
        return np.asarray(self.joint.sum(axis=1))

    def moved(self, rows: Ints | None) -> Posterior:
        """Return it with each row's probability added to that of another row; as it is for None."""
        if rows is None:
            return self
        joint = np.zeros_like(self.joint)
        np.add.at(joint, rows, self.joint)
        return Posterior(joint, self.none, self.wrong)

    @property
    def levels(self) -> Reals:
        """Return (n_level,) probabilities, given that it is in the rows."""
        total = float(self.joint.sum())
        return np.asarray(self.joint.sum(axis=0) / total) if total > 0.0 else np.asarray(self.joint.sum(axis=0))


def posterior(
    prior: Reals, level_shares: Reals, likelihoods: Sequence[Likelihood], *, none_prior: float = 0.0
) -> Posterior:
    """Return the posterior of rows, levels, and of none of the rows.

    Parameters
    ----------
    prior : (n_row,)
        Adds up to 1 − ``none_prior``.
    level_shares : (n_level,)
        Adds up to 1.
    none_prior
        Of what is in no row; every reading is as likely under it as when it is wrong altogether.

    Raises
    ------
    ValueError
        When priors do not add up to 1.
    """
    if abs(float(prior.sum()) + none_prior - 1.0) > 1e-6 or abs(float(level_shares.sum()) - 1.0) > 1e-6:
        raise ValueError("Priors must add up to 1, and so must the shares of levels.")
    mixed = [item.mixed() for item in likelihoods]
    with np.errstate(divide="ignore"):
        log = np.log(prior)[:, None] + np.log(level_shares)
        log_none = float(np.log(none_prior))
        for item, own in zip(likelihoods, mixed, strict=True):
            log += np.log(own)
            log_none += float(np.log(item.wild))
    top = max(float(log.max(initial=-np.inf)), log_none)
    joint, none = np.exp(log - top), float(np.exp(log_none - top))
    total = float(joint.sum()) + none
    joint /= total
    wrong = [item.doubt * item.wild * float((joint / own).sum()) for item, own in zip(likelihoods, mixed, strict=True)]
    return Posterior(joint, none / total, np.array(wrong))


def summed(weights: Reals, label: Ints, count: int) -> Reals:
    """Return (count,) weights added up by label."""
    return np.bincount(label, weights=weights, minlength=count).astype(np.float64)


__all__ = ["Likelihood", "Posterior", "posterior", "summed"]
