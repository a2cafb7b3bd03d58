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
from subbase.work.grouping import (
    Groups,
    chain_sizes,
    check_count,
    join_by_sizes,
    most_readings,
    rejoin_by_chain,
    rejoin_by_sizes,
    size_plan,
)
from subbase.work.trace_facts import Ends, Fact, Match, Misreading, Side, all_groups, match, misreadings
from subbase.work.trace_plans import Method, NeedsThirdPath, Plan, in_turn, listed, plans

EARTH = "earth"
"""Name, at both ends, of a way back outside the cable: bare metal that is proved to reach from end to end."""


@dataclass(frozen=True, slots=True)
class Trace:
    """A search under way: the ends, the plan, and a fact for every step done."""

    ends: Ends
    plan: Plan
    facts: tuple[Fact, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """What to do next."""

    number: int
    """Counted from 1, of ``Trace.plan.steps``."""
    join_at: Side
    join: Groups
    """Ends to join, two or more to a group; all other ends on this side hang free."""
    read_at: Side
    probes: tuple[str, ...]
    """Ends on which the first probe rests in turn; any end, when empty."""
    touch: tuple[str, ...]
    """Ends to touch with the other probe."""
    walks: int
    most_readings: int
    words: tuple[str, ...]


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
    ends = _ends(near, far, known or {}, earth)
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
        return _step(trace)
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
                side=_side(step.read_at), end=end, here=listed(here)
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
            ends=listed(slip.ends), side=_side(slip.read_at), step=slip.step, then=then
        )
    mates = next(group for group in slip.truly if slip.ends[0] in group)
    others_there = [end for end in mates if end != slip.ends[0]]
    return _(
        "If {end} was put in a wrong group (in truth it touches {mates}) at the {side} in step {step}, then {then}."
    ).format(
        end=slip.ends[0],
        mates=listed(others_there) or named("none"),
        side=_side(slip.read_at),
        step=slip.step,
        then=then,
    )


def _side(side: Side) -> str:
    return _("near end") if side == "near" else _("far end")


def _step(trace: Trace) -> Step:
    """Return the step for the next fact of the plan."""
    number = len(trace.facts) + 1
    ends, method = trace.ends, trace.plan.method
    regroup = method in (Method.SIZES, Method.CHAIN) and number == 2
    join_at: Side = "far" if regroup else "near"
    read_at: Side = "near" if regroup else "far"
    groups = _far_joins(trace) if regroup else _near_joins(trace, number)
    touch = ends.unknown_of(read_at)
    probes: tuple[str, ...] = ()
    readings = 2
    if method in (Method.SIZES, Method.CHAIN):
        readings = most_readings([len(group) for group in groups])
    elif method in (Method.LABELS, Method.ONE_BY_ONE):
        # Ends named in an earlier step are touched again: one that answers twice shows a slip.
        used = {end for group in groups if len(group) > 1 for end in group}
        probes = tuple(far for near, far in ends.known if near in used)
        readings = len(touch) * len(probes)
    join = tuple(group for group in groups if len(group) > 1)
    step = Step(
        number=number,
        join_at=join_at,
        join=join,
        read_at=read_at,
        probes=probes,
        touch=touch,
        walks=1 if regroup or number == 1 else 2,
        most_readings=readings,
        words=(),
    )
    return replace(step, words=_words(step, trace))


def _near_joins(trace: Trace, number: int) -> Groups:
    """Return the groups at the near end for step ``number`` of the plan; ends left free may be missing."""
    unknown, known = trace.ends.unknown_of("near"), trace.ends.known_of("near")
    match trace.plan.method:
        case Method.SIZES:
            sizes = size_plan(len(unknown))
            assert sizes is not None, "plans() offers sizes only where there are some"
            return join_by_sizes(unknown, sizes.near_sizes)
        case Method.CHAIN:
            return join_by_sizes(unknown, chain_sizes(len(unknown)))
        case Method.ONE_BY_ONE:
            return ((known[0], unknown[number - 1]),)
        case Method.DIODE:
            return (unknown,)
        case _:
            base = len(known) + 1
            digit = {end: index // base ** (number - 1) % base for index, end in enumerate(unknown)}
            return tuple(
                (way, *(end for end in unknown if digit[end] == place)) for place, way in enumerate(known, start=1)
            )


def _far_joins(trace: Trace) -> Groups:
    """Return the groups at the far end, made from those found there."""
    unknown = set(trace.ends.unknown_of("far"))
    found = tuple(group for group in trace.facts[0].far if unknown.issuperset(group))
    if trace.plan.method is Method.CHAIN:
        return rejoin_by_chain(found)
    sizes = size_plan(len(unknown))
    assert sizes is not None, "plans() offers sizes only where there are some"
    return rejoin_by_sizes(found, sizes)


def _words(step: Step, trace: Trace) -> tuple[str, ...]:
    """Return the step as sentences, in the order of the work."""
    method, words = trace.plan.method, list[str]()
    if step.number == 1:
        # Common practice, no source: a winding or a coil left on reads as a join, and a live one harms tester and hand.
        words.append(
            _(
                "Switch the power off, prove every conductor dead at both ends, and take both ends off every terminal: what stays on reads as a join, and what is live can hurt you."
            )
        )
        near, far = ([end for end in trace.ends.of(side) if end != EARTH] for side in ("near", "far"))
        words.append(
            _("Tag the near ends {near}, and the far ends {far} in any order but for those known already.").format(
                near=listed(near), far=listed(far)
            )
        )
        if trace.ends.known_of("near")[-1:] == (EARTH,) and step.probes:
            words.append(
                _("Earth is bare metal that reaches both ends; it serves the dead test only, no join to it may stay.")
            )
    elif step.walks == 2:
        words.append(_("Walk back to the {side} and take off every join there.").format(side=_side(step.join_at)))
    if method is Method.DIODE:
        anode, cathode = step.join[0]
        words.append(
            _("At the near end put a diode between {anode} and {cathode}: anode on {anode}, ring on {cathode}.").format(
                anode=anode, cathode=cathode
            )
        )
    else:
        words.append(
            _("At the {side} {joins}; all others hang free.").format(side=_side(step.join_at), joins=_joins(step.join))
        )
    words.append(_("Walk to the {side}.").format(side=_side(step.read_at)))
    if step.number == 2 and step.read_at == "near":
        words.append(_("Take off every join there."))
    if method is Method.DIODE:
        words.append(
            _(
                "With the meter's diode range, red probe on {red} and black on {black}, then the other way about: write down first the end with the red probe when it conducts; nothing when it conducts both ways or neither."
            ).format(red=step.touch[0], black=step.touch[1])
        )
    elif step.probes:
        words.append(
            _("Rest one probe on {probes}, touch {touch}: write down which touch it.").format(
                probes=in_turn(step.probes), touch=listed(step.touch)
            )
        )
    else:
        words.append(
            _(
                "Rest one probe on an end and touch each other one of {touch}; set aside those that touch it as one group; go on with the rest until none is left."
            ).format(touch=listed(step.touch))
        )
    return tuple(words)


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
            joined_side=_side(joined_at),
            joined=_groups(fact.at(joined_at)),
            read_side=_side(fact.read_at),
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
        step=step, read_side=_side(fact.read_at), joined_side=_side(joined_at)
    )
    return Contradiction(step=step, near=seen.near_odd, far=seen.far_odd, words=(why, again))


def _ends(near: int | Sequence[str], far: Sequence[str] | None, known: Mapping[str, str], earth: bool) -> Ends:
    """Return the ends with their names checked, earth last when it may be used."""
    if isinstance(near, int):
        check_count(near)
    near_names = tuple(str(index + 1) for index in range(near)) if isinstance(near, int) else tuple(near)
    far_names = tuple(_letters(index) for index in range(len(near_names))) if far is None else tuple(far)
    check_count(len(near_names))
    faults: list[Fault] = []
    if len(near_names) != len(far_names):
        text = _("{near} near ends and {far} far ends: count again, a cable has as many at both.").format(
            near=len(near_names), far=len(far_names)
        )
        faults.append(Fault(text, "far"))
    sides: tuple[tuple[Side, tuple[str, ...], tuple[str, ...]], ...] = (
        ("near", near_names, tuple(known)),
        ("far", far_names, tuple(known.values())),
    )
    for side, names, known_names in sides:
        if not all(name.strip() for name in names):
            faults.append(Fault(_("A {side} has no name: give each a mark.").format(side=_side(side)), side))
        twice = [name for name in dict.fromkeys(names) if names.count(name) > 1]
        faults += [
            Fault(
                (
                    _("Two near ends are named {name!r}: give each its own name.")
                    if side == "near"
                    else _("Two far ends are named {name!r}: give each its own name.")
                ).format(name=name),
                side,
            )
            for name in twice
        ]
        faults += [
            Fault(_("{name!r} is said to be known, but is no {side}.").format(name=name, side=_side(side)), "known")
            for name in known_names
            if name not in names
        ]
        faults += [
            Fault(_("Two known conductors share the {side} {name!r}.").format(side=_side(side), name=name), "known")
            for name in dict.fromkeys(known_names)
            if known_names.count(name) > 1
        ]
        if earth and EARTH in names:
            faults.append(
                Fault(
                    _("A {side} is named {earth!r}, which is kept for the way outside the cable.").format(
                        side=_side(side), earth=EARTH
                    ),
                    side,
                )
            )
    if faults:
        raise InputError(tuple(faults))
    outside = (EARTH,) if earth else ()
    pairs = (*known.items(), *((name, name) for name in outside))
    return Ends(near=near_names + outside, far=far_names + outside, known=pairs)


def _letters(index: int) -> str:
    """Return A, B ... Z, AA, AB ... for 0, 1 ..."""
    return (_letters(index // 26 - 1) if index >= 26 else "") + chr(ord("A") + index % 26)


def _joins(groups: Groups) -> str:
    """Return what to join, as a clause."""
    return "; ".join(_("join {group}").format(group=listed(group)) for group in groups) if groups else _("join nothing")


def _groups(groups: Groups) -> str:
    """Return groups as text: those of several ends with plus signs, and how many are alone."""
    several = [" + ".join(group) for group in groups if len(group) > 1]
    alone = sum(len(group) == 1 for group in groups)
    rest = plural("one end by itself", "{count} ends by themselves", alone).format(count=alone) if alone else ""
    return ", ".join([*several, *([rest] if rest else [])])
