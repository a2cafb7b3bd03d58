"""What is to be seen and heard in each call, and when: from the catalogue's steps and from the circuit brought to rest.

The circuit says which loads pull in, in which order, and when the supply first reaches each piece of equipment: a boiler
that a zone valve's end switch starts begins its own sequence when the valve is open, not when the room calls. The
catalogue says what a person sees from there on. No list of house types is kept.

How far a step may be off its catalogue time is ``SLACK_S``: wide enough to hold what open trade texts print, since boards
differ and the nameplate or the wiring diagram in the cover always overrides it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Set
from dataclasses import dataclass, replace
from typing import Literal

from subbase.catalog import Catalog, Kind, Requirement
from subbase.circuit import Coil, Netlist, settle, solve
from subbase.circuit.settle import wants_change
from subbase.errors import Chatter
from subbase.survey import Survey
from subbase.wiring import House, State, build_house, single_calls
from subbase.wiring.states import judged_loads, need_of, operated_switches, services
from subbase.words import _, mark

Mark = Literal["pass", "fail", "meter or lead suspect", "not judged"]
Thing = Literal[
    "inducer", "pressure switch", "igniter", "gas valve", "burner", "compressor", "changeover", "strip", "fan",
    "valve", "circulator", "damper", "relay", "other",
]  # fmt: skip
_WORDS: tuple[tuple[Thing, str], ...] = (
    ("inducer", r"\binducer\b"),
    ("pressure switch", r"\bpressure switch\b"),
    ("igniter", r"\bigniter\b"),
    ("gas valve", r"\bgas valve\b"),
    ("burner", r"\bburner\b|\bflame\b"),
    ("compressor", r"\bcompressor\b|\bcontactor\b"),
    ("changeover", r"\bchangeover\b|\breversing\b"),
    ("strip", r"\bstrips?\b|\bheaters\b"),
    ("fan", r"(?<!outdoor )\bfan\b"),
    ("valve", r"(?<!gas )\bvalve (?:is open|opens)\b|\bend switch\b|\bwater valve\b|\bzone valve\b"),
    ("circulator", r"\bcirculator\b"),
    ("damper", r"\bdamper\b"),
    ("relay", r"\brelay\b"),
)
"""The trade's word for a thing -> how a step tells that it is meant; the first that fits names the step."""

PRACTICE = mark("common practice, no source")
READ_FURNACE = mark(
    "read in two open trade texts: inducer 30 to 60 s, igniter 10 to 45 s, flame within 2 to 3 s, indoor fan 30 to 90 s after it"
)
EARLY_SHARE, LATE_SHARE = 0.3, 1.5
"""A step may come at this share of its catalogue time, or this share plus its slack later (judgement)."""
SLACK_S: dict[Thing, tuple[float, str]] = {
    "inducer": (15.0, PRACTICE),
    "pressure switch": (60.0, READ_FURNACE),
    "igniter": (60.0, READ_FURNACE),
    "gas valve": (45.0, READ_FURNACE),
    "burner": (45.0, READ_FURNACE),
    "compressor": (300.0, mark("rest of 3 to 5 min between runs: common practice, no source")),
    "changeover": (
        300.0,
        mark("it moves with the compressor, whose rest of 3 to 5 min may come first: common practice, no source"),
    ),
    "strip": (75.0, mark("sequencers take 10 to 120 s: from memory")),
    "fan": (65.0, READ_FURNACE),
    "valve": (30.0, mark("heat motors open in 60 to 120 s, motors in 10 to 60 s: from memory")),
    "circulator": (30.0, PRACTICE),
    "damper": (60.0, PRACTICE),
    "relay": (15.0, PRACTICE),
    "other": (60.0, mark("judgement")),
}
AFTER = "after the call: "
"""Head of the labels of what comes when a call has ended, in files."""
STOPS: tuple[tuple[Thing, str, float, str], ...] = (
    ("burner", mark("the burner goes out"), 10.0, PRACTICE),
    ("compressor", mark("the compressor stops"), 10.0, PRACTICE),
    ("strip", mark("the last strip lets go"), 120.0, mark("sequencers take 10 to 120 s: from memory")),
    ("fan", mark("the indoor fan stops"), 300.0, mark("fan off-delays of 60 to 240 s: common practice, no source")),
)
"""(thing, what is seen when the call has ended, latest time after its end [s], source)."""
REST_NOTE = mark("Let the compressor rest 3 to 5 min before the call; a delay of that length is no fault.")
COLD_NOTE = mark(
    "Do not run a compressor for cooling below about 60 °F outdoors only to test it (common practice, no source)."
)
DEFROST_NOTE = mark(
    "Defrost comes by itself and is not forced; it ends within about 10 min (common practice, no source)."
)


@dataclass(frozen=True, slots=True)
class Judged:
    """What is said of one thing taken or seen, with the bounds that it was held against."""

    mark: Mark
    why: str
    """One sentence."""
    low: float | None = None
    high: float | None = None
    unit: str = ""
    source: str = ""
    """Of the bounds."""
    stop: bool = False
    """Whether power goes off, and stays off, before anything else."""


@dataclass(frozen=True, slots=True)
class PullIn:
    """One coil that pulls in, by the circuit."""

    tag: str
    words: str
    since_s: float
    """When enough volts first stand across it [s after the call]."""
    at_s: float


@dataclass(frozen=True, slots=True)
class ExpectedStep:
    """One thing to be seen or heard."""

    label: str
    """What a file calls it; unlike every other label of the sequence."""
    things: tuple[Thing, ...]
    place: str
    at_s: float
    """After the call; of steps that begin with ``AFTER``, after its end."""
    earliest_s: float
    latest_s: float
    source: str
    ends: bool = False
    """Whether it is counted from the end of the call."""
    words: str = ""
    """The label in the reader's language."""

    @property
    def optional(self) -> bool:
        """Return whether the catalogue says that it may stay out, as a burner does while the water is hot."""
        return " unless " in self.label


@dataclass(frozen=True, slots=True)
class CallSequence:
    """What one call brings on."""

    state: State
    words: str
    steps: tuple[ExpectedStep, ...]
    pulls_in: tuple[PullIn, ...]
    """The circuit's own account, in order."""
    notes: tuple[str, ...]

    def step(self, what: str) -> ExpectedStep | None:
        """Return the step with a label; or the first, not of the end, with a thing's name; or None."""
        exact = next((step for step in self.steps if step.label == what), None)
        return exact or next((step for step in self.steps if what in step.things and not step.ends), None)


def call_sequences(left: Survey, catalog: Catalog) -> tuple[CallSequence, ...]:
    """Return the sequence of every single call of a house; of nothing called there is none."""
    house = build_house(left, catalog)
    return tuple(_sequence(house, state) for state in single_calls(left, catalog) if state.calls)


def things_in(words: str) -> tuple[Thing, ...]:
    """Return the things that a step's words name, the one that names the step first."""
    return tuple(thing for thing, pattern in _WORDS if re.search(pattern, words, re.IGNORECASE)) or ("other",)


def pull_ins(house: House, operated: Set[str], coils_in: Set[str] = frozenset()) -> tuple[PullIn, ...]:
    """Return every coil that pulls in, in the order in which the circuit settles; none where relays chatter.

    The circuit's rule has no clock, so times add up delays: a coil acts its own delay after enough volts reached it.
    """
    netlist = house.netlist
    try:
        steps = settle(netlist, operated=operated, coils_in=coils_in).steps
    except Chatter:
        return ()
    state, now_s = frozenset(coils_in), 0.0
    since: dict[str, float] = {}
    found: list[PullIn] = []
    for step in steps:
        waiting = {coil.tag: coil for coil in _waiting(netlist, operated, state)}
        since = {tag: since.get(tag, now_s) for tag in waiting}
        acting = frozenset(step.pulled_in) | frozenset(step.dropped_out)
        at_s = {tag: since[tag] + waiting[tag].delay_s for tag in acting}
        found += [PullIn(tag, house.part_words(tag), since[tag], at_s[tag]) for tag in step.pulled_in]
        now_s = max(now_s, min(at_s.values()))
        state = state ^ acting
    return tuple(found)


def _waiting(netlist: Netlist, operated: Set[str], coils_in: frozenset[str]) -> Iterator[Coil]:
    solution = solve(netlist, operated=operated, coils_in=coils_in)
    yield from (coil for coil in netlist.of(Coil) if wants_change(coil, solution, coils_in))


def judge_step(step: ExpectedStep, at_s: float | None) -> Judged:
    """Return what is said of one step seen at a time [s]; None when it never came."""
    bounds = (
        _("{earliest_s:.0f} to {latest_s:.0f} s after the call ended")
        if step.ends
        else _("{earliest_s:.0f} to {latest_s:.0f} s after the call")
    ).format(earliest_s=step.earliest_s, latest_s=step.latest_s)
    source = _(step.source)
    if at_s is None and step.optional:
        return Judged("not judged", _("It need not come in every call."), step.earliest_s, step.latest_s, "s", source)
    if at_s is None:
        text = _("It never came; it is to come {bounds}.").format(bounds=bounds)
        return Judged("fail", text, step.earliest_s, step.latest_s, "s", source)
    if at_s < step.earliest_s:
        text = _(
            "It came at {at_s:.0f} s, before {earliest_s:.0f} s: something else may have been calling already."
        ).format(at_s=at_s, earliest_s=step.earliest_s)
        return Judged("fail", text, step.earliest_s, step.latest_s, "s", source)
    if at_s > step.latest_s:
        text = _(
            "It came at {at_s:.0f} s, after {latest_s:.0f} s; hold that against the wiring diagram in the cover."
        ).format(at_s=at_s, latest_s=step.latest_s)
        return Judged("fail", text, step.earliest_s, step.latest_s, "s", source)
    return Judged(
        "pass",
        _("It came at {at_s:.0f} s, within {bounds}.").format(at_s=at_s, bounds=bounds),
        step.earliest_s,
        step.latest_s,
        "s",
        source,
    )


def _sequence(house: House, state: State) -> CallSequence:
    operated = operated_switches(house, state)
    before: frozenset[str] = frozenset()
    if state.condition is not None:
        try:
            before = settle(house.netlist, operated=operated_switches(house, State(state.calls))).coils_in
        except Chatter:
            before = frozenset()
    pulled = pull_ins(house, operated, before)
    begun = () if state.condition is not None else tuple(_begun(house, state, pulled))
    steps = [*begun, *_by_circuit(house, state, pulled, {step.place for step in begun})]
    starts = _starts(pulled)
    steps.sort(key=lambda step: (step.at_s, starts[step.place], step.place))
    if state.condition is None:
        steps += _ended(steps)
    several = len(house.survey.controls) > 1
    return CallSequence(
        state, state.words(name_controls=several), _labelled(steps), pulled, tuple(_notes(state, steps))
    )


def _begun(house: House, state: State, pulled: tuple[PullIn, ...]) -> Iterator[ExpectedStep]:
    """Yield the catalogue's steps of all equipment that the circuit brings on, counted from when supply reaches it."""
    starts = _starts(pulled)
    for place, call in dict.fromkeys(_answers(house, state)):
        if place in starts:
            for step in next(steps for name, steps in house.kind(place).sequence.items() if name == call):
                yield _expected(step.what, _(step.what), place, starts[place], step.after_s)


def _starts(pulled: tuple[PullIn, ...]) -> dict[str, float]:
    """Return when supply first reaches any coil of each place [s]."""
    starts: dict[str, float] = {}
    for item in pulled:
        place = item.tag.partition("/")[0]
        starts[place] = min(item.since_s, starts.get(place, item.since_s))
    return starts


def _answers(house: House, state: State) -> Iterator[tuple[str, str]]:
    """Yield (place, its kind's own name of the call) for every answer with steps to the calls of a state."""
    for control, calls in state.calls:
        found = services(house.survey, house.catalog, control)
        for call in calls:
            answering = [(s, s.requirements[call]) for s in found if call in s.requirements and s.requirements[call].on]
            for service, need in answering:
                own = _own_call(service.kind, call, need)
                if own is not None:
                    yield service.place, own
            if call != "fan" and any(service.kind.needs_air for service, __ in answering):
                places = {service.place for service, __ in answering}
                for service in found:
                    if service.air is not None and service.place not in places and "fan" in service.kind.sequence:
                        yield service.place, "fan"


def _own_call(kind: Kind, call: str, need: Requirement) -> str | None:
    """Return the kind's own call with steps that asks for the same terminals as a requirement."""
    if call in kind.sequence:
        return call
    for name, own in kind.calls.items():
        if (own.energise, own.close) == (need.energise, need.close) and name in kind.sequence:
            return name
    return None


def _expected(what: str, words: str, place: str, start_s: float, after_s: float) -> ExpectedStep:
    things = things_in(what)
    slack_s, source = max((SLACK_S[thing] for thing in things), key=lambda item: item[0])
    return ExpectedStep(
        what, things, place, start_s + after_s,
        EARLY_SHARE * (start_s + after_s), LATE_SHARE * (start_s + after_s) + slack_s, source, words=words,
    )  # fmt: skip


def _by_circuit(house: House, state: State, pulled: tuple[PullIn, ...], told: Set[str]) -> Iterator[ExpectedStep]:
    """Yield a step for each load that must and does come on, where the catalogue tells of none.

    Inputs of boards and panels are left out: nobody sees or hears them.
    """
    judged = judged_loads(house) & need_of(house.survey, house.catalog, state).on
    for item in pulled:
        place, __, load = item.tag.partition("/")
        if item.tag in judged and place not in told:
            part = house.kind(place).part(load)
            what = (part.what if part else "") or load.replace("-", " ")
            if "input" not in what.split():
                label, words = f"{what} pulls in", _("{part} pulls in").format(part=_(what))
                yield _expected(label, words, place, item.since_s, item.at_s - item.since_s)


def _ended(steps: list[ExpectedStep]) -> Iterator[ExpectedStep]:
    """Yield what is to be seen when the call has ended."""
    for thing, what, latest_s, source in STOPS:
        place = next((step.place for step in steps if thing in step.things), None)
        if place is not None:
            words = _("after the call: {what}").format(what=_(what))
            yield ExpectedStep(AFTER + what, (thing,), place, 0.0, 0.0, latest_s, source, ends=True, words=words)


def _labelled(steps: list[ExpectedStep]) -> tuple[ExpectedStep, ...]:
    """Return steps whose labels are all different: the place, then a number, is added where they are not."""
    for form in ("{label} ({place})", "{label}, {number}"):
        labels = [step.label for step in steps]
        steps = [
            replace(
                step,
                label=form.format(label=step.label, place=step.place, number=labels[: i + 1].count(step.label)),
                words=form.format(label=step.words, place=step.place, number=labels[: i + 1].count(step.label)),
            )
            if labels.count(step.label) > 1
            else step
            for i, step in enumerate(steps)
        ]
    return tuple(steps)


def _notes(state: State, steps: list[ExpectedStep]) -> Iterator[str]:
    if any("compressor" in step.things for step in steps):
        yield _(REST_NOTE)
        if any(call.startswith("cool") for __, calls in state.calls for call in calls):
            yield _(COLD_NOTE)
    if state.condition is not None:
        yield _(DEFROST_NOTE)


__all__ = [
    "AFTER",
    "CallSequence",
    "ExpectedStep",
    "Judged",
    "Mark",
    "PullIn",
    "call_sequences",
    "judge_step",
    "pull_ins",
    "things_in",
]
