"""The examples as their plans leave them, ready for readings: worked out once for every test that asks."""

from __future__ import annotations

from functools import cache

from subbase.diagnose.predictions import Predictions
from subbase.diagnose.session import start
from tests.houses import plan_of


@cache
def predictions_of(name: str) -> Predictions:
    """Return a house as its plan leaves it, ready for readings."""
    plan = plan_of(name)
    assert plan.left is not None
    return start(plan.left, plan.catalog)
