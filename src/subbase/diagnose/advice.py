"""What to do next: the test that tells most for its minutes, walk and risk; or to repair; or to hand over.

A test's worth is the information expected from it about which entry of the ranking is true, per minute of what it costs
from where the person stands. It is time to repair when repairing now costs less, on average, than testing once more and
then repairing: a wrong repair costs ``wrong_minutes``. Both look one test ahead, no further (judgement; a longer look costs
far more than it finds).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from subbase.diagnose.costs import Offer, Situation, cost_minutes, costs_table, held_back, offers
from subbase.diagnose.information import information_bits, merged
from subbase.diagnose.outcomes import Crowd, bin_words, outcome_table
from subbase.diagnose.probes import Probe
from subbase.diagnose.weigh import Belief, Cause, cause_of_entry
from subbase.words import _

Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

SLIGHT = 2e-3
"""Rows worth less than this share of the likeliest are not asked about the next test."""
MOST_ROWS = 320
COARSE_ROWS = 140
"""Rows that every test is first tried on; the best are then tried on all."""
FINALISTS = 130
SURE = 0.96
"""Probability of a cause from which nothing more is asked."""
LEAST_SURE = 0.92
"""Below it nothing is repaired while a test worth its time is left (judgement)."""
NONE_SURE = 0.7
"""Probability that it is nothing that was thought of, from which testing on is no use."""
SHOWN_OUTCOMES = 4


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one result of a test would mean."""

    words: str
    probability: float
    then: Cause
    """What would be likeliest."""
    then_probability: float


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do next, and why."""

    action: Literal["probe", "repair", "hand over"]
    why: str
    """One sentence."""
    offer: Offer | None = None
    minutes: float = 0.0
    bits: float = 0.0
    outcomes: tuple[Outcome, ...] = ()
    cause: Cause | None = None
    """What to repair."""
    others: tuple[tuple[Offer, float, float], ...] = ()
    """(test, bits, minutes) of what comes next to it."""
    kept_back: tuple[tuple[Offer, str], ...] = ()
    """Tests that would tell more but are not to be made today, and why."""


@dataclass(frozen=True, slots=True, eq=False)
class Options:
    """What may be asked."""

    situation: Situation = field(default_factory=Situation)
    allowed: Callable[[Offer], bool] = lambda offer: True  # noqa: ARG005
    """Which tests to choose from."""
    most_tests: int = 12
    """After so many since the last repair, no more are asked."""


def next_test(belief: Belief, options: Options | None = None) -> Advice:
    """Return what to do next."""
    options = Options() if options is None else options
    made = {reading.probe for reading in belief.evidence.since_repair}
    again = {doubt.reading.probe for doubt in belief.doubted}
    on_offer = [
        o for o in offers(belief.predictions) if options.allowed(o) and (o.probe not in made or o.probe in again)
    ]
    on_offer = [o for o in on_offer if not _repeated(o.probe, made, again)]
    crowd, weight, label, count = _crowd(belief)
    minutes = np.array([cost_minutes(o, belief.predictions.house, options.situation) for o in on_offer])
    barred = [held_back(o, options.situation) for o in on_offer]
    bits, finalists, table = _bits(crowd, weight, label, count, on_offer)
    worth = bits / minutes
    free = np.array([not why for why in barred], dtype=np.bool_)
    order = [i for i in np.argsort(-worth, kind="stable").tolist() if i in finalists]
    best = next((i for i in order if free[i]), None)
    # The best is the first that is free: what is worth more is barred.
    kept = tuple((on_offer[i], barred[i]) for i in order if best is None or worth[i] > worth[best])[:3]
    top = belief.ranking[0]
    if best is None or bits[best] < costs_table().repair["least_information"] or len(made) >= options.most_tests:
        return _without_test(belief, kept)
    total, shares = merged(weight, table[finalists[best]], label, count)
    if _time_to_repair(top.probability, total, shares, float(minutes[best])):
        return _repair(top, kept, _("repairing it now costs less, on average, than testing on"))
    if belief.none_of_these > NONE_SURE and len(made) >= options.most_tests // 2:
        return _without_test(belief, kept)
    others = tuple((on_offer[i], float(bits[i]), float(minutes[i])) for i in order if free[i] and i != best)[:3]
    outcomes = _outcomes(belief, on_offer[best], total, shares, _entry_of_label(belief, crowd, label, count))
    # Bits as a person counts: so many causes, were all of them alike likely.
    now, then = 2.0 ** _open_bits(belief), 2.0 ** max(0.0, _open_bits(belief) - float(bits[best]))
    why = _(
        "it is expected to narrow about {now:.0f} likely causes down to {then:.0f}, more for its time (about "
        "{minutes:.0f} min, walk and risk counted) than any other test"
    ).format(minutes=max(1.0, minutes[best]), now=now, then=max(1.0, then))
    return Advice("probe", why, on_offer[best], float(minutes[best]), float(bits[best]), outcomes, None, others, kept)


def _repeated(probe: Probe, made: set[Probe], again: set[Probe]) -> bool:
    """Tell whether the same two points were read in the same call with another meter or the other way round."""
    turned = [p for p in made - again if p.kind == probe.kind and p.state == probe.state]
    return probe.kind in ("volts", "ohms") and any(
        set(p.between) == set(probe.between) and p.meter == probe.meter for p in turned
    )


def _crowd(belief: Belief) -> tuple[Crowd, Reals, Ints, int]:
    """Return (rows that count, their weights, their labels from 0, how many labels)."""
    predictions = belief.predictions
    weight = belief.posterior.rows
    top = np.argsort(-weight, kind="stable")[:MOST_ROWS]
    top = np.sort(top[weight[top] >= SLIGHT * weight[top[0]]])
    crowd = Crowd(predictions, top, {}, belief.line)
    entry = belief.labels[predictions.rows.cause[top]]
    found, label = np.unique(entry, return_inverse=True)
    return crowd, weight[top] / weight[top].sum(), label.astype(np.int64), len(found)


def _entry_of_label(belief: Belief, crowd: Crowd, label: Ints, count: int) -> Ints:
    entry = np.zeros(count, dtype=np.int64)
    entry[label] = belief.labels[belief.predictions.rows.cause[crowd.rows]]
    return entry


def _bits(
    crowd: Crowd, weight: Reals, label: Ints, count: int, on_offer: Sequence[Offer]
) -> tuple[Reals, dict[int, int], Reals]:
    """Return ((n_offer,) bits, {finalist: its place in the table}, table of finalists)."""
    if len(crowd.rows) > COARSE_ROWS:
        few = np.sort(np.argsort(-weight, kind="stable")[:COARSE_ROWS])
        small = Crowd(crowd.predictions, crowd.rows[few], {}, crowd.line)
        bits = _information(weight[few] / weight[few].sum(), label[few], outcome_table(small, on_offer))
    else:
        table = outcome_table(crowd, on_offer)
        return _information(weight, label, table), {i: i for i in range(len(on_offer))}, table
    best = np.argsort(-bits, kind="stable")[:FINALISTS]
    table = outcome_table(crowd, [on_offer[i] for i in best])
    bits = np.zeros(len(on_offer))
    bits[best] = _information(weight, label, table)
    del count
    return bits, {int(i): k for k, i in enumerate(best)}, table


def _information(weight: Reals, label: Ints, table: Reals) -> Reals:
    __, own = np.unique(label, return_inverse=True)
    total, shares = merged(weight, table, own, int(own.max()) + 1)
    return information_bits(total, shares)


def _open_bits(belief: Belief) -> float:
    p = np.append(belief.entry_p, belief.none_of_these)
    p = p[p > 0.0]
    return float(-(p * np.log2(p)).sum())


def _time_to_repair(p: float, total: Reals, shares: Reals, minutes: float) -> bool:
    """Tell whether repairing the likeliest cause now costs less than one test more and then repairing."""
    if p >= SURE:
        return True
    if p < LEAST_SURE:
        return False
    wrong = costs_table().repair["wrong_minutes"]
    after = float((total[:, None] * shares).max(axis=0).sum())
    now = float(total.max())
    return (after - now) * wrong <= minutes


def _repair(top: Cause, kept: tuple[tuple[Offer, str], ...], why: str) -> Advice:
    said = _("it is {p:.0%} likely that {cause}; {why}").format(p=top.probability, cause=top.words, why=why)
    return Advice("repair", said, cause=top, kept_back=kept)


def _without_test(belief: Belief, kept: tuple[tuple[Offer, str], ...]) -> Advice:
    """Advise when no test is worth its time any more."""
    top = belief.ranking[0]
    if belief.none_wins or top.probability < 0.25:
        why = (
            _(
                "nothing that was thought of fits what was read, and no test on offer would tell enough more; prove the meter, "
                "read again what is doubted, and hand over if that changes nothing"
            )
            if belief.none_wins
            else _(
                "no cause stands out, and no test on offer would tell enough more; prove the meter, read again what is "
                "doubted, and hand over if that changes nothing"
            )
        )
        return Advice("hand over", why, cause=top, kept_back=kept)
    return _repair(top, kept, _("no test on offer would tell enough more to be worth its time"))


def _outcomes(belief: Belief, offer: Offer, total: Reals, shares: Reals, entry: Ints) -> tuple[Outcome, ...]:
    """Return runs of outcomes with the same likeliest cause, the likeliest runs in the order of the scale."""
    joint = total[:, None] * shares
    likeliest, p = joint.argmax(axis=0), joint.sum(axis=0)
    runs: list[tuple[int, int]] = []
    for b in np.flatnonzero(p > 0.01).tolist():
        if runs and likeliest[runs[-1][0]] == likeliest[b] and runs[-1][1] == b - 1:
            runs[-1] = (runs[-1][0], b)
        else:
            runs.append((b, b))
    weights = [float(p[a : b + 1].sum()) for a, b in runs]
    kept = sorted(sorted(range(len(runs)), key=lambda i: -weights[i])[:SHOWN_OUTCOMES])
    found = []
    for i in kept:
        a, b = runs[i]
        part = joint[:, a : b + 1].sum(axis=1)
        best = int(part.argmax())
        which = int(entry[best])
        p_now = float(belief.entry_p[which])
        cause = cause_of_entry(belief.predictions, which, p_now, belief.causes)
        found.append(Outcome(bin_words(offer, a, b), weights[i], cause, float(part[best] / part.sum())))
    return tuple(found)


__all__ = ["Advice", "Options", "Outcome", "next_test"]
