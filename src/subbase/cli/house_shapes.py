"""The shapes of what commands print on the house around the control: where it goes, and how it is set."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from subbase.cli.data_shapes import Shape

# --- site ------------------------------------------------------------------------------------------------------------


class FindingOfPlaceShape(Shape):
    """One thing said of a place."""

    weight: Literal["rules out", "against", "for", "note"]
    about: Literal["sun", "wall", "air", "heat", "reach", "radio"]
    text: str
    source: str


class SunDayShape(Shape):
    """A day with the sun on the place."""

    date: str
    minutes: int
    from_: str = Field(alias="from")
    to: str


class SunShape(Shape):
    """Direct sun on a place over a year."""

    hours: float
    bright_hours: float | None = Field(description="Of these in clear weather; null without weather.")
    days: int
    worst: list[SunDayShape]
    shaded_along_m: float | None = Field(description="Where along the same wall no sun falls.")
    by_month_and_hour: dict[str, list[float]] = Field(description="Month -> hours of sun in each hour of the day.")


class RadioShape(Shape):
    """The radio path to a place."""

    grade: Literal["carries", "should carry", "doubtful", "weak", "does not carry"]
    measured: bool
    level_dbm: Annotated[list[int], Field(min_length=2, max_length=2)]
    walls: list[str]
    floors: int


class PlaceShape(Shape):
    """One place for the control."""

    name: str
    room: str
    wall: int | str
    along_m: float
    height_m: float
    ruled_out: bool
    findings: list[FindingOfPlaceShape]
    sun: SunShape | None
    radio: RadioShape | None
    cable: list[str] = Field(description="How the cable gets there.")


class SiteShape(Shape):
    """``subbase site --json``."""

    format: Literal[1]
    name: str
    outcome: Literal["place", "elsewhere", "none", "question"]
    best: str | None
    advice: list[str]
    questions: list[str]
    places: list[PlaceShape] = Field(description="Best first.")
    found: list[PlaceShape] = Field(description="Places that were looked for when none given is good.")
    cautions: list[FindingOfPlaceShape]
    taken: list[str] = Field(description="What was taken where the file does not say.")


# --- tune ------------------------------------------------------------------------------------------------------------


class SettingShape(Shape):
    """One setting of the control, with its reason."""

    key: str
    name: str
    value: str
    number: float | None
    unit: str
    why: str
    source: str
    ask: str = Field(description="What to find out for a better value; empty when nothing.")


class SlotShape(Shape):
    """From when which temperatures hold."""

    from_: str = Field(alias="from")
    heat_f: float | None
    cool_f: float | None


class FirstScheduleShape(Shape):
    """The schedule that a house of which nothing is known begins with."""

    every_day: list[SlotShape]
    why: str
    source: str


class SpreadShape(Shape):
    """A value with its spread."""

    low: float
    middle: float
    high: float


class HouseOfYearShape(Shape):
    """The house that the year was run with."""

    loss_w_k: SpreadShape
    time_constant_h: SpreadShape
    by_log: bool
    coldest_hours_w: float


class WeekStepShape(Shape):
    """A change of the week's schedule; days count from Monday, 0."""

    day: int
    from_: str = Field(alias="from")
    heat_c: float | None
    cool_c: float | None


class CurveShape(Shape):
    """Cost and comfort against the depth of setback, in one way of recovery."""

    cost: list[float]
    strip_h: list[float]
    too_cold_h: list[float]
    saves_most_at_k: float
    saving_eaten_at_k: float | None


class AdvisedShape(Shape):
    """The setback advised."""

    recovery: str
    depth_k: float


class SetbackShape(Shape):
    """What depth of setback does."""

    depths_k: list[float]
    curves: dict[str, CurveShape] = Field(description="Way of recovery -> its curve.")
    advised: AdvisedShape


class BalanceShape(Shape):
    """Outdoor temperatures at which the heat pump just carries the house, and at which the fuel is as cheap."""

    thermal_c: float | Literal["always", "never"]
    economic_c: float | Literal["always", "never"] | None


class YearShape(Shape):
    """A year of the house with the control in the loop."""

    weather: str
    weather_made_up: bool
    answers: dict[str, Any] = Field(description="What was known or taken, in SI.")
    house: HouseOfYearShape
    reckoned_with: list[str]
    schedules: dict[str, dict[str, float]] = Field(description="Schedule -> cost, energy, comfort, starts of the year.")
    saving: dict[str, SpreadShape] = Field(description="Schedule -> money against the flat one.")
    week: list[WeekStepShape]
    setback: SetbackShape | None = None
    balance: BalanceShape | None = None


class BoundedShape(Shape):
    """A value with its 95 % bounds."""

    value: float
    low: float
    high: float


class LogShape(Shape):
    """What a log tells; when it tells nothing, only the reasons."""

    tells: bool
    reasons: list[str] | None = None
    lift_k: BoundedShape | None = None
    gain_lift_k: BoundedShape | None = None
    slow_h: BoundedShape | None = None
    fast_h: BoundedShape | None = None
    loss_w_k: BoundedShape | None = None
    capacity_j_k: BoundedShape | None = None
    gain_w: BoundedShape | None = None
    hours: float | None = None
    doubts: list[str] | None = None


class TunedShape(Shape):
    """One control."""

    control: str
    heat: Literal["none", "heat pump", "warm air from a burner", "hot water", "steam", "electric"]
    settings: list[SettingShape]
    to_find_out: list[str]
    first_schedule: FirstScheduleShape
    year: YearShape | None = Field(default=None, description="With --know.")
    log: LogShape | None = Field(default=None, description="With --log.")


class TuneShape(Shape):
    """``subbase tune --json``."""

    format: Literal[1]
    survey: str
    controls: list[TunedShape]
