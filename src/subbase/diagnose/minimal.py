"""What must be faulty, given what contradicts: minimal conflicts, minimal hitting sets, minimal diagnoses.

A conflict is a set of parts that cannot all be sound, given what was seen. A diagnosis is a set of parts whose being faulty
leaves no conflict; the minimal diagnoses are the minimal hitting sets of the minimal conflicts (Reiter, Artificial
Intelligence 32 (1987) 57-95; de Kleer and Williams, the same volume, 97-130). Nothing here knows what a part is.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import TypeVar

Part = TypeVar("Part", bound=str)
Parts = frozenset[Part]


def minimal_sets(sets: Iterable[frozenset[Part]]) -> tuple[frozenset[Part], ...]:
    """Return the sets of which no other is a part, the smallest first, then by name."""
    found: list[frozenset[Part]] = []
    for item in sorted(dict.fromkeys(sets), key=lambda s: (len(s), sorted(s))):
        if not any(other <= item for other in found):
            found.append(item)
    return tuple(found)


def minimal_hitting_sets(
    conflicts: Iterable[frozenset[Part]], *, most: int | None = None
) -> tuple[frozenset[Part], ...]:
    """Return every minimal set that has a part in common with each conflict, the smallest first.

    Parameters
    ----------
    most
        Size of the largest set that is looked for; any when left out.

    Notes
    -----
    Conflicts are taken one by one; sets that do not hit the next one yet grow by each of its parts, and what contains
    another is dropped. An empty conflict cannot be hit, so there is no hitting set then; with no conflict the empty set is.
    """
    found: tuple[frozenset[Part], ...] = (frozenset(),)
    for conflict in minimal_sets(conflicts):
        grown: list[frozenset[Part]] = []
        for item in found:
            if item & conflict:
                grown.append(item)
            elif most is None or len(item) < most:
                grown.extend(item | {part} for part in conflict)
        found = minimal_sets(grown)
    return found


def minimal_conflict(parts: Collection[Part], consistent: Callable[[frozenset[Part]], bool]) -> frozenset[Part] | None:
    """Return a minimal conflict among parts; None when all of them can be sound at once.

    ``consistent(sound)`` tells whether what was seen can be with those parts sound and nothing known of the others; it may
    only turn false, never true, as parts are added.
    """
    kept = frozenset(parts)
    if consistent(kept):
        return None
    for part in sorted(parts):
        if not consistent(kept - {part}):
            kept -= {part}
    return kept


def minimal_diagnoses(
    parts: Collection[Part], consistent: Callable[[frozenset[Part]], bool], *, most: int | None = None
) -> tuple[tuple[frozenset[Part], ...], tuple[frozenset[Part], ...]]:
    """Return (minimal diagnoses, the conflicts from which they follow).

    Conflicts are looked for only as far as they are needed: each hitting set that leaves one yields it, and the hitting
    sets are made anew.

    Parameters
    ----------
    consistent
        As in ``minimal_conflict``.
    most
        Size of the largest diagnosis that is looked for; any when left out.
    """
    everything = frozenset(parts)
    conflicts: list[frozenset[Part]] = []
    while True:
        diagnoses = minimal_hitting_sets(conflicts, most=most)
        fresh = [
            conflict
            for diagnosis in diagnoses
            if (conflict := minimal_conflict(everything - diagnosis, consistent)) is not None
        ]
        if not fresh:
            return diagnoses, minimal_sets(conflicts)
        conflicts.extend(minimal_sets(fresh))


__all__ = ["minimal_conflict", "minimal_diagnoses", "minimal_hitting_sets", "minimal_sets"]
