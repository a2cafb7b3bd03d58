"""A week of setpoints: as a table that any control can take, and as iCalendar text (RFC 5545).

The calendar has no time zone: a setpoint belongs to the clock on the wall, in summer and in winter (RFC 5545, form 1 of
DATE-TIME, "floating").
"""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from subbase.words import _

Unit = Literal["°F", "°C"]
DAY_CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
MINUTES_A_DAY = 24 * 60
MINUTES_A_WEEK = 7 * MINUTES_A_DAY
LINE_OCTETS = 75
"""Longest line of RFC 5545, without its end."""


@dataclass(frozen=True, slots=True, order=True)
class WeekStep:
    """From here on until the next step these setpoints hold; None where there is no such equipment."""

    day: int
    """0 is Monday."""
    minute: int
    """Of the day, 0 to 1439."""
    heat_c: float | None
    cool_c: float | None

    @property
    def at(self) -> str:
        """Return the time of day as 06:30."""
        return f"{self.minute // 60:02}:{self.minute % 60:02}"

    @property
    def of_week(self) -> int:
        """Return the minute of the week."""
        return self.day * MINUTES_A_DAY + self.minute

    @property
    def setpoints(self) -> tuple[float | None, float | None]:
        """Return (heat, cool) [°C]."""
        return self.heat_c, self.cool_c


@dataclass(frozen=True, slots=True)
class Week:
    """A week of steps, in order of time; the last of Sunday holds until the first of Monday."""

    steps: tuple[WeekStep, ...]

    def __post_init__(self) -> None:
        """Hold the steps against the clock.

        Raises
        ------
        ValueError
            No steps, a step outside the week, or steps not in order or twice at one time.
        """
        if not self.steps:
            raise ValueError("A week needs at least one step.")
        for step in self.steps:
            if not (0 <= step.day < 7 and 0 <= step.minute < MINUTES_A_DAY):
                raise ValueError(f"Day {step.day}, minute {step.minute} lies outside the week.")
        times = [step.of_week for step in self.steps]
        if any(after <= before for before, after in pairwise(times)):
            raise ValueError("The steps of a week must be in order of time, no two at the same time.")

    def setpoints(self, day: int, minute: int) -> tuple[float | None, float | None]:
        """Return (heat, cool) that hold at a time [°C]."""
        now = day * MINUTES_A_DAY + minute
        return next((s for s in reversed(self.steps) if s.of_week <= now), self.steps[-1]).setpoints

    def of_day(self, day: int) -> tuple[tuple[int, float | None, float | None], ...]:
        """Return (minute, heat, cool) of one day's steps."""
        return tuple((step.minute, *step.setpoints) for step in self.steps if step.day == day)


def same_every_day(times: Iterable[tuple[str, float | None, float | None]]) -> Week:
    """Return a week of equal days from (time of day such as 06:30, heat, cool) [°C]."""
    day_steps = [(_minute(at), heat_c, cool_c) for at, heat_c, cool_c in times]
    return Week(tuple(WeekStep(day, *step) for day in range(7) for step in day_steps))


def week_table(week: Week, unit: Unit) -> tuple[tuple[str, str, str, str], ...]:
    """Return rows of (days, from, heat to, cool to); days that are alike share their rows."""
    groups: dict[tuple[tuple[int, float | None, float | None], ...], list[int]] = {}
    for day in range(7):
        groups.setdefault(week.of_day(day), []).append(day)
    rows = []
    for steps, days in groups.items():
        for minute, heat_c, cool_c in steps:
            at = f"{minute // 60:02}:{minute % 60:02}"
            rows.append((_days(days), at, _degrees(heat_c, unit), _degrees(cool_c, unit)))
    return tuple(rows)


def calendar(week: Week, name: str, first_day: datetime.date, made: datetime.datetime, unit: Unit) -> str:
    """Return the week as iCalendar text (RFC 5545), repeating from ``first_day`` on.

    ``made`` goes in as the time of writing, in UTC; the same input gives the same text, byte for byte.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//subbase//week of setpoints//EN", "CALSCALE:GREGORIAN"]
    stamp = made.astimezone(datetime.UTC).strftime("%Y%m%dT%H%M%SZ")
    for (minute, length, heat_c, cool_c), days in _events(week).items():
        start_day = min(first_day + datetime.timedelta((day - first_day.weekday()) % 7) for day in days)
        start = datetime.datetime.combine(start_day, datetime.time()) + datetime.timedelta(minutes=minute)
        end = start + datetime.timedelta(minutes=length)
        codes = ",".join(DAY_CODES[day] for day in days)
        identity = uuid.uuid5(uuid.NAMESPACE_OID, f"{name}/{codes}/{minute}/{length}/{heat_c}/{cool_c}")
        lines += [
            "BEGIN:VEVENT",
            f"UID:{identity}",
            f"DTSTAMP:{stamp}",
            f"DTSTART:{start:%Y%m%dT%H%M%S}",
            f"DTEND:{end:%Y%m%dT%H%M%S}",
            f"RRULE:FREQ=WEEKLY;BYDAY={codes}",
            f"SUMMARY:{_escaped(_summary(heat_c, cool_c, unit))}",
            f"DESCRIPTION:{_escaped(name)}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line))


def _events(week: Week) -> dict[tuple[int, int, float | None, float | None], list[int]]:
    """Return (minute, length in minutes, heat, cool) -> days on which it is so."""
    found: dict[tuple[int, int, float | None, float | None], list[int]] = {}
    for step, after in zip(week.steps, (*week.steps[1:], week.steps[0]), strict=True):
        length = (after.of_week - step.of_week) % MINUTES_A_WEEK or MINUTES_A_WEEK
        found.setdefault((step.minute, length, *step.setpoints), []).append(step.day)
    return found


def _minute(at: str) -> int:
    time = datetime.time.fromisoformat(at)
    return 60 * time.hour + time.minute


def _days(days: list[int]) -> str:
    names = (_("Mon"), _("Tue"), _("Wed"), _("Thu"), _("Fri"), _("Sat"), _("Sun"))
    if len(days) == 7:
        return _("every day")
    if len(days) > 2 and days == list(range(days[0], days[-1] + 1)):
        return _("{first} to {last}").format(first=names[days[0]], last=names[days[-1]])
    return ", ".join(names[day] for day in days)


def _degrees(celsius: float | None, unit: Unit) -> str:
    if celsius is None:
        return "-"
    # Whole degrees Fahrenheit and half degrees Celsius are what controls take.
    value = round(celsius * 1.8 + 32.0) if unit == "°F" else round(celsius * 2.0) / 2.0
    return f"{value:g} {unit}"


def _summary(heat_c: float | None, cool_c: float | None, unit: Unit) -> str:
    heat, cool = _degrees(heat_c, unit), _degrees(cool_c, unit)
    if heat_c is None and cool_c is None:
        return _("Off")
    if cool_c is None:
        return _("Heat to {heat}").format(heat=heat)
    if heat_c is None:
        return _("Cool to {cool}").format(cool=cool)
    return _("Heat to {heat}, cool to {cool}").format(heat=heat, cool=cool)


def _escaped(text: str) -> str:
    """Return a TEXT value (RFC 5545, 3.3.11)."""
    for plain, escaped in (("\\", "\\\\"), (";", "\\;"), (",", "\\,"), ("\r\n", "\\n"), ("\n", "\\n"), ("\r", "\\n")):
        text = text.replace(plain, escaped)
    return "".join(letter for letter in text if letter == "\t" or (letter >= " " and letter != "\x7f"))


def _folded(line: str) -> Iterator[str]:
    """Yield a line in parts of at most 75 octets, each but the first begun with a space (RFC 5545, 3.1)."""
    part = ""
    for letter in line:
        if len((part + letter).encode()) > LINE_OCTETS:
            yield part
            part = " "
        part += letter
    yield part
