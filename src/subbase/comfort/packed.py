"""Weather and logs as one short text, to be kept with a job: numbers rounded to what instruments tell, compressed.

The text says which form it is of; what cannot be unpacked is None, so that a journal of another version never breaks a page.
"""

from __future__ import annotations

import base64
import json
import zlib
from dataclasses import fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.log_reading import HouseLog, Stretch
from subbase.comfort.weather import HOURS, Floats, Site, WeatherYear

Whole = NDArray[np.int16]
WEATHER_FORM, LOG_FORM = "weather 1", "log 2"
MOST_UNPACKED = 40_000_000
"""Bytes; more is no weather and no log of ours."""
_STEP = {
    "outdoor_c": 0.01, "dew_point_c": 0.1, "pressure_pa": 10.0, "wind_m_s": 0.1, "global_horizontal_w_m2": 1.0,
    "direct_normal_w_m2": 1.0, "diffuse_horizontal_w_m2": 1.0, "sky_infrared_w_m2": 1.0, "ground_c": 0.01, "mean_outdoor_c": 0.01,
}  # fmt: skip
_LOG_STEP = (0.002, 0.01, 0.0005, 0.01)


def pack_weather(weather: WeatherYear) -> str:
    """Return a year as text."""
    site = {field.name: getattr(weather.site, field.name) for field in fields(Site)}
    columns = [_whole(getattr(weather, name), step) for name, step in _STEP.items()]
    return _pack({"form": WEATHER_FORM, "site": site}, columns)


def unpack_weather(text: str) -> WeatherYear | None:
    """Return the year of a text; None when it is none."""
    found = _unpack(text, WEATHER_FORM)
    if found is None:
        return None
    head, whole = found
    try:
        table = whole.reshape(len(_STEP), HOURS)
        site = Site(**head["site"])
    except (ValueError, TypeError, KeyError):
        return None
    values = {name: _values(row, step) for (name, step), row in zip(_STEP.items(), table, strict=True)}
    return WeatherYear(site=site, **values)


def pack_log(log: HouseLog) -> str:
    """Return a log as text."""
    head = {
        "form": LOG_FORM, "step_s": log.step_s, "rows": [len(stretch) for stretch in log.stretches], "gaps": log.gaps,
        "clock_changes": log.clock_changes, "dropped_rows": log.dropped_rows,
    }  # fmt: skip
    columns = []
    for stretch in log.stretches:
        hour = np.full(len(stretch), -1.0) if stretch.hour is None else stretch.hour
        for values, step in zip((stretch.indoor_c, stretch.outdoor_c, stretch.on, hour), _LOG_STEP, strict=True):
            columns.append(_whole(values, step))
    return _pack(head, columns)


def unpack_log(text: str) -> HouseLog | None:
    """Return the log of a text; None when it is none."""
    found = _unpack(text, LOG_FORM)
    if found is None:
        return None
    head, whole = found
    try:
        stretches, at = [], 0
        for rows in head["rows"]:
            table = whole[at : at + 4 * rows].reshape(4, rows)
            indoor, outdoor, on, hour = (_values(row, step) for row, step in zip(table, _LOG_STEP, strict=True))
            stretches.append(Stretch(indoor, outdoor, on, None if hour.min() < 0.0 else hour))
            at += 4 * rows
        return HouseLog(
            float(head["step_s"]), tuple(stretches), head["gaps"], head["clock_changes"], head["dropped_rows"]
        )
    except (ValueError, TypeError, KeyError):
        return None


def _whole(values: Floats, step: float) -> Whole:
    return np.clip(np.round(values / step), -32768, 32767).astype("<i2")


def _values(whole: Whole, step: float) -> Floats:
    found = whole.astype(np.float64) * step
    found.flags.writeable = False
    return found


def _pack(head: dict[str, object], columns: list[Whole]) -> str:
    # Differences from hour to hour are small numbers, which compress to half.
    body = np.concatenate(columns) if columns else np.zeros(0, dtype="<i2")
    apart = np.diff(body, prepend=np.zeros(1, dtype="<i2")).astype("<i2")
    raw = json.dumps(head).encode() + b"\n" + apart.tobytes()
    return base64.b64encode(zlib.compress(raw, 9)).decode("ascii")


def _unpack(text: str, form: str) -> tuple[dict[str, Any], Whole] | None:
    try:
        machine = zlib.decompressobj()
        raw = machine.decompress(base64.b64decode(text, validate=True), MOST_UNPACKED)
        line, _newline, body = raw.partition(b"\n")
        head = json.loads(line)
        if not isinstance(head, dict) or head.get("form") != form:
            return None
        return head, np.cumsum(np.frombuffer(body, dtype="<i2"), dtype=np.int64).astype("<i2")
    except (ValueError, zlib.error, RecursionError):
        return None
