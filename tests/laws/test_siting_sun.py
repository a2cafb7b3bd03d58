"""Laws of sun through windows: mirrored rooms mirror it, shade never adds any, and counting by halves misses no minute."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.siting.apertures import Spot, apertures, spot_on
from subbase.siting.sun_hours import Sky, minutes_a_year, passes, sky, sun_hours
from subbase.siting.sun_year import SunYear, sun_year
from subbase.siting.wall_map import clip
from subbase.survey.rooms import Room
from tests.laws.siting_rooms import random_room

SUN: SunYear = sun_year(44.0, -93.0, -6.0)
SOME = settings(max_examples=40, deadline=None, derandomize=True, database=None)
seeds = st.integers(0, 100_000)
SIDES = {"left": "right", "right": "left", "top": "top", "bottom": "bottom"}


def spots_of(room: Room, seed: int, count: int = 6) -> list[Spot]:
    """Return points just off a room's walls, where controls hang."""
    rng = Random(seed)
    found = []
    for _ in range(count):
        wall = rng.choice(room.walls_found())
        (x, y), (nx, ny) = wall.point(rng.uniform(0.1, 0.9) * wall.length_m), wall.outward
        found.append(Spot(x - 0.03 * nx, y - 0.03 * ny, rng.uniform(0.3, 2.2)))
    return found


def mirrored(room: Room) -> Room:
    """Return a room as a mirror standing to its right shows it: x becomes -x."""
    lengths = {wall.name: wall.length_m for wall in room.walls_found()}
    windows = []
    for w in room.windows:
        wall = w.wall if room.corners_m else SIDES[w.wall]
        windows.append(w.model_copy(update={"wall": wall, "along_m": lengths[w.wall] - w.along_m - w.width_m}))
    update: dict[str, Any] = {"windows": tuple(windows)}
    if room.corners_m:
        update["corners_m"] = tuple((-x, y) for x, y in room.corners_m)
    else:
        assert room.size_m is not None
        update["at_m"] = (-room.size_m[0], 0.0)
    return room.model_copy(update=update)


def minutes(room: Room, spots: list[Spot], over: Sky) -> list[int]:
    """Return minutes of sun a year of each spot."""
    return [int(n) for n in minutes_a_year([apertures(room, spot) for spot in spots], over)]


@SOME
@given(seeds, st.floats(0.0, 359.9))
def test_a_mirrored_room_under_a_mirrored_sun_has_the_same_sun(seed: int, bearing: float) -> None:
    """Mirror the room, the places and the sun from east to west: every place keeps its minutes, but for those on an edge."""
    room = random_room(seed)
    spots = spots_of(room, seed)
    turned = [replace(spot, x_m=-spot.x_m) for spot in spots]
    mirror = replace(SUN, east=-SUN.east)
    here = minutes(room, spots, sky(SUN, bearing))
    there = minutes(mirrored(room), turned, sky(mirror, -bearing))
    assert there == pytest.approx(here, abs=2)


@SOME
@given(seeds, st.floats(0.1, 2.0))
def test_a_deeper_overhang_never_adds_sun(seed: int, more_m: float) -> None:
    """Whatever the room, a place has no more sun after every overhang was made deeper (or hung, where there was none)."""
    room = random_room(seed)
    deeper = [w.model_copy(update={"overhang_m": (w.overhang_m or 0.0) + more_m}) for w in room.windows]
    shaded = room.model_copy(update={"windows": tuple(deeper)})
    spots, over = spots_of(room, seed), sky(SUN, seed % 360)
    assert all(a <= b for a, b in zip(minutes(shaded, spots, over), minutes(room, spots, over), strict=True))


@SOME
@given(seeds, st.sampled_from(["skyline_deg", "depth_m"]), st.floats(0.05, 1.0))
def test_a_higher_skyline_or_a_thicker_wall_never_adds_sun(seed: int, field: str, share: float) -> None:
    """More before the window, or a deeper way through the wall, leaves no place with more sun."""
    room = random_room(seed, overhangs=False)
    most = {"skyline_deg": 60.0, "depth_m": 0.6}[field]
    windows = [w.model_copy(update={field: (getattr(w, field) or 0.0) + share * most}) for w in room.windows]
    shaded = room.model_copy(update={"windows": tuple(windows)})
    spots, over = spots_of(room, seed), sky(SUN, seed % 360)
    assert all(a <= b for a, b in zip(minutes(shaded, spots, over), minutes(room, spots, over), strict=True))


@SOME
@given(seeds)
def test_counting_in_strips_misses_no_minute(seed: int) -> None:
    """The kernel counts, by month and hour and by day, exactly the minutes that are lit one by one."""
    room = random_room(seed)
    spots, over = spots_of(room, seed, 2), sky(SUN, seed % 360)
    for spot, found in zip(spots, sun_hours(room, spots, over), strict=True):
        lit = np.zeros(SUN.up.size, dtype=bool)
        for a in apertures(room, spot):
            right, ahead = over.level(a.outward)
            lit |= passes(a, right, ahead, SUN.up)
        assert (np.bincount(SUN.bin[lit], minlength=288) == np.rint(found.possible_h.ravel() * 60)).all()
        assert (np.bincount(SUN.day[lit], minlength=365) == found.minutes_by_day).all()
        if found.worst:
            day = found.worst[0].date.timetuple().tm_yday - 1
            of_day = SUN.minute[lit & (SUN.day == day)]
            assert (found.worst[0].first_min, found.worst[0].last_min) == (of_day.min(), of_day.max() + 1)


def test_weather_takes_sun_away_and_never_adds_any() -> None:
    """Bright hours are those possible hours whose direct irradiance reaches the limit: none, all, or the ones before noon."""
    room = random_room(3)
    spots = spots_of(room, 3, 8)
    clear = sun_hours(room, spots, sky(SUN, 200.0))
    dark = sun_hours(room, spots, sky(SUN, 200.0, np.zeros(8760)))
    bright = sun_hours(room, spots, sky(SUN, 200.0, np.full(8760, 120.0)))
    morning = sun_hours(room, spots, sky(SUN, 200.0, np.where(np.arange(8760) % 24 < 12, 800.0, 0.0)))
    assert sum(found.hours for found in clear) > 0.0
    for a, b, c, d in zip(clear, dark, bright, morning, strict=True):
        assert a.bright_hours is None
        assert b.bright_hours == 0.0
        assert c.bright_hours == c.hours == a.hours
        assert d.bright_hours == pytest.approx(a.possible_h[:, :12].sum())


def test_a_weather_year_that_is_no_year_is_refused() -> None:
    """Anything but 8760 hours is an error that says how many there were."""
    with pytest.raises(ValueError, match="holds 8784 values"):
        sky(SUN, 0.0, np.zeros(8784))


def test_no_sun_without_windows_and_none_on_the_window_s_own_wall() -> None:
    """A room without windows has no sun; nor has the wall that the only window is in."""
    room = Room.model_validate({"size": (4, 4)})
    assert minutes(room, [Spot(1.0, 1.0, 1.5)], sky(SUN, 0.0)) == [0]
    south = Room.model_validate(
        {"size": (4, 4), "windows": [{"wall": "bottom", "along": 1, "width": 1, "sill": 1, "head": 2}]}
    )
    assert minutes(south, [spot_on(south.wall("bottom"), 0.5, 1.5)], sky(SUN, 0.0)) == [0]
    assert minutes(south, [Spot(2.5, 0.5, 1.3)], sky(SUN, 0.0))[0] > 0


@SOME
@given(seeds)
def test_what_is_clipped_lies_within_both(seed: int) -> None:
    """The part of a room within a rectangle has the area that counting points gives it."""
    rng = Random(seed)
    outline = random_room(seed).outline()
    x, y, w, h = rng.uniform(-1, 4), rng.uniform(-1, 4), rng.uniform(1, 5), rng.uniform(1, 5)
    box = ((x, y), (x + w, y), (x + w, y + h), (x, y + h))
    from shapely import Polygon

    want = Polygon(outline).intersection(Polygon(box)).area
    kept = clip(outline, box)
    have = Polygon(kept).area if len(kept) > 2 else 0.0
    assert have == pytest.approx(want, abs=1e-9)
