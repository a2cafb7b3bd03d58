"""Evidence weighed: what every single and double cause is worth after all that was read, seen and told."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.belief import Likelihood, Posterior, posterior, summed
from subbase.diagnose.costs import probe_words
from subbase.diagnose.hypothesis import Hypothesis
from subbase.diagnose.inseparable import groups_of
from subbase.diagnose.likelihood import LINE, LINE_SHARES, good_and_wild
from subbase.diagnose.odds import Odds, load_odds
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence, Reading

Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

KEPT_READINGS = 16
DOUBTED_FROM = 0.5
"""Probability of being wrong from which a reading is doubted aloud."""
RANKED = 25


@dataclass(frozen=True, slots=True)
class Cause:
    """One entry of the ranking: a single cause or two at once, each a group that nothing here can tell apart."""

    groups: tuple[int, ...]
    members: tuple[tuple[Hypothesis, ...], ...]
    """For each group its hypotheses, likeliest first."""
    probability: float

    @property
    def words(self) -> str:
        """Return the cause in one sentence part; of a group the likeliest member, and how many more there are."""
        return "; and ".join(_group_words(group) for group in self.members)


def _group_words(members: tuple[Hypothesis, ...]) -> str:
    more = len(members) - 1
    return members[0].words + (f" (or one of {more} more that read the same)" if more else "")


@dataclass(frozen=True, slots=True)
class Doubt:
    """A reading that is likelier wrong than right."""

    reading: Reading
    probability: float
    words: str


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What is believed of a house after some evidence."""

    predictions: Predictions
    evidence: Evidence
    posterior: Posterior
    causes: Reals
    """(n_cause,) probability of each of ``predictions.rows.causes``."""
    labels: Ints
    """(n_cause,) entry of the ranking that each cause belongs to."""
    entries: Ints
    """(n_entry, 2) groups of each entry; the second −1 for single causes."""
    entry_p: Reals
    """(n_entry,)"""
    ranking: tuple[Cause, ...]
    """Likeliest first, the first 25."""
    doubted: tuple[Doubt, ...]

    @property
    def none_of_these(self) -> float:
        """Return the probability that it is nothing that was thought of."""
        return self.posterior.none

    @property
    def none_wins(self) -> bool:
        """Tell whether nothing that was thought of fits better than its likeliest cause."""
        return not self.ranking or self.none_of_these > self.ranking[0].probability

    @property
    def line(self) -> tuple[float, float]:
        """Return (mean, standard deviation) of the line voltage over nominal."""
        levels = self.posterior.levels
        mean = float(levels @ LINE)
        return mean, math.sqrt(max(float(levels @ (LINE - mean) ** 2), 0.0))


def weigh(predictions: Predictions, evidence: Evidence, *, odds: Odds | None = None) -> Belief:
    """Return the belief after evidence.

    Parameters
    ----------
    odds
        Where the factors of a history and the shares of doubles and of what is not listed come from; ``odds.toml`` when
        left out.

    Raises
    ------
    ValueError
        When a reading is of something that the house does not have.
    """
    odds = load_odds() if odds is None else odds
    rows = predictions.rows
    prior = cause_priors(predictions, evidence.history, odds)
    known = [reading for reading in evidence.readings if reading.value is not None]
    likelihoods = [_likelihood(predictions, reading) for reading in known]
    found = posterior(prior[rows.cause] * rows.share, LINE_SHARES, likelihoods, none_prior=odds.none_of_these)
    causes = summed(found.rows, rows.cause, len(rows.causes))
    labels, entries = _entries(predictions)
    entry_p = summed(causes, labels, len(entries))
    top = np.argsort(-entry_p, kind="stable")[:RANKED]
    ranking = tuple(cause_of_entry(predictions, entries[i], float(entry_p[i]), causes) for i in top.tolist())
    doubted = tuple(
        Doubt(reading, p, _doubt_words(predictions, reading, p))
        for reading, p in zip(known, found.wrong.tolist(), strict=True)
        if p / max(1.0 - found.none, 1e-12) > DOUBTED_FROM
    )
    return Belief(predictions, evidence, found, causes, labels, entries, entry_p, ranking, doubted)


def cause_priors(predictions: Predictions, history: tuple[str, ...], odds: Odds) -> Reals:
    """Return (n_cause,) priors that add up to 1 less the share of what is not listed."""
    rows = predictions.rows
    of_hypothesis = np.array([h.odds * odds.factor(h.kind, history) for h in rows.hypotheses])
    first, second = rows.causes[:, 0], rows.causes[:, 1]
    is_double = second >= 0
    prior = of_hypothesis[first] * np.where(is_double, of_hypothesis[second], 1.0)
    doubles = odds.doubles if is_double.any() else 0.0
    for part, share in ((is_double, doubles), (~is_double, 1.0 - doubles)):
        if part.any():
            prior[part] *= share / prior[part].sum()
    return prior * (1.0 - odds.none_of_these)


def _likelihood(predictions: Predictions, reading: Reading) -> Likelihood:
    """Return a reading's likelihood under every row, kept for when the next reading comes."""
    kept = predictions.memory.setdefault("likelihoods", OrderedDict())
    assert isinstance(kept, OrderedDict)
    if reading not in kept:
        good, wild = good_and_wild(predictions, predictions.block(reading.probe.state), reading)
        kept[reading] = Likelihood(good, wild, reading.doubt)
        while len(kept) > KEPT_READINGS:
            kept.popitem(last=False)
    found = kept[reading]
    assert isinstance(found, Likelihood)
    return found


def _entries(predictions: Predictions) -> tuple[Ints, Ints]:
    """Return ((n_cause,) entry of each cause, (n_entry, 2) groups of each entry); worked out once."""
    if "entries" not in predictions.memory:
        group = groups_of(predictions)
        causes = predictions.rows.causes
        second = np.where(causes[:, 1] < 0, -1, group[causes[:, 1]])
        pair = np.column_stack((group[causes[:, 0]], second))
        swap = (pair[:, 1] >= 0) & (pair[:, 1] < pair[:, 0])
        pair[swap] = pair[swap][:, ::-1]
        entries, labels = np.unique(pair, axis=0, return_inverse=True)
        predictions.memory["entries"] = (labels.reshape(-1).astype(np.int64), entries)
    found = predictions.memory["entries"]
    assert isinstance(found, tuple)
    return found


def cause_of_entry(predictions: Predictions, entry: Ints, probability: float, causes: Reals) -> Cause:
    """Return an entry of the ranking in full."""
    group = groups_of(predictions)
    wanted = tuple(int(g) for g in entry if g >= 0)
    alone = causes[: len(predictions.hypotheses)]
    members = []
    for g in wanted:
        own = np.flatnonzero(group == g)
        order = own[np.argsort(-alone[own], kind="stable")]
        members.append(tuple(predictions.hypotheses[h] for h in order.tolist()))
    return Cause(wanted, tuple(members), probability)


def _doubt_words(predictions: Predictions, reading: Reading, p: float) -> str:
    what = probe_words(predictions.house, reading.probe)
    return (
        f"{what[0].upper()}{what[1:]} was given as {reading.value}; with all else that is known it is probably wrong "
        f"({p:.0%}). Prove the meter on a known live source and take it again."
    )


__all__ = ["Belief", "Cause", "Doubt", "cause_of_entry", "cause_priors", "weigh"]
