"""Which of the planner's circuits and proofs its choice hangs on: those of the chosen route and of routes that could beat it.

Routes are ranked by calls lost, whether they are weaker than today, landings moved, parts and minutes (``plan.choose``).
All but 'weaker' are the same for every length of cable. So a route that ranks behind the chosen one even if it held, and
were not weaker, cannot be chosen for any other length either, and what its circuits do does not matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from subbase.circuit.settle import Settling
from subbase.plan.choose import HousePlan
from subbase.plan.proof import Proved
from subbase.plan.remedy import MINUTES
from subbase.plan.result import Route

Key = tuple[int, int, int, int]


@dataclass(slots=True)
class Recorded:
    """Every circuit that the planner settled, and every proof with the number of circuits settled by its end."""

    settlings: list[Settling]
    proofs: list[tuple[Proved, int]]

    def proved(self, made: Proved) -> None:
        """Keep a proof."""
        self.proofs.append((made, len(self.settlings)))


@dataclass(frozen=True, slots=True)
class Needed:
    """A proof and its circuits, or circuits that were settled beside proofs, by their numbers."""

    made: Proved | None
    settlings: tuple[int, ...]


def needed_parts(recorded: Recorded, plan: HousePlan) -> tuple[list[Needed], list[Needed]]:
    """Return (what the choice hangs on, the proofs of controls as they are today); the proof of the whole comes last.

    With several controls, each planned on what the one before leaves, everything is needed.
    """
    parts = _parts(recorded)
    today = [part for part in parts if part.made is not None and part.made.about is not None and part.made.patient]
    others = [part for part in parts if part not in today]
    if len(plan.controls) != 1 or plan.controls[0].chosen.weaker:
        return others, today
    relevant = _relevant(plan.controls[0].routes)
    route_of = {
        id(route.proof): index for index, route in enumerate(plan.controls[0].routes) if route.proof is not None
    }
    owners = _owners(others, route_of, plan.controls[0].routes)
    return [part for part, own in zip(others, owners, strict=True) if own is None or own & relevant], today


def _parts(recorded: Recorded) -> list[Needed]:
    """Return proofs and what lies between them, in the order in which they were made."""
    found: list[Needed] = []
    at = 0
    for made, end in recorded.proofs:
        begin = end - circuits_of(made)
        if begin > at:
            found.append(Needed(None, tuple(range(at, begin))))
        found.append(Needed(made, tuple(range(begin, end))))
        at = end
    if at < len(recorded.settlings):
        found.append(Needed(None, tuple(range(at, len(recorded.settlings)))))
    return found


def circuits_of(made: Proved) -> int:
    """Return how many circuits a proof settled: three for each state, and one more where outputs leak."""
    leaks = any(control.old.leak_ma for control in made.survey.controls.values())
    return len(made.proof.states) * (4 if leaks else 3)


def _relevant(routes: Sequence[Route]) -> frozenset[int]:
    """Return the chosen route, which is the first, and all that would rank before it, or level, if they held."""
    chosen = _key(routes[0], 0)
    return frozenset(
        index
        for index, route in enumerate(routes)
        if index == 0 or (route.proof is not None and _key(route, 1) <= chosen)
    )


def _key(route: Route, cures: int) -> Key:
    """Return a route's rank without 'weaker'; with ``cures`` as it would be at best, with no larger transformer."""
    parts = sum(part.count for part in route.parts)
    return (len(route.lost), route.moved, parts - cures, route.minutes - cures * MINUTES)


def _owners(parts: Sequence[Needed], route_of: dict[int, int], routes: Sequence[Route]) -> list[frozenset[int] | None]:
    """Return, for each part, the routes that it may be of; None for what is of no route, as guards and the last proof.

    Of a route that was tried with larger transformers only one proof is kept; what lies between two kept ones may be of
    either, and counts for both.
    """
    kept = [route_of.get(id(part.made.proof)) if part.made is not None else None for part in parts]
    last = max((at for at, index in enumerate(kept) if index is not None), default=-1)
    # Behind the last kept proof: its own ties and remedies, then guards and the proof of the whole; none is left out.
    owners: list[frozenset[int] | None] = []
    for at, index in enumerate(kept):
        if at > last:
            owners.append(None)
        elif index is not None:
            owners.append(frozenset({index}))
        else:
            before = next((i for i in reversed(kept[:at]) if i is not None), None)
            after = next((i for i in kept[at:] if i is not None), None)
            owners.append(frozenset(i for i in (before, after) if i is not None))
    return owners if routes else [None] * len(parts)
