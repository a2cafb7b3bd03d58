"""How a control is set, as text for a terminal."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence

from subbase.cli.plan_text import table, wrapped
from subbase.cli.tune_work import Done
from subbase.comfort.answers import QUESTIONS, Units
from subbase.comfort.setting_records import Setting, Slot, Tuning
from subbase.comfort.study import Study
from subbase.comfort.weekly import DAY_CODES, Week, calendar, same_every_day
from subbase.papers.figures import degrees
from subbase.papers.tune_charts import chart_svg
from subbase.papers.tune_pages import charts_of
from subbase.papers.tune_tables import (
    best_week,
    house_rows,
    learnt_rows,
    outcome_table,
    schedule_table,
    setback_words,
    unit_of,
)
from subbase.words import _


def tune_text(name: str, done: Sequence[Done], units: Units) -> str:
    """Return what to set first, then what to find out, then every reason with its source, then the year."""
    lines = [name, "=" * len(name)]
    for item in done:
        tuning = item.tuning
        lines += ["", _("SET AT {control}").format(control=tuning.control.upper())]
        lines += table((_("setting"), _("value")), [(setting.name, setting.value) for setting in tuning.settings])
        if tuning.questions:
            lines += ["", _("TO FIND OUT")]
            for question in tuning.questions:
                lines += wrapped(_("not known, ask: {what}").format(what=question), "    ", "  - ")
        lines += [
            "",
            _("FIRST SCHEDULE, EVERY DAY, UNTIL THE PEOPLE WHO LIVE HERE HAVE SPOKEN"),
            *_schedule(tuning, units),
        ]
        lines += ["", _("WHY")]
        for setting in tuning.settings:
            lines += wrapped(_told(setting), "    ", "  - ")
        if item.learnt is not None:
            lines += ["", _("WHAT THE LOG TELLS"), *_learnt(item, units)]
        if item.found is not None:
            lines += _study(item.found, units)
        else:
            lines += [
                "",
                *wrapped(
                    _(
                        "To see what a schedule does in a year, tell the house: --know area=1900 (--questions lists what else)."
                    ),
                    "",
                    "",
                ),
            ]
    return "\n".join(lines)


def _learnt(item: Done, units: Units) -> Iterator[str]:
    assert item.learnt is not None
    rows, words = learnt_rows(item.learnt, units)
    if not rows:
        words = (_("The log cannot tell how the house behaves."), *words)
    if rows:
        yield from table((_("what"), _("value")), rows)
    for line in words:
        yield from wrapped(line, "    ", "  - ")


def _study(found: Study, units: Units) -> Iterator[str]:
    year, week = outcome_table(found), schedule_table(found, units)
    yield from ("", _("THE CHEAPEST WEEK FOUND"))
    yield from table(week.head, week.rows)
    yield from wrapped(week.note, "", "")
    yield from ("", _("A YEAR UNDER EACH SCHEDULE"))
    yield from table(year.head, year.rows)
    yield from wrapped(year.note, "", "")
    if found.setback is not None:
        yield from ("", _("WHAT A SETBACK DOES"))
        for line in setback_words(found, units):
            yield from wrapped(line, "    ", "  - ")
    yield from ("", _("THE HOUSE AS IT WAS RECKONED WITH"))
    for name, value in house_rows(found, units):
        yield from wrapped(f"{name}: {value}", "    ", "  - ")


def questions_text() -> str:
    """Return what --know takes: key, unit, what it asks, what stands in."""
    lines: list[str] = []
    group = ""
    for question in QUESTIONS:
        if question.group != group:
            group = question.group
            lines += ["", _(group).upper()]
        unit = question.unit_words("us")
        shown = question.shown(question.default, "us")
        choices = f" ({' | '.join(value for value, _words in question.choices)})" if question.choices else ""
        stands_in = " " + _("[{shown} where left out]").format(shown=shown) if shown else ""
        words = f"{_(question.label)}{f', {unit}' if unit else ''}{choices}{stands_in}"
        lines += wrapped(f"{question.key:19} {words}", " " * 22, "  ")
    return "\n".join(lines).lstrip("\n")


def _schedule(tuning: Tuning, units: Units) -> Iterator[str]:
    heats = any(slot.heat_f is not None for slot in tuning.first_schedule)
    cools = any(slot.cool_f is not None for slot in tuning.first_schedule)
    head = [_("from")] + [_("heat to")] * heats + [_("cool to")] * cools

    def cells(slot: Slot) -> list[str]:
        return [slot.at, *(degrees(value, units) for value in (slot.heat_f, slot.cool_f) if value is not None)]

    if heats or cools:
        yield from table(head, [cells(slot) for slot in tuning.first_schedule])
    yield from wrapped(f"{tuning.schedule_why} {tuning.schedule_source}.", "    ", "  - ")


def _told(setting: Setting) -> str:
    return f"{setting.name}: {setting.value}. {setting.why} [{setting.source}]"


def calendars(name: str, done: Sequence[Done], first_day: datetime.date, units: Units) -> dict[str, str]:
    """Return file name -> content: each control's schedule as iCalendar, and with a study as a table and charts too.

    The schedule is the cheapest one found where the house is known, else the first one.
    """
    made = datetime.datetime.combine(first_day, datetime.time(), datetime.UTC)
    unit = unit_of(units)
    found = {}
    for number, item in enumerate(done, start=1):
        tuning = item.tuning
        slug = f"{number}-{re.sub(r'[^0-9a-z]+', '-', tuning.control.lower()).strip('-') or 'control'}"
        if item.found is not None:
            week = best_week(item.found)
            found[f"schedule-{slug}.csv"] = _week_csv(week, units)
            for chart, drawing in charts_of(item.found, units).items():
                found[f"{chart}-{slug}.svg"] = chart_svg(drawing)
        elif any(slot.heat_f or slot.cool_f for slot in tuning.first_schedule):
            week = same_every_day((s.at, _celsius(s.heat_f), _celsius(s.cool_f)) for s in tuning.first_schedule)
        else:
            continue
        found[f"schedule-{slug}.ics"] = calendar(week, f"{name}: {tuning.control}", first_day, made, unit)
    return found


def _week_csv(week: Week, units: Units) -> str:
    """Return a week as CSV, one row for each change."""
    unit = "f" if units == "us" else "c"

    def degrees(celsius: float | None) -> str:
        if celsius is None:
            return ""
        return f"{round(celsius * 1.8 + 32)}" if units == "us" else f"{round(celsius * 2) / 2:g}"

    rows = [f"{DAY_CODES[s.day]},{s.at},{degrees(s.heat_c)},{degrees(s.cool_c)}" for s in week.steps]
    return "\r\n".join([f"day,from,heat_{unit},cool_{unit}", *rows, ""])


def _celsius(fahrenheit: float | None) -> float | None:
    return None if fahrenheit is None else (fahrenheit - 32.0) / 1.8
