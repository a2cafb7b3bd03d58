"""Sun through windows against rays cast at the same room built of triangles, and against hand geometry."""

from __future__ import annotations

from collections.abc import Callable
from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray
from trimesh.ray import ray_triangle

from subbase.siting.apertures import Spot, apertures
from subbase.siting.sun_hours import passes, sky
from subbase.siting.sun_year import SunYear, sun_year
from subbase.survey.rooms import Room, Wall
from tests.laws.siting_rooms import random_room

rays: Callable[..., tuple[NDArray[np.int64], ...]] = ray_triangle.ray_triangle_id
Triangles = NDArray[np.float64]
TALL_M = 60.0
"""Walls are built so high that no ray leaves above them; the real ceiling is a lid that windows lie under."""


class AllTriangles:
    """Stands for a spatial index: every triangle is a candidate of every ray."""

    def __init__(self, triangles: Triangles) -> None:
        self.count = len(triangles)
        corners = triangles.reshape(-1, 3)
        self.bounds = np.concatenate([corners.min(axis=0), corners.max(axis=0)])

    def intersection(self, _bounds: object) -> range:
        """Return every triangle."""
        return range(self.count)


def quad(a: Triangles, b: Triangles, c: Triangles, d: Triangles) -> list[Triangles]:
    """Return a rectangle as two triangles."""
    return [np.array([a, b, c]), np.array([a, c, d])]


def built(room: Room) -> Triangles:
    """Return a room as triangles: walls with holes, reveals of the holes, overhangs; windows of the room only."""
    parts: list[Triangles] = []
    for wall in room.walls_found():
        for face in {0.0} | {w.depth_m or 0.0 for w in room.windows if w.wall == wall.name}:
            parts += with_holes(room, wall, face)
        for w in (w for w in room.windows if w.wall == wall.name):
            u0, u1, depth = w.along_m, w.along_m + w.width_m, w.depth_m or 0.0
            if depth:
                for (ua, ha), (ub, hb) in (
                    ((u0, w.sill_m), (u1, w.sill_m)), ((u0, w.head_m), (u1, w.head_m)),
                    ((u0, w.sill_m), (u0, w.head_m)), ((u1, w.sill_m), (u1, w.head_m)),
                ):  # fmt: skip
                    parts += quad(
                        at(wall, ua, ha, 0), at(wall, ub, hb, 0), at(wall, ub, hb, depth), at(wall, ua, ha, depth)
                    )
            if w.overhang_m:
                past, h = w.past_m or 0.0, w.head_m + (w.above_m or 0.0)
                near, far = depth, depth + w.overhang_m
                parts += quad(
                    at(wall, u0 - past, h, near), at(wall, u1 + past, h, near),
                    at(wall, u1 + past, h, far), at(wall, u0 - past, h, far),
                )  # fmt: skip
    return np.array(parts)


def with_holes(room: Room, wall: Wall, face: float) -> list[Triangles]:
    """Return a wall's face around its one window (random rooms have one a wall at most)."""
    holes = [w for w in room.windows if w.wall == wall.name]
    end, top = wall.length_m, TALL_M
    if not holes:
        return quad(at(wall, 0, -1, face), at(wall, end, -1, face), at(wall, end, top, face), at(wall, 0, top, face))
    (w,) = holes
    u0, u1 = w.along_m, w.along_m + w.width_m
    found: list[Triangles] = []
    for ua, ub, ha, hb in ((0, u0, -1, top), (u1, end, -1, top), (u0, u1, -1, w.sill_m), (u0, u1, w.head_m, top)):
        found += quad(at(wall, ua, ha, face), at(wall, ub, ha, face), at(wall, ub, hb, face), at(wall, ua, hb, face))
    return found


def at(wall: Wall, along: float, height: float, out: float) -> Triangles:
    """Return a point so far along a wall, so high, so far out of the room."""
    (x, y), (nx, ny) = wall.point(along), wall.outward
    return np.array([x + nx * out, y + ny * out, height])


def spots(room: Room, rng: Random, count: int) -> list[Spot]:
    """Return random points within a room's walls."""
    xs, ys = zip(*room.outline(), strict=True)
    found: list[Spot] = []
    while len(found) < count:
        x, y = rng.uniform(min(xs), max(xs)), rng.uniform(min(ys), max(ys))
        if inside(room, x, y):
            found.append(Spot(x, y, rng.uniform(0.2, 2.0)))
    return found


def inside(room: Room, x: float, y: float) -> bool:
    """Return whether a point lies in a room, by counting walls on the way to the right."""
    corners = room.outline()
    crossed = 0
    for (ax, ay), (bx, by) in zip(corners, (*corners[1:], corners[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            crossed += 1
    return crossed % 2 == 1


SUN: SunYear = sun_year(41.9, -87.6, -6.0)


@pytest.mark.outside(
    source="trimesh, ray_triangle_id", how="24 random rooms of triangles, 5 places each, 60 moments across the year"
)
@pytest.mark.parametrize("seed", range(24))
def test_a_ray_that_meets_no_triangle_is_sun(seed: int) -> None:
    """For random rooms, places and moments through a year, exact apertures and cast rays say the same of every one."""
    rng = Random(seed)
    room = random_room(seed)
    bearing = rng.uniform(0.0, 360.0)
    over = sky(SUN, bearing)
    picked = np.sort(np.random.default_rng(seed).choice(SUN.up.size, 60, replace=False))
    right, level_up = over.level((0.0, 1.0))
    # Of a wall that looks up the sheet, along is x and out is y: that gives the plan's own two axes.
    towards = np.stack([right, level_up, SUN.up], axis=1)[picked]
    triangles = built(room)
    compared = 0
    for spot in spots(room, rng, 5):
        origins = np.tile([spot.x_m, spot.y_m, spot.height_m], (picked.size, 1))
        hit = rays(triangles, origins, towards, tree=AllTriangles(triangles), multiple_hits=True)[1]
        free = ~np.isin(np.arange(picked.size), hit)
        lit = np.zeros(picked.size, dtype=bool)
        for a in apertures(room, spot):
            x, y = over.level(a.outward)
            lit |= passes(a, x[picked], y[picked], SUN.up[picked])
        assert (free == lit).all(), (seed, spot, picked[free != lit])
        compared += int(lit.sum())
    assert compared or not room.windows or seed


def south_room(depth: float) -> Room:
    """Return a room with one south window, head 2.2 m, sill on the floor."""
    return Room.model_validate(
        {
            "size": (6.0, 6.0),
            "windows": [{"wall": "bottom", "along": 1.0, "width": 4.0, "sill": 0.0, "head": 2.2, "depth": depth}],
        }
    )


@pytest.mark.outside(
    source="plane geometry at the moment of the NREL SPA example (zenith 50.11162, azimuth 194.34024 deg)",
    how="computed by hand: patch 2.5502 m deep, shifted 0.6520 m; a point 1.5 m high and 0.5 m deep maps to 1.9313 m, at 1 m to 2.3627 m",
)
def test_the_worked_sun_patch() -> None:
    """The patch on the floor ends where the hand geometry ends it, and two points map to the heights that it gives."""
    azimuth, elevation = np.radians(194.34024), np.radians(90.0 - 50.11162)
    direction = np.cos(elevation) * np.sin(azimuth), np.cos(elevation) * np.cos(azimuth), np.sin(elevation)
    # Facing south from inside, right is west.
    right, ahead, up = np.array([-direction[0]]), np.array([-direction[1]]), np.array([direction[2]])
    slope, shift = up[0] / ahead[0], right[0] / ahead[0]
    assert 2.2 / slope == pytest.approx(2.5502, abs=5e-5)
    assert abs(shift) * 2.5502 == pytest.approx(0.6520, abs=1e-4)
    assert 1.5 + 0.5 * slope == pytest.approx(1.9313, abs=5e-5)
    assert 1.5 + 1.0 * slope == pytest.approx(2.3627, abs=5e-5)
    room = south_room(0.0)

    def lit(depth_m: float, height_m: float) -> bool:
        return any(passes(a, right, ahead, up)[0] for a in apertures(room, Spot(3.0, depth_m, height_m)))

    assert lit(2.5502 - 1e-3, 0.0)
    assert not lit(2.5502 + 1e-3, 0.0)
    assert lit(0.5, 1.5)
    assert not lit(1.0, 1.5)
