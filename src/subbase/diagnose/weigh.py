"""Evidence weighed: what every single and double cause is worth after all that was read, seen and told."""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.answers import answer_key
from subbase.diagnose.belief import Likelihood, Posterior, posterior, summed
from subbase.diagnose.costs import probe_words
from subbase.diagnose.hypotheses import in_this_language
from subbase.diagnose.hypothesis import Hypothesis
from subbase.diagnose.inseparable import groups_of
from subbase.diagnose.likelihood import LINE, LINE_SHARES, good_and_wild
from subbase.diagnose.odds import Odds
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import ANSWER_WORDS, Evidence, Reading
from subbase.words import _, plural

Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

KEPT_READINGS = 16
STILL_WRONG_DOUBT = 0.1
"""Probability that 'it is still not right' is a mistake, or the repair was not done as meant (judgement)."""
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
        found = _group_words(self.members[0])
        for group in self.members[1:]:
            found = _("{one}; and {other}").format(one=found, other=_group_words(group))
        return found


def _group_words(members: tuple[Hypothesis, ...]) -> str:
    more = len({answer_key(h) for h in members}) - 1
    if not more:
        return members[0].words
    words = plural(
        "{cause} (or one of {more} more that read the same)", "{cause} (or one of {more} more that read the same)", more
    )
    return words.format(cause=members[0].words, more=more)


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


def weigh(predictions: Predictions, evidence: Evidence) -> Belief:
    """Return the belief after evidence.

    Raises
    ------
    ValueError
        When a reading is of something that the house does not have.
    """
    rows, odds = predictions.rows, predictions.odds
    prior = cause_priors(predictions, evidence.history, odds)
    numbered = [(i, reading) for i, reading in enumerate(evidence.readings) if reading.value is not None]
    known = [reading for _, reading in numbered]
    likelihoods = [
        _likelihood(predictions, reading).of(rows_without(predictions, evidence.put_right_before(i)))
        for i, reading in numbered
    ]
    likelihoods += [_still_wrong(predictions, evidence.put_right_before(item.after)) for item in evidence.repaired]
    found = posterior(prior[rows.cause] * rows.share, LINE_SHARES, likelihoods, none_prior=odds.none_of_these)
    # From here on a row stands for what is left of it.
    found = found.moved(rows_without(predictions, evidence.put_right_before(len(evidence.readings))))
    causes = summed(found.rows, rows.cause, len(rows.causes))
    labels, entries = _entries(predictions)
    entry_p = summed(causes, labels, len(entries))
    top = np.argsort(-entry_p, kind="stable")[:RANKED]
    ranking = tuple(cause_of_entry(predictions, i, float(entry_p[i]), causes) for i in top.tolist())
    doubted = tuple(
        Doubt(reading, p, _doubt_words(predictions, reading, p))
        for reading, p in zip(known, found.wrong.tolist(), strict=False)
        if p / max(1.0 - found.none, 1e-12) > DOUBTED_FROM
    )
    return Belief(predictions, evidence, found, causes, labels, entries, entry_p, ranking, doubted)


def rows_without(predictions: Predictions, put_right: frozenset[str]) -> Ints | None:
    """Return (n_row,) the row that each becomes when some causes are put right; None when none is.

    Raises
    ------
    ValueError
        When a cause is none of this house's hypotheses.
    """
    if not put_right:
        return None
    rows = predictions.rows
    ids = [h.id for h in rows.hypotheses]
    unknown = sorted(put_right - set(ids))
    if unknown:
        raise ValueError(f"These are no causes that this house can have: {', '.join(unknown)}.")
    gone = np.array([name in put_right for name in ids], dtype=np.bool_)[rows.owner]
    first, second = rows.form[:, 0], rows.form[:, 1]
    alone = second < 0
    first_gone, second_gone = gone[first], ~alone & gone[second]
    # A single fault's row has the number of its form, and the first form is 'nothing wrong'.
    found = np.arange(len(first))
    blown = _blown_again(predictions)
    found = np.where(~alone & first_gone & ~second_gone, blown[second], found)
    found = np.where(~alone & ~first_gone & second_gone, blown[first], found)
    return np.where(first_gone & (alone | second_gone), 0, found)


def _blown_again(predictions: Predictions) -> Ints:
    """Return (n_form,) the form of each in which what it overloads has blown: with the other fault gone, it will have."""
    if "blown" not in predictions.memory:
        forms, owner = predictions.rows.forms, predictions.rows.owner.tolist()
        keys = [(h, form.changes, form.survey and id(form.survey)) for h, form in zip(owner, forms, strict=True)]
        with_it = {key: i for i, (key, form) in enumerate(zip(keys, forms, strict=True)) if form.gone}
        predictions.memory["blown"] = np.array([with_it.get(key, i) for i, key in enumerate(keys)], dtype=np.int64)
    found = predictions.memory["blown"]
    assert isinstance(found, np.ndarray)
    return found


def _still_wrong(predictions: Predictions, put_right: frozenset[str]) -> Likelihood:
    """Return how likely it is under each row that something is wrong after a repair: not where all is put right."""
    left = rows_without(predictions, put_right)
    row = np.arange(len(predictions.rows.share)) if left is None else left
    return Likelihood(np.where(row == 0, 0.0, 1.0)[:, None], 0.5, STILL_WRONG_DOUBT)


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


def cause_of_entry(predictions: Predictions, number: int, probability: float, causes: Reals) -> Cause:
    """Return an entry of the ranking in full."""
    labels, entries = _entries(predictions)
    group = groups_of(predictions)
    wanted = tuple(int(g) for g in entries[number] if g >= 0)
    said = in_this_language(predictions)
    here = np.flatnonzero(labels == number)
    worth = np.zeros(len(predictions.hypotheses))
    for column in predictions.rows.causes[here].T:
        np.add.at(worth, column[column >= 0], causes[here[column >= 0]])
    members = []
    for g in wanted:
        own = np.flatnonzero(group == g)
        order = own[np.argsort(-worth[own], kind="stable")]
        members.append(tuple(said[h] for h in order.tolist()))
    return Cause(wanted, tuple(members), probability)


def _doubt_words(predictions: Predictions, reading: Reading, p: float) -> str:
    what = probe_words(predictions.house, reading.probe)
    value = _(ANSWER_WORDS[reading.value]) if isinstance(reading.value, str) else reading.value
    return _(
        "{what} was given as {value}; with all else that is known it is probably wrong ({p:.0%}). Prove the meter on a known "
        "live source and take it again."
    ).format(what=f"{what[0].upper()}{what[1:]}", value=value, p=p)


__all__ = ["Belief", "Cause", "Doubt", "cause_of_entry", "cause_priors", "rows_without", "weigh"]
