"""The shape of how a control is set, and of the year of its house: SI where the name bears a unit, English keys."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, WithJsonSchema

from subbase.comfort.answers import stored
from subbase.comfort.learn import CannotTell, Learnt
from subbase.comfort.outcomes import Outcome
from subbase.comfort.setback import SetbackStudy
from subbase.comfort.setting_records import Tuning
from subbase.comfort.study import Study
from subbase.papers.data_shape import Name, Shape, Texts, Told, rounded
from subbase.papers.tune_tables import best_week

Digits = Annotated[float, AfterValidator(lambda value: float(f"{value:.5g}"))]
Celsius = Annotated[float | None, rounded(2)]
Number = Annotated[int | float, WithJsonSchema({"type": "number"})]
"""A whole number is written without a point."""
Row = BeforeValidator(lambda values: values.tolist() if hasattr(values, "tolist") else values)
"""What takes numbers in bulk."""


def _bent(value: float | None) -> float | str | None:
    if value is None or math.isfinite(value):
        return None if value is None else round(value, 2)
    return "always" if value > 0 else "never"


class SettingShape(Shape):
    """One setting of the control, with its reason."""

    key: str
    name: str
    value: str
    number: Number | None = Field(description="Null where the value is no number.")
    unit: str
    why: str
    source: str
    ask: str = Field(description="What to find out for a better value; empty when nothing.")


class SlotShape(Shape):
    """From when which temperatures hold."""

    from_: str = Field(validation_alias="at", serialization_alias="from")
    heat_f: float | None
    cool_f: float | None


class FirstScheduleShape(Shape):
    """The schedule that a house of which nothing is known begins with."""

    every_day: tuple[SlotShape, ...] = Field(validation_alias="first_schedule")
    why: str = Field(validation_alias="schedule_why")
    source: str = Field(validation_alias="schedule_source")


class SpreadShape(Shape):
    """A value with its spread."""

    low: Digits
    middle: Digits
    high: Digits


class HouseOfYearShape(Shape):
    """The house that the year was run with."""

    loss_w_k: SpreadShape
    time_constant_h: SpreadShape = Field(validation_alias="slow_h")
    by_log: bool
    coldest_hours_w: Number


class WeekStepShape(Shape):
    """A change of the week's schedule; days count from Monday, 0."""

    day: int
    from_: str = Field(validation_alias="at", serialization_alias="from")
    heat_c: Celsius
    cool_c: Celsius


class CurveShape(Shape):
    """Cost and comfort against the depth of setback, in one way of recovery."""

    cost: Annotated[tuple[Annotated[float, rounded(2)], ...], Row]
    strip_h: Annotated[tuple[Annotated[float, rounded(1)], ...], Row]
    too_cold_h: Annotated[tuple[Annotated[float, rounded(2)], ...], Row] = Field(validation_alias="cold_h")
    saves_most_at_k: float
    saving_eaten_at_k: float | None


class AdvisedShape(Shape):
    """The setback advised."""

    recovery: str
    depth_k: float


class SetbackShape(Shape):
    """What depth of setback does."""

    depths_k: Annotated[tuple[float, ...], Row]
    curves: dict[str, CurveShape] = Field(description="Way of recovery -> its curve.")
    advised: AdvisedShape

    @classmethod
    def of(cls, found: SetbackStudy) -> Self:
        """Return a study of setbacks as it is told."""
        way, depth_k = found.advice
        curves = {
            curve.recovery.value: CurveShape.filled(
                curve, saves_most_at_k=found.best_k(curve.recovery), saving_eaten_at_k=found.eaten_k(curve.recovery)
            )
            for curve in found.curves
        }
        return cls.filled(found, curves=curves, advised={"recovery": way.value, "depth_k": depth_k})


Balance = Annotated[float | Literal["always", "never"], BeforeValidator(_bent)]


class BalanceShape(Shape):
    """Outdoor temperatures at which the heat pump just carries the house, and at which the fuel is as cheap."""

    thermal_c: Balance
    economic_c: Balance | None


class YearShape(Shape):
    """A year of the house with the control in the loop."""

    weather: str = Field(validation_alias="place")
    weather_made_up: bool = Field(validation_alias="made_up")
    answers: dict[str, Any] = Field(description="What was known or taken, in SI.")
    house: HouseOfYearShape
    reckoned_with: Texts
    schedules: dict[str, dict[str, Number]] = Field(
        description="Schedule -> cost, energy, comfort, starts of the year."
    )
    saving: dict[str, SpreadShape] = Field(description="Schedule -> money against the flat one.")
    week: tuple[WeekStepShape, ...]
    setback: SetbackShape | None = None
    balance: BalanceShape | None = None

    @classmethod
    def of(cls, found: Study) -> Self:
        """Return everything of a study but its charts."""
        parts = {"setback": found.setback and SetbackShape.of(found.setback), "balance": found.balance}
        return cls.model_validate(
            {
                "place": found.place,
                "made_up": found.made_up,
                "answers": stored(found.answers),
                "house": HouseOfYearShape.filled(found.house, coldest_hours_w=round(found.served.heat_peak_w)),
                "reckoned_with": found.served.told,
                "schedules": {name: outcome_data(outcome) for name, outcome in found.outcomes.items()},
                "saving": found.saving,
                "week": best_week(found).steps,
                **{name: part for name, part in parts.items() if part is not None},
            }
        )


def outcome_data(outcome: Outcome) -> dict[str, float]:
    """Return an outcome as plain data."""
    bill = outcome.bill
    return {
        "cost": round(bill.cost, 2), "electric_kwh": round(bill.electric_kwh, 1), "strip_kwh": round(bill.strip_kwh, 1),
        "cooling_kwh": round(bill.cooling_kwh, 1), "therms": round(bill.therms, 2), "co2_kg": round(bill.co2_kg, 1),
        "heat_kwh": round(outcome.heat_kwh, 1), "cool_kwh": round(outcome.cool_kwh, 1),
        "too_cold_h": round(outcome.cold_h, 2), "too_warm_h": round(outcome.hot_h, 2), "strip_h": round(outcome.strip_h, 2),
        "heat_starts_per_h": round(outcome.heat_starts_per_h, 3), "most_heat_starts_in_an_hour": outcome.most_heat_starts,
        "cool_starts_per_h": round(outcome.cool_starts_per_h, 3), "lowest_c": round(outcome.lowest_c, 2),
    }  # fmt: skip


class BoundedShape(Shape):
    """A value with its 95 % bounds."""

    value: Digits
    low: Digits
    high: Digits


class LogShape(Shape):
    """What a log tells; when it tells nothing, only the reasons."""

    tells: bool
    reasons: Texts | None = None
    lift_k: BoundedShape | None = None
    gain_lift_k: BoundedShape | None = None
    slow_h: BoundedShape | None = None
    fast_h: BoundedShape | None = None
    loss_w_k: BoundedShape | None = None
    capacity_j_k: BoundedShape | None = None
    gain_w: BoundedShape | None = None
    hours: Annotated[float | None, rounded(1)] = None
    doubts: Texts | None = None


class TunedShape(Shape):
    """One control."""

    control: str
    heat: Literal["none", "heat pump", "warm air from a burner", "hot water", "steam", "electric"]
    settings: tuple[SettingShape, ...]
    to_find_out: Texts = Field(validation_alias="questions")
    first_schedule: FirstScheduleShape
    year: YearShape | None = Field(default=None, description="With --know.")
    log: LogShape | None = Field(default=None, description="With --log.")

    @classmethod
    def of(cls, tuning: Tuning, found: Study | None, learnt: Learnt | CannotTell | None) -> Self:
        """Return one control as it is told."""
        parts = {
            "year": found and YearShape.of(found),
            "log": learnt and LogShape.filled(learnt, tells=isinstance(learnt, Learnt)),
        }
        return cls.filled(
            tuning,
            heat=tuning.heat.value,
            first_schedule=FirstScheduleShape.filled(tuning),
            **{name: part for name, part in parts.items() if part is not None},
        )


class TuneShape(Told):
    """``subbase tune --json``."""

    survey: Name
    controls: tuple[TunedShape, ...]
