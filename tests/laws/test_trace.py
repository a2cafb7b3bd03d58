"""Tracing a cable: truth always ends in the true names, and untruth never in a crash or a false promise."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from itertools import permutations

import pytest

from subbase.errors import InputError
from subbase.work.grouping import Groups
from subbase.work.trace import (
    Contradiction,
    Done,
    Trace,
    back,
    enter,
    misreading_words,
    next_step,
    single_misreadings,
    start,
)
from subbase.work.trace_ends import EARTH
from subbase.work.trace_facts import Fact, all_groups, match
from subbase.work.trace_plans import Method, NeedsThirdPath, plans
from subbase.work.trace_step import Step

Names = Mapping[str, str]


@dataclass
class Cable:
    """A cable whose conductors are hidden, and the counts of what was done with it."""

    hidden: Names
    touches: int = 0
    walks: int = 0

    def read(self, step: Step, rng: random.Random) -> list[list[str]]:
        """Do a step as its words say: join, walk, and touch in an order left to chance."""
        to_read = dict(self.hidden) if step.join_at == "near" else {far: near for near, far in self.hidden.items()}
        group_of = {to_read[end]: frozenset(to_read[each] for each in group) for group in step.join for end in group}
        self.walks += step.walks
        left = list(step.touch)
        rng.shuffle(left)
        found: list[list[str]] = []
        probes = list(step.probes)
        while probes if step.probes else left:
            probe = probes.pop(0) if step.probes else left.pop(0)
            self.touches += len(left)
            mates = [end for end in left if end in group_of.get(probe, ())]
            left = [end for end in left if end not in mates]
            if mates:
                found.append([probe, *mates])
        return found


def hidden_cable(trace: Trace, rng: random.Random) -> Cable:
    """Return a cable with these ends, its unknown conductors in an order left to chance."""
    far = list(trace.ends.unknown_of("far"))
    rng.shuffle(far)
    return Cable(dict(trace.ends.known) | dict(zip(trace.ends.unknown_of("near"), far, strict=True)))


def run(trace: Trace, cable: Cable, rng: random.Random) -> Done | Contradiction:
    """Answer every step truthfully and return how it ends."""
    while isinstance(step := next_step(trace), Step):
        trace = enter(trace, cable.read(step, rng))
    return step


def true_names(cable: Cable) -> dict[str, str]:
    """Return the hidden names without the way outside the cable."""
    return {near: far for near, far in cable.hidden.items() if near != EARTH}


@pytest.mark.parametrize("conductors", range(3, 41))
@pytest.mark.parametrize("method", [None, Method.SIZES, Method.CHAIN])
def test_one_round_trip_names_every_conductor(conductors: int, method: Method | None) -> None:
    """Truthful answers end in the true names, after two walks, with no more touches than promised."""
    if method is Method.SIZES and conductors in (5, 9):
        with pytest.raises(NeedsThirdPath, match="by group sizes"):
            start(conductors, method=method)
        return
    rng = random.Random(conductors)
    for _ in range(3):
        trace = start(conductors, method=method)
        cable = hidden_cable(trace, rng)
        end = run(trace, cable, rng)
        assert isinstance(end, Done)
        assert end.mapping == true_names(cable)
        assert cable.walks == trace.plan.walks == 2
        assert cable.touches <= trace.plan.most_readings


@pytest.mark.parametrize("known", [1, 2, 5])
@pytest.mark.parametrize("unknown", [0, 1, 2, 3, 6, 9, 17])
@pytest.mark.parametrize("method", [None, Method.LABELS, Method.ONE_BY_ONE])
def test_known_conductors_lead_to_the_others(known: int, unknown: int, method: Method | None) -> None:
    """With known conductors every way ends in the true names, with the walks and at most the touches promised."""
    rng = random.Random(10 * unknown + known)
    trace = start(known + unknown, known={str(each + 1): "ABCDE"[each] for each in range(known)}, method=method)
    cable = hidden_cable(trace, rng)
    end = run(trace, cable, rng)
    assert isinstance(end, Done)
    assert end.mapping == true_names(cable)
    assert cable.walks == trace.plan.walks
    assert cable.touches <= trace.plan.most_readings
    if method is None and unknown > 1:
        assert trace.plan.walks == (1 if unknown <= known + 1 else 2)


def test_labels_on_one_known_conductor_are_binary() -> None:
    """With one way back 9 conductors take 4 labels, out four times and back three."""
    trace = start(10, known={"1": "A"}, method=Method.LABELS)
    assert (trace.plan.steps, trace.plan.walks) == (4, 7)


def test_two_conductors_need_a_third_path() -> None:
    """Two alone are refused in words; earth, a known conductor or a diode each name them in one walk."""
    with pytest.raises(NeedsThirdPath, match="diode"):
        start(2)
    rng = random.Random(2)
    for trace in (start(2, earth=True), start(["1", "2", "R"], ["A", "B", "R"], known={"R": "R"})):
        assert trace.plan.walks == 1
        for _ in range(4):
            cable = hidden_cable(trace, rng)
            end = run(trace, cable, rng)
            assert isinstance(end, Done)
            assert end.mapping == true_names(cable)


@pytest.mark.parametrize("anode_end", ["A", "B"])
def test_a_diode_names_two_conductors(anode_end: str) -> None:
    """The far end that conducts under the red probe is the anode's; neither way is a contradiction."""
    trace = start(2, diode=True)
    other = "B" if anode_end == "A" else "A"
    end = next_step(enter(trace, [[anode_end, other]]))
    assert isinstance(end, Done)
    assert end.mapping == {"1": anode_end, "2": other}
    assert isinstance(next_step(enter(trace, [])), Contradiction)


def test_plans_come_with_fewest_walks_first_then_fewest_readings() -> None:
    """Plans are in order of walks, then readings, and the first is the one that a search starts with."""
    for unknown in range(2, 41):
        for known in range(4):
            found = plans(unknown, known)
            assert list(found) == sorted(found, key=lambda plan: (plan.walks, plan.most_readings))
            if found:
                names = {str(each + 1): "ABC"[each] for each in range(known)}
                assert start(unknown + known, known=names).plan == found[0]


def ways(conductors: list[int], earth: list[bool]) -> list[tuple[int, bool, Method]]:
    """Return every method that there is for these numbers of conductors, without and with a way outside the cable."""
    return [
        (count, outside, plan.method)
        for count in conductors
        for outside in earth
        for plan in plans(count, int(outside))
    ]


def fits(order: Names, facts: tuple[Fact, ...]) -> bool:
    """Tell whether an assignment gives all facts."""
    return all(
        {frozenset(order[end] for end in group) for group in fact.near} == {frozenset(group) for group in fact.far}
        for fact in facts
    )


def random_groups(ends: tuple[str, ...], rng: random.Random) -> list[list[str]]:
    """Return ends in groups left to chance."""
    groups: dict[int, list[str]] = {}
    for end in ends:
        groups.setdefault(rng.randrange(len(ends)), []).append(end)
    return list(groups.values())


@pytest.mark.parametrize(("conductors", "earth", "method"), ways([3, 4, 5, 6], [False, True]))
def test_a_contradiction_is_named_exactly_when_no_assignment_fits(conductors: int, earth: bool, method: Method) -> None:
    """For answers left to chance: a contradiction means no assignment fits, names mean that only this one does."""
    rng = random.Random(conductors)
    ended: set[str] = set()
    for _ in range(60):
        trace = start(conductors, earth=earth, method=method)
        cable = hidden_cable(trace, rng)
        while isinstance(step := next_step(trace), Step):
            lie = rng.random() < 0.4
            trace = enter(trace, random_groups(step.touch, rng) if lie else cable.read(step, rng))
        near, far = trace.ends.unknown_of("near"), trace.ends.unknown_of("far")
        orders = [dict(trace.ends.known) | dict(zip(near, order, strict=True)) for order in permutations(far)]
        fitting = [order for order in orders if fits(order, trace.facts)]
        ended.add(type(step).__name__)
        if isinstance(step, Contradiction):
            assert fitting == []
            assert step.near
            assert step.far
            assert step.step == len(trace.facts)
        else:
            assert [{near: far for near, far in order.items() if near != EARTH} for order in fitting] == [step.mapping]
    assert ended == {"Done", "Contradiction"}


def as_sets(groups: Groups) -> set[frozenset[str]]:
    """Return groups without their order."""
    return {frozenset(group) for group in groups}


def slip(groups: Groups, unknown: tuple[str, ...], rng: random.Random) -> Groups:
    """Return groups with two ends taken for each other, or with one put into another group or alone."""
    first, second = rng.sample(unknown, 2)
    if rng.random() < 0.5:
        swap = {first: second, second: first}
        return tuple(tuple(swap.get(end, end) for end in group) for group in groups)
    home = rng.choice([*groups, ()])
    rest = [tuple(end for end in group if end != first) for group in groups if group != home]
    return tuple(group for group in (*rest, tuple(sorted({*home, first}))) if group)


@pytest.mark.parametrize(("conductors", "earth", "method"), ways([3, 4, 5, 6, 8, 9, 13], [True]))
def test_one_slip_is_detected_or_listed_as_undetectable(conductors: int, earth: bool, method: Method) -> None:
    """After one slip: a contradiction, or the true names, or the slip among those said not to show."""
    rng = random.Random(conductors)
    for attempt in range(12):
        trace = start(conductors, earth=earth, method=method)
        cable = hidden_cable(trace, rng)
        slipped = 1 + attempt % min(trace.plan.steps, 4)
        truth: Groups = ()
        while isinstance(step := next_step(trace), Step):
            told: Groups = tuple(tuple(group) for group in cable.read(step, rng))
            if step.number == slipped:
                truth = all_groups(trace.ends.of(step.read_at), told)
                told = slip(truth, trace.ends.unknown_of(step.read_at), rng)
            trace = enter(trace, told)
        listed = [each for each in single_misreadings(trace) if each.step == slipped]
        known_slip = any(as_sets(each.truly) == as_sets(truth) for each in listed)
        told_truth = as_sets(trace.facts[slipped - 1].read) == as_sets(truth) if len(trace.facts) >= slipped else True
        assert told_truth or known_slip
        if isinstance(step, Done) and step.mapping != true_names(cable):
            cause = next(each for each in listed if as_sets(each.truly) == as_sets(truth))
            assert {pair for pair in cause.pairs if pair[0] != EARTH} == set(true_names(cable).items())
            assert "were taken for each other" in misreading_words(trace, cause) or "wrong group" in misreading_words(
                trace, cause
            )


def test_three_conductors_cannot_show_every_slip_and_say_so() -> None:
    """With three conductors two far ends taken for each other do not show; the list says which names they would change."""
    trace = start(3)
    trace = enter(trace, [["A", "B"]])
    step = next_step(trace)
    assert isinstance(step, Step)
    assert step.join == (("B", "C"),)
    trace = enter(trace, [["1", "3"]])
    assert isinstance(next_step(trace), Done)
    said = [misreading_words(trace, each) for each in single_misreadings(trace)]
    assert len(said) > 0
    assert all(" is " in each for each in said)


def test_a_broken_and_a_bridged_conductor_are_told_apart() -> None:
    """More groups than joined speak of a break, fewer of a bridge."""
    trace = start(6, method=Method.SIZES)
    broken = next_step(enter(trace, [["A", "B"], ["C", "D"]]))
    bridged = next_step(enter(trace, [["A", "B", "C", "D"], ["E", "F"]]))
    assert isinstance(broken, Contradiction)
    assert isinstance(bridged, Contradiction)
    assert "broken" in broken.words[0]
    assert "touch on the way" in bridged.words[0]


@pytest.mark.parametrize(("conductors", "earth", "method"), ways([3, 4, 5, 6, 7, 10, 12], [False, True]))
def test_a_conductor_proved_whole_contradicts_when_it_is_broken(conductors: int, earth: bool, method: Method) -> None:
    """With one conductor broken the search ends in a contradiction, unless that conductor is listed as not tested."""
    rng = random.Random(conductors)
    for broken in range(1, conductors + 1):
        trace = start(conductors, earth=earth, method=method)
        cable = hidden_cable(trace, rng)
        gone = {str(broken), cable.hidden[str(broken)]}
        while isinstance(step := next_step(trace), Step):
            whole = tuple(tuple(end for end in group if end not in gone) for group in step.join)
            trace = enter(trace, cable.read(replace(step, join=whole), rng))
        assert isinstance(step, Contradiction) or str(broken) in step.untested


def test_halfway_only_those_are_named_that_nothing_else_can_be() -> None:
    """After the first reading of three the lone one is named, the pair is not."""
    trace = enter(start(3), [["A", "B"]])
    assert match(trace.ends, trace.facts).pairs == (("3", "C"),)


def test_a_step_back_opens_the_same_step_again() -> None:
    """Taking the last result back gives the search as it was; with no result it changes nothing."""
    trace = start(7)
    assert back(enter(trace, [["A", "B"]])) == trace
    assert back(trace) == trace


def test_wrong_entries_are_refused_in_words() -> None:
    """Unknown ends, an end in two groups, and results where no step is open are input errors."""
    trace = start(4)
    with pytest.raises(InputError, match="no far end 'Z'"):
        enter(trace, [["A", "Z"]])
    with pytest.raises(InputError, match="B is written 2 times"):
        enter(trace, [["A", "B"], ["B", "C"]])
    with pytest.raises(InputError, match="No step is open"):
        enter(start(1), [])


def test_wrong_ends_are_refused_in_words() -> None:
    """Unequal counts, names twice, known ones that are not there, and too many conductors are input errors."""
    with pytest.raises(InputError, match="3 near ends and 2 far ends"):
        start(3, ["A", "B"])
    with pytest.raises(InputError, match="Two near ends are named 'r'"):
        start(["r", "r", "g"])
    with pytest.raises(InputError, match="'9' is said to be known"):
        start(3, known={"9": "A"})
    with pytest.raises(InputError, match="share the far end 'A'"):
        start(4, known={"1": "A", "2": "A"})
    with pytest.raises(InputError, match="kept for the way outside"):
        start([EARTH, "r", "g"], earth=True)
    with pytest.raises(InputError, match="has no name"):
        start(["", "r", "g"])
    for count in (0, 101):
        with pytest.raises(InputError, match="between 1 and 100"):
            start(count)
