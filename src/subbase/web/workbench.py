"""What Work, Check and the search for a fault are made from: the sheet of checks, the work plan, the judgement, the odds."""

from __future__ import annotations

import hashlib
import json
import threading
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from subbase.diagnose.advice import Advice, Options, next_test
from subbase.diagnose.costs import Situation
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence
from subbase.diagnose.session import start
from subbase.diagnose.weigh import Belief, weigh
from subbase.plan import Plan
from subbase.survey import Survey
from subbase.web.jobs import JobView, Office
from subbase.web.slow import PATIENCE_S, Told
from subbase.wiring import build_house
from subbase.words import _, current_language
from subbase.work.air_and_water import makers
from subbase.work.call_sequences import CallSequence, call_sequences
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan, checks_for
from subbase.work.step_plan import work_plan
from subbase.work.steps import Licence, Season, WorkPlan
from subbase.work.taken import Taken
from subbase.work.verdicts import Report, judge, supply_checks

Group = Literal["dead", "live", "supply"]
SeenKind = Literal["step", "return", "supply", "minutes"]
TEMPERATURES: tuple[SeenKind, ...] = ("return", "supply", "minutes")
WIRING = {"controls", "equipment", "transformers", "cables", "jumpers"}
"""Parts of a survey that the steps and checks follow from; names, notes and old readings are not among them."""


@dataclass(frozen=True, slots=True)
class Day:
    """The weather of the day, and what the person is licensed for."""

    season: Season | None = None
    outdoor_c: float | None = None
    licences: frozenset[Licence] = frozenset()
    asked: bool = False
    """Whether anybody answered; 'don't know' is an answer."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line of the sheet of checks."""

    id: str
    check: Check
    group: Group


@dataclass(frozen=True, slots=True)
class SeenItem:
    """One thing to be seen, heard or felt in a call: when a step comes, or a temperature of its air or water."""

    id: str
    sequence: CallSequence
    kind: SeenKind
    label: str
    """Of a step, as the sequence calls it; else the kind."""
    place: str
    medium: Literal["", "air", "water"] = ""


@dataclass(frozen=True)
class Sheet:
    """A plan with all that its checks need; slow to make."""

    plan: Plan
    left: Survey
    checks: CheckPlan
    sequences: tuple[CallSequence, ...]
    items: tuple[Item, ...]
    """Dead checks, then live ones, then the supply under load."""
    seen: tuple[SeenItem, ...]
    """What is to be seen in each call, call by call."""
    mark: str
    """Short mark of the wiring: results of one wiring must not count for another."""

    @cached_property
    def seen_by_id(self) -> dict[str, SeenItem]:
        """Return what is to be seen by its ids."""
        return {item.id: item for item in self.seen}

    @cached_property
    def by_id(self) -> dict[str, Item]:
        """Return the items by their ids."""
        return {item.id: item for item in self.items}

    def item_of(self, check: Check) -> Item | None:
        """Return the line of a check."""
        return self.by_id.get(check_id(check))


def check_id(check: Check) -> str:
    """Return a short id of a check that stays the same whichever way round the probes are."""
    state = check.state.words(name_controls=True) if check.state is not None else ""
    told = [sorted(check.between), sorted(check.clip or ()), check.unit, state]
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:10]


def _seen(left: Survey, plan: Plan, sequences: tuple[CallSequence, ...]) -> tuple[SeenItem, ...]:
    """Return what is to be seen in each call that anybody can make."""
    house = build_house(left, plan.catalog)
    asked = [sequence for sequence in sequences if sequence.state.condition is None]
    found: list[SeenItem] = []
    for sequence, call in zip(asked, solved_calls(house, [sequence.state for sequence in asked]), strict=True):
        state = sequence.state.words(name_controls=True)
        found += [SeenItem(_id("step", state, s.label), sequence, "step", s.label, s.place) for s in sequence.steps]
        made = makers(house, call.coils_in)
        if not made:
            continue
        medium: Literal["air", "water"] = "air" if any(house.kind(p).group != "hydronic" for p in made) else "water"
        found += [SeenItem(_id(kind, state, medium), sequence, kind, kind, medium, medium) for kind in TEMPERATURES]
    return tuple(found)


def _id(*told: str) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:10]


def wiring_mark(plan: Plan) -> str:
    """Return a short mark of the wiring as found and as left."""
    parts = [None if s is None else s.model_dump(mode="json", include=WIRING) for s in (plan.found, plan.left)]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:16]


def sheet_of(office: Office, view: JobView, *, patience_s: float | None = PATIENCE_S) -> Sheet | None:
    """Return the sheet of a job's checks; None when it has no plan to work by.

    Raises
    ------
    NotYet
    """
    if view.survey is None:
        return None

    def make(told: Told) -> Sheet | None:
        plan = office.plan(view)
        if plan is None or plan.left is None:
            return None
        told(_("Building and solving every wrong landing, and choosing the checks that tell them."))
        checks = checks_for(plan)
        supply = supply_checks(plan.left, plan.catalog)
        groups: list[tuple[Group, list[Check]]] = [
            ("dead", [c.check for c in checks.checks if c.check.unit == "ohm"]),
            ("live", [c.check for c in checks.checks if c.check.unit == "V"]),
            ("supply", list(supply)),
        ]
        items: dict[str, Item] = {}
        for group, found in groups:
            for check in found:
                items.setdefault(check_id(check), Item(check_id(check), check, group))
        sequences = call_sequences(plan.left, plan.catalog)
        return Sheet(
            plan,
            plan.left,
            checks,
            sequences,
            tuple(items.values()),
            _seen(plan.left, plan, sequences),
            wiring_mark(plan),
        )

    return office.slow.get("sheet", _key(view), make, what=_("The checks of this house"), patience_s=patience_s)


def work_of(
    office: Office, view: JobView, sheet: Sheet, day: Day, *, patience_s: float | None = PATIENCE_S
) -> WorkPlan:
    """Return the work steps of a job.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> WorkPlan:
        told(_("Finding an order of the moves that is safe at every moment."))
        return work_plan(
            sheet.plan, season=day.season, outdoor_c=day.outdoor_c, licences=day.licences, checks=sheet.checks
        )

    key = f"{_key(view)} {day.season} {day.outdoor_c} {sorted(day.licences)}"
    return office.slow.get("work", key, make, what=_("The work steps"), patience_s=patience_s)


def report_of(
    office: Office, view: JobView, sheet: Sheet, taken: Taken, *, patience_s: float | None = PATIENCE_S
) -> Report:
    """Return what was taken, judged.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> Report:
        told(_("Holding every reading against the house as planned, and against every wrong landing."))
        return judge(sheet.plan, taken, sheet.checks, sheet.sequences)

    key = f"{_key(view)} {_hash(taken)}"
    return office.slow.get("report", key, make, what=_("The judgement of the readings"), patience_s=patience_s)


def predictions_of(
    office: Office, view: JobView, sheet: Sheet, *, patience_s: float | None = PATIENCE_S
) -> Predictions:
    """Return all that can be wrong with a house and what each test would show.

    Raises
    ------
    NotYet
    """

    def make(told: Told) -> Predictions:
        return start(sheet.left, sheet.plan.catalog, progress=told)

    return office.slow.get(
        "diagnosis", _key(view), make, what=_("What can be wrong in this house"), patience_s=patience_s
    )


# A house's predictions remember what was asked of them, and that is not made for two threads at once.
_ONE_AT_A_TIME = threading.Lock()


def advice_of(
    office: Office,
    view: JobView,
    predictions: Predictions,
    asked: tuple[Evidence, Situation],
    *,
    patience_s: float | None = PATIENCE_S,
) -> tuple[Belief, Advice]:
    """Return what is believed after some evidence, and what to do next.

    Raises
    ------
    NotYet
    """
    evidence, situation = asked

    def make(told: Told) -> tuple[Belief, Advice]:
        told(_("Weighing every cause, and what every further test would tell."))
        with _ONE_AT_A_TIME:
            belief = weigh(predictions, evidence)
            return belief, next_test(belief, Options(situation))

    key = f"{_key(view)} {_hash((evidence, situation))}"
    return office.slow.get("advice", key, make, what=_("The likeliest causes"), patience_s=patience_s)


def _key(view: JobView) -> str:
    return f"{current_language()} {view.state.survey.sha256}"


def _hash(data: object) -> str:
    return hashlib.sha256(repr(data).encode()).hexdigest()


__all__ = [
    "Day", "Group", "Item", "SeenItem", "Sheet", "advice_of", "check_id", "predictions_of", "report_of", "sheet_of", "wiring_mark", "work_of",
]  # fmt: skip
