"""Labels to cut out and fold around both ends of every conductor: known by its landing, never by its colour."""

from __future__ import annotations

from dataclasses import dataclass

from subbase.plan import Plan
from subbase.survey import NOWHERE, ConductorEnd, Survey, Unknown, split_terminal


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says; it is folded in the middle, and both halves bear the terminal."""

    terminal: str
    place: str
    wire: str
    carries: str
    other_end: str


def labels_of(plan: Plan) -> tuple[Label, ...]:
    """Return a label for each end of each conductor as left, cable by cable, place by place."""
    survey = plan.left
    if survey is None:
        return ()
    carries = {
        (landing.cable, landing.conductor): landing.carries
        for item in plan.controls
        for landing in item.chosen.landings
        if landing.carries != "nothing"
    }
    found = []
    for cable in survey.cables:
        names = survey.cables[cable].conductors
        first = [ConductorEnd(cable=cable, conductor=name, end="from") for name in names]
        second = [ConductorEnd(cable=cable, conductor=name, end="to") for name in names]
        pairs = (*zip(first, second, strict=True), *zip(second, first, strict=True))
        found += [_label(survey, at, far, carries.get((cable, at.conductor), "")) for at, far in pairs]
    return tuple(found)


def _label(survey: Survey, at: ConductorEnd, far: ConductorEnd, carries: str) -> Label:
    place, terminal = _landing(survey, at)
    far_place, far_terminal = _landing(survey, far)
    return Label(terminal, place, f"{at.cable}, {at.conductor}", carries, f"{far_place} {far_terminal}")


def _landing(survey: Survey, end: ConductorEnd) -> tuple[str, str]:
    """Return (place, terminal) of a conductor's end; a word in the terminal's place when it is on none."""
    landing = end.landing(survey)
    if isinstance(landing, Unknown):
        return end.place(survey), "not known"
    if landing in NOWHERE:
        return end.place(survey), "spare" if landing == "loose" else landing
    return split_terminal(landing)
