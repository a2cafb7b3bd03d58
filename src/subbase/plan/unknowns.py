"""Facts not known: every possibility they leave, and which question is worth asking first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import log2, prod

from subbase.catalog import Catalog
from subbase.names import conductor_words, landing_words
from subbase.survey import (
    LOOSE,
    Cable,
    ConductorEnd,
    Equipment,
    Jumper,
    Survey,
    Transformer,
    Unknown,
    split_terminal,
    with_landing,
)
from subbase.survey.cross import JOINT, terminals_of
from subbase.units import feet_from_metres
from subbase.words import _, mark

MOST_POSSIBILITIES = 512
"""Beyond this nothing is planned; the widest question is asked instead."""
NOTHING_FITS = mark("No kind that the equipment may be has all the terminals that conductors and jumpers land on.")
Value = str | float | bool


@dataclass(frozen=True, slots=True)
class OpenFact:
    """One unknown field, what it may be, and how to find out."""

    field: str
    text: str
    how: str
    candidates: tuple[Value, ...]
    put: Callable[[Survey, Value], Survey]
    feet: bool | None = None
    """Of a length [m]: whether it is shown in feet, or in metres; None of anything else."""

    def words(self, value: Value) -> str:
        """Return a candidate as people say it."""
        if self.feet is not None:
            return length_words(float(value), feet=self.feet)
        if isinstance(value, bool):
            return _("yes") if value else _("no")
        return f"{value:g}" if isinstance(value, float) else landing_words(value)


def length_words(length_m: float, *, feet: bool) -> str:
    """Return a length with its unit."""
    return (
        _("{length_m:.0f} ft").format(length_m=feet_from_metres(length_m))
        if feet
        else _("{length_m:g} m").format(length_m=length_m)
    )


@dataclass(frozen=True, slots=True)
class Possibility:
    """One way the unknowns may be."""

    values: tuple[Value, ...]
    survey: Survey


def open_facts(survey: Survey, catalog: Catalog) -> tuple[OpenFact, ...]:
    """Return every unknown of a survey, in the file's order."""
    return (
        *_transformer_facts(survey),
        *_equipment_facts(survey),
        *_cable_facts(survey, catalog),
        *_jumper_facts(survey),
    )


def possibilities(survey: Survey, catalog: Catalog, facts: Sequence[OpenFact]) -> Iterator[Possibility]:
    """Yield every combination of what the unknowns may be; none that lands on a terminal its equipment has not."""
    for values in product(*(fact.candidates for fact in facts)):
        settled = survey
        for fact, value in zip(facts, values, strict=True):
            settled = fact.put(settled, value)
        if _terminals_exist(settled, catalog):
            yield Possibility(values, settled)


def _terminals_exist(survey: Survey, catalog: Catalog) -> bool:
    landings = [end for _cable, _held, _name, c in survey.conductors() for end in (c.from_, c.to)]
    landings += [end for jumper in survey.jumpers for end in jumper.between]
    for landing in landings:
        place, terminal = split_terminal(str(landing))
        item = survey.equipment.get(place)
        if item is not None and not terminal.startswith(JOINT) and terminal not in catalog[str(item.kind)].terminals:
            return False
    return True


def count_possibilities(facts: Sequence[OpenFact]) -> int:
    """Return how many combinations there are."""
    return prod(len(fact.candidates) for fact in facts)


def matters(index: int, outcomes: Sequence[tuple[tuple[Value, ...], Hashable]]) -> bool:
    """Return whether two possibilities that differ in one fact only lead to different plans."""
    seen: dict[tuple[Value, ...], Hashable] = {}
    for values, outcome in outcomes:
        rest = values[:index] + values[index + 1 :]
        if seen.setdefault(rest, outcome) != outcome:
            return True
    return False


def information_bits(index: int, outcomes: Sequence[tuple[tuple[Value, ...], Hashable]]) -> float:
    """Return how much the answer to one fact is expected to tell about the plan [bit], all possibilities alike.

    Mutual information of answer and plan (Shannon 1948).
    """
    total = len(outcomes)
    plans = Counter(outcome for __, outcome in outcomes)
    answers = Counter(values[index] for values, __ in outcomes)
    both = Counter((values[index], outcome) for values, outcome in outcomes)
    return sum(n / total * log2(n * total / (answers[value] * plans[outcome])) for (value, outcome), n in both.items())


def _transformer_facts(survey: Survey) -> Iterator[OpenFact]:
    for name, transformer in survey.transformers.items():
        for field, question, usual in (
            ("va", _("How many VA is the transformer {name} rated?").format(name=name), (20.0, 40.0, 75.0)),
            ("volts", _("What secondary voltage is the transformer {name} rated?").format(name=name), (24.0,)),
            (
                "class_2",
                _("Does the nameplate of the transformer {name} say Class 2?").format(name=name),
                (True, False),
            ),
        ):
            value = getattr(transformer, field)
            if isinstance(value, Unknown):
                numbers = () if field == "class_2" else tuple(float(v) for v in value.either)
                candidates = numbers or usual
                how = _("Look: read its nameplate; it is stamped on the side or the mounting plate.")
                yield OpenFact(f"transformers.{name}.{field}", question, how, candidates, _put_transformer(name, field))


def _put_transformer(name: str, field: str) -> Callable[[Survey, Value], Survey]:
    def put(survey: Survey, value: Value) -> Survey:
        item: Transformer = survey.transformers[name].model_copy(update={field: value})
        return survey.model_copy(update={"transformers": {**survey.transformers, name: item}})

    return put


def _equipment_facts(survey: Survey) -> Iterator[OpenFact]:
    for name, item in survey.equipment.items():
        if isinstance(item.kind, Unknown):
            how = _("Look: read the nameplate and the diagram inside the panel, supply locked out.")
            candidates = tuple(str(value) for value in item.kind.either)
            yield OpenFact(
                f"equipment.{name}.kind",
                _("What kind of equipment is {name}?").format(name=name),
                how,
                candidates,
                _put_kind(name),
            )


def _put_kind(name: str) -> Callable[[Survey, Value], Survey]:
    def put(survey: Survey, value: Value) -> Survey:
        item: Equipment = survey.equipment[name].model_copy(update={"kind": value})
        return survey.model_copy(update={"equipment": {**survey.equipment, name: item}})

    return put


def _cable_facts(survey: Survey, catalog: Catalog) -> Iterator[OpenFact]:
    for name, cable in survey.cables.items():
        if isinstance(cable.length_m, Unknown):
            lengths = tuple(float(v) for v in cable.length_m.either) or (5.0, 20.0, 60.0)
            feet = survey.units == "us"
            tried = ", ".join(length_words(length_m, feet=feet) for length_m in lengths)
            how = _("Measure or pace the run; {tried} were tried.").format(tried=tried)
            text = _("How long is the cable {name}?").format(name=name)
            yield OpenFact(f"cables.{name}.length", text, how, lengths, _put_cable(name, "length_m"), feet)
        if isinstance(cable.gauge_awg, Unknown):
            gauges = tuple(float(v) for v in cable.gauge_awg.either) or (18.0, 20.0, 22.0)
            how = _("Look: the gauge is printed on the jacket; or compare with a piece of known gauge.")
            yield OpenFact(
                f"cables.{name}.gauge",
                _("What gauge is the cable {name}?").format(name=name),
                how,
                gauges,
                _put_cable(name, "gauge_awg"),
            )
        for conductor in cable.conductors:
            for end in ("from", "to"):
                at = ConductorEnd(cable=name, conductor=conductor, end=end)
                landing = at.landing(survey)
                if isinstance(landing, Unknown):
                    yield _landing_fact(survey, catalog, at, landing)


def _landing_fact(survey: Survey, catalog: Catalog, at: ConductorEnd, landing: Unknown) -> OpenFact:
    place = at.place(survey)
    if landing.either:
        candidates = tuple(str(value) for value in landing.either)
    else:
        known = (
            survey.controls[place].old.terminals if place in survey.controls else terminals_of(survey, catalog, place)
        )
        candidates = (*(f"{place}.{terminal}" for terminal in known), LOOSE)
    how = _(
        "Look, with the supply locked out: open {place} and follow {conductor}. If it cannot be followed, take its other end off, join it to one known conductor there, and find the pair here with the ohmmeter."
    ).format(place=place, conductor=conductor_words(at.conductor))
    text = _("Where does {conductor} of the cable {cable} land at {place}?").format(
        conductor=conductor_words(at.conductor), cable=at.cable, place=place
    )
    field = f"cables.{at.cable}.conductors.{at.conductor}.{at.end}"
    return OpenFact(field, text, how, candidates, lambda s, value: with_landing(s, at, str(value)))


def _put_cable(name: str, field: str) -> Callable[[Survey, Value], Survey]:
    def put(survey: Survey, value: Value) -> Survey:
        number = int(value) if field == "gauge_awg" else float(value)
        cable: Cable = survey.cables[name].model_copy(update={field: number})
        return survey.model_copy(update={"cables": {**survey.cables, name: cable}})

    return put


def _jumper_facts(survey: Survey) -> Iterator[OpenFact]:
    for index, jumper in enumerate(survey.jumpers):
        if isinstance(jumper.present, Unknown):
            a, b = jumper.between
            how = _(
                "Look, with the supply locked out; or read the resistance between the two terminals: near 0 ohm with it."
            )
            text = _("Is there a jumper between {a} and {b}?").format(a=a, b=b)
            yield OpenFact(f"jumpers.{index + 1}.present", text, how, (True, False), _put_jumper(index))


def _put_jumper(index: int) -> Callable[[Survey, Value], Survey]:
    def put(survey: Survey, value: Value) -> Survey:
        jumper: Jumper = survey.jumpers[index].model_copy(update={"present": value})
        jumpers = (*survey.jumpers[:index], jumper, *survey.jumpers[index + 1 :])
        return survey.model_copy(update={"jumpers": jumpers})

    return put
