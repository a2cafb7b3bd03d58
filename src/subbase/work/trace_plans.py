"""Ways to tell the conductors of a cable apart, and what each costs in walks and readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from subbase.errors import NoSolution
from subbase.names import and_words
from subbase.words import _, mark
from subbase.work.grouping import chain_sizes, check_count, most_readings, size_plan


class Method(StrEnum):
    """How the conductors are told apart."""

    NONE = mark("nothing left to find")
    SIZES = mark("group sizes")
    CHAIN = mark("pairs and a chain")
    LABELS = mark("labels on known conductors")
    ONE_BY_ONE = mark("one at a time")
    DIODE = mark("a diode")


class NeedsThirdPath(NoSolution):
    """Two unknown conductors and nothing else; or a method that asks for a known conductor, and there is none."""

    def __init__(self, unknown: tuple[str, ...], method: str = "") -> None:
        super().__init__(unknown, method)
        self.unknown = unknown
        self.method = method

    def __str__(self) -> str:
        said = (
            _("{unknown} cannot be told apart by {method} with what is at hand.")
            if self.method
            else _("{unknown} cannot be told apart with what is at hand.")
        )
        todo = _(
            "Name a conductor that is known at both ends, or a metal path to earth that both ends reach, or use a diode where there are only two."
        )
        return f"{said.format(unknown=listed(self.unknown), method=_(self.method))} {todo}"


@dataclass(frozen=True, slots=True)
class Plan:
    """One way to find them all, and what it costs."""

    method: Method
    walks: int
    """From one end to the other, each way counted; a round trip is two."""
    most_readings: int
    """Touches of the probe, at most."""
    steps: int


def plans(unknown: int, known: int = 0, *, diode: bool = False) -> tuple[Plan, ...]:
    """Return every way that names so many unknown conductors, fewest walks first, then fewest readings.

    ``known`` counts the conductors that are known at both ends, and earth if it may be used.
    """
    if unknown < 2:
        return (Plan(Method.NONE, 0, 0, 0),)
    check_count(unknown)
    found: list[Plan] = []
    if sizes := size_plan(unknown):
        readings = most_readings(sizes.near_sizes) + most_readings(sizes.far_sizes)
        found.append(Plan(Method.SIZES, 2, readings, 2))
    if unknown > 2:
        found.append(Plan(Method.CHAIN, 2, 2 * most_readings(chain_sizes(unknown)), 2))
    if known:
        steps = _digits(unknown, known)
        probes = [min(known, -(-unknown // (known + 1) ** step) - 1) for step in range(steps)]
        found.append(Plan(Method.LABELS, 2 * steps - 1, unknown * sum(probes), steps))
        found.append(Plan(Method.ONE_BY_ONE, 2 * (unknown - 1) - 1, unknown * (unknown - 1), unknown - 1))
    if diode and unknown == 2:
        found.append(Plan(Method.DIODE, 1, 2, 1))
    return tuple(sorted(found, key=lambda plan: (plan.walks, plan.most_readings)))


def listed(names: Sequence[str]) -> str:
    """Return names as they are written in a sentence."""
    return and_words(names)


def in_turn(names: Sequence[str]) -> str:
    """Return names that are taken one after the other."""
    *most, last = names
    return _("{names}, then {last}").format(names=", ".join(most), last=last) if most else last


def _digits(unknown: int, known: int) -> int:
    """Return how many labels in turn tell so many apart when each is one of the known, or none."""
    steps = 1
    while (known + 1) ** steps < unknown:
        steps += 1
    return steps
