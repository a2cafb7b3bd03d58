"""A week of setpoints: table and calendar tell the same week, and the calendar keeps RFC 5545's form."""

from __future__ import annotations

import datetime
import re

import pytest
from dateutil.rrule import rrulestr  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.weekly import Week, WeekStep, calendar, same_every_day, week_table

MADE = datetime.datetime(2026, 3, 1, 12, 0, tzinfo=datetime.UTC)
FIRST = datetime.date(2026, 3, 4)
"""A Wednesday."""
WORK = Week(
    tuple(
        WeekStep(day, minute, heat_c, 26.0)
        for day in range(7)
        for minute, heat_c in (((390, 21.0), (510, 17.0), (1020, 21.0), (1320, 17.0)) if day < 5 else ((450, 21.0),))
    )
)


def events(text: str) -> list[dict[str, str]]:
    """Return every event of a calendar as name -> value, read apart from the writer."""
    unfolded = re.sub("\r\n ", "", text)
    blocks = re.findall("BEGIN:VEVENT\r\n(.*?)END:VEVENT\r\n", unfolded, re.S)
    return [dict(line.split(":", 1) for line in block.strip().split("\r\n")) for block in blocks]


def spans(text: str, at: datetime.datetime) -> list[str]:
    """Return the summary of every event that covers a moment, by an independent reader of recurrence rules."""
    found = []
    for event in events(text):
        start, end = (datetime.datetime.strptime(event[n], "%Y%m%dT%H%M%S") for n in ("DTSTART", "DTEND"))
        rule = rrulestr(event["RRULE"], dtstart=start)
        last = rule.before(at, inc=True)
        if last is not None and at < last + (end - start):
            found.append(event["SUMMARY"].replace("\\,", ","))
    return found


weeks = st.dictionaries(
    st.integers(0, 7 * 96 - 1),
    st.tuples(st.sampled_from([None, 15.0, 17.5, 20.0]), st.sampled_from([None, 25.0, 28.0])),
    min_size=1,
    max_size=12,
).map(lambda steps: Week(tuple(WeekStep(t // 96, t % 96 * 15, *steps[t]) for t in sorted(steps))))


@settings(max_examples=40, deadline=None)
@given(weeks, st.integers(0, 7 * 96 - 1))
def test_exactly_one_event_covers_any_moment_and_tells_its_setpoints(week: Week, quarter: int) -> None:
    """Two weeks in, each moment of the week lies in one event, and it is the week's own."""
    monday = datetime.datetime(2026, 3, 23)
    found = spans(calendar(week, "house", FIRST, MADE, "°C"), monday + datetime.timedelta(minutes=15 * quarter))
    assert len(found) == 1
    heat_c, cool_c = week.setpoints(quarter // 96, quarter % 96 * 15)
    for value in (heat_c, cool_c):
        assert value is None or f"{value:g} °C" in found[0]


@given(st.text(max_size=200))
def test_lines_end_and_fold_as_the_rfc_asks(name: str) -> None:
    """Every line ends in CR LF and has at most 75 octets; unfolded and unescaped the name is back."""
    text = calendar(WORK, name, FIRST, MADE, "°F")
    lines = text.encode("utf-8", "surrogatepass").split(b"\r\n")
    assert lines[-1] == b""
    assert all(len(line) <= 75 and b"\n" not in line and b"\r" not in line for line in lines)
    assert lines[0] == b"BEGIN:VCALENDAR"
    assert lines[-2] == b"END:VCALENDAR"
    assert text.count("BEGIN:VEVENT") == text.count("END:VEVENT") == len(events(text)) > 0
    if name.isprintable():
        told = events(text)[0]["DESCRIPTION"]
        assert re.sub(r"\\([\\;,])", r"\1", told) == name


def test_first_days_fall_on_a_day_of_their_rule_and_not_before_the_first() -> None:
    """DTSTART is the first occurrence, as the standard asks; names of events are unique."""
    found = events(calendar(WORK, "house", FIRST, MADE, "°F"))
    for event in found:
        day = datetime.date.fromisoformat(event["DTSTART"][:8])
        assert day >= FIRST
        assert ("MO", "TU", "WE", "TH", "FR", "SA", "SU")[day.weekday()] in event["RRULE"].split("BYDAY=")[1].split(",")
    assert len({event["UID"] for event in found}) == len(found)


def test_the_table_joins_days_that_are_alike() -> None:
    """Work days and week-end have their rows once, in whole degrees Fahrenheit."""
    rows = week_table(WORK, "°F")
    assert rows[0] == ("Mon to Fri", "06:30", "70 °F", "79 °F")
    assert rows[-1] == ("Sat, Sun", "07:30", "70 °F", "79 °F")
    assert len(rows) == 5
    assert week_table(same_every_day([("06:00", 20.0, None)]), "°C") == (("every day", "06:00", "20 °C", "-"),)


def test_a_week_that_cannot_be_is_refused() -> None:
    """No steps, a step outside the week, steps out of order."""
    with pytest.raises(ValueError, match="at least one step"):
        Week(())
    with pytest.raises(ValueError, match="outside the week"):
        Week((WeekStep(7, 0, 20.0, None),))
    with pytest.raises(ValueError, match="in order of time"):
        Week((WeekStep(1, 0, 20.0, None), WeekStep(0, 0, 20.0, None)))
