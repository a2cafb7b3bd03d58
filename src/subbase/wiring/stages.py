"""Stages that links at the equipment make one: a furnace with W1 and W2 linked fires both at once, and has one stage.

So are two-stage furnaces, strips and outdoor units run by a control that has one stage (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence, Set
from typing import cast

from subbase.catalog import Call, Kind, Requirement
from subbase.survey import Jumper


def calls_of(kind: Kind, place: str, jumpers: Iterable[Jumper]) -> Mapping[Call, Requirement]:
    """Return what a kind does in each call at a place, with the stages that links there make one.

    A stage brings on what every stage does whose terminals it reaches through links; stages that are the same then are
    one, and those above are numbered on from there.
    """
    linked = _linked(place, jumpers)
    if not linked:
        return kind.calls
    calls: dict[Call, Requirement] = {}
    stages: dict[str, list[Requirement]] = {}
    for call, need in sorted(kind.calls.items()):
        word, _space, number = call.rpartition(" ")
        if number.isdecimal():
            stages.setdefault(word, []).append(need)
        else:
            calls[call] = need
    for word, needs in stages.items():
        apart = {_works(need): need for need in (_with_links(need, needs, linked) for need in needs)}
        calls |= {cast("Call", f"{word} {number}"): need for number, need in enumerate(apart.values(), start=1)}
    return calls


def _works(need: Requirement) -> object:
    return frozenset(need.energise), frozenset(need.on), frozenset(need.close)


def _with_links(need: Requirement, stages: Sequence[Requirement], linked: Sequence[Set[str]]) -> Requirement:
    """Return a stage with what links bring on in it: that of each stage whose own terminals they reach."""
    energised = set(need.energise).union(*(group for group in linked if group & set(need.energise)))
    more, on = list(need.energise), list(need.on)
    for below, stage in zip((None, *stages), stages, strict=False):
        own = set(stage.energise) - set(below.energise if below else ())
        if own and own <= energised:
            more += [terminal for terminal in stage.energise if terminal in own and terminal not in more]
            on += [load for load in stage.on if load not in on and (below is None or load not in below.on)]
    if len(more) == len(need.energise):
        return need
    return need.model_copy(update={"energise": tuple(more), "on": tuple(on)})


def _linked(place: str, jumpers: Iterable[Jumper]) -> list[set[str]]:
    """Return the terminals of a place that its links join, in groups."""
    groups: list[set[str]] = []
    for jumper in jumpers:
        ends = [end.partition(".") for end in jumper.between]
        if jumper.present is not True or any(at != place for at, _dot, _terminal in ends):
            continue
        joined = {terminal for _at, _dot, terminal in ends}
        apart = [group for group in groups if not group & joined]
        groups = [*apart, joined.union(*(group for group in groups if group & joined))]
    return groups


__all__ = ["calls_of"]
