"""Houses of any size for the bench of wrong landings, and the cover that one makes, solved by HiGHS too."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from unittest import mock

import highspy

from bench.planning import LARGEST, ROOT, house
from subbase.plan import Plan, make_plan
from subbase.survey import Survey, load_survey
from subbase.work import checks
from subbase.work.cover import Offer, least_cover

Cover = tuple[frozenset[int], list[Offer]]


def largest_house() -> Plan:
    """Return the plan of the largest example."""
    return make_plan(load_survey(ROOT / LARGEST))


def zoned_house(zones: int) -> Survey:
    """Return a house of motor zone valves on one supply, each with its own control."""
    return house(conductors=5, controls=zones)


def command_checks() -> None:
    """Run the command once in a new process."""
    command = [sys.executable, "-m", "subbase.cli", "checks", LARGEST, "--json"]
    subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.DEVNULL)


def cover_of(plan: Plan) -> Cover:
    """Return what must be told in a house and the checks offered, as the search for the least checks gets them."""
    asked: list[Cover] = []

    def overheard(wanted: frozenset[int], offers: Sequence[Offer]) -> tuple[int, ...]:
        asked.append((wanted, list(offers)))
        return least_cover(wanted, offers)

    with mock.patch.object(checks, "least_cover", overheard):
        checks.checks_for(plan)
    return asked[0]


def highs_seconds(wanted: frozenset[int], offers: Sequence[Offer]) -> int:
    """Return the least cost of a cover by the integer-programme solver HiGHS [s of work]."""
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("mip_rel_gap", 0.0)
    used = [solver.addBinary() for _ in offers]
    shared = dict(group for offer in offers for group in offer.groups)
    paid = {name: solver.addBinary() for name in shared}
    for element in wanted:
        holding = [used[i] for i, offer in enumerate(offers) if element in offer.holds]
        solver.addConstr(highspy.Highs.qsum(holding) >= 1)
    for i, offer in enumerate(offers):
        for name, _ in offer.groups:
            solver.addConstr(paid[name] >= used[i])
    costs = [offer.seconds * used[i] for i, offer in enumerate(offers)]
    costs += [seconds * paid[name] for name, seconds in shared.items()]
    solver.minimize(highspy.Highs.qsum(costs))
    return round(solver.getObjectiveValue())
