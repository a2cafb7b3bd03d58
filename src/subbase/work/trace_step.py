"""One step of a search: which ends to join, which to read, and the sentences that say so, in the order of the work."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from subbase.words import _
from subbase.work.grouping import (
    Groups,
    chain_sizes,
    join_by_sizes,
    most_readings,
    rejoin_by_chain,
    rejoin_by_sizes,
    size_plan,
)
from subbase.work.trace_ends import EARTH, side_words
from subbase.work.trace_facts import Ends, Fact, Side
from subbase.work.trace_plans import Method, in_turn, listed


@dataclass(frozen=True, slots=True)
class Step:
    """What to do next."""

    number: int
    """Counted from 1, of the plan's steps."""
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


def step_for(ends: Ends, method: Method, facts: Sequence[Fact]) -> Step:
    """Return the step that gives the next fact of a plan by one method."""
    number = len(facts) + 1
    regroup = method in (Method.SIZES, Method.CHAIN) and number == 2
    join_at: Side = "far" if regroup else "near"
    read_at: Side = "near" if regroup else "far"
    groups = _far_joins(ends, method, facts[0]) if regroup else _near_joins(ends, method, number)
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
    return replace(step, words=_words(step, ends, method))


def _near_joins(ends: Ends, method: Method, number: int) -> Groups:
    """Return the groups at the near end for step ``number`` of the plan; ends left free may be missing."""
    unknown, known = ends.unknown_of("near"), ends.known_of("near")
    match method:
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


def _far_joins(ends: Ends, method: Method, first: Fact) -> Groups:
    """Return the groups at the far end, made from those found there in the first step."""
    unknown = set(ends.unknown_of("far"))
    found = tuple(group for group in first.far if unknown.issuperset(group))
    if method is Method.CHAIN:
        return rejoin_by_chain(found)
    sizes = size_plan(len(unknown))
    assert sizes is not None, "plans() offers sizes only where there are some"
    return rejoin_by_sizes(found, sizes)


def _words(step: Step, ends: Ends, method: Method) -> tuple[str, ...]:
    """Return the step as sentences, in the order of the work."""
    words = list[str]()
    if step.number == 1:
        # Common practice, no source: a winding or a coil left on reads as a join, and a live one harms tester and hand.
        words.append(
            _(
                "Switch the power off, prove every conductor dead at both ends, and take both ends off every terminal: what stays on reads as a join, and what is live can hurt you."
            )
        )
        near, far = ([end for end in ends.of(side) if end != EARTH] for side in ("near", "far"))
        words.append(
            _("Tag the near ends {near}, and the far ends {far} in any order but for those known already.").format(
                near=listed(near), far=listed(far)
            )
        )
        if ends.known_of("near")[-1:] == (EARTH,) and step.probes:
            words.append(
                _("Earth is bare metal that reaches both ends; it serves the dead test only, no join to it may stay.")
            )
    elif step.walks == 2:
        words.append(_("Walk back to the {side} and take off every join there.").format(side=side_words(step.join_at)))
    if method is Method.DIODE:
        anode, cathode = step.join[0]
        words.append(
            _("At the near end put a diode between {anode} and {cathode}: anode on {anode}, ring on {cathode}.").format(
                anode=anode, cathode=cathode
            )
        )
    else:
        words.append(
            _("At the {side} {joins}; all others hang free.").format(
                side=side_words(step.join_at), joins=_joins(step.join)
            )
        )
    words.append(_("Walk to the {side}.").format(side=side_words(step.read_at)))
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


def _joins(groups: Groups) -> str:
    """Return what to join, as a clause."""
    return "; ".join(_("join {group}").format(group=listed(group)) for group in groups) if groups else _("join nothing")
