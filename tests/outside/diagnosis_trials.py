"""Blind trials: a fault is put into a house that ngspice solves, a person with a meter asks the tool, and the answer is held
against what was put in.

The tool sees the survey, the complaint and the readings; never the blind house. The same belief serves three ways of choosing
the next reading: the tool's own, the usual fixed order of the trade (supply, fuse, common, call, load), and any order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from random import Random
from typing import Literal

from subbase.catalog import load_catalog
from subbase.circuit.netlist import Branch, Coil, Impedance, Source
from subbase.diagnose.advice import Options, next_test
from subbase.diagnose.answers import answer_key
from subbase.diagnose.costs import Offer, Situation, cost_minutes, offers
from subbase.diagnose.hypotheses import hypotheses_of
from subbase.diagnose.hypothesis import Hypothesis
from subbase.diagnose.inseparable import inseparable_of
from subbase.diagnose.predictions import Predictions, predict
from subbase.diagnose.probes import Evidence, Probe, Reading
from subbase.diagnose.weigh import Belief, Cause, weigh
from subbase.survey import split_terminal
from subbase.wiring import House, State, build_house
from tests.houses import circuits_of
from tests.outside.blind_faults import drawn_fault
from tests.outside.blind_house import BlindHouse, Fault
from tests.outside.blind_person import Person

Way = Literal["tool", "fixed order", "any order"]
FOUND, LEFT = 0, -1
HOUSES: tuple[tuple[str, int], ...] = (
    ("01-no-common-spare-blue", LEFT),
    ("02-four-conductors-all-used", LEFT),
    ("03-two-transformers", LEFT),
    ("04-three-heat-motor-valves", LEFT),
    ("06-colours-swapped-at-splice", FOUND),
    ("12-heat-pump-with-strips", LEFT),
    ("13-dual-fuel", LEFT),
    ("14-oil-with-separate-cooling", LEFT),
    ("15-zone-panel-three-controls", LEFT),
    ("18-roof-unit", FOUND),
)
"""Ten of the invented houses, as found or as their plans leave them."""
MOST_READINGS = 15
"""Readings after which a person gives up."""
MOST_REPAIRS = 4
TOLD_CALLS = 2
"""Calls that fail of which the people of the house tell: 'no heat, and no cooling either'."""
JOINED_OHM = 5.0

REPAIRS: dict[str, frozenset[str]] = {
    "conductor open": frozenset({"conductor open"}),
    "common not landed": frozenset({"conductor open"}),
    "poor joint": frozenset({"poor joint"}),
    "coil open": frozenset({"coil open"}),
    "coil with shorted turns": frozenset({"shorted turns"}),
    "contact dead": frozenset({"contact dead", "switch stuck"}),
    "contact welded": frozenset({"contact welded"}),
    "safety switch open": frozenset({"safety switch open"}),
    "fuse open": frozenset({"fuse open"}),
    "transformer dead": frozenset({"supply dead"}),
    "transformer weak": frozenset({"supply weak"}),
    "transformer on the wrong tap": frozenset({"supply mis-tapped"}),
    "supplies out of phase": frozenset({"supplies out of phase"}),
    "jumper missing": frozenset({"link missing", "part open"}),
    "output dead": frozenset({"output dead"}),
    "output welded": frozenset({"output welded"}),
    "landings swapped": frozenset({"landings swapped"}),
    "adapter mis-wired": frozenset({"landings swapped", "wrong terminal", "link misplaced", "adapter mis-wired"}),
    "changeover set wrong": frozenset({"changeover set wrong"}),
}
"""Kind of fault put in -> kinds of cause that name it; what touches what it must not is matched by the points it joins."""
SAME_REPAIR: tuple[frozenset[str], ...] = (
    frozenset({"conductor open", "poor joint"}),
    frozenset({"coil open", "shorted turns", "coil does not act"}),
    frozenset({"supply weak", "supply mis-tapped"}),
)
"""Kinds that the same work at the same part puts right: landings remade, the coil's part replaced, the tap looked at and then
the transformer replaced."""


@dataclass(frozen=True, slots=True)
class Case:
    """One house as the tool knows it, and how it works when nothing is wrong with it."""

    name: str
    predictions: Predictions
    good: tuple[tuple[State, frozenset[str]], ...]
    displays: tuple[tuple[str, bool | None], ...]

    @property
    def house(self) -> House:
        """Return the house as surveyed."""
        return self.predictions.house


@dataclass(frozen=True, slots=True)
class Step:
    """One reading of a trial."""

    words: str
    value: float | str | None
    best: str
    probability: float
    rank: int


@dataclass(frozen=True, slots=True)
class Trial:
    """How one trial went."""

    house: str
    faults: tuple[Fault, ...]
    seed: str
    way: Way
    readings: int
    minutes: float
    wrong_answers: int
    rank: int
    """Place in the ranking, from 1, of the true part with its true repair; 0 when it is not in the first 25."""
    rank_of_kind: int
    """The same, where the kind of fault must be the true one too."""
    one_of_them: int
    """The same for any one of two faults."""
    group: int
    """How many causes share the first entry, those of one part and one repair counted once."""
    listed: bool
    """Whether the true cause is among the tool's hypotheses at all."""
    probability: float
    gave_up: bool
    said_none: bool
    best: str
    steps: tuple[Step, ...]
    put_right: bool
    """Whether all that is wrong was put right in the end, repair after repair."""
    repairs: int
    needless: int
    """Repairs of what was not broken."""
    readings_in_all: int
    """Before and between repairs; trying every call after a repair is part of the repair and is not counted."""


@cache
def case_of(name: str, which: int) -> Case:
    """Return a house as the tool knows it."""
    catalog = load_catalog()
    survey = circuits_of(name)[which]
    good = BlindHouse(survey, catalog, (), Random(0))
    hypotheses = hypotheses_of(survey, catalog)
    return Case(
        name,
        predict(good_house(name, which), hypotheses),
        tuple((state, good.loads_on(state)) for state in good.single_calls),
        tuple((control, good.display(control)) for control in survey.controls),
    )


def good_house(name: str, which: int) -> House:
    """Return the nominal house without a fault."""
    return build_house(circuits_of(name)[which], load_catalog())


def complaint(case: Case, blind: BlindHouse, rng: Random) -> tuple[Reading, ...]:
    """Return what the people of the house tell: displays, and what calls that fail do; empty when all works."""
    good = dict(case.good)
    failing = [state for state in good if blind.loads_on(state) != good[state]]
    dark = [control for control, shows in case.displays if blind.display(control) != shows]
    if not failing and not dark:
        return ()
    told = [
        Reading(Probe("seen", sight="display", about=control), "on" if shows else "dark")
        for control in blind.survey.controls
        if (shows := blind.display(control)) is not None
    ]
    asked = {offer.probe for offer in offers(case.predictions)}
    for state in rng.sample(failing, min(TOLD_CALLS, len(failing))):
        on = blind.loads_on(state)
        for tag in case.predictions.coils:
            probe = Probe("seen", state, sight="runs", about=tag)
            if probe in asked or (tag in on) != (tag in good[state]):
                told.append(Reading(probe, "yes" if tag in on else "no"))
    return tuple(told)


def felt(case: Case, faults: Sequence[Fault], seed: str) -> bool:
    """Return whether anybody would notice these faults in this house."""
    blind = BlindHouse(case.house.survey, case.house.catalog, faults, Random(seed))
    return bool(complaint(case, blind, Random(0)))


def one_hides_other(case: Case, faults: Sequence[Fault], seed: str) -> bool:
    """Return whether one of several faults alone brings on and keeps off in every call, displays too, what all of them do."""

    def shows(some: Sequence[Fault]) -> tuple[object, ...]:
        blind = BlindHouse(case.house.survey, case.house.catalog, some, Random(seed))
        return (*(blind.loads_on(state) for state, _ in case.good), *(blind.display(name) for name, _ in case.displays))

    together = shows(faults)
    return any(shows((fault,)) == together for fault in faults)


def drawn_faults(case: Case, rng: Random, count: int) -> tuple[tuple[Fault, ...], int]:
    """Return faults each of which alone would be noticed, and how many were drawn that nobody would have noticed."""
    unfelt = 0
    while True:
        found: list[Fault] = []
        while len(found) < count:
            fault = drawn_fault(case.house, rng)
            if felt(case, (fault,), f"{rng.random()}"):
                found.append(fault)
            else:
                unfelt += 1
        tags = [tag for fault in found for tag, _ in fault.becomes]
        if len(set(tags)) == len(tags) and sum(bool(f.settings) for f in found) < 2:
            return tuple(found), unfelt


def run_trial(case: Case, faults: tuple[Fault, ...], seed: str, way: Way) -> Trial | None:
    """Return how a trial goes; None when the faults together show nothing to complain of.

    The tool's first verdict is judged; then the person does the repair that it names, tries every call, and goes on with
    what is left, until all is well or after ``MOST_REPAIRS`` repairs; of the other two ways the verdict is all.
    """
    blind = BlindHouse(case.house.survey, case.house.catalog, faults, Random(f"{seed} house"))
    told = complaint(case, blind, Random(f"{seed} complaint"))
    if not told:
        return None
    person, chooser = Person(blind, Random(f"{seed} person")), Random(f"{seed} {way}")
    first = _search(case, person, Evidence(told), Situation(), (way, chooser, faults))
    best = first.belief.ranking[0]
    wrong = person.wrong
    at, left, readings, repairs, needless = first, faults, first.readings, 0, 0
    most = MOST_REPAIRS if way == "tool" else 0  # the other ways are there to compare readings only
    while left and repairs < most:
        named = _named(case, at.belief.ranking[0], left)
        repairs, needless = repairs + 1, needless + (not named)
        left = tuple(fault for fault in left if fault not in named)
        blind = BlindHouse(case.house.survey, case.house.catalog, left, Random(f"{seed} house"))
        told = complaint(case, blind, Random(f"{seed} complaint {repairs}"))
        if not told or repairs == MOST_REPAIRS:
            break
        put_right = [h.id for members in at.belief.ranking[0].members for h in members]
        evidence = replace(at.evidence.and_repaired(put_right), readings=(*at.evidence.readings, *told))
        person.house = blind
        at = _search(case, person, evidence, at.situation, (way, chooser, left))
        readings += at.readings
    places = [(rank, f) for f in faults if (rank := rank_of(case, first.belief, (f,), within=True))]
    one_of_them, _ = min(places, key=lambda item: item[0], default=(0, None))
    return Trial(
        case.name, faults, seed, way, first.readings, first.minutes, wrong,
        rank_of(case, first.belief, faults), rank_of(case, first.belief, faults, by_repair=False), one_of_them,
        max(len({answer_key(h) for h in members}) for members in best.members),
        all(any(names(case, h, f) for h in case.predictions.hypotheses) for f in faults),
        best.probability, first.gave_up, first.belief.none_wins, best.words, first.steps,
        not left, repairs, needless, readings,
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Search:
    """One search, from a complaint to a verdict."""

    belief: Belief
    evidence: Evidence
    situation: Situation
    readings: int
    minutes: float
    gave_up: bool
    steps: tuple[Step, ...]


def _search(
    case: Case, person: Person, evidence: Evidence, situation: Situation, how: tuple[Way, Random, tuple[Fault, ...]]
) -> Search:
    """Return a search; ``how`` holds the way of choosing tests, its chance, and what is wrong, for the record only."""
    way, chooser, faults = how
    predictions = case.predictions
    told = evidence.since_repair
    queue = ordered(case, told, way, chooser)
    steps: list[Step] = []
    minutes, readings = 0.0, 0
    belief = weigh(predictions, evidence)
    while True:
        offer = _chosen(belief, Options(situation, most_tests=MOST_READINGS + len(told)), way, queue)
        if offer is None or readings == MOST_READINGS:
            return Search(belief, evidence, situation, readings, minutes, offer is not None, tuple(steps))
        minutes += cost_minutes(offer, case.house, situation)
        situation = situation.after(offer)
        reading = person.answer(offer.probe)
        evidence = evidence.and_then(reading)
        readings += 1
        belief = weigh(predictions, evidence)
        best = belief.ranking[0]
        steps.append(Step(offer.words, reading.value, best.words, best.probability, rank_of(case, belief, faults)))


def _named(case: Case, cause: Cause, faults: Sequence[Fault]) -> list[Fault]:
    """Return the faults that the repair of a cause puts right."""
    tied = [h for members in cause.members for h in _tied(case, members)]
    return [fault for fault in faults if any(names(case, h, fault, by_repair=True) for h in tied)]


def _chosen(belief: Belief, options: Options, way: Way, queue: list[Offer]) -> Offer | None:
    """Return the next test, or None to stop; all ways stop by the tool's own rule."""
    advice = next_test(belief, options)
    if way == "tool":
        return advice.offer
    if advice.offer is None or not queue:
        return None
    return queue.pop(0)


def ordered(case: Case, told: Sequence[Reading], way: Way, rng: Random) -> list[Offer]:
    """Return every test in the order in which one who does not listen to the tool makes them."""
    known = {reading.probe for reading in told}
    found = [offer for offer in offers(case.predictions) if offer.probe not in known]
    if way == "any order":
        rng.shuffle(found)
        return found
    failing = frozenset(reading.probe.state for reading in told if reading.probe.state.calls)
    numbered = sorted(
        enumerate(found), key=lambda item: (_turn(case.house, item[1].probe, failing), item[1].probe.kind, item[0])
    )
    return [offer for _, offer in numbered]


def _turn(house: House, probe: Probe, failing: frozenset[State]) -> int:
    """Return when the usual order comes to a test: supply, fuse, common, call, load, and all else after them."""
    if probe.kind != "volts" or (probe.state.calls and failing and probe.state not in failing):
        return 9
    sources = {node for source in house.netlist.of(Source) for node in (source.tail, source.head)}
    fuses = {n for b in house.netlist.of(Impedance) if b.fuse_a > 0.0 for n in (b.tail, b.head)}
    pair = set(probe.between)
    at_wall = any(split_terminal(node)[0] in house.survey.controls for node in pair)
    if not probe.state.calls:
        if pair <= sources:
            return 0
        if pair & fuses and not at_wall:
            return 1
        return 2 if at_wall else 9
    if at_wall:
        return 3
    ends = [{coil.tail, coil.head} for coil in house.netlist.of(Coil)]
    return 4 if pair in ends else 5


def rank_of(
    case: Case, belief: Belief, faults: Sequence[Fault], *, by_repair: bool = True, within: bool = False
) -> int:
    """Return the place of a cause in the ranking from 1, or 0; ``within`` takes entries of which it is only a part."""
    for place, cause in enumerate(belief.ranking, start=1):
        if _is_cause(case, cause, faults, by_repair=by_repair, within=within):
            return place
    return 0


def _is_cause(case: Case, cause: Cause, faults: Sequence[Fault], *, by_repair: bool, within: bool) -> bool:
    tied = [_tied(case, members) for members in cause.members]
    if within:
        return any(names(case, h, faults[0], by_repair=by_repair) for members in tied for h in members)
    if len(tied) != len(faults):
        return False
    orders = (tuple(faults), tuple(reversed(faults)))
    return any(
        all(
            any(names(case, h, fault, by_repair=by_repair) for h in members)
            for members, fault in zip(tied, order, strict=True)
        )
        for order in orders
    )


def _tied(case: Case, members: Sequence[Hypothesis]) -> list[Hypothesis]:
    """Return the likeliest of an entry's causes and those that no test on offer can tell from it."""
    same, place = inseparable_of(case.predictions), {h.id: i for i, h in enumerate(case.predictions.hypotheses)}
    return [h for h in members if same[place[h.id]] == same[place[members[0].id]]]


def names(case: Case, hypothesis: Hypothesis, fault: Fault, *, by_repair: bool = False) -> bool:
    """Return whether a hypothesis is what was put in."""
    if fault.kind in ("short to common", "short between conductors", "jumper extra"):
        return hypothesis.kind in ("short", "link extra") and _joins(case, hypothesis) == _nets(case.house, fault.about)
    kinds = REPAIRS[fault.kind]
    if by_repair:
        kinds = kinds.union(*(alike for alike in SAME_REPAIR if alike & kinds))
    if hypothesis.kind not in kinds:
        return False
    if fault.kind == "supplies out of phase":
        return True  # of two, either may be called the one that is turned
    if fault.kind in ("landings swapped", "adapter mis-wired"):
        return set(fault.about[:2]) == set(hypothesis.tags)
    return fault.about[0] in hypothesis.tags


def _joins(case: Case, hypothesis: Hypothesis) -> frozenset[int]:
    for form in hypothesis.forms:
        for change in form.changes:
            if change.becomes is not None and change.tag not in case.house.netlist.by_tag:
                return _nets(case.house, (change.becomes.tail, change.becomes.head))
    return frozenset()


def _nets(house: House, nodes: Sequence[str]) -> frozenset[int]:
    """Return points as numbers that are alike for points which sound conductors and links join."""
    numbers = _net_numbers(house.netlist.branches)
    return frozenset(numbers[node] for node in nodes)


@cache
def _net_numbers(branches: tuple[Branch, ...]) -> dict[str, int]:
    number: dict[str, int] = {}
    for branch in branches:
        for node in (branch.tail, branch.head):
            number.setdefault(node, len(number))
    for branch in branches:
        if isinstance(branch, Impedance) and not branch.fuse_a and abs(branch.z_ohm) < JOINED_OHM:
            kept, lost = number[branch.tail], number[branch.head]
            number = {node: kept if n == lost else n for node, n in number.items()}
    return number


__all__ = [
    "HOUSES",
    "Case",
    "Trial",
    "Way",
    "case_of",
    "complaint",
    "drawn_faults",
    "one_hides_other",
    "rank_of",
    "run_trial",
]
