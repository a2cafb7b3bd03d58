"""The search for a fault, and where the control goes, as the API gives them; the same names as ``--json`` uses."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, JsonValue

from subbase.diagnose.costs import Offer, probe_words
from subbase.diagnose.repair import repair_for
from subbase.diagnose.weigh import Cause
from subbase.siting.finding import MONTHS, clock
from subbase.siting.verdict import Place, SiteVerdict
from subbase.web.api_shapes import Bound, Shape, Texts
from subbase.web.record import answer_entry
from subbase.web.stage_diagnose import Search

Probability = Annotated[float, Field(ge=0.0, le=1.0 + 1e-9)]


class HypothesisShape(Shape):
    """One single thing that may be wrong."""

    id: str
    kind: str
    words: str


class CauseShape(Shape):
    """One entry of the ranking: a single cause or two at once."""

    probability: Probability
    words: str
    faults: tuple[tuple[HypothesisShape, ...], ...] = Field(
        description="For each cause those that nothing here can tell apart, likeliest first."
    )


class EvidenceShape(Shape):
    """One test as it was answered."""

    words: str
    value: float | str | None = Field(description="'OL' for an open circuit; null for 'don't know'.")


class DoubtShape(Shape):
    """A reading that is likelier wrong than right."""

    probability: Probability
    words: str


class TestShape(Shape):
    """One test to make."""

    words: str
    kind: str
    site: str
    caution: str
    calls: dict[str, tuple[str, ...]] = Field(description="Control -> what it is to call for.")
    minutes: float = Field(description="Walk and risk counted.")
    bits: float = Field(description="What it is expected to tell.")
    entry: dict[str, JsonValue] = Field(
        description="Put your value in place of 'unknown' and send it as the entry of a 'test_answered' event."
    )


class OutcomeShape(Shape):
    """What one result of the test would mean."""

    outcome: str = Field(validation_alias="words")
    probability: Probability
    then: Annotated[str, BeforeValidator(lambda cause: getattr(cause, "words", cause))]
    then_probability: Probability


class KeptBackShape(Shape):
    """A test that would tell more but is not to be made today."""

    test: str
    why: str


class NextShape(Shape):
    """What to do next, and why."""

    action: Literal["probe", "repair", "hand over"]
    why: str
    test: TestShape | None
    outcomes: tuple[OutcomeShape, ...]
    others: tuple[TestShape, ...] = Field(description="What comes next to it.")
    kept_back: tuple[KeptBackShape, ...]


class RepairShape(Shape):
    """How one cause is repaired."""

    cause: str
    site: str
    do: str
    part: str
    proof: str
    stop: str


class DiagnosisShape(Shape):
    """What may be wrong, how likely, and the next best test."""

    format: Literal[1] = 1
    survey: str = Field(description="SHA-256 of the survey's text.")
    mark: str = Field(description="Of the wiring; send it with every answer.")
    readings: tuple[EvidenceShape, ...]
    repaired: tuple[str, ...] = Field(
        default=(),
        description="Ids of causes that were put right while something stayed wrong; told by a 'test_answered' event whose entry is {repaired: [ids]}.",
    )
    causes: tuple[CauseShape, ...]
    none_of_these: Probability
    none_wins: bool
    doubted: tuple[DoubtShape, ...]
    next: NextShape
    repairs: tuple[RepairShape, ...]

    @classmethod
    def of(cls, found: Search, survey: str) -> DiagnosisShape:
        """Return a search as it is shown."""
        belief, advice, house = found.belief, found.advice, found.predictions.house
        groups = advice.cause.members if advice.cause is not None else ()
        test = _test(advice.offer, advice.minutes, advice.bits) if advice.offer is not None else None
        return cls(
            survey=survey,
            mark=found.mine.sheet.mark,
            readings=tuple(
                EvidenceShape(words=probe_words(house, r.probe), value="OL" if r.value == float("inf") else r.value)
                for r in found.evidence.readings
            ),
            repaired=tuple(cause for item in found.evidence.repaired for cause in item.causes),
            causes=tuple(map(_cause, belief.ranking)),
            none_of_these=belief.none_of_these,
            none_wins=belief.none_wins,
            doubted=tuple(map(DoubtShape.model_validate, belief.doubted)),
            next=NextShape(
                action=advice.action,
                why=advice.why,
                test=test,
                outcomes=tuple(map(OutcomeShape.model_validate, advice.outcomes)),
                others=tuple(_test(offer, minutes, bits) for offer, bits, minutes in advice.others),
                kept_back=tuple(KeptBackShape(test=offer.words, why=why) for offer, why in advice.kept_back),
            ),
            repairs=tuple(_repair(repair_for(group[0], found.predictions)) for group in groups),
        )


def _cause(cause: Cause) -> CauseShape:
    faults = tuple(tuple(map(HypothesisShape.model_validate, group)) for group in cause.members)
    return CauseShape(probability=cause.probability, words=cause.words, faults=faults)


def _test(offer: Offer, minutes: float, bits: float) -> TestShape:
    probe = offer.probe
    return TestShape(
        words=offer.words,
        kind=probe.kind,
        site=offer.site,
        caution=offer.caution,
        calls={control: tuple(sorted(calls)) for control, calls in probe.state.calls},
        minutes=minutes,
        bits=bits,
        entry=answer_entry(probe),
    )


def _repair(repair: Any) -> RepairShape:
    names = ("site", "do", "part", "proof", "stop")
    return RepairShape(cause=repair.hypothesis.id, **{name: getattr(repair, name) for name in names})


# Where the control goes.


class SiteFindingShape(Shape):
    """One reason for or against a place."""

    weight: str
    about: str = Field(validation_alias="subject")
    text: str
    source: str


class SunDayShape(Shape):
    """A day of the year with much sun on the place."""

    date: str
    minutes: int
    first: str = Field(description="Local standard time.")
    last: str


class SunShape(Shape):
    """Direct sun on a place through a year, under a sky without clouds."""

    hours: Bound
    days: int
    worst: tuple[SunDayShape, ...]
    shaded_along_m: Bound = Field(description="The nearest place on the same wall that the sun never reaches.")
    by_month_and_hour: dict[str, tuple[float, ...]]


class RadioShape(Shape):
    """How a connected control is reached there by radio."""

    grade: str
    measured: bool
    level_dbm: tuple[int, int]
    walls: Texts
    floors: int


class PlaceShape(Shape):
    """One place on a wall, judged."""

    name: str
    room: str
    wall: str
    along_m: Bound
    height_m: Bound
    ruled_out: bool
    findings: tuple[SiteFindingShape, ...]
    sun: SunShape | None
    radio: RadioShape | None
    cable: Texts


class SiteShape(Shape):
    """Where the control goes, best first."""

    format: Literal[1] = 1
    survey: str = Field(description="SHA-256 of the survey's text.")
    outcome: Literal["place", "elsewhere", "none", "question"]
    best: str | None
    advice: Texts
    questions: Texts
    places: tuple[PlaceShape, ...]
    found: tuple[PlaceShape, ...] = Field(description="Places found by trying.")
    cautions: tuple[SiteFindingShape, ...]

    @classmethod
    def of(cls, verdict: SiteVerdict, survey: str) -> SiteShape:
        """Return a verdict as it is shown."""
        return cls(
            survey=survey,
            outcome=verdict.outcome,
            best=verdict.best.name if verdict.best is not None else None,
            advice=verdict.advice,
            questions=verdict.questions,
            places=tuple(map(_place, verdict.places)),
            found=tuple(map(_place, verdict.searched)),
            cautions=tuple(map(SiteFindingShape.model_validate, verdict.cautions)),
        )


def _place(place: Place) -> PlaceShape:
    radio = place.radio
    return PlaceShape(
        name=place.name,
        room=place.room,
        wall=str(place.candidate.wall),
        along_m=place.candidate.along_m,
        height_m=place.height_m,
        ruled_out=place.ruled_out,
        findings=tuple(map(SiteFindingShape.model_validate, place.findings)),
        sun=_sun(place),
        radio=None
        if radio is None
        else RadioShape(
            grade=radio.grade,
            measured=radio.measured,
            level_dbm=(round(radio.level_dbm.low), round(radio.level_dbm.high)),
            walls=radio.walls,
            floors=radio.floors,
        ),
        cable=place.fish,
    )


def _sun(place: Place) -> SunShape | None:
    sun = place.sun
    if sun is None:
        return None
    worst = tuple(
        SunDayShape(date=d.date.isoformat(), minutes=d.minutes, first=clock(d.first_min), last=clock(d.last_min))
        for d in sun.worst
    )
    hours = {MONTHS[month]: tuple(round(float(h), 1) for h in sun.possible_h[month]) for month in range(12)}
    return SunShape(
        hours=sun.hours, days=sun.days, worst=worst, shaded_along_m=place.shaded_along_m, by_month_and_hour=hours
    )


__all__ = ["DiagnosisShape", "SiteShape"]
