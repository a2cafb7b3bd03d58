"""The names of a cable's ends: as given or made up, checked before anything is joined."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from subbase.errors import Fault, InputError
from subbase.words import _
from subbase.work.grouping import check_count
from subbase.work.trace_facts import Ends, Side

EARTH = "earth"
"""Name, at both ends, of a way back outside the cable: bare metal that is proved to reach from end to end."""


def named_ends(near: int | Sequence[str], far: Sequence[str] | None, known: Mapping[str, str], earth: bool) -> Ends:
    """Return the ends with their names checked, earth last when it may be used.

    Raises
    ------
    InputError
        Names twice, or not equally many, or known ones that are not among the ends.
    """
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
            faults.append(Fault(_("A {side} has no name: give each a mark.").format(side=side_words(side)), side))
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
            Fault(
                _("{name!r} is said to be known, but is no {side}.").format(name=name, side=side_words(side)), "known"
            )
            for name in known_names
            if name not in names
        ]
        faults += [
            Fault(
                _("Two known conductors share the {side} {name!r}.").format(side=side_words(side), name=name), "known"
            )
            for name in dict.fromkeys(known_names)
            if known_names.count(name) > 1
        ]
        if earth and EARTH in names:
            faults.append(
                Fault(
                    _("A {side} is named {earth!r}, which is kept for the way outside the cable.").format(
                        side=side_words(side), earth=EARTH
                    ),
                    side,
                )
            )
    if faults:
        raise InputError(tuple(faults))
    outside = (EARTH,) if earth else ()
    pairs = (*known.items(), *((name, name) for name in outside))
    return Ends(near=near_names + outside, far=far_names + outside, known=pairs)


def side_words(side: Side) -> str:
    """Return the name of one end of the cable."""
    return _("near end") if side == "near" else _("far end")


def _letters(index: int) -> str:
    """Return A, B ... Z, AA, AB ... for 0, 1 ..."""
    return (_letters(index // 26 - 1) if index >= 26 else "") + chr(ord("A") + index % 26)
