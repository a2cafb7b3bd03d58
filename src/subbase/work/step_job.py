"""What every chapter of a work plan asks of the job: places in words, who may do what, what is fed by the line, what the weather allows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from subbase.catalog import Call, TransformerPart
from subbase.names import colour_words, conductor_words, named
from subbase.plan import Plan
from subbase.survey import NOWHERE, ConductorEnd, Survey, Unknown, split_terminal
from subbase.wiring import State, build_house, need_of
from subbase.words import _, mark
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan, room_of
from subbase.work.outcomes import SEVERITIES, Severity
from subbase.work.step_order import MoveOrder
from subbase.work.steps import Licence, Season, Step, Who

COMPRESSOR_LEAST_C = (60.0 - 32.0) / 1.8
"""Outdoor temperature below which a compressor is not run only to test it: about 60 °F (common practice, no source)."""
WARM_C = (65.0 - 32.0) / 1.8
"""Outdoor temperature above which heating is tested shortly, about 65 °F (judgement)."""
ATTIC_COOL_C = 10.0
"""Outdoor temperature up to which an attic is taken not to be hot (judgement)."""
LICENCE_OF: dict[Who, Licence] = {
    "licensed electrician": "electrician",
    "licensed gas fitter": "gas",
    "certified for refrigerant": "refrigerant",
}
PRACTICE, JUDGEMENT = mark("common practice, no source"), mark("judgement")
_SURROUNDINGS = (
    (("attic", "loft", "ático", "desván"), mark("Attic: tread on joists or boards only; mind nails and wiring under the insulation.")),
    (("roof", "techo", "azotea"), mark("Roof: tie the ladder, keep three points of contact, stay back from the edge. Not in wind, rain, ice or lightning.")),
    (("crawl", "entrepiso"), mark("Crawl space: light and mask; look for standing water and loose cables before you go in.")),
    (("cellar", "basement", "sótano"), mark("Look at the floor first: on a wet floor touch nothing electrical.")),
    (("closet", "clóset", "armario"), mark("Tight space: keep clear of the burner and hot sheet metal; leave the door open.")),
)  # fmt: skip
"""Words of a place, English or Spanish as the survey may have it -> what to mind there (common practice, no source)."""


@dataclass(frozen=True)
class Job:
    """One plan on one day, for one pair of hands."""

    plan: Plan
    found: Survey
    left: Survey
    order: MoveOrder
    checks: CheckPlan
    season: Season | None = None
    outdoor_c: float | None = None
    licences: frozenset[Licence] = frozenset()

    def step(self, step: Step) -> Step:
        """Return a step marked with whether these hands may do it, and behind whatever it needs."""
        needed = LICENCE_OF.get(step.who)
        may_do = needed is None or needed in self.licences
        return replace(
            step, may_do=may_do, source=_(step.source), after=tuple(dict.fromkeys((*step.after, *step.needs)))
        )

    def site(self, place: str) -> str:
        """Return where one stands to reach a place."""
        return room_of(self.left if place in self.left.places() else self.found, place)

    def where(self, place: str) -> str:
        """Return a place in words: 'furnace, basement'."""
        survey = self.left if place in self.left.places() else self.found
        item = survey.equipment.get(place) or survey.transformers.get(place) or survey.controls.get(place)
        at = item.at if item else ""
        if at != place and at in survey.places():
            return _("{place}, at {at}").format(place=place, at=at)
        return named(at) if at.startswith(place) else f"{place}, {named(at)}" if at else place

    def cautions_at(self, place: str) -> str:
        """Return what to mind where a place stands."""
        words = f"{self.where(place)} {self.site(place)}".lower()
        said = [_(caution) for marks, caution in _SURROUNDINGS if any(name in words for name in marks)]
        if (
            any(name in words for name in _SURROUNDINGS[0][0])
            and self.season != "heating"
            and (self.outdoor_c is None or self.outdoor_c > ATTIC_COOL_C)
        ):
            said.append(_("It is hot up there: short spells, water, and tell somebody below."))
        if self.group(place) == "hydronic":
            said.append(_("Hot pipes and surfaces: let them cool or wear gloves."))
        return " ".join(said)

    def group(self, place: str) -> str:
        """Return the catalogue's group of a place; empty where it has none."""
        survey = self.left if place in self.left.equipment else self.found
        item = survey.equipment.get(place)
        return self.plan.catalog[str(item.kind)].group if item else ""

    def outdoors(self, place: str) -> bool:
        """Return whether a place is a unit in the open, with line voltage and a capacitor in its case."""
        item = self.left.equipment.get(place) or self.found.equipment.get(place)
        return item is not None and self.plan.catalog[str(item.kind)].site == "outdoor"

    def has_transformer(self, place: str) -> bool:
        """Return whether a control supply sits in this place."""
        item = self.left.equipment.get(place) or self.found.equipment.get(place)
        if item is None:
            return place in self.left.transformers or place in self.found.transformers
        return any(isinstance(part, TransformerPart) for part in self.plan.catalog[str(item.kind)].parts)

    def cautions_of(self, place: str) -> tuple[str, ...]:
        """Return what the catalogue warns of at a place."""
        item = self.left.equipment.get(place) or self.found.equipment.get(place)
        return self.plan.catalog[str(item.kind)].cautions if item else ()

    @cached_property
    def line_fed(self) -> tuple[str, ...]:
        """Places of the house as found that the line feeds, each to be locked out: supplies, and cases with line voltage."""
        fed = [
            place
            for place in self.found.equipment
            if self.has_transformer(place) or any("line voltage" in c.lower() for c in self.cautions_of(place))
        ]
        return (*fed, *self.found.transformers)

    @cached_property
    def touched(self) -> tuple[str, ...]:
        """Places of the house as found where a hand or a probe goes while it is dead, controls first."""
        moved = {move.place for move in self.order.moves} | {
            split_terminal(end)[0] for move in self.order.moves for end in (move.was, move.becomes, *(move.link or ()))
        }
        probed = {
            split_terminal(end)[0]
            for chosen in self.checks.checks
            if chosen.check.state is None
            for end in (*chosen.check.between, *(chosen.check.clip or ()))
        }
        searched = {end.place(self.found) for end in self.unseen}
        return tuple(place for place in self.found.places() if place in moved | probed | searched)

    @cached_property
    def unseen(self) -> tuple[ConductorEnd, ...]:
        """Ends at a replaced control's cables that nobody has seen and that no move takes in hand."""
        replaced = {item.control for item in self.plan.controls}
        moved = [move.end for move in self.order.moves]
        ends = (
            ConductorEnd(cable=cable_name, conductor=name, end="from" if side == "from" else "to")
            for cable_name, cable, name, __ in self.plan.survey.conductors()
            if {cable.from_, cable.to} & replaced
            for side in ("from", "to")
        )
        return tuple(e for e in ends if isinstance(e.landing(self.plan.survey), Unknown) and e not in moved)

    @cached_property
    def severities(self) -> dict[str, Severity]:
        """Wrong landing in words -> how bad it is; the worst where words are shared."""
        found: dict[str, Severity] = {}
        for outcome in sorted(self.checks.outcomes, key=lambda o: -SEVERITIES.index(o.severity)):
            found[outcome.slip.words] = outcome.severity
        return found

    @cached_property
    def closed_cases(self) -> frozenset[str]:
        """Outdoor cases that these hands may not open, and that no move opens."""
        if "electrician" in self.licences:
            return frozenset()
        moved = {
            split_terminal(end)[0]
            for move in self.order.moves
            for end in (move.place, move.was, move.becomes, *(move.link or ()))
        }
        return frozenset(place for place in self.touched if self.outdoors(place) and place not in moved)

    def in_closed_case(self, check: Check) -> bool:
        """Return whether a reading is taken inside a case that stays closed."""
        return any(split_terminal(end)[0] in self.closed_cases for end in check.between)

    @cached_property
    def several(self) -> bool:
        """Whether calls are named with their control."""
        return len(self.left.controls) > 1

    @cached_property
    def main(self) -> str:
        """The place where the main supply is: the far end of the first control's cable."""
        landings = self.plan.controls[0].chosen.landings
        return landings[0].far_place if landings else self.plan.controls[0].control

    def conductor(self, cable: str, name: str, side: str = "from") -> str:
        """Return a conductor as people say it, with the colour its end bears where its name doesn't say so."""
        conductor = self.left.cables[cable].conductors[name]
        colour = conductor.colours[0 if side == "from" else 1]
        said = (
            _("{conductor} ({colour} here) of {cable}")
            if colour and colour not in name
            else _("{conductor} of {cable}")
        )
        # A cable named by where it goes would read as part of the sentence: red of to upper.
        cable = f'"{cable}"' if cable.startswith(("to ", "from ")) else cable
        return said.format(conductor=conductor_words(name), colour=colour_words(colour), cable=cable)

    def landed(self, survey: Survey, place: str) -> Iterator[tuple[str, str, str, str]]:
        """Yield (cable, conductor, its side, landing) of every conductor end at a place."""
        for cable_name, cable, name, conductor in survey.conductors():
            for side, at, landing in (
                ("from", cable.from_, str(conductor.from_)),
                ("to", cable.to, str(conductor.to)),
            ):
                if at == place or (landing not in NOWHERE and split_terminal(landing)[0] == place):
                    yield cable_name, name, side, landing

    def loads(self, state: State) -> tuple[str, ...]:
        """Return what a state brings on, in words."""
        house = build_house(self.left, self.plan.catalog)
        return tuple(sorted(house.part_words(tag) for tag in need_of(self.left, self.plan.catalog, state).on))

    def load_names(self, state: State) -> tuple[tuple[str, str], ...]:
        """Return (place, what the catalogue calls it in English) of all that a state brings on."""
        house = build_house(self.left, self.plan.catalog)
        tags = sorted(need_of(self.left, self.plan.catalog, state).on)
        return tuple((tag.partition("/")[0], house.part_name(tag)) for tag in tags)

    def runs_compressor(self, state: State) -> bool:
        """Return whether a state runs a compressor."""
        return any("compressor" in name for __, name in self.load_names(state))

    @property
    def compressor_may_run(self) -> bool | None:
        """Whether it is warm enough to run a compressor in cooling; None when nobody has said."""
        if self.outdoor_c is not None:
            return self.outdoor_c >= COMPRESSOR_LEAST_C
        return False if self.season == "heating" else None

    @property
    def warm(self) -> bool:
        """Whether heating is to be tested shortly."""
        return self.season == "cooling" if self.outdoor_c is None else self.outdoor_c > WARM_C


def last_of(steps: Iterable[Step]) -> tuple[str, ...]:
    """Return the steps that no other of these waits for: what the next chapter waits for."""
    steps = tuple(steps)
    waited = {step_id for step in steps for step_id in step.after}
    return tuple(step.id for step in steps if step.id not in waited)


def degrees(value_c: float, units: str) -> str:
    """Return a temperature in the survey's units."""
    return f"{value_c * 1.8 + 32:.0f} °F" if units == "us" else f"{value_c:.0f} °C"


def is_cooling(calls: Iterable[Call]) -> bool:
    """Return whether calls ask for cooling."""
    return any(call.startswith(("cool", "dehumidify")) for call in calls)


__all__ = ["COMPRESSOR_LEAST_C", "JUDGEMENT", "PRACTICE", "Job", "degrees", "is_cooling", "last_of"]
