"""Which near end of a cable is which far end: step by step, with the fewest walks between the ends.

``start`` chooses the plan, ``next_step`` says where to stand, what to join and what to read, ``enter`` takes what
touched. Nothing is measured live: both ends hang free and a continuity tester is the only source.

Ways (``trace_plans``): groups and regroups (``grouping``), one round trip for every number of unknown conductors from 3 up; labels on
conductors already known, one way only when at most one more is unknown than known; one at a time; and a diode for a
cable of two. Two unknown conductors and nothing else cannot be told apart: every passive join of the two looks the same
from both, so a third path is needed, or a part that conducts one way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from subbase.errors import Fault, InputError
from subbase.names import list_words, named
from subbase.words import _, plural
from subbase.work.grouping import Groups
from subbase.work.trace_ends import EARTH, named_ends, side_words
from subbase.work.trace_facts import Ends, Fact, Match, Misreading, Side, all_groups, match, misreadings
from subbase.work.trace_plans import Method, NeedsThirdPath, Plan, listed, plans
from subbase.work.trace_step import Step, step_for


@dataclass(frozen=True, slots=True)
class Trace:
    """A search under way: the ends, the plan, and a fact for every step done."""

    ends: Ends
    plan: Plan
    facts: tuple[Fact, ...] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """All conductors are named."""

    pairs: tuple[tuple[str, str], ...]
    """(near name, far name), in the order of the near ends."""
    untested: tuple[str, ...]
    """Near ends named by what is left over: a break in such a conductor has not been looked for."""
    words: tuple[str, ...]

    @property
    def mapping(self) -> dict[str, str]:
        """Return near name -> far name."""
        return dict(self.pairs)


@dataclass(frozen=True, slots=True)
class Contradiction:
    """The results so far can come from no assignment of the ends."""

    step: int
    near: tuple[str, ...]
    far: tuple[str, ...]
    """Ends that have no counterpart."""
    words: tuple[str, ...]


def start(
    near: int | Sequence[str],
    far: Sequence[str] | None = None,
    *,
    known: Mapping[str, str] | None = None,
    earth: bool = False,
    diode: bool = False,
    method: Method | None = None,
) -> Trace:
    """Return a search with nothing done yet, by the best plan or by the method asked for.

    Parameters
    ----------
    near, far
        Number of conductors, or the names of their ends; far ends are named A, B, C ... when left out.
    known
        Near name -> far name of the conductors that are known already; they are left out of groups, and serve as
        return paths where that saves a walk.
    earth
        Whether metal outside the cable, proved to reach from end to end, may serve as a return path.
    diode
        Whether a diode and a meter with a diode range are at hand.

    Raises
    ------
    InputError
        Names twice, or not equally many, or known ones that are not among the ends.
    NeedsThirdPath
        Nothing at hand tells the conductors apart.
    """
    ends = named_ends(near, far, known or {}, earth)
    unknown = ends.unknown_of("near")
    options = plans(len(unknown), len(ends.known), diode=diode)
    if method is not None:
        options = tuple(plan for plan in options if plan.method in (method, Method.NONE))
    if not options:
        raise NeedsThirdPath(unknown, method or "")
    return Trace(ends=ends, plan=options[0])


def next_step(trace: Trace) -> Step | Done | Contradiction:
    """Return what to do next, or the names, or what contradicts."""
    seen = match(trace.ends, trace.facts)
    if not seen.possible:
        return _contradiction(trace, seen)
    if len(trace.facts) < trace.plan.steps:
        return step_for(trace.ends, trace.plan.method, trace.facts)
    pairs = tuple(pair for pair in seen.pairs if pair != (EARTH, EARTH))
    touched = {end for fact in trace.facts for group in fact.near if len(group) > 1 for end in group}
    untested = tuple(end for end in trace.ends.unknown_of("near") if end not in touched)
    words = [_("{near} is {far}.").format(near=near, far=far) for near, far in pairs]
    if untested:
        words.append(
            _("{untested} never touched another end: named because no other is left, not proved whole.").format(
                untested=listed(untested)
            )
        )
    words.append(_("Take off every join and mark both ends before anything else is done."))
    return Done(pairs=pairs, untested=untested, words=tuple(words))


def enter(trace: Trace, touching: Sequence[Sequence[str]]) -> Trace:
    """Return the search with what was read in the step that ``next_step`` gave.

    Parameters
    ----------
    touching
        Groups of ends that touch each other, named as on the side where they were read; an end left out touches none.
        With a diode: one group, first the end that the red probe was on when it conducted.

    Raises
    ------
    InputError
        An end is not known there, or is in two groups, or no step is open.
    """
    step = next_step(trace)
    if not isinstance(step, Step):
        raise InputError((Fault(_("No step is open; go one step back to change a result."), "touching"),))
    here = trace.ends.of(step.read_at)
    named = [end for group in touching for end in group]
    faults = [
        Fault(
            _("There is no {side} {end!r}; the ends are {here}.").format(
                side=side_words(step.read_at), end=end, here=listed(here)
            ),
            "touching",
        )
        for end in dict.fromkeys(named)
        if end not in here
    ]
    faults += [
        Fault(
            _("{end} is written {count} times; ends that all touch each other are one group.").format(
                end=end, count=named.count(end)
            ),
            "touching",
        )
        for end in dict.fromkeys(named)
        if named.count(end) > 1
    ]
    if faults:
        raise InputError(tuple(faults))
    read = all_groups(here, touching)
    joined = all_groups(trace.ends.of(step.join_at), step.join)
    fact = Fact(
        near=joined if step.join_at == "near" else read,
        far=read if step.join_at == "near" else joined,
        read_at=step.read_at,
        ordered=trace.plan.method is Method.DIODE,
    )
    return replace(trace, facts=(*trace.facts, fact))


def back(trace: Trace) -> Trace:
    """Return the search as before the last result, or unchanged when there is none."""
    return replace(trace, facts=trace.facts[:-1])


def single_misreadings(trace: Trace) -> tuple[Misreading, ...]:
    """Return every single slip of the probe after which all results so far would fit.

    When all are named, these are the slips that no result would have shown: read those ends once more where it matters.
    After a contradiction, these may be its cause. Two slips, and a cable that is broken or shorted, are not among them.
    """
    return misreadings(trace.ends, trace.facts)


def misreading_words(trace: Trace, slip: Misreading) -> str:
    """Return a slip in one sentence, with the names as they would then be."""
    now = dict(match(trace.ends, trace.facts).pairs)
    others = [_("{near} is {far}").format(near=near, far=far) for near, far in slip.pairs if now.get(near) != far]
    then = list_words(others) or _("more is open")
    if len(slip.ends) == 2:
        return _("If {ends} were taken for each other at the {side} in step {step}, then {then}.").format(
            ends=listed(slip.ends), side=side_words(slip.read_at), step=slip.step, then=then
        )
    mates = next(group for group in slip.truly if slip.ends[0] in group)
    others_there = [end for end in mates if end != slip.ends[0]]
    return _(
        "If {end} was put in a wrong group (in truth it touches {mates}) at the {side} in step {step}, then {then}."
    ).format(
        end=slip.ends[0],
        mates=listed(others_there) or named("none"),
        side=side_words(slip.read_at),
        step=slip.step,
        then=then,
    )


def _contradiction(trace: Trace, seen: Match) -> Contradiction:
    """Return in words why no assignment gives the last result."""
    step, fact = len(trace.facts), trace.facts[-1]
    joined_at: Side = "near" if fact.read_at == "far" else "far"
    joined = sorted((len(group) for group in fact.at(joined_at)), reverse=True)
    read = sorted((len(group) for group in fact.read), reverse=True)
    if fact.ordered:
        why = _(
            "A diode joins two near ends; the far end gave {groups}, so it or a conductor is broken or bridged."
        ).format(groups=_groups(fact.read))
    elif joined != read:
        said = _("The {joined_side} was joined as {joined}; the {read_side} shows {shown}.").format(
            joined_side=side_words(joined_at),
            joined=_groups(fact.at(joined_at)),
            read_side=side_words(fact.read_at),
            shown=_groups(fact.read),
        )
        if len(read) > len(joined):
            cause = _("A conductor may be broken, or a join does not make.")
        elif len(read) < len(joined):
            cause = _("Two conductors may touch on the way, or an end is still on something that joins it.")
        else:
            cause = _("An end was probably read in a wrong group.")
        why = f"{said} {cause}"
    else:
        why = _(
            "Each result could be true alone, but not together: near {near_odd} and far {far_odd} have been in groups that do not answer to each other."
        ).format(near_odd=listed(seen.near_odd), far_odd=listed(seen.far_odd))
    again = _("Read step {step} again at the {read_side}, and look at the joins at the {joined_side}.").format(
        step=step, read_side=side_words(fact.read_at), joined_side=side_words(joined_at)
    )
    return Contradiction(step=step, near=seen.near_odd, far=seen.far_odd, words=(why, again))


def _groups(groups: Groups) -> str:
    """Return groups as text: those of several ends with plus signs, and how many are alone."""
    several = [" + ".join(group) for group in groups if len(group) > 1]
    alone = sum(len(group) == 1 for group in groups)
    rest = plural("one end by itself", "{count} ends by themselves", alone).format(count=alone) if alone else ""
    return ", ".join([*several, *([rest] if rest else [])])
