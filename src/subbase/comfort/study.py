"""Everything that is worked out for one control in one house: its schedules side by side, its setback, its bounds.

``study`` runs in a few seconds: it sizes what is not known, searches the cheapest week, runs the year of each schedule,
the cost of every depth of setback and a spread of houses that fit the same answers. Where there is a log those houses are
scaled to behave as it says.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.answers import Answers
from subbase.comfort.balance import LoadLine, break_even_cop, economic_balance_c, thermal_balance_c
from subbase.comfort.equipment import F17_C, F47_C, HeatPumpRating
from subbase.comfort.feeling import Feeling, at_home
from subbase.comfort.fitted import Target, fit, fitted, targets_of
from subbase.comfort.habits import Pattern, by_the_clock, flat
from subbase.comfort.house import HouseBelief, believe, quantiles, sample, typical
from subbase.comfort.learn import CannotTell, Learnt, learn
from subbase.comfort.log_reading import HouseLog
from subbase.comfort.loop import SLOTS_PER_H, Case, run_minutes, run_year
from subbase.comfort.network import SUBURB_WIND, Plant, plant_of
from subbase.comfort.optimise import Found, cheapest_week
from subbase.comfort.outcomes import Outcome, Scene, outcomes, savings
from subbase.comfort.recovery import early_start
from subbase.comfort.served import Served, Wired, served
from subbase.comfort.setback import SetbackStudy, setback_study
from subbase.comfort.setting_records import Heat
from subbase.comfort.sun_on_windows import DRIVES, Drive, drive_of
from subbase.comfort.weather import Floats, WeatherYear
from subbase.words import _

FLAT, CLOCK, EARLY, BEST = "flat", "setback by the clock", "setback, started early", "cheapest found"
"""Schedules: the wishes held day and night; the usual setback; the same by a control that starts early by itself; the
cheapest that a plain control can follow."""
SPREAD_HOUSES = 24
HOUSES = 240
SEED = 1
COLD_DAY_SHARE = 0.06
"""The typical cold day: about as many days of the year are colder."""
CHART_STEP_MIN = 5
Told = Callable[[str], None]


@dataclass(frozen=True, slots=True)
class Range:
    """A result over houses that fit the same answers: one in ten is below ``low``, one in ten above ``high``."""

    low: float
    middle: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class ColdDay:
    """One day, every five minutes."""

    day: int
    """Of the year, 0 is 1 January."""
    hours: Floats
    """(288,) of the day."""
    outdoor_c: Floats
    """(25,) at whole hours."""
    air_c: dict[str, Floats]
    """Schedule -> (288,)."""
    set_c: dict[str, Floats]
    """Schedule -> (96,) heating setpoint."""


@dataclass(frozen=True, slots=True)
class Balance:
    """A heat pump against its house."""

    rating: HeatPumpRating
    load: LoadLine
    load_low: LoadLine
    load_high: LoadLine
    thermal_c: float
    economic_c: float | None
    """None where there is no second fuel."""


@dataclass(frozen=True, slots=True, eq=False)
class House:
    """The house as far as it is known."""

    belief: HouseBelief
    plant: Plant
    spread: tuple[Plant, ...]
    """Other houses that fit as well."""
    loss_w_k: Range
    slow_h: Range
    by_log: bool


@dataclass(frozen=True, slots=True, eq=False)
class Study:
    """Everything for one control."""

    control: str
    answers: Answers
    place: str
    made_up: bool
    """Whether the weather is."""
    house: House
    served: Served
    best: Found
    patterns: dict[str, Pattern]
    outcomes: dict[str, Outcome]
    saving: dict[str, Range]
    """Schedule -> what it saves a year against the flat one."""
    setback: SetbackStudy | None
    cold_day: ColdDay | None
    net_w: NDArray[np.float32]
    """(8760,) heat given, cooling below 0, by the cheapest schedule found."""
    balance: Balance | None
    winter: Feeling
    """At the wish for those who are home."""
    summer: Feeling
    controls: int = 1
    """How many controls share the house; everything here is of the whole of it."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Weather made ready, shared by all controls of a house."""

    weather: WeatherYear
    drive: Drive
    made_up: bool

    @property
    def wind_m_s(self) -> float:
        """Return the year's mean wind by the walls."""
        return SUBURB_WIND * float(self.weather.wind_m_s.mean())


def place_of(weather: WeatherYear, *, made_up: bool = False) -> Place:
    """Return a year's weather with the sun put on the house."""
    return Place(weather, drive_of(weather), made_up)


def house_of(answers: Answers, place: Place, learnt: Learnt | CannotTell | None = None) -> House:
    """Return the house that fits the answers, and the log where it tells something."""
    belief = believe(answers.house(place.weather.site.elevation_m))
    if isinstance(learnt, Learnt) and learnt.loss_w_k is not None:
        middle = Target(learnt.loss_w_k.value, learnt.slow_h.value)
        plant = fit(belief.facts, belief.medians, middle, place.wind_m_s)
        targets = targets_of(learnt.loss_w_k, learnt.slow_h, SPREAD_HOUSES, SEED)
        return _house(belief, plant, fitted(belief, targets, place.wind_m_s, SEED), by_log=True)
    drawn = [plant_of(building, place.wind_m_s) for building in sample(belief, HOUSES, SEED)]
    drawn.sort(key=lambda one: one.loss_w_k)
    # Evenly by rank, so that few houses spread as many would.
    ranks = ((np.arange(SPREAD_HOUSES) + 0.5) / SPREAD_HOUSES * HOUSES).astype(int)
    plant = plant_of(typical(belief.facts), place.wind_m_s)
    return _house(belief, plant, tuple(drawn[rank] for rank in ranks), by_log=False)


def _house(belief: HouseBelief, plant: Plant, plants: tuple[Plant, ...], *, by_log: bool) -> House:
    losses = np.array([one.loss_w_k for one in plants])
    slows = np.array([one.time_constant_s / 3600.0 for one in plants])
    return House(belief, plant, plants, Range(*quantiles(losses)), Range(*quantiles(slows)), by_log)


def load_of(house: House, answers: Answers, plant: Plant | None = None) -> LoadLine:
    """Return heat lost against outdoor temperature; gains without sun, because the coldest hours are dark."""
    plant = plant or house.plant
    lift_k = float(plant.steady_air_k()[DRIVES.index("internal")])
    return LoadLine(plant.loss_w_k, answers.heat_to - lift_k)


def study(
    control: str, answers: Answers, house: House, place: Place, wired: Wired, say: Told = lambda _words: None
) -> Study:
    """Return everything for one control; ``say`` is told what is being done."""
    say(_("The equipment is sized."))
    kit = served(wired, answers, house.plant, place.drive)
    scene = Scene(
        house.plant, kit.equipment, place.drive, answers.habits(), answers.wishes(), answers.prices(), kit.control
    )
    say(_("The cheapest week is searched, a year at a time."))
    best = cheapest_week(scene)
    patterns = {FLAT: flat(scene.wishes), CLOCK: by_the_clock(scene.habits, scene.wishes), BEST: best.pattern}
    say(_("The schedules are run side by side."))
    strips = kit.strips_w > 0.0 and wired.heat is Heat.HEAT_PUMP
    early = scene
    if wired.heat is not Heat.NONE:
        early_control = early_start(
            kit.control, house.plant, kit.equipment, set_c=scene.wishes.heat_c, spare_auxiliary=strips
        )
        early = replace(scene, control=early_control)
        patterns = {FLAT: patterns[FLAT], CLOCK: patterns[CLOCK], EARLY: patterns[CLOCK], BEST: patterns[BEST]}
    found = outcomes(scene, {name: one for name, one in patterns.items() if name != EARLY})
    if EARLY in patterns:
        found[EARLY] = outcomes(early, {EARLY: patterns[EARLY]})[EARLY]
    say(_("Other houses that fit the answers are run."))
    saving = {}
    for name in [name for name in patterns if name != FLAT]:
        scenes = [replace(early if name == EARLY else scene, plant=plant) for plant in house.spread]
        before, after = savings(scenes, patterns[FLAT], patterns[name])
        saving[name] = Range(*quantiles(before - after))
    say(_("Every depth of setback is run."))
    heats = wired.heat is not Heat.NONE
    year = run_year(Case(scene.plant, scene.equipment, best.pattern.setpoints(), scene.control), scene.drive)
    assert year.hourly is not None
    return Study(
        control=control,
        answers=answers,
        place=place.weather.site.name,
        made_up=place.made_up,
        house=house,
        served=kit,
        best=best,
        patterns=patterns,
        outcomes={name: found[name] for name in patterns},
        saving=saving,
        setback=setback_study(scene, has_strips=strips) if heats else None,
        cold_day=cold_day(scene, early, patterns) if heats else None,
        net_w=(year.hourly.heat_w - year.hourly.cool_w)[0],
        balance=_balance(house, answers, kit, wired),
        winter=at_home(answers.heat_to, summer=False),
        summer=at_home(answers.cool_to, summer=True),
    )


def cold_day(scene: Scene, early: Scene, patterns: dict[str, Pattern]) -> ColdDay:
    """Return a cold weekday under every schedule; ``early`` has the control that starts early."""
    means = scene.drive.outdoor_c.reshape(-1, 24).mean(axis=1)
    order = np.argsort(means)
    # A weekday, so that all of the schedule is to be seen; the year begins on a Monday.
    rank = int(COLD_DAY_SHARE * len(order))
    day = int(next(d for d in order[rank:] if d % 7 < 5 and d > 0))
    rows = slice(CHART_STEP_MIN - 1, None, CHART_STEP_MIN)
    air, told = {}, {}
    for name, pattern in patterns.items():
        setpoints = pattern.setpoints()
        control = early.control if name == EARLY else scene.control
        case = Case(scene.plant, scene.equipment, setpoints, control)
        air[name] = run_minutes(case, scene.drive, day * 24, 24).air_c[rows].copy()
        told[name] = setpoints.heat_c[day * 24 * SLOTS_PER_H : (day + 1) * 24 * SLOTS_PER_H].copy()
    hours = np.arange(1, 24 * 60 // CHART_STEP_MIN + 1) * CHART_STEP_MIN / 60.0
    outdoor_c = np.take(scene.drive.values[:, 0], np.arange(day * 24 - 1, day * 24 + 24))
    return ColdDay(day, hours, outdoor_c, air, told)


def _balance(house: House, answers: Answers, kit: Served, wired: Wired) -> Balance | None:
    if kit.rating is None:
        return None
    load = load_of(house, answers)
    losses = house.loss_w_k
    economic = None
    if wired.second_fuel:
        economic = economic_balance_c(
            kit.rating, break_even_cop(min(answers.prices().electricity_per_kwh), answers.fuel, answers.efficiency)
        )
    return Balance(
        rating=kit.rating,
        load=load,
        load_low=replace(load, loss_w_k=losses.low),
        load_high=replace(load, loss_w_k=losses.high),
        thermal_c=thermal_balance_c(kit.rating, load),
        economic_c=economic,
    )


def learn_from(log: HouseLog, answers: Answers | None, heat: Heat) -> Learnt | CannotTell:
    """Return what a log tells; watts only where the output stands in the answers.

    A heat pump's output falls with outdoor temperature: its shape is taken from its data sheet, else from a typical one.
    """
    if heat is not Heat.HEAT_PUMP:
        output_w = None
        if answers is not None:
            output_w = answers.heat_output or (
                answers.strips * 1e3 if answers.strips and heat is Heat.ELECTRIC else None
            )
        return learn(log, output_w)
    at_17, at_47 = 0.6, 1.0
    output_w = None
    if answers is not None and answers.capacity is not None:
        output_w = answers.capacity[2]
        at_17 = answers.capacity[0] / answers.capacity[2]
    slope = (at_47 - at_17) / (F47_C - F17_C)
    return learn(log, output_w, output_share=(slope, at_47 - slope * F47_C))
