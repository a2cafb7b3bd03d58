"""What a work plan is: steps that stand behind gates, frozen.

A step that must be met before another may begin is listed in that other's ``after``; together they are a directed graph
without circles, and ``steps`` holds them in an order that keeps it. What has been done of a plan is no part of it: see
``work.progress``.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, get_args

from subbase.words import mark
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan
from subbase.work.meter_words import bounds_words, temperature_words
from subbase.work.step_diff import Move
from subbase.work.step_order import MoveOrder

Phase = Literal[
    "look",
    "tell",
    "control off",
    "lock out",
    "prove dead",
    "photograph and label",
    "move",
    "look twice",
    "check dead",
    "close up",
    "power up",
    "set up",
    "calls",
    "hand over",
]
PHASES: tuple[Phase, ...] = get_args(Phase)
"""In the order of the work."""
PHASE_TITLES: dict[Phase, str] = {
    "look": mark("Look first"),
    "tell": mark("Tell the household"),
    "control off": mark("Control off"),
    "lock out": mark("Lock out"),
    "prove dead": mark("Prove dead: meter live, terminals dead, meter live"),
    "photograph and label": mark("Photograph and label"),
    "move": mark("Move, one end at a time"),
    "look twice": mark("Read back, look twice"),
    "check dead": mark("Meter, still dead"),
    "close up": mark("Close up"),
    "power up": mark("Supply on"),
    "set up": mark("Set up"),
    "calls": mark("Calls, one by one"),
    "hand over": mark("Hand over"),
}
"""Phase -> what stands above its steps."""
Who = Literal["anyone", "licensed electrician", "licensed gas fitter", "certified for refrigerant"]
Licence = Literal["electrician", "gas", "refrigerant"]
LICENCES: tuple[Licence, ...] = get_args(Licence)
FOR_WHOM: dict[Who, str] = {
    "anyone": mark("For anyone."),
    "licensed electrician": mark("For a licensed electrician."),
    "licensed gas fitter": mark("For a licensed gas fitter."),
    "certified for refrigerant": mark("For a person certified for refrigerant."),
}
"""Whose work a step is, as a sentence."""
Season = Literal["heating", "cooling"]
"""What the weather asks for on the day of the work."""
Unit = Literal["V", "ohm", "degC"]


@dataclass(frozen=True, slots=True)
class Expected:
    """What a meter or thermometer must read; SI inside."""

    low: float
    high: float
    unit: Unit
    between: tuple[str, str] | None = None
    """The two terminals; None where nothing of the survey is touched."""
    if_low: str = ""
    """What a lower reading means (a short, of ohms)."""
    if_high: str = ""
    """What a higher reading means (an open, of ohms)."""

    def holds(self, value: float) -> bool:
        """Return whether a reading is within bounds; OL is infinite."""
        return self.low <= value <= self.high

    def words(self, units: Literal["us", "si"] = "us") -> str:
        """Return the bounds as they are read off a meter."""
        if self.unit != "degC":
            return bounds_words(self.low, self.high, self.unit)
        shown = "°F" if units == "us" else "°C"
        low, high = (shown_value(value, self.unit, units) for value in (self.low, self.high))
        return temperature_words(low, high, shown)


def shown_value(value: float, unit: Unit, units: Literal["us", "si"]) -> float:
    """Return a value as the survey's units show it: °F for °C where they are US units."""
    return value * 9.0 / 5.0 + 32.0 if unit == "degC" and units == "us" else value


def inner_value(value: float, unit: Unit, units: Literal["us", "si"]) -> float:
    """Return the SI value of what was read in the survey's units."""
    return (value - 32.0) * 5.0 / 9.0 if unit == "degC" and units == "us" else value


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do, to look at, or to read; a gate for whatever names it in ``after``."""

    id: str
    """Stable for a plan: ``lock/furnace``, ``move/7``."""
    phase: Phase
    kind: Literal["do", "look", "read"]
    """Done by hand; seen with the eyes; read with an instrument."""
    title: str
    """What, as one order."""
    site: str
    """Where a person stands: a control, a cabinet, or the house."""
    where: str
    """The same in words: 'furnace, in the basement'."""
    why: str
    lines: tuple[str, ...] = ()
    """Particulars, one a line: which ends, which settings, what is to be seen and when."""
    expected: Expected | None = None
    otherwise: str = ""
    """What to do when it isn't so."""
    caution: str = ""
    who: Who = "anyone"
    may_do: bool = True
    """Whether the person with the licences given may do it."""
    after: tuple[str, ...] = ()
    """Steps that must be met first: done, or left out where that is allowed."""
    needs: tuple[str, ...] = ()
    """Of these, the ones that must be done: leaving them out leaves this out too."""
    voids: tuple[str, ...] = ()
    """Steps before it that were worth nothing when it is not met: tests made with a meter that then fails."""
    renews: tuple[str, ...] = ()
    """Steps that must be done again once this one was done and is taken back: locks and proofs, after supply was on."""
    may_skip: bool = False
    """Whether it may be left out with a reason; a gate that guards people never may."""
    live: bool = False
    """Whether supply is on."""
    covers: tuple[str, ...] = ()
    """Wrong landings that it tells, in words."""
    check: Check | None = None
    """The check that it makes, of reading steps that come from the check plan."""
    move: Move | None = None
    """The move that it makes, of steps that move something."""
    source: str = ""
    """Where the rule is published; or 'common practice, no source', or 'judgement'."""


@dataclass(frozen=True, slots=True)
class WorkPlan:
    """Every step of one job, in an order that may be followed from top to bottom."""

    survey: str
    """Name of the job."""
    units: Literal["us", "si"]
    steps: tuple[Step, ...]
    order: MoveOrder
    checks: CheckPlan
    season: Season | None = None
    outdoor_c: float | None = None
    """Outdoor temperature on the day [°C]; None when not known."""
    licences: frozenset[Licence] = frozenset()
    english: tuple[str, ...] = ()
    """Titles in English where the steps are in another language: what marks a record as this plan's."""

    @property
    def titles(self) -> tuple[str, ...]:
        """Return the title of every step in English, whatever language the steps are in."""
        return self.english or tuple(step.title for step in self.steps)

    def step(self, step_id: str) -> Step:
        """Return the step with an id.

        Raises
        ------
        KeyError
            When the plan has no such step.
        """
        for step in self.steps:
            if step.id == step_id:
                return step
        raise KeyError(step_id)

    def phases(self) -> Iterator[tuple[Phase, tuple[Step, ...]]]:
        """Yield each phase that has steps, with them."""
        for phase in PHASES:
            steps = tuple(step for step in self.steps if step.phase == phase)
            if steps:
                yield phase, steps

    @property
    def walks(self) -> int:
        """Return how often the order goes from one site to another."""
        return sum(1 for a, b in pairwise(step.site for step in self.steps) if a != b)

    def before(self, step_id: str) -> frozenset[str]:
        """Return every step that must be met before one, however far back."""
        by_id = {step.id: step for step in self.steps}
        found: set[str] = set()
        waiting = list(by_id[step_id].after)
        while waiting:
            one = waiting.pop()
            if one not in found:
                found.add(one)
                waiting.extend(by_id[one].after)
        return frozenset(found)

    def behind(self, step_id: str) -> frozenset[str]:
        """Return every step that one must be met for, however far on."""
        found = {step_id}
        for step in self.steps:
            if found & set(step.after):
                found.add(step.id)
        return frozenset(found - {step_id})


__all__ = [
    "FOR_WHOM",
    "LICENCES",
    "PHASES",
    "PHASE_TITLES",
    "Expected",
    "Licence",
    "Phase",
    "Season",
    "Step",
    "Unit",
    "Who",
    "WorkPlan",
    "inner_value",
    "shown_value",
]
