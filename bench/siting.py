"""Sun on walls: a house-year at one-minute steps for many places and windows, and how it grows with each."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from bench.plot import save_lines
from bench.report import Result, Row, timed
from subbase.siting.apertures import Spot, apertures
from subbase.siting.sun_hours import sky, sun_hours_of
from subbase.siting.sun_year import sun_year
from subbase.survey.rooms import RECTANGLE, Room

PLACES, WINDOWS = 200, 20
PLACE = (41.9, -87.6, -6.0)
GROWTH = (25, 50, 100, 200, 400, 800)
WINDOW_GROWTH = (4, 8, 20, 40)


def run(docs: Path) -> Result:
    """Measure a year's sun of 200 places behind 20 windows, from nothing, then each part, then growth."""
    whole = timed(f"all of it: {PLACES} places, {WINDOWS} windows", PLACES, lambda: house_year(PLACES, WINDOWS))
    rows = [
        whole,
        timed("the sun's place alone, 525,600 minutes", PLACES, sun_from_nothing),
        timed("4 windows", PLACES, lambda: house_year(PLACES, 4)),
        timed("800 places", 800, lambda: house_year(800, WINDOWS)),
    ]
    by_place = [(n, growing(f"{n} places", n, WINDOWS)) for n in GROWTH]
    by_window = [(n, growing(f"{n} windows", PLACES, n)) for n in WINDOW_GROWTH]
    lines = {
        "places behind 20 windows": [(n, row.median_s) for n, row in by_place],
        "windows before 200 places": [(n, row.median_s) for n, row in by_window],
    }
    save_lines(docs / "img" / "siting-growth.svg", lines)
    return Result(
        title="Sun on walls",
        unit="places",
        rows=rows,
        notes=(
            "Each run begins with nothing: the sun of every minute of the year, then every place against every window of "
            "one room, all in sight of each other (a house of several rooms has less to do).",
            "One thread. Loading pvlib and numba and compiling come before and are not counted.",
        ),
        images=[("img/siting-growth.svg", "Time of a house-year of sun against places and windows")],
    )


def growing(what: str, places: int, windows: int) -> Row:
    """Return the time of one size."""
    return timed(what, places, lambda: house_year(places, windows), runs=3)


def sun_from_nothing() -> None:
    """Find the sun's place for every minute, though it was found before."""
    sun_year.cache_clear()
    sun_year(*PLACE)


def house_year(places: int, windows: int) -> None:
    """Count a year's sun of many places in one room, from nothing."""
    sun_year.cache_clear()
    over = sky(sun_year(*PLACE), 20.0)
    room = glazed_room(windows)
    sun_hours_of([apertures(room, spot) for spot in spots(places)], over)


def glazed_room(windows: int) -> Room:
    """Return a room 12 m square with windows shared out over its four walls."""
    each = windows // 4
    step = 11.6 / each
    found = [
        {
            "wall": wall, "along": 0.2 + n * step, "width": step * 0.7, "sill": 0.9, "head": 2.1, "depth": 0.25, "overhang": 0.4,
            "above": 0.3,
        }
        for wall in RECTANGLE
        for n in range(each)
    ]  # fmt: skip
    return Room.model_validate({"size": (12.0, 12.0), "windows": found})


def spots(count: int) -> list[Spot]:
    """Return places all over the room, the same ones each time."""
    rng = np.random.default_rng(8)
    return [Spot(float(x), float(y), 1.5) for x, y in rng.uniform(0.3, 11.7, (count, 2))]
