"""What a label says: each end of each conductor known by its landing, its cable and its colour there."""

from __future__ import annotations

from dataclasses import dataclass

from subbase.names import carried_words, colour_words
from subbase.names import conductor_words as conductor_name
from subbase.papers.measure import clean
from subbase.papers.tables import marks, terminal_words
from subbase.plan import Plan
from subbase.survey import NOWHERE, ConductorEnd, Survey, Unknown, split_terminal
from subbase.words import _


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says of one end of one conductor."""

    terminal: str
    """Where this end lands; a word when it is on no terminal."""
    place: str
    wire: str
    """Cable and conductor, and the colour here where the name does not say it."""
    carries: str
    """Empty when it is not known, or carries nothing."""
    other_end: str
    number: str = ""
    """Of the wiring map; empty when the work changed nothing about it."""
    cable: str = ""
    conductor: str = ""
    colour: str = ""

    def ranked(self) -> tuple[str, ...]:
        """Return its lines, the one that a person needs first at the head."""
        numbered = _("No. {number}").format(number=self.number) if self.number else ""
        carries = ", ".join(part for part in (self.carries, numbered) if part)
        to = _("far end {other_end}").format(other_end=self.other_end)
        return tuple(clean(line) for line in (self.terminal, carries, to, self.wire, self.place) if clean(line))


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
    numbers = marks(plan)
    found = []
    for cable in survey.cables:
        names = survey.cables[cable].conductors
        first = [ConductorEnd(cable=cable, conductor=name, end="from") for name in names]
        second = [ConductorEnd(cable=cable, conductor=name, end="to") for name in names]
        for at, far in (*zip(first, second, strict=True), *zip(second, first, strict=True)):
            key = (cable, at.conductor)
            found.append(_label(survey, at, far, (carries.get(key, ""), numbers.get(key, 0))))
    return tuple(found)


def _label(survey: Survey, at: ConductorEnd, far: ConductorEnd, told: tuple[str, int]) -> Label:
    carries, number = told
    place, terminal = _landing(survey, at)
    far_place, far_terminal = _landing(survey, far)
    colours = survey.cables[at.cable].conductors[at.conductor].colours
    colour = colours[0 if at.end == "from" else 1]
    here = f" ({colour_words(colour)})" if colour and colour not in at.conductor else ""
    return Label(
        terminal,
        place,
        f"{at.cable}, {conductor_name(at.conductor)}{here}",
        carried_words(carries) if carries else "",
        f"{far_place} {far_terminal}",
        str(number) if number else "",
        at.cable,
        at.conductor,
        colour,
    )


def _landing(survey: Survey, end: ConductorEnd) -> tuple[str, str]:
    """Return (place, terminal) of a conductor's end; a word in the terminal's place when it is on none."""
    landing = end.landing(survey)
    if isinstance(landing, Unknown):
        return end.place(survey), _("not known")
    if landing in NOWHERE:
        return end.place(survey), _("spare") if landing == "loose" else terminal_words(landing)
    return split_terminal(landing)
