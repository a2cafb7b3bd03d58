"""What a fleet comes to: verdicts, parts and minutes by day and area, the questions worth asking first, hazards.

Everything is added up from whole counts of homes by day, area, climate and outcome, in a fixed order, so that sums of
fractions come out the same whoever did which piece.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterable
from collections.abc import Mapping as Map
from dataclasses import dataclass

from subbase.fleet.counts import Counts
from subbase.fleet.outcome import VERDICTS, Outcome
from subbase.words import _

Day = tuple[str, str, int]
"""(day, area, number of the outcome)."""
_DIGITS = re.compile(r"([0-9]+)")
_READ = re.compile(r"^[0-9.]+ ")
_DECIMAL = re.compile(r"(?<![0-9])[0-9]+\.[0-9]+")


@dataclass(frozen=True, slots=True)
class Verdicts:
    """How many homes there are of each verdict."""

    planned: int = 0
    asked: int = 0
    stopped: int = 0
    refused: int = 0

    @property
    def all(self) -> int:
        """All homes that have a verdict."""
        return self.planned + self.asked + self.stopped + self.refused


@dataclass(frozen=True, slots=True)
class PartNeed:
    """One part on one day in one area."""

    day: str
    area: str
    what: str
    expected: float
    """Over everything the homes may be."""
    most: int
    """If each home turns out to need the most."""


@dataclass(frozen=True, slots=True)
class Load:
    """The work of one day in one area."""

    day: str
    area: str
    planned: int
    asked: int
    stopped: int
    minutes_least: float
    minutes_mean: float
    minutes_most: float


@dataclass(frozen=True, slots=True)
class Worth:
    """One question, over all homes that hang on it."""

    field: str
    text: str
    how: str
    homes: int
    alone: int
    """Homes for which it is the only question."""
    first: int
    """Homes for which it is worth most."""
    bits: float
    """What all answers together are expected to tell [bit]; 0 where the plan cannot even be begun without it."""


@dataclass(frozen=True, slots=True)
class Totals:
    """What a fleet comes to."""

    verdicts: Verdicts
    by_day_and_area: tuple[Load, ...]
    parts: tuple[PartNeed, ...]
    questions: tuple[Worth, ...]
    routes: tuple[tuple[str, int], ...]
    stops: tuple[tuple[str, int], ...]
    hazards: tuple[tuple[str, int], ...]
    """Cautions, each with the homes that it holds for."""
    trusted: tuple[tuple[str, int], ...]
    licensed: int


def totals_of(counts: Counts, outcomes: Map[int, Outcome], *, minutes_per_call: int = 0) -> Totals:
    """Return the totals of a fleet."""
    ordered = sorted(counts.by_day.items(), key=lambda item: (_natural(item[0][0]), _natural(item[0][1]), item[0]))
    each = [(outcomes[number], count) for number, count in sorted(counts.by_outcome.items())]
    verdicts: Counter[str] = Counter({"refused": counts.refused})
    for outcome, count in each:
        verdicts[outcome.verdict] += count
    said = [(json.loads(text), count) for text, count in sorted(counts.by_beside.items())]
    return Totals(
        Verdicts(**{name: verdicts[name] for name in VERDICTS}),
        tuple(_loads(ordered, outcomes, minutes_per_call)),
        tuple(_parts(ordered, outcomes)),
        _questions(each),
        _ranked((route, n) for outcome, n in each for route in outcome.routes),
        _ranked((seen, n) for o, n in each if o.verdict == "stopped" for seen in dict.fromkeys(_heads(o))),
        _ranked(
            [(text, n) for outcome, n in each for text in outcome.hazards]
            + [(text, n) for item, n in said for text in item["hazards"]]
        ),
        _ranked((text, n) for item, n in said for text in item["trusted"]),
        sum(n for outcome, n in each if outcome.licensed),
    )


def _natural(text: str) -> tuple[tuple[str, int], ...]:
    """Return a key by which day 2 comes before day 10."""
    parts = _DIGITS.split(text)
    return tuple((words, int(number)) for words, number in zip(parts[::2], [*parts[1::2], "0"], strict=True))


def _heads(outcome: Outcome) -> Iterable[str]:
    """Yield why a home is stopped, without the readings that differ from home to home."""
    for kind, seen, __ in outcome.reasons:
        if kind == "no route":
            yield _("No route is left: each was tried, and why it cannot be stands in reasons.parquet.")
        else:
            yield _READ.sub("# ", seen) if kind == "stop" else _DECIMAL.sub("#", seen)


def _loads(ordered: Iterable[tuple[Day, int]], outcomes: Map[int, Outcome], minutes_per_call: int) -> Iterable[Load]:
    sums: dict[tuple[str, str], list[float]] = {}
    for (day, area, number), count in ordered:
        outcome = outcomes[number]
        row = sums.setdefault((day, area), [0, 0, 0, 0.0, 0.0, 0.0])
        row[("planned", "asked", "stopped").index(outcome.verdict)] += count
        if outcome.minutes is not None:
            for at, value in enumerate(outcome.minutes, start=3):
                row[at] += count * (value + minutes_per_call)
    for (day, area), row in sums.items():
        yield Load(day, area, int(row[0]), int(row[1]), int(row[2]), row[3], row[4], row[5])


def _parts(ordered: Iterable[tuple[Day, int]], outcomes: Map[int, Outcome]) -> Iterable[PartNeed]:
    sums: dict[tuple[str, str, str], list[float]] = {}
    for (day, area, number), count in ordered:
        for part in outcomes[number].parts:
            row = sums.setdefault((day, area, part.what), [0.0, 0.0])
            row[0] += count * part.expected
            row[1] += count * part.most
    # Days and areas are in their order by now, what is needed there comes as it was met.
    places = {place: order for order, place in enumerate(dict.fromkeys((day, area) for day, area, __ in sums))}
    for (day, area, what), (expected, most) in sorted(sums.items(), key=lambda it: (places[it[0][:2]], it[0][2])):
        yield PartNeed(day, area, what, expected, int(most))


def _questions(each: Iterable[tuple[Outcome, int]]) -> tuple[Worth, ...]:
    found: dict[tuple[str, str], list[float]] = {}
    hows: dict[tuple[str, str], str] = {}
    for outcome, count in each:
        for rank, question in enumerate(outcome.questions):
            key = (question.field, question.text)
            hows.setdefault(key, question.how)
            row = found.setdefault(key, [0, 0, 0, 0.0])
            row[0] += count
            row[1] += count if len(outcome.questions) == 1 else 0
            row[2] += count if rank == 0 else 0
            row[3] += count * question.bits
    worth = [
        Worth(field, text, hows[field, text], int(homes), int(alone), int(first), bits)
        for (field, text), (homes, alone, first, bits) in found.items()
    ]
    # Without some facts no plan can be begun, so no worth of theirs was worked out; by homes they come first all the same.
    return tuple(sorted(worth, key=lambda w: (w.bits > 0, -w.bits, -w.homes, w.field, w.text)))


def _ranked(found: Iterable[tuple[str, int]]) -> tuple[tuple[str, int], ...]:
    counts: Counter[str] = Counter()
    for text, count in found:
        counts[text] += count
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))
