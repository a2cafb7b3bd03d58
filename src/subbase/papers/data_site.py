"""The shape of the verdict on places: ``subbase site --json``, ``site.json`` beside the drawings, and the API's."""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field

from subbase.papers.data_shape import Shape, Texts, Told, rounded
from subbase.siting.finding import MONTHS, clock
from subbase.siting.sun_hours import SunHours
from subbase.siting.verdict import Place, SiteVerdict

Clock = Annotated[str, BeforeValidator(lambda minute: minute if isinstance(minute, str) else clock(minute))]
"""Local standard time."""
Metres = Annotated[float, rounded(3)]
Hours = Annotated[float, rounded(1)]


class FindingOfPlaceShape(Shape):
    """One thing said of a place."""

    weight: Literal["rules out", "against", "for", "note"]
    about: Literal["sun", "wall", "air", "heat", "reach", "radio"] = Field(validation_alias="subject")
    text: str
    source: str


class SunDayShape(Shape):
    """A day with the sun on the place."""

    date: Annotated[str, BeforeValidator(str)]
    minutes: int
    from_: Clock = Field(validation_alias="first_min", serialization_alias="from")
    to: Clock = Field(validation_alias="last_min")


class SunShape(Shape):
    """Direct sun on a place over a year."""

    hours: Hours
    bright_hours: Annotated[float | None, rounded(1)] = Field(
        description="Of these in clear weather; null without weather."
    )
    days: int
    worst: tuple[SunDayShape, ...]
    shaded_along_m: Annotated[float | None, rounded(3)] = Field(description="Where along the same wall no sun falls.")
    by_month_and_hour: dict[str, tuple[Hours, ...]] = Field(
        description="Month -> hours of sun in each hour of the day."
    )

    @classmethod
    def of(cls, sun: SunHours | None, shaded_along_m: float | None) -> Self | None:
        """Return the sun as it is told; None where it is not known."""
        if sun is None:
            return None
        by_month = {MONTHS[month]: sun.possible_h[month].tolist() for month in range(12)}
        return cls.filled(sun, shaded_along_m=shaded_along_m, by_month_and_hour=by_month)


class RadioShape(Shape):
    """The radio path to a place."""

    grade: Literal["carries", "should carry", "doubtful", "weak", "does not carry"]
    measured: bool
    level_dbm: Annotated[tuple[int, ...], Field(min_length=2, max_length=2)]
    walls: Texts
    floors: int


class PlaceShape(Shape):
    """One place for the control."""

    name: str
    room: str
    wall: int | str
    along_m: Metres
    height_m: Metres
    ruled_out: bool
    findings: tuple[FindingOfPlaceShape, ...]
    sun: SunShape | None
    radio: RadioShape | None
    cable: Texts = Field(validation_alias="fish", description="How the cable gets there.")

    @classmethod
    def of(cls, place: Place) -> Self:
        """Return a place as it is told."""
        radio = place.radio
        level = () if radio is None else (round(radio.level_dbm.low), round(radio.level_dbm.high))
        return cls.filled(
            place,
            wall=place.candidate.wall,
            along_m=place.candidate.along_m,
            sun=SunShape.of(place.sun, place.shaded_along_m),
            radio=None if radio is None else RadioShape.filled(radio, level_dbm=level),
        )


class SiteShape(Told):
    """Where the control goes, best first; ``subbase site --json``."""

    name: str
    outcome: Literal["place", "elsewhere", "none", "question"]
    best: str | None
    advice: Texts
    questions: Texts
    places: tuple[PlaceShape, ...] = Field(description="Best first.")
    found: tuple[PlaceShape, ...] = Field(description="Places that were looked for when none given is good.")
    cautions: tuple[FindingOfPlaceShape, ...]
    taken: Texts = Field(description="What was taken where the file does not say.")

    @classmethod
    def of(cls, verdict: SiteVerdict, **more: Any) -> Self:
        """Return a verdict as it is told."""
        return cls.filled(
            verdict,
            name=verdict.house.name,
            best=None if verdict.best is None else verdict.best.name,
            places=[PlaceShape.of(place) for place in verdict.places],
            found=[PlaceShape.of(place) for place in verdict.searched],
            **more,
        )
