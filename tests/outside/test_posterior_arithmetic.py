"""Posterior arithmetic against exact enumeration in fractions, written anew."""

from __future__ import annotations

from fractions import Fraction
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.diagnose.belief import Likelihood, posterior

SHARES = st.integers(1, 20).map(lambda n: Fraction(n, 20))


def enumerated(
    prior: list[Fraction],
    levels: list[Fraction],
    readings: list[tuple[list[list[Fraction]], Fraction, Fraction]],
    none_prior: Fraction,
) -> tuple[list[Fraction], Fraction, list[Fraction]]:
    """Return (rows, none, wrong) by summing over every row, level, and pattern of right and wrong readings."""
    rows, wrong = [Fraction(0)] * len(prior), [Fraction(0)] * len(readings)
    for (i, p), (k, share) in product(enumerate(prior), enumerate(levels)):
        for pattern in product((False, True), repeat=len(readings)):
            weight = p * share
            for is_wrong, (good, wild, doubt) in zip(pattern, readings, strict=True):
                weight *= doubt * wild if is_wrong else (1 - doubt) * good[i][k]
            rows[i] += weight
            for place, is_wrong in enumerate(pattern):
                wrong[place] += weight if is_wrong else 0
    none = none_prior
    for _, wild, _ in readings:
        none *= wild
    total = sum(rows) + none
    return [row / total for row in rows], none / total, [item / total for item in wrong]


@pytest.mark.outside(
    source="Bayes's rule", how="enumerated in fractions over rows, levels and wrong readings, by other code"
)
@given(st.data())
def test_posterior_is_what_enumeration_gives(data: st.DataObject) -> None:
    """Small cases of any shape."""
    n, m, count = (data.draw(st.integers(low, high)) for low, high in ((1, 4), (1, 3), (0, 4)))
    raw = data.draw(st.lists(SHARES, min_size=n + 1, max_size=n + 1))
    prior, none_prior = [p / sum(raw) for p in raw[:-1]], raw[-1] / sum(raw)
    parts = data.draw(st.lists(SHARES, min_size=m, max_size=m))
    levels = [p / sum(parts) for p in parts]
    readings = [
        (
            [[data.draw(SHARES) for _ in range(m)] for _ in range(n)],
            data.draw(SHARES),
            data.draw(st.integers(1, 19)) * Fraction(1, 20),
        )
        for _ in range(count)
    ]
    rows, none, wrong = enumerated(prior, levels, readings, none_prior)
    found = posterior(
        np.array(prior, dtype=float), np.array(levels, dtype=float),
        [Likelihood(np.array(good, dtype=float), float(wild), float(doubt)) for good, wild, doubt in readings],
        none_prior=float(none_prior),
    )  # fmt: skip
    np.testing.assert_allclose(found.rows, np.array(rows, dtype=float), rtol=1e-9, atol=1e-12)
    assert found.none == pytest.approx(float(none), rel=1e-9)
    np.testing.assert_allclose(found.wrong, np.array(wrong, dtype=float), rtol=1e-9, atol=1e-12)
