"""What an installer can find out in five minutes to set a control up: every question declared once.

The web form, ``subbase tune --know`` and its help are made from ``QUESTIONS``. Answers are read in the units of the house's
papers and kept in SI; what is left open has a stated stand-in or is sized from the house.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal

from subbase.comfort.habits import GAP_K, Habits, Span, Wishes
from subbase.comfort.house import Below, HouseFacts, Insulation, Mass, insulation_of_year
from subbase.comfort.prices import GAS_KG_PER_THERM, GRID_KG_PER_KWH, Prices
from subbase.errors import Fault, InputError
from subbase.words import _, mark

Units = Literal["us", "si"]
Kind = Literal[
    "area", "temperature", "power", "number", "count", "share", "choice", "time", "span", "triple", "triple_w"
]
M2_PER_FT2 = 0.09290304
W_PER_BTU_H = 0.29307107
WORDS = {
    ("area", "us"): "ft²", ("area", "si"): "m²", ("temperature", "us"): "°F", ("temperature", "si"): "°C",
    ("power", "us"): "Btu/h", ("power", "si"): "kW", ("triple", "us"): "Btu/h", ("triple", "si"): "kW",
    ("triple_w", "us"): "W", ("triple_w", "si"): "W", ("share", "us"): "%", ("share", "si"): "%",
}  # fmt: skip
F60_C, F62_C, F78_C, F85_C = ((f - 32) / 1.8 for f in (60, 62, 78, 85))
DAYS = {"weekdays": (0, 1, 2, 3, 4), "every day": tuple(range(7)), "never": ()}
FACINGS = {
    "all": (0.25, 0.25, 0.25, 0.25), "north": (0.52, 0.16, 0.16, 0.16), "east": (0.16, 0.52, 0.16, 0.16),
    "south": (0.16, 0.16, 0.52, 0.16), "west": (0.16, 0.16, 0.16, 0.52),
}  # fmt: skip
"""North, east, south, west: most of the glass on one side [judgement]."""


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask."""

    key: str
    group: str
    label: str
    kind: Kind
    hint: str = ""
    default: Any = None
    """In SI; None where nothing stands in."""
    low: float = 0.0
    high: float = 1e9
    """In SI."""
    choices: tuple[tuple[str, str], ...] = ()
    """(value, words)."""
    unit: str = ""
    """Of a plain number."""

    def unit_words(self, units: Units) -> str:
        """Return the unit in which it is asked."""
        return self.unit or WORDS.get((self.kind, units), "")

    def shown(self, value: Any, units: Units) -> str:
        """Return a value in SI as it is typed."""
        if value is None:
            return ""
        if isinstance(value, tuple):
            return ",".join(self._number(v, units) for v in value)
        if isinstance(value, Span):
            return f"{_clock(value.start_min)}-{_clock(value.end_min)}" if value.start_min != value.end_min else _NEVER
        return self._number(value, units) if isinstance(value, int | float) else str(value)

    def _number(self, value: float, units: Units) -> str:
        shown = _from_si(float(value), self.kind, units)
        return f"{shown:.0f}" if abs(shown) >= 100.0 else f"{round(shown, 4 if abs(shown) < 10.0 else 1):g}"


_NEVER = "never"
HOUSE, PEOPLE, EQUIPMENT, PRICES, PLACE = (
    mark("The house"), mark("The people"), mark("The equipment"), mark("The prices"), mark("The weather"),
)  # fmt: skip
QUESTIONS: tuple[Question, ...] = (
    Question("area", HOUSE, mark("Heated floor area, all storeys"), "area", low=10.0, high=3000.0),
    Question("storeys", HOUSE, mark("Storeys"), "count", default=1, low=1, high=4),
    Question("built", HOUSE, mark("Year built"), "count", mark("Stands in for the insulation where that is not known."), low=1700, high=2100),
    Question(
        "insulation", HOUSE, mark("Insulation"), "choice", mark("By what you see in the attic and at the windows."),
        choices=tuple((level.value, mark(level.value)) for level in Insulation),
    ),
    Question("windows", HOUSE, mark("Window area"), "area", mark("About 15 % of the floor where nobody measured."), low=0.5, high=1500.0),
    Question(
        "glass_faces", HOUSE, mark("Most of the glass faces"), "choice", default="all",
        choices=(("all", mark("all sides alike")), ("north", mark("north")), ("east", mark("east")), ("south", mark("south")), ("west", mark("west"))),
    ),
    Question(
        "inside", HOUSE, mark("Made of"), "choice", default="light",
        choices=(("light", mark("frame and plasterboard")), ("medium", mark("frame and thick plaster")), ("heavy", mark("masonry or bare concrete inside"))),
    ),
    Question("below", HOUSE, mark("Below the lowest heated floor"), "choice", default="basement", choices=tuple((b.value, mark(b.value)) for b in Below)),
    Question("people", HOUSE, mark("People"), "count", default=3, low=0, high=20),
    Question("asleep", PEOPLE, mark("Asleep"), "span", mark("From-until: 22:30-06:30."), default=Span(1350, 390)),
    Question("away", PEOPLE, mark("Nobody home"), "span", mark("From-until, or never: 08:00-17:00."), default=Span(480, 1020)),
    Question(
        "away_days", PEOPLE, mark("Nobody home on"), "choice", default="weekdays",
        choices=(("weekdays", mark("Monday to Friday")), ("every day", mark("every day")), ("never", mark("no day"))),
    ),
    Question("heat_to", PEOPLE, mark("Warm enough when home"), "temperature", default=20.0, low=10.0, high=30.0),
    Question("heat_asleep", PEOPLE, mark("Warm enough asleep"), "temperature", default=F62_C, low=7.0, high=30.0),
    Question("heat_away", PEOPLE, mark("Warm enough for the empty house"), "temperature", mark("Not under 55 °F (13 °C): pipes in outer walls."), default=F60_C, low=7.0, high=30.0),
    Question("cool_to", PEOPLE, mark("Cool enough when home"), "temperature", default=F78_C, low=18.0, high=35.0),
    Question("cool_asleep", PEOPLE, mark("Cool enough asleep"), "temperature", default=F78_C, low=18.0, high=35.0),
    Question("cool_away", PEOPLE, mark("Cool enough for the empty house"), "temperature", default=F85_C, low=18.0, high=40.0),
    Question("heat_output", EQUIPMENT, mark("Heat output, nameplate"), "power", mark("Of the furnace, boiler or strips. Sized from the house where left out."), low=500.0, high=500e3),
    Question("efficiency", EQUIPMENT, mark("Efficiency of the burner"), "share", mark("AFUE on the nameplate."), default=0.8, low=0.4, high=1.0),
    Question("capacity", EQUIPMENT, mark("Heat pump's heat at 17, 35 and 47 °F"), "triple", mark("From the data sheet, three numbers with commas."), low=500.0, high=300e3),
    Question("power", EQUIPMENT, mark("What it draws there"), "triple_w", mark("Three numbers with commas."), low=100.0, high=100e3),
    Question("strips", EQUIPMENT, mark("Electric strips, all together"), "number", unit="kW", low=0.0, high=100.0),
    Question("cool_output", EQUIPMENT, mark("Cooling capacity, nameplate"), "power", mark("Sized from the house where left out."), low=500.0, high=300e3),
    Question("electricity", PRICES, mark("Electricity, a kWh"), "number", default=0.17, low=0.001, high=1000.0),
    Question("peak", PRICES, mark("Electricity in dear hours, a kWh"), "number", mark("Leave empty where every hour costs the same."), low=0.001, high=1000.0),
    Question("peak_hours", PRICES, mark("Dear hours"), "span", mark("Whole hours: 16:00-21:00."), default=Span(960, 1260)),
    Question(
        "peak_days", PRICES, mark("Dear on"), "choice", default="weekdays",
        choices=(("weekdays", mark("Monday to Friday")), ("every day", mark("every day"))),
    ),
    Question("fuel", PRICES, mark("Fuel, a therm (100,000 Btu)"), "number", default=1.5, low=0.001, high=1000.0),
    Question("carbon_electricity", PRICES, mark("Carbon dioxide of a kWh of electricity"), "number", mark("Mean of the United States grid; yours may be a third or double."), default=GRID_KG_PER_KWH, low=0.0, high=3.0, unit="kg"),
    Question("carbon_fuel", PRICES, mark("Carbon dioxide of a therm of fuel"), "number", mark("Natural gas, burnt."), default=GAS_KG_PER_THERM, low=0.0, high=50.0, unit="kg"),
    Question("winter", PLACE, mark("Mean of the coldest month"), "temperature", mark("Used where no weather file is given: a made-up year."), default=-2.0, low=-40.0, high=30.0),
    Question("summer", PLACE, mark("Mean of the warmest month"), "temperature", default=23.5, low=-10.0, high=45.0),
    Question("latitude", PLACE, mark("Latitude"), "number", default=40.0, low=-66.0, high=66.0, unit="°"),
)  # fmt: skip
BY_KEY = {question.key: question for question in QUESTIONS}


@dataclass(frozen=True, slots=True)
class Answers:
    """What was found out, in SI; None where nothing was and nothing stands in."""

    area: float
    storeys: int = 1
    built: int | None = None
    insulation: str | None = None
    windows: float | None = None
    glass_faces: str = "all"
    inside: str = "light"
    below: str = "basement"
    people: int = 3
    asleep: Span = Span(1350, 390)  # noqa: RUF009 - frozen
    away: Span = Span(480, 1020)  # noqa: RUF009 - frozen
    away_days: str = "weekdays"
    heat_to: float = 20.0
    heat_asleep: float = F62_C
    heat_away: float = F60_C
    cool_to: float = F78_C
    cool_asleep: float = F78_C
    cool_away: float = F85_C
    heat_output: float | None = None
    efficiency: float = 0.8
    capacity: tuple[float, float, float] | None = None
    power: tuple[float, float, float] | None = None
    strips: float | None = None
    """kW."""
    cool_output: float | None = None
    electricity: float = 0.17
    peak: float | None = None
    peak_hours: Span = Span(960, 1260)  # noqa: RUF009 - frozen
    peak_days: str = "weekdays"
    fuel: float = 1.5
    carbon_electricity: float = GRID_KG_PER_KWH
    carbon_fuel: float = GAS_KG_PER_THERM
    winter: float = -2.0
    summer: float = 23.5
    latitude: float = 40.0

    @property
    def level(self) -> Insulation:
        """Return the insulation: as seen, by the year, or ordinary."""
        if self.insulation is not None:
            return Insulation(self.insulation)
        return insulation_of_year(self.built) if self.built is not None else Insulation.ORDINARY

    def house(self, elevation_m: float = 0.0) -> HouseFacts:
        """Return the facts of the house."""
        return HouseFacts(
            floor_area_m2=self.area,
            storeys=self.storeys,
            insulation=self.level,
            window_area_m2=self.windows,
            window_shares=FACINGS[self.glass_faces],
            mass=Mass(self.inside),
            below=Below(self.below),
            people=self.people,
            elevation_m=elevation_m,
        )

    def habits(self) -> Habits:
        """Return when people sleep and when nobody is home."""
        return Habits(self.asleep, self.away, DAYS[self.away_days] if self.away.start_min != self.away.end_min else ())

    def wishes(self) -> Wishes:
        """Return what people want."""
        return Wishes(self.heat_to, self.heat_asleep, self.heat_away, self.cool_to, self.cool_asleep, self.cool_away)

    def prices(self) -> Prices:
        """Return what is paid."""
        week: tuple[float, ...] = (self.electricity,)
        if self.peak is not None:
            hours = [hour for hour in range(24) if self.peak_hours.holds(60 * hour)]
            days = range(5) if self.peak_days == "weekdays" else range(7)
            week = tuple(
                self.peak if day in days and hour in hours else self.electricity
                for day in range(7)
                for hour in range(24)
            )
        return Prices(week, self.fuel, self.carbon_electricity, self.carbon_fuel)


def read_answers(given: Mapping[str, str], units: Units) -> Answers:
    """Return answers from what was typed; an empty text is no answer.

    Raises
    ------
    InputError
        With everything that cannot be: which question, what was typed, what would be right.
    """
    faults: list[Fault] = []
    values: dict[str, Any] = {}
    for key, text in given.items():
        question = BY_KEY.get(key)
        if question is None:
            words = _("There is no such question; there are: {keys}.").format(keys=", ".join(BY_KEY))
            faults.append(Fault(words, key))
        elif text.strip():
            try:
                values[key] = _read(question, text.strip(), units)
            except ValueError as error:
                faults.append(Fault(str(error), key))
    if "area" not in values and not any(fault.where == "area" for fault in faults):
        faults.append(
            Fault(_("The heated floor area must be known: without it there is no house to reckon with."), "area")
        )
    if not faults:
        found = Answers(**values)
        faults += _together(found)
        if not faults:
            return found
    raise InputError(tuple(faults))


def stored(answers: Answers) -> dict[str, Any]:
    """Return answers as plain JSON values in SI."""
    found: dict[str, Any] = {}
    for field in fields(answers):
        value = getattr(answers, field.name)
        if isinstance(value, Span):
            value = [value.start_min, value.end_min]
        found[field.name] = list(value) if isinstance(value, tuple) else value
    return found


def restored(data: Mapping[str, Any]) -> Answers | None:
    """Return answers from plain JSON values; None when they are of another version."""
    try:
        values: dict[str, Any] = {name: _restored(BY_KEY[name], value) for name, value in data.items()}
        found = Answers(**values)
        found.house()
    except (KeyError, TypeError, ValueError):
        return None
    return found


def _restored(question: Question, value: Any) -> Any:
    if question.kind == "span":
        return Span(*value)
    return tuple(value) if isinstance(value, list) else value


def typed(answers: Answers | None, units: Units) -> dict[str, str]:
    """Return answers as they are typed, or the stand-ins where there are none."""
    return {
        question.key: question.shown(getattr(answers, question.key) if answers else question.default, units)
        for question in QUESTIONS
    }


def _together(found: Answers) -> list[Fault]:
    faults = []
    if found.windows is not None and found.windows > found.area:
        faults.append(Fault(_("There cannot be more windows than floor."), "windows"))
    if not found.heat_asleep <= found.heat_to or not found.heat_away <= found.heat_to:
        faults.append(Fault(_("Asleep and away it may be cooler than at home, not warmer."), "heat_to"))
    if not found.cool_asleep >= found.cool_to or not found.cool_away >= found.cool_to:
        faults.append(Fault(_("Asleep and away it may be warmer than at home in summer, not cooler."), "cool_to"))
    if found.cool_to < found.heat_to + GAP_K - 0.01:
        faults.append(
            Fault(_("Heating and cooling need 5 °F (2.8 °C) between them, or they work against each other."), "cool_to")
        )
    if (found.capacity is None) != (found.power is None):
        faults.append(Fault(_("The heat pump's heat and what it draws stand on one data sheet; give both."), "power"))
    if found.winter >= found.summer:
        faults.append(Fault(_("The coldest month must be colder than the warmest."), "winter"))
    if found.peak is not None and found.peak_hours.start_min == found.peak_hours.end_min:
        faults.append(Fault(_("A price of dear hours needs the hours."), "peak_hours"))
    return faults


def _read(question: Question, text: str, units: Units) -> Any:
    if question.kind == "choice":
        for value, words in question.choices:
            if text.lower() in (value, words.lower(), _(words).lower()):
                return value
        raise ValueError(
            _("{text!r} is none of: {choices}.").format(
                text=text[:40], choices=", ".join(v for v, _w in question.choices)
            )
        )
    if question.kind == "span":
        return _read_span(text)
    if question.kind in ("triple", "triple_w"):
        found = tuple(_read_number(question, part, units) for part in text.split(","))
        if len(found) != 3:
            raise ValueError(_("Three numbers are needed, at 17, 35 and 47 °F: 22000,31000,36000."))
        return found
    number = _read_number(question, text, units)
    if question.kind == "count" and number != int(number):
        raise ValueError(_("{text!r} must be a whole number.").format(text=text[:40]))
    return int(number) if question.kind == "count" else number


def _read_number(question: Question, text: str, units: Units) -> float:
    try:
        number = float(text.strip())
    except ValueError:
        number = math.nan
    if not math.isfinite(number):
        raise ValueError(_("{text!r} is no number.").format(text=text.strip()[:40]))
    value = _to_si(number, question.kind, units)
    slack = 1e-9 * max(abs(question.low), abs(question.high))
    if not question.low - slack <= value <= question.high + slack:
        unit = question.unit_words(units)
        words = _("{text} lies outside {low} to {high} {unit}.") if unit else _("{text} lies outside {low} to {high}.")
        low, high = (question.shown(end, units) for end in (question.low, question.high))
        raise ValueError(words.format(text=text.strip()[:40], low=low, high=high, unit=unit))
    return value


def _read_span(text: str) -> Span:
    if text.lower() in (_NEVER, _("never")):
        return Span(0, 0)
    match = re.fullmatch(r"(\d{1,2}):?(\d{2})?\s*(?:-|–|to)\s*(\d{1,2}):?(\d{2})?", text)
    if match:
        hours = [int(match[1]), int(match[3])]
        minutes = [int(match[2] or 0), int(match[4] or 0)]
        if all(h <= 24 for h in hours) and all(m < 60 for m in minutes):
            start, end = ((60 * h + m) % 1440 for h, m in zip(hours, minutes, strict=True))
            if start != end:
                return Span(start - start % 15, end - end % 15)
    raise ValueError(_("{text!r} is no time from-until; write it as 22:30-06:30, or never.").format(text=text[:40]))


def _clock(minute: int) -> str:
    return f"{minute // 60:02}:{minute % 60:02}"


def _to_si(value: float, kind: Kind, units: Units) -> float:
    if kind == "share":
        return value / 100.0 if value > 1.0 else value
    if units == "si":
        return value * 1000.0 if kind in ("power", "triple") else value
    factor = {"area": M2_PER_FT2, "power": W_PER_BTU_H, "triple": W_PER_BTU_H}
    return (value - 32.0) / 1.8 if kind == "temperature" else value * factor.get(kind, 1.0)


def _from_si(value: float, kind: Kind, units: Units) -> float:
    if kind == "share":
        return value * 100.0
    if units == "si":
        return value / 1000.0 if kind in ("power", "triple") else value
    factor = {"area": M2_PER_FT2, "power": W_PER_BTU_H, "triple": W_PER_BTU_H}
    return value * 1.8 + 32.0 if kind == "temperature" else value / factor.get(kind, 1.0)


__all__ = ["BY_KEY", "QUESTIONS", "Answers", "Question", "Units", "read_answers", "restored", "stored", "typed"]
