"""Safety switches go on stopping what they stop today."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.plan.guards import bypassed
from subbase.survey import ConductorEnd, with_landing
from tests.houses import BUILDABLE, plan_of


@pytest.mark.parametrize("name", [name for name in BUILDABLE if plan_of(name).left is not None])
def test_no_plan_bypasses_a_safety_switch(name: str) -> None:
    """Whatever a float, limit or pressure switch stops as found, it stops as left."""
    plan = plan_of(name)
    assert plan.found is not None
    assert plan.left is not None
    assert bypassed(plan.found, plan.left, load_catalog()) == ()


def test_a_supply_taken_before_the_float_is_noticed() -> None:
    """R moved from behind the float switch to the board's own R runs past a full drain pan, and that is said."""
    plan = plan_of("12-heat-pump-with-strips")
    assert plan.found is not None
    assert plan.left is not None
    end = ConductorEnd(cable="wall", conductor="red", end="to")
    moved = with_landing(plan.left, end, "handler.R")
    texts = bypassed(plan.found, moved, load_catalog())
    assert texts
    assert all("float switch" in text and "would no longer stop" in text for text in texts)
