"""Which wrong landings and which single faults give readings as they were taken.

A slip is the house that it leaves, a fault one branch of the circuit gone or become another. Both are solved at the same
corners as the good house, and a reading agrees when it lies within their bounds, or where nothing defines a reading.
Of dead readings only slips are asked: what a fault leaves inside a coil or a board is not known in ohms.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Source
from subbase.circuit.changes import Change, changed, usual_changes
from subbase.survey import Survey
from subbase.wiring import House, build_house
from subbase.wiring.build import CORNERS
from subbase.words import _
from subbase.work.calls import solved_calls
from subbase.work.check_bounds import NOTHING_KNOWN, Bounds, Check, ohm_bounds, read_volts, volt_bounds
from subbase.work.outcomes import DAMAGING, SEVERITIES, Outcome

ROUNDING = 1e-9
NEAR_SHARE, NEAR = 0.03, 0.2
"""Beyond its bounds by this share, and this many volts or ohms, a cause is not excluded yet: corners are no guarantee
(judgement)."""
MOST_EXPLANATIONS = 4


@dataclass(frozen=True, slots=True)
class Reading:
    """A check and what was read at it [V or ohm]."""

    check: Check
    value: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """One single thing wrong that gives the readings."""

    words: str
    does: str
    """What it does, in one clause; of faults nothing is said."""
    damaging: bool


class Cause(Protocol):
    """One single thing wrong, as what it makes of readings."""

    def bounds(self, checks: Sequence[Check]) -> tuple[Bounds, ...]:
        """Return the bounds of each check; a check that it says nothing of is not bounded."""
        ...

    def explanation(self) -> Explanation:
        """Return it in words."""
        ...


@dataclass(frozen=True, slots=True)
class SlipCause:
    """A wrong landing."""

    outcome: Outcome
    catalog: Catalog

    def bounds(self, checks: Sequence[Check]) -> tuple[Bounds, ...]:
        """Return what the checks read in the house that the slip leaves."""
        slip = self.outcome.slip
        live = [check for check in checks if check.unit == "V"]
        dead = [check for check in checks if check.unit == "ohm"]
        volts = iter(volt_bounds(slip.survey, self.catalog, live, slip) if live else ())
        ohms = iter(ohm_bounds(slip.survey, self.catalog, dead) if dead else ())
        return tuple(next(volts if check.unit == "V" else ohms) for check in checks)

    def explanation(self) -> Explanation:
        """Return the slip's words and the worst that it does."""
        worst = self.outcome.worst
        does = f"{worst.text} ({worst.call})" if worst else _("does nothing in any single call")
        return Explanation(self.outcome.slip.words, does, self.outcome.severity in DAMAGING)


@dataclass(frozen=True, slots=True)
class FaultCause:
    """One branch of the circuit in one of the ways in which it fails."""

    houses: tuple[House, ...]
    """The good house at each corner."""
    changes: tuple[Change, ...]
    """The fault in each of them."""

    def bounds(self, checks: Sequence[Check]) -> tuple[Bounds, ...]:
        """Return what live checks read with the fault."""
        broken = [
            replace(house, netlist=changed(house.netlist, [change]))
            for house, change in zip(self.houses, self.changes, strict=True)
        ]
        return tuple(_volts(broken, checks))

    def explanation(self) -> Explanation:
        """Return the fault as people say it."""
        return Explanation(_fault_words(self.houses[0], self.changes[0]), "", damaging=False)


def slip_causes(outcomes: Iterable[Outcome], catalog: Catalog) -> tuple[SlipCause, ...]:
    """Return wrong landings as causes, worst first."""
    ranked = sorted(outcomes, key=lambda outcome: SEVERITIES.index(outcome.severity))
    return tuple(SlipCause(outcome, catalog) for outcome in ranked)


def fault_causes(left: Survey, catalog: Catalog) -> tuple[FaultCause, ...]:
    """Return every usual fault of every branch as a cause."""
    houses = tuple(build_house(left, catalog, corner=corner, awake=corner.name != "high") for corner in CORNERS)
    tables = [_numbered(usual_changes(house.netlist)) for house in houses]
    return tuple(
        FaultCause(houses, tuple(table[key] for table in tables))
        for key in tables[0]
        if all(key in table for table in tables)
    )


def _numbered(changes: Iterable[Change]) -> dict[tuple[str, int], Change]:
    """Return changes by their branch and which of its ways to fail they are."""
    found: dict[tuple[str, int], Change] = {}
    for change in changes:
        way = sum(tag == change.tag for tag, __ in found)
        found[change.tag, way] = change
    return found


def agrees(cause: Cause, readings: Sequence[Reading]) -> bool:
    """Return whether every reading lies within what a cause gives, or so near that the corners may have missed it."""
    bounds = cause.bounds([reading.check for reading in readings])
    return all(within(reading.value, _wider(found)) for reading, found in zip(readings, bounds, strict=True))


def agreeing(causes: Iterable[Cause], first: Sequence[Reading], rest: Sequence[Reading]) -> Iterator[Cause]:
    """Yield the causes that give all readings; those in ``first`` are asked first, since most causes fall there."""
    for cause in causes:
        if agrees(cause, first) and (not rest or agrees(cause, rest)):
            yield cause


def _wider(bounds: Bounds) -> Bounds:
    low, high = bounds
    return (low if math.isinf(low) else low * (1.0 - NEAR_SHARE) - NEAR), high * (1.0 + NEAR_SHARE) + NEAR


def within(value: float, bounds: Bounds) -> bool:
    """Return whether a reading lies within bounds; OL lies within bounds that end in OL."""
    low, high = bounds
    return low - ROUNDING <= value <= high + ROUNDING


def _volts(houses: Sequence[House], checks: Sequence[Check]) -> Iterator[Bounds]:
    states = tuple(dict.fromkeys(check.state for check in checks if check.state is not None))
    solved = [dict(zip(states, solved_calls(house, states), strict=True)) for house in houses]
    for check in checks:
        # Where relays chatter, the reading swings between their states, and is somewhere from one to the other.
        solutions = [s for corner in solved if check.state is not None for s in corner[check.state].solutions]
        volts = [solution.between(*check.between) for solution in solutions]
        sure = [abs(v) for v in volts if v is not None]
        yield read_volts(min(sure), max(sure)) if sure and len(sure) == len(volts) else NOTHING_KNOWN


def _fault_words(house: House, change: Change) -> str:
    branch = house.netlist.by_tag[change.tag]
    words = house.part_words(change.tag)
    if change.becomes is None:
        return (
            _("no supply from {words}").format(words=words)
            if isinstance(branch, Source)
            else _("{words} open").format(words=words)
        )
    if isinstance(branch, Source):
        return _("weak supply from {words}").format(words=words)
    if isinstance(branch, Coil):
        return _("{words} shorted").format(words=words)
    if isinstance(branch, Impedance):
        return _("a poor joint in {words}").format(words=words)
    return _("{words} stuck closed").format(words=words)


__all__ = [
    "MOST_EXPLANATIONS",
    "Cause", "Explanation", "FaultCause", "Reading", "SlipCause", "agreeing", "agrees", "fault_causes", "slip_causes",
    "within",
]  # fmt: skip
