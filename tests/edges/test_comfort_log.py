"""Logs of a house as people have them: units, gaps, clock changes, and everything that is refused in words."""

from __future__ import annotations

import contextlib
import datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.comfort.log_reading import parse_log, read_log
from subbase.comfort.packed import pack_log, pack_weather, unpack_log, unpack_weather
from subbase.errors import InputError
from tests.comfort_cases import chicago

START = datetime.datetime(2026, 1, 5)


def csv_of(times: list[datetime.datetime], head: str = "time,indoor_c,outdoor_c,on", on: str = "0.5") -> bytes:
    """Return a log with one row for each time."""
    rows = [f"{time.isoformat(sep=' ')},20.5,-3,{on}" for time in times]
    return "\n".join([head, *rows]).encode()


def steps(count: int, minutes: int = 15, start: datetime.datetime = START) -> list[datetime.datetime]:
    """Return times, equally apart."""
    return [start + datetime.timedelta(minutes=minutes * k) for k in range(count)]


def faults(raw: bytes) -> str:
    """Return what is said of a log that cannot be read."""
    with pytest.raises(InputError) as caught:
        parse_log(raw, "log.csv")
    return str(caught.value)


def test_units_come_with_the_name_of_the_column() -> None:
    """Fahrenheit and minutes of running are the same log as Celsius and shares."""
    celsius = parse_log(csv_of(steps(40)))
    fahrenheit = parse_log(csv_of(steps(40), "time,indoor_f,outdoor_f,on_min", "7.5").replace(b"20.5,-3", b"68.9,26.6"))
    for one, other in zip(celsius.stretches, fahrenheit.stretches, strict=True):
        assert np.allclose(one.indoor_c, other.indoor_c)
        assert np.allclose(one.outdoor_c, other.outdoor_c)
        assert np.allclose(one.on, other.on)
    assert celsius.step_s == 900.0
    assert celsius.hours == pytest.approx(10.0)


def test_a_gap_parts_the_log() -> None:
    """Missing rows and an empty cell part it; nothing is invented between."""
    times = steps(60)
    found = parse_log(csv_of(times[:20] + times[24:]))
    assert [len(one) for one in found.stretches] == [20, 36]
    assert found.gaps == 1
    lines = csv_of(times).decode().splitlines()
    lines[30] = lines[30].replace("20.5", "")
    found = parse_log("\n".join(lines).encode())
    assert [len(one) for one in found.stretches] == [29, 30]
    assert found.dropped_rows == 1


def test_the_clock_put_forward_or_back_is_no_gap() -> None:
    """At both changes of 2026 the log on the wall's clock goes on; with offsets nothing is to be guessed."""
    spring = steps(8, start=datetime.datetime(2026, 3, 8, 0, 15)) + steps(
        30, start=datetime.datetime(2026, 3, 8, 3, 15)
    )
    autumn = steps(8, start=datetime.datetime(2026, 11, 1, 0, 15)) + steps(
        30, start=datetime.datetime(2026, 11, 1, 1, 15)
    )
    for times in (spring, autumn):
        found = parse_log(csv_of(times))
        assert found.clock_changes == 1
        assert found.gaps == 0
        assert [len(one) for one in found.stretches] == [38]
    zone = datetime.timezone(datetime.timedelta(hours=-6))
    found = parse_log(csv_of([time.replace(tzinfo=zone) for time in steps(30)]))
    assert found.clock_changes == 0
    hourly = steps(24, 60, datetime.datetime(2026, 10, 31, 2)) + steps(24, 60, datetime.datetime(2026, 11, 1, 1))
    assert parse_log(csv_of(hourly)).clock_changes == 1


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "The first line must name one column of these: time"),
        (b"time,indoor_c,indoor_f,outdoor_c,on\n", "more than one column"),
        (csv_of(steps(10)), "needs at least 24"),
        (csv_of(steps(30, minutes=1)), "5 minutes to 1 hour"),
        (csv_of(steps(30, minutes=180)), "5 minutes to 1 hour"),
        (csv_of(steps(30)).replace(b"20.5", b"warm", 1), "'warm' is no number"),
        (csv_of(steps(30)).replace(b"20.5", b"69", 1), "is the unit in the column's name"),
        (csv_of(steps(30)).replace(b"2026-01-05 00:00:00", b"noon"), "'noon' is no time"),
        (csv_of(steps(30), "time,indoor_c,outdoor_c,on_min", "16"), "longer than the step"),
        (csv_of(steps(30) + steps(2)), "not after that of the row before"),
        (csv_of([*steps(30), steps(31)[-1].replace(tzinfo=datetime.UTC)]), "Some times bear an offset"),
        (b"time,indoor_c,outdoor_c,on\n\xff\xfe\n", "no UTF-8"),
    ],
)
def test_what_is_no_log_is_refused_in_words(raw: bytes, words: str) -> None:
    """One sentence with file and line; never a traceback."""
    said = faults(raw)
    assert words in said
    assert "log.csv" in said


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400) | st.text(max_size=400).map(str.encode))
def test_any_bytes_are_read_or_refused(raw: bytes) -> None:
    """Nothing but our own refusal comes of bad bytes."""
    for data in (raw, b"time,indoor_c,outdoor_c,on\n" + raw):
        with contextlib.suppress(InputError):
            assert parse_log(data).rows >= 0


def test_a_file_that_is_not_there(tmp_path: object) -> None:
    """It is refused in words."""
    with pytest.raises(InputError):
        read_log(f"{tmp_path}/no.csv")


def test_logs_and_weather_are_kept_as_text() -> None:
    """What is packed comes back to the digits of instruments; anything else is nothing."""
    times = steps(60)
    log = parse_log(csv_of(times[:20] + times[24:]))
    again = unpack_log(pack_log(log))
    assert again is not None
    assert again.step_s == log.step_s
    assert again.gaps == 1
    for one, other in zip(log.stretches, again.stretches, strict=True):
        assert np.abs(one.indoor_c - other.indoor_c).max() <= 0.0011
        assert np.abs(one.on - other.on).max() <= 0.0003
    year = unpack_weather(pack_weather(chicago()))
    assert year is not None
    assert year.site == chicago().site
    assert np.abs(year.outdoor_c - chicago().outdoor_c).max() <= 0.0051
    assert np.abs(year.direct_normal_w_m2 - chicago().direct_normal_w_m2).max() <= 0.51
    assert len(pack_weather(chicago())) < 400_000
    for text in ("", "x", pack_log(log), "QUJD"):
        assert unpack_weather(text) is None
    assert unpack_log(pack_weather(chicago())) is None
