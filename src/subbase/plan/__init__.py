"""Can it be driven, how is the new control fed, which conductor goes where: screening, power routes, landings, proof.

A rule may propose; the circuit disposes. ``make_plan`` is the whole of it.
"""

from subbase.plan.make import make_plan
from subbase.plan.result import ControlPlan, ExpectedReading, Landing, Plan, Question, Route, Stop

__all__ = ["ControlPlan", "ExpectedReading", "Landing", "Plan", "Question", "Route", "Stop", "make_plan"]
