"""Every single slip of the hand with which a plan can be carried out wrongly.

A slip leaves a house as a survey does, so it is built and solved like any other. They come in a fixed order: ends
swapped, ends left loose, ends on a neighbour terminal, links left out, links forgotten, links that tie supplies, settings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from subbase.catalog import Catalog
from subbase.names import conductor_words
from subbase.plan import Plan
from subbase.survey import CUT_SHORT, LOOSE, NOWHERE, ConductorEnd, Jumper, Survey, split_terminal, with_landing
from subbase.wiring import Settings, settings_for
from subbase.words import _

SlipKind = Literal[
    "swapped",
    "left loose",
    "wrong terminal",
    "link left out",
    "link forgotten",
    "supplies linked",
    "changeover set wrong",
    "two at once",
]
"""The last is of ``work.double_slips``."""


_BOTH_ENDS: tuple[Literal["from", "to"], ...] = ("from", "to")


@dataclass(frozen=True, slots=True)
class Slip:
    """One thing done otherwise than the plan says."""

    kind: SlipKind
    words: str
    place: str
    """Where the hand slipped: a place of the survey."""
    survey: Survey
    """The house that it leaves."""
    settings: tuple[tuple[str, Settings], ...] = ()
    """(control, its settings), for controls set otherwise than their equipment needs."""


def single_slips(plan: Plan) -> tuple[Slip, ...]:
    """Return every single slip of a plan, in a fixed order.

    Every conductor of the house counts, those too that the work does not touch: a cover that comes off can pull them.
    Neighbour terminals are those listed next to each other in the catalogue or the control's profile; that a cabinet's
    terminals stand in this order is common practice, no source.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    if plan.left is None:
        raise ValueError(f"The plan is '{plan.verdict}' and leaves no house, so nothing can slip; answer what it asks.")
    left, catalog = plan.left, plan.catalog
    return (
        *_swapped(left),
        *_left_loose(left),
        *_wrong_terminal(left, catalog),
        *_left_out(left),
        *(forgotten := tuple(_forgotten(plan, left))),
        *(slip for slip in _supplies_linked(left) if slip.survey not in [other.survey for other in forgotten]),
        *_changeover(left, catalog),
    )


def movable_ends(survey: Survey) -> tuple[ConductorEnd, ...]:
    """Return every conductor end that a hand can land somewhere; ends cut short are left out."""
    ends = (
        ConductorEnd(cable=cable, conductor=name, end=end)
        for cable, _held, name, _conductor in survey.conductors()
        for end in _BOTH_ENDS
    )
    return tuple(end for end in ends if end.landing(survey) != CUT_SHORT)


def terminals_at(survey: Survey, catalog: Catalog, place: str) -> tuple[str, ...]:
    """Return the terminals of a place in the order in which they are marked."""
    if place in survey.controls:
        return survey.controls[place].old.terminals
    if place in survey.equipment:
        return tuple(catalog[str(survey.equipment[place].kind)].terminals)
    return ("common", "hot")


def _swapped(left: Survey) -> Iterator[Slip]:
    ends = movable_ends(left)
    for place in left.places():
        for a, b in combinations((end for end in ends if end.place(left) == place), 2):
            here, there = str(a.landing(left)), str(b.landing(left))
            if here != there:
                words = _("{a} on {there} and {b} on {here} at {place}, the wrong way round").format(
                    a=_name(a), there=_spot(there), b=_name(b), here=_spot(here), place=place
                )
                if LOOSE in (here, there):
                    (taken, landed), (spare, _loose) = (
                        ((a, here), (b, there)) if there == LOOSE else ((b, there), (a, here))
                    )
                    words = _("{spare} on {terminal} in place of {taken}, which is left loose").format(
                        spare=_name(spare), terminal=landed, taken=_name(taken)
                    )
                yield Slip("swapped", words, place, with_landing(with_landing(left, a, there), b, here))


def _left_loose(left: Survey) -> Iterator[Slip]:
    for end in movable_ends(left):
        landing = str(end.landing(left))
        if landing != LOOSE:
            words = _("{end} not joined to {terminal}").format(end=_name(end), terminal=landing)
            yield Slip("left loose", words, end.place(left), with_landing(left, end, LOOSE))


def _wrong_terminal(left: Survey, catalog: Catalog) -> Iterator[Slip]:
    for end in movable_ends(left):
        landing = str(end.landing(left))
        if landing in NOWHERE:
            continue
        place, terminal = split_terminal(landing)
        marked = terminals_at(left, catalog, place)
        if terminal not in marked:
            continue  # a joint under a wire nut has no neighbour
        at = marked.index(terminal)
        for neighbour in (*marked[max(0, at - 1) : at], *marked[at + 1 : at + 2]):
            words = _("{end} on {wrong} in place of {terminal}").format(
                end=_name(end), wrong=f"{place}.{neighbour}", terminal=terminal
            )
            moved = with_landing(left, end, f"{place}.{neighbour}")
            yield Slip("wrong terminal", words, end.place(left), moved)


def _left_out(left: Survey) -> Iterator[Slip]:
    for index, jumper in enumerate(left.jumpers):
        if jumper.present is True:
            a, b = jumper.between
            without = left.model_copy(update={"jumpers": left.jumpers[:index] + left.jumpers[index + 1 :]})
            words = _("link {a} to {b} left out").format(a=a, b=b)
            yield Slip("link left out", words, split_terminal(a)[0], without)


def _forgotten(plan: Plan, left: Survey) -> Iterator[Slip]:
    """Yield the links that had to come out and were forgotten, where the new control still has both terminals."""
    linked = {frozenset(jumper.between) for jumper in left.jumpers}
    for jumper in dict.fromkeys(
        change.jumper for item in plan.controls for change in item.chosen.jumpers if change.action == "remove"
    ):
        a, b = jumper.between
        still = all(
            terminal in left.controls[place].old.terminals if place in left.controls else place in left.places()
            for place, terminal in map(split_terminal, (a, b))
        )
        if still and jumper.present is True and frozenset(jumper.between) not in linked:
            words = _("link {a} to {b} forgotten: it had to come out").format(a=a, b=b)
            yield Slip("link forgotten", words, split_terminal(a)[0], _with_link(left, a, b))


def _supplies_linked(left: Survey) -> Iterator[Slip]:
    linked = {frozenset(jumper.between) for jumper in left.jumpers}
    for name, control in left.controls.items():
        a, b = f"{name}.Rh", f"{name}.Rc"
        has_both = {"Rh", "Rc"} <= set(control.old.terminals) and control.old.supplies == "separate"
        if has_both and frozenset((a, b)) not in linked:
            words = _("Rh and Rc of {control} left linked, or set as one supply").format(control=name)
            yield Slip("supplies linked", words, name, _with_link(left, a, b))


def _with_link(left: Survey, a: str, b: str) -> Survey:
    return left.model_copy(update={"jumpers": (*left.jumpers, Jumper(between=(a, b)))})


def _changeover(left: Survey, catalog: Catalog) -> Iterator[Slip]:
    for name, control in left.controls.items():
        settings = settings_for(left, catalog, name)
        if settings.changeover is None or "O/B" not in control.old.terminals:
            continue
        wrong: Literal["cooling", "heating"] = "heating" if settings.changeover == "cooling" else "cooling"
        words = (
            _("changeover of {control} set to be energised in heating, not cooling")
            if wrong == "heating"
            else _("changeover of {control} set to be energised in cooling, not heating")
        ).format(control=name)
        yield Slip("changeover set wrong", words, name, left, ((name, replace(settings, changeover=wrong)),))


def _name(end: ConductorEnd) -> str:
    return _("{conductor} of {cable}").format(conductor=conductor_words(end.conductor), cable=end.cable)


def _spot(landing: str) -> str:
    return split_terminal(landing)[1]


__all__ = ["Slip", "SlipKind", "movable_ends", "single_slips", "terminals_at"]
