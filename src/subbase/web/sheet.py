"""The sheet of a job's checks, made from a plan alone: what is read, in which order, and what is seen in each call.

It needs no server and no library of numbers: the pages make it here, and a browser's own Python makes the same one.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from subbase.plan import Plan
from subbase.survey import Survey
from subbase.wiring import build_house
from subbase.work.air_and_water import makers
from subbase.work.call_sequences import CallSequence, call_sequences
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan, checks_for, supply_checks
from subbase.work.steps import Licence, Season

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
    state = check.state.name(name_controls=True) if check.state is not None else ""
    return _id(sorted(check.between), sorted(check.clip or ()), check.unit, state)


def _seen(left: Survey, plan: Plan, sequences: tuple[CallSequence, ...]) -> tuple[SeenItem, ...]:
    """Return what is to be seen in each call that anybody can make."""
    house = build_house(left, plan.catalog)
    asked = [sequence for sequence in sequences if sequence.state.condition is None]
    found: list[SeenItem] = []
    for sequence, call in zip(asked, solved_calls(house, [sequence.state for sequence in asked]), strict=True):
        state = sequence.state.name(name_controls=True)
        found += [SeenItem(_id("step", state, s.label), sequence, "step", s.label, s.place) for s in sequence.steps]
        made = makers(house, call.coils_in)
        if not made:
            continue
        medium: Literal["air", "water"] = "air" if any(house.kind(p).group != "hydronic" for p in made) else "water"
        found += [SeenItem(_id(kind, state, medium), sequence, kind, kind, medium, medium) for kind in TEMPERATURES]
    return tuple(found)


def _id(*told: object) -> str:
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()[:10]


def wiring_mark(plan: Plan) -> str:
    """Return a short mark of the wiring as found and as left."""
    parts = [None if s is None else s.model_dump(mode="json", include=WIRING) for s in (plan.found, plan.left)]
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()[:16]


def make_sheet(plan: Plan) -> Sheet | None:
    """Return the sheet of a plan's checks; None when the plan leaves no wiring to check. Takes seconds."""
    if plan.left is None:
        return None
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


__all__ = [
    "TEMPERATURES",
    "Day",
    "Group",
    "Item",
    "SeenItem",
    "SeenKind",
    "Sheet",
    "check_id",
    "make_sheet",
    "wiring_mark",
]  # fmt: skip
