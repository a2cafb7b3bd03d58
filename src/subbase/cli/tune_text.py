"""How a control is set, as text for a terminal and as plain data."""

from __future__ import annotations

import datetime
import re
from collections.abc import Iterator, Sequence
from typing import Any

from subbase.cli.plan_text import table, wrapped
from subbase.comfort.setting_records import Setting, Slot, Tuning
from subbase.comfort.weekly import calendar, same_every_day
from subbase.words import _


def tune_text(name: str, tunings: Sequence[Tuning]) -> str:
    """Return what to set first, then what to find out, then every reason with its source."""
    lines = [name, "=" * len(name)]
    for tuning in tunings:
        lines += ["", _("SET AT {control}").format(control=tuning.control.upper())]
        lines += table((_("setting"), _("value")), [(setting.name, setting.value) for setting in tuning.settings])
        if tuning.questions:
            lines += ["", _("TO FIND OUT")]
            for question in tuning.questions:
                lines += wrapped(_("not known, ask: {what}").format(what=question), "    ", "  - ")
        lines += ["", _("FIRST SCHEDULE, EVERY DAY, UNTIL THE PEOPLE WHO LIVE HERE HAVE SPOKEN"), *_schedule(tuning)]
        lines += ["", _("WHY")]
        for setting in tuning.settings:
            lines += wrapped(_told(setting), "    ", "  - ")
    return "\n".join(lines)


def _schedule(tuning: Tuning) -> Iterator[str]:
    heats = any(slot.heat_f is not None for slot in tuning.first_schedule)
    cools = any(slot.cool_f is not None for slot in tuning.first_schedule)
    head = [_("from")] + [_("heat to")] * heats + [_("cool to")] * cools

    def cells(slot: Slot) -> list[str]:
        return [slot.at, *(f"{value:g} °F" for value in (slot.heat_f, slot.cool_f) if value is not None)]

    if heats or cools:
        yield from table(head, [cells(slot) for slot in tuning.first_schedule])
    yield from wrapped(f"{tuning.schedule_why} {tuning.schedule_source}.", "    ", "  - ")


def _told(setting: Setting) -> str:
    return f"{setting.name}: {setting.value}. {setting.why} [{setting.source}]"


def tune_data(name: str, tunings: Sequence[Tuning]) -> dict[str, Any]:
    """Return the same as plain data, format 1; ``number`` is null where the value is no number."""
    return {"format": 1, "survey": name, "controls": [_tuning_data(tuning) for tuning in tunings]}


def _tuning_data(tuning: Tuning) -> dict[str, Any]:
    return {
        "control": tuning.control,
        "heat": tuning.heat.value,
        "settings": [
            {
                "key": setting.key,
                "name": setting.name,
                "value": setting.value,
                "number": setting.number,
                "unit": setting.unit,
                "why": setting.why,
                "source": setting.source,
                "ask": setting.ask,
            }
            for setting in tuning.settings
        ],
        "to_find_out": list(tuning.questions),
        "first_schedule": {
            "every_day": [{"from": s.at, "heat_f": s.heat_f, "cool_f": s.cool_f} for s in tuning.first_schedule],
            "why": tuning.schedule_why,
            "source": tuning.schedule_source,
        },
    }


def calendars(name: str, tunings: Sequence[Tuning], first_day: datetime.date) -> dict[str, str]:
    """Return file name -> first schedule as iCalendar text, for every control that heats or cools."""
    made = datetime.datetime.combine(first_day, datetime.time(), datetime.UTC)
    found = {}
    for number, tuning in enumerate(tunings, start=1):
        if not any(slot.heat_f or slot.cool_f for slot in tuning.first_schedule):
            continue
        week = same_every_day((slot.at, _celsius(slot.heat_f), _celsius(slot.cool_f)) for slot in tuning.first_schedule)
        file = f"schedule-{number}-{re.sub(r'[^0-9a-z]+', '-', tuning.control.lower()).strip('-') or 'control'}.ics"
        found[file] = calendar(week, f"{name}: {tuning.control}", first_day, made, "°F")
    return found


def _celsius(fahrenheit: float | None) -> float | None:
    return None if fahrenheit is None else (fahrenheit - 32.0) / 1.8
