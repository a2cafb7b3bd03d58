"""Houses of any size for the bench of wrong landings, and the cover that one makes, solved by HiGHS too."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Sequence
from unittest import mock

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
