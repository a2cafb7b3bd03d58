"""Laws of belief and information, whatever the numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from numpy.typing import NDArray

from subbase.diagnose.belief import Likelihood, posterior
from subbase.diagnose.information import entropy_bits, information_bits, merged
from subbase.diagnose.likelihood import ghost_shares, volt_shares
from subbase.diagnose.outcomes import VOLT_EDGES

POSITIVE = st.floats(0.01, 1.0)
ROWS, LEVELS = 6, 3


Reals = NDArray[np.float64]


def shares(values: Reals) -> Reals:
    """Return values that add up to 1."""
    found: Reals = values / values.sum()
    return found


@given(arrays(np.float64, ROWS, elements=POSITIVE), arrays(np.float64, (4, ROWS, LEVELS), elements=POSITIVE))
def test_the_order_of_readings_does_not_matter(prior: Reals, good: Reals) -> None:
    """Belief after readings is the same whichever came first."""
    readings = [Likelihood(item, 0.3, 0.05) for item in good]
    levels = np.full(LEVELS, 1.0 / LEVELS)
    one = posterior(shares(prior), levels, readings)
    other = posterior(shares(prior), levels, readings[::-1])
    np.testing.assert_allclose(one.joint, other.joint, rtol=1e-9)


@given(arrays(np.float64, ROWS, elements=POSITIVE), st.integers(0, ROWS - 1))
def test_one_reading_cannot_exclude_a_cause(prior: Reals, truth: int) -> None:
    """A reading that is impossible under a cause costs it no more than what a wrong reading would."""
    good = np.full((ROWS, 1), 1.0)
    good[truth] = 0.0
    found = posterior(shares(prior), np.ones(1), [Likelihood(good, 0.2, 0.05)])
    before = shares(prior)
    odds_before = before[truth] / (1.0 - before[truth])
    odds_after = found.rows[truth] / (1.0 - found.rows[truth])
    assert odds_after == pytest.approx(odds_before * 0.01 / (0.95 + 0.01))


@given(
    arrays(np.float64, ROWS, elements=POSITIVE),
    arrays(np.float64, (ROWS, 4), elements=POSITIVE),
    arrays(np.int64, ROWS, elements=st.integers(0, 2)),
)
def test_information_is_within_its_bounds_and_merging_loses_some(
    weight: Reals,
    outcome: Reals,
    label: NDArray[np.int64],
) -> None:
    """A test tells at least nothing, at most all, and no more of groups than of their members."""
    weight, outcome = shares(weight), outcome / outcome.sum(axis=1, keepdims=True)
    bits = float(information_bits(weight, outcome))
    assert -1e-12 <= bits <= float(entropy_bits(weight)) + 1e-9
    _, own = np.unique(label, return_inverse=True)
    total, of_group = merged(weight, outcome, own, int(own.max()) + 1)
    assert float(information_bits(total, of_group)) <= bits + 1e-9
    np.testing.assert_allclose(of_group.sum(axis=1), 1.0)


@given(st.floats(0.0, 40.0), st.floats(0.1, 8.0))
def test_bins_of_volts_hold_all_that_can_be_shown(volts: float, sd: float) -> None:
    """Whatever is predicted, the shares of the bins add up to 1."""
    found = volt_shares(np.array([volts]), np.array([sd]), VOLT_EDGES)
    assert float(found.sum()) == pytest.approx(1.0)
    assert (found >= -1e-12).all()
    for low in (True, False):
        assert float(ghost_shares(VOLT_EDGES, 27.0, low_impedance=low).sum()) == pytest.approx(1.0)


def test_priors_that_do_not_add_up_are_refused() -> None:
    """A sum other than 1 is a mistake of the caller."""
    with pytest.raises(ValueError, match="add up to 1"):
        posterior(np.array([0.5, 0.4]), np.ones(1), [])


@given(arrays(np.float64, ROWS, elements=POSITIVE), st.integers(0, ROWS - 1))
def test_moving_rows_keeps_what_they_are_worth(prior: Reals, to: int) -> None:
    """Whatever row stands for what is left after a repair, all probabilities still add up to the same."""
    found = posterior(shares(prior), np.ones(1), [])
    moved = found.moved(np.full(ROWS, to))
    assert float(moved.rows[to]) == pytest.approx(1.0)
    assert float(moved.joint.sum()) == pytest.approx(float(found.joint.sum()))
    assert found.moved(None) is found
