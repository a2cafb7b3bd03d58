"""What comes out for one structure: the verdict of ``make_plan`` and what a fleet adds up, as plain frozen data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from collections.abc import Mapping as Map
from dataclasses import asdict, dataclass
from typing import Any, Literal

from subbase.catalog import Catalog
from subbase.fleet.structure import choice_text, key_of
from subbase.plan import Plan, make_plan
from subbase.plan.choose import HousePlan, choose
from subbase.plan.remedy import exchange_note
from subbase.plan.screen import screen
from subbase.survey import Survey
from subbase.words import language

Verdict = Literal["planned", "asked", "stopped", "refused"]
VERDICTS: tuple[Verdict, ...] = ("planned", "asked", "stopped", "refused")
LICENSED = "licensed"
"""The word by which a stop, in English, sends for a licensed person."""


@dataclass(frozen=True, slots=True)
class PartCount:
    """A part, how many are expected over everything the home may be, and the most there may be."""

    what: str
    expected: float
    most: int


@dataclass(frozen=True, slots=True)
class Asked:
    """One question that the plan depends on, the one worth most first."""

    field: str
    text: str
    how: str
    bits: float
    answers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What comes out for every home of one structure."""

    verdict: Verdict
    routes: tuple[str, ...] = ()
    """Of each control; of an asked home nothing is chosen yet."""
    titles: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()
    parts: tuple[PartCount, ...] = ()
    minutes: tuple[float, float, float] | None = None
    """(least, mean, most) over everything the home may be."""
    margin: float | None = None
    """Least relative distance to any limit of the proof."""
    possibilities: int = 1
    questions: tuple[Asked, ...] = ()
    reasons: tuple[tuple[str, str, str], ...] = ()
    """(kind, what was seen, what to do): stops, contradictions, refused routes."""
    hazards: tuple[str, ...] = ()
    licensed: bool = False

    def data(self) -> dict[str, Any]:
        """Return it as plain data."""
        return asdict(self)


def outcome_from(data: dict[str, Any]) -> Outcome:
    """Return an outcome from ``data()``, also after it went through JSON."""
    pairs = {name: tuple(map(tuple, data[name])) for name in ("reasons",)}
    words = {name: tuple(data[name]) for name in ("routes", "titles", "lost", "hazards")}
    questions = (Asked(**{**item, "answers": tuple(map(tuple, item["answers"]))}) for item in data["questions"])
    return Outcome(
        **{
            **data,
            **pairs,
            **words,
            "parts": tuple(PartCount(**item) for item in data["parts"]),
            "minutes": None if data["minutes"] is None else tuple(data["minutes"]),
            "questions": tuple(questions),
        }
    )


def outcome_of(survey: Survey, catalog: Catalog, chosen: Map[str, HousePlan]) -> Outcome:
    """Return what comes out for a bare survey: the verdict of ``make_plan``, with choices that were made before.

    ``chosen`` holds, by ``choice_text``'s key, the choice for every house that it may be; another is chosen for here.
    """
    used: list[HousePlan] = []

    def remembered(house: Survey, kinds: Catalog) -> HousePlan:
        known = chosen.get(key_of(choice_text(house)))
        used.append(choose(house, kinds) if known is None else known)
        return used[-1]

    return _told(make_plan(survey, catalog, chooser=remembered, brief=True), used)


def _told(plan: Plan, used: Sequence[HousePlan]) -> Outcome:
    """Return what a plan says, with parts and minutes over everything that the house may be."""
    able = [house for house in used if house.left is not None]
    minutes = [sum(item.chosen.minutes for item in house.controls) for house in able]
    spread = (float(min(minutes)), sum(minutes) / len(minutes), float(max(minutes))) if minutes else None
    planned = plan.verdict == "planned"
    verdict: Verdict = "asked" if plan.verdict == "question" else plan.verdict
    keeps = verdict != "stopped"
    return Outcome(
        verdict=verdict,
        routes=tuple(item.chosen.name for item in plan.controls) if planned else (),
        titles=tuple(item.chosen.title for item in plan.controls) if planned else (),
        lost=tuple(dict.fromkeys(call for item in plan.controls for call in item.chosen.lost)) if planned else (),
        parts=_parts(able) if keeps else (),
        minutes=spread if keeps else None,
        margin=plan.proof.margin if plan.proof is not None else None,
        possibilities=max(1, len(used)),
        questions=tuple(
            Asked(q.field, q.text, q.how, q.bits, tuple((a.value, a.leads_to) for a in q.answers))
            for q in plan.questions
        ),
        reasons=tuple(_reasons(plan)),
        hazards=tuple(caution.text for caution in plan.cautions),
        licensed=_needs_licence(plan.survey, able if keeps else ()),
    )


def _parts(able: Sequence[HousePlan]) -> tuple[PartCount, ...]:
    counts: dict[str, list[int]] = {}
    for index, house in enumerate(able):
        for item in house.controls:
            for part in item.chosen.parts:
                counts.setdefault(part.what, [0] * len(able))[index] += part.count
    return tuple(PartCount(what, sum(n) / len(able), max(n)) for what, n in sorted(counts.items()))


def _reasons(plan: Plan) -> Iterator[tuple[str, str, str]]:
    yield from (("stop", stop.seen, stop.instead) for stop in plan.stops)
    yield from (("contradiction", item.text, "; ".join(item.would_agree)) for item in plan.contradictions)
    yield from (("no route", f"{route.title}: {reason}", "") for route in plan.refused for reason in route.reasons)
    yield from (("proof", note, "") for note in plan.notes)


def _needs_licence(survey: Survey, able: Sequence[HousePlan]) -> bool:
    """Return whether a licensed person comes into it: by a stop, or by a transformer that is fitted or exchanged."""
    with language("en"):
        if any(LICENSED in stop.instead for stop in screen(survey)):
            return True
    notes = {exchange_note(place) for place in survey.places()}
    chosen = (item.chosen for house in able for item in house.controls)
    return any(route.name == "separate transformer" or notes.intersection(route.reasons) for route in chosen)
