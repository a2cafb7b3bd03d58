"""Sun over a whole wall, and where a beam of it lies on the plan: what the drawings show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from subbase.siting.apertures import apertures, spot_on
from subbase.siting.sun_hours import Sky, minutes_a_year
from subbase.siting.sun_year import Floats
from subbase.survey.rooms import Point, Room, Wall

CELL_M = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class WallMap:
    """Hours of sun a year over a wall in cells."""

    hours: Floats
    """(n_height, n_along), the lowest row first, the first column at the wall's left end as seen from inside."""
    cell_along_m: float
    cell_height_m: float


def wall_map(room: Room, wall: Wall, over: Sky, height_m: float) -> WallMap:
    """Return the sun on a wall up to a height, at the middle of cells of about 15 cm."""
    across, up = max(1, round(wall.length_m / CELL_M)), max(1, round(height_m / CELL_M))
    step_u, step_h = wall.length_m / across, height_m / up
    seen = [
        apertures(room, spot_on(wall, (u + 0.5) * step_u, (h + 0.5) * step_h)) for h in range(up) for u in range(across)
    ]
    return WallMap(minutes_a_year(seen, over).reshape(up, across) / 60.0, step_u, step_h)


def beam_on_plan(room: Room, over: Sky, day: int, minute: int, height_m: float) -> tuple[tuple[Point, ...], ...]:
    """Return where the sun lies in a room at one height and moment, as polygons in plan coordinates [m].

    Overhangs, reveals and skylines are left out: the whole window's light is drawn.
    """
    at = np.flatnonzero((over.sun.day == day) & (over.sun.minute == minute))
    if at.size == 0:
        return ()
    found = []
    for window in room.windows:
        wall = room.wall(window.wall)
        right, ahead = (float(part[at[0]]) for part in over.level(wall.outward))
        up = float(over.sun.up[at[0]])
        if ahead <= 0.0 or window.head_m <= height_m:
            continue
        near, far = max(0.0, window.sill_m - height_m) * ahead / up, (window.head_m - height_m) * ahead / up
        nx, ny = wall.outward
        shift = right / ahead
        quad = []
        for along, depth in (
            (window.along_m, near), (window.along_m + window.width_m, near),
            (window.along_m + window.width_m, far), (window.along_m, far),
        ):  # fmt: skip
            x, y = wall.point(along - shift * depth)
            quad.append((x - nx * depth, y - ny * depth))
        clipped = clip(room.outline(), tuple(quad))
        if len(clipped) > 2:
            found.append(clipped)
    return tuple(found)


def clip(outline: tuple[Point, ...], convex: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return the part of a polygon within a convex one (Sutherland and Hodgman, 1974)."""
    turn = sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(convex, (*convex[1:], convex[0]), strict=True))
    edges = list(zip(convex, (*convex[1:], convex[0]), strict=True))
    kept = list(outline)
    for a, b in edges:
        if not kept:
            break
        sides = [(b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) for p in kept]
        inside = [side * turn >= 0 for side in sides]
        found: list[Point] = []
        for i, point in enumerate(kept):
            before, before_in = kept[i - 1], inside[i - 1]
            if inside[i] != before_in:
                share = sides[i - 1] / (sides[i - 1] - sides[i])
                found.append((before[0] + share * (point[0] - before[0]), before[1] + share * (point[1] - before[1])))
            if inside[i]:
                found.append(point)
        kept = found
    return tuple(kept)
