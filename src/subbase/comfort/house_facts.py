"""What the settings need of a house that is known by answers: load line, heat pump, prices."""

from __future__ import annotations

from dataclasses import replace

from subbase.comfort.answers import Answers
from subbase.comfort.balance import LoadLine
from subbase.comfort.equipment import HeatPumpRating
from subbase.comfort.setting_records import Facts
from subbase.comfort.study import House, load_of


def facts_of(answers: Answers, house: House, facts: Facts) -> Facts:
    """Return what the settings need of the house; what was given apart comes first."""
    load: LoadLine = facts.load or load_of(house, answers)
    rating = facts.rating
    if rating is None and answers.capacity is not None and answers.power is not None:
        rating = HeatPumpRating(*answers.capacity, *answers.power, 0.0, 0.0)
    prices = answers.prices()
    return replace(
        facts,
        load=load,
        rating=rating,
        electricity_per_kwh=facts.electricity_per_kwh or min(prices.electricity_per_kwh),
        fuel_per_therm=facts.fuel_per_therm or answers.fuel,
        fuel_efficiency=facts.fuel_efficiency or answers.efficiency,
    )
