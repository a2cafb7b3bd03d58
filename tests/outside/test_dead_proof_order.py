"""Proving dead in the published order, in every house that is worked on."""

from __future__ import annotations

from functools import cache

import pytest

from subbase.circuit import settle
from subbase.wiring import build_house
from subbase.work.step_plan import work_plan
from subbase.work.steps import WorkPlan
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if name[:2] not in ("08", "10", "11", "15", "16"))
"""One of each; the largest is left to the laws, which hold for it too."""
CLAUSE = "NFPA 70E 120.5(7) (2018, 2021), 120.6(7) (2024): test instrument proved on a known source before and after, each pair and each to ground"
HOW = "the order of the clause written out by hand: instrument on a known live source, every conductor pair and each to ground, instrument again"


@cache
def steps_of(name: str) -> WorkPlan:
    """Return the work plan of an example."""
    return work_plan(plan_of(name), outdoor_c=25.0)


@pytest.mark.outside(source=CLAUSE, how=HOW)
@pytest.mark.parametrize("name", PLANNED)
def test_meter_is_proved_live_then_terminals_dead_then_meter_live_again(name: str) -> None:
    """Between the two proofs of the meter on a live source stand the tests; nothing is touched before the second."""
    plan = steps_of(name)
    proof = [step for step in plan.steps if step.phase == "prove dead"]
    assert proof[0].id == "prove/meter first"
    assert proof[-1].id == "prove/meter again"
    assert all("known live source" in step.title or "same live source" in step.title for step in (proof[0], proof[-1]))
    tests = [step for step in proof[1:-1] if step.kind == "read"]
    assert tests
    for test in tests:
        assert "prove/meter first" in plan.before(test.id)
        assert test.id in plan.before("prove/meter again")
        said = " ".join(test.lines)
        assert "every other pair" in said
        assert "ground" in said
    for step in plan.steps:
        if step.phase in ("photograph and label", "move"):
            assert "prove/meter again" in plan.before(step.id)


@pytest.mark.outside(source="OSHA 29 CFR 1910.333(b)(2) and 1910.147(d), from memory", how="their order written out: shut down, isolate, lock and tag, verify")  # fmt: skip
@pytest.mark.parametrize("name", PLANNED)
def test_shut_down_then_lock_and_tag_then_try_then_test(name: str) -> None:
    """Controls are off before the locks, every lock is on before anything is tried, and tests come after the try."""
    plan = steps_of(name)
    locks = [step for step in plan.steps if step.phase == "lock out" and step.id != "lock/try"]
    assert locks
    for step in locks:
        assert {f"off/{control}" for control in plan.order.found.controls} <= plan.before(step.id)
        assert "lock it, tag it" in step.title
        assert step.id in plan.before("lock/try")
    assert "lock/try" in plan.before("prove/meter first")


@pytest.mark.outside(source=CLAUSE, how="every supply of the circuit traced to a tested pair by the solver")
@pytest.mark.parametrize("name", PLANNED)
def test_every_supply_that_can_be_reached_has_a_tested_pair(name: str) -> None:
    """Each transformer of the house as found stands across some tested pair, but those in a closed outdoor case at the wall."""
    plan = steps_of(name)
    house = build_house(plan.order.found, plan_of(name).catalog)
    solution = settle(house.netlist).solution
    index = house.netlist.index
    tested = [step.expected.between for step in plan.steps if step.id.startswith("prove/") and step.expected and step.expected.between]  # fmt: skip
    reached = {solution.reference[index[a]] for a, _ in tested}
    assert all(abs(solution.between(a, b) or 0j) > 10.0 for a, b in tested)
    assert {solution.reference[index[house.netlist.by_tag[tag].tail]] for tag in house.sources} <= reached
