"""The invented houses in ``examples/`` as tests use them: as found, and as their plans leave them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from subbase.plan import Plan, make_plan
from subbase.survey import Survey, load_survey

EXAMPLES = Path(__file__).parents[1] / "examples"
NAMES = tuple(sorted(path.stem for path in EXAMPLES.glob("*.yaml")))


@cache
def survey_of(name: str) -> Survey:
    """Return the survey of an example."""
    return load_survey(EXAMPLES / f"{name}.yaml")


@cache
def plan_of(name: str) -> Plan:
    """Return the plan of an example."""
    return make_plan(survey_of(name))


def circuits_of(name: str) -> tuple[Survey, ...]:
    """Return the house as found (unknowns filled in) and as left, as far as there is one."""
    plan = plan_of(name)
    return tuple(survey for survey in (plan.found, plan.left) if survey is not None)


BUILDABLE = tuple(name for name in NAMES if "stop" not in name)
"""Examples with a circuit; the others are stopped before one is built."""
