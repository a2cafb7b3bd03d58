"""What of the sky a place on a wall can see through a room's windows, as bounds on the sun's two slopes.

For all windows in one wall the sun's direction is two numbers, whatever the place: ``t``, how far a ray moves along the wall
(to the right, seen from inside) for each metre that it goes out, and ``z``, how far it rises. A window is a straight tunnel:
a ray that passes its rectangle on the inner and on the outer face of the wall passes. Both rectangles, seen from a point,
are rectangles in (t, z), and so is what they share. Inner walls of a bent room cut intervals of t away. An overhang takes
away what rises past its edge. All of this is exact; nothing is sampled.

Left out, always on the side of too much sun: blinds, furniture, frames, dirty glass, and the shade of the house's own wings.
Sun through a neighbour room's windows and an open door is left out too; where a room has an opening without a door, the
verdict says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, sin

from subbase.survey.rooms import Candidate, Point, Room, Wall, Window

PROUD_M = 0.03
"""How far a control's face stands off its wall (judgement)."""
LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Spot:
    """A point in a room whose sun is asked for."""

    x_m: float
    y_m: float
    height_m: float
    wall: str = ""
    """Wall that it hangs on; that wall's own windows light it only by grazing rays, which are left out."""


@dataclass(frozen=True, slots=True)
class Aperture:
    """The directions in which one spot sees the sky through one window, or through one visible part of it."""

    outward: Point
    """Unit vector out of the window's wall, on the plan."""
    t: tuple[float, float]
    z: tuple[float, float]
    least_up: float = 0.0
    """Sine of the skyline's height."""
    rise_m: float = 0.0
    """From the spot up to the overhang; 0 without one."""
    out_m: float = 0.0
    """From the spot out to the overhang's edge."""
    under_m: tuple[float, float] = (0.0, 0.0)
    """Both ends of the overhang along the wall, from the spot."""


def spot_of(room: Room, candidate: Candidate, height_m: float) -> Spot:
    """Return the point at which a control on a wall feels the sun."""
    return spot_on(room.wall(candidate.wall), candidate.along_m, height_m)


def spot_on(wall: Wall, along_m: float, height_m: float) -> Spot:
    """Return a point just off a wall."""
    (x, y), (nx, ny) = wall.point(along_m), wall.outward
    return Spot(x - PROUD_M * nx, y - PROUD_M * ny, height_m, wall.name)


def apertures(room: Room, spot: Spot) -> tuple[Aperture, ...]:
    """Return everything that a spot in a room sees of the sky; windows of other rooms count as shut off."""
    walls = room.walls_found()
    found: list[Aperture] = []
    for window in room.windows:
        if window.wall == spot.wall:
            continue
        wall = next(w for w in walls if w.name == window.wall)
        found += _through(spot, window, wall, walls)
    return tuple(found)


def _through(spot: Spot, window: Window, wall: Wall, walls: tuple[Wall, ...]) -> list[Aperture]:
    (tx, ty), (nx, ny) = wall.along, wall.outward
    dx, dy = spot.x_m - wall.left[0], spot.y_m - wall.left[1]
    u, away = dx * tx + dy * ty, -(dx * nx + dy * ny)
    if away <= LEAST:
        return []
    far = away + (window.depth_m or 0.0)
    left, right = window.along_m, window.along_m + window.width_m
    z = _shared((window.sill_m, window.head_m), spot.height_m, away, far)
    if z is None:
        return []
    shade: dict[str, float] = {}
    under = (0.0, 0.0)
    if window.overhang_m:
        past = window.past_m or 0.0
        shade = {"rise_m": window.head_m + (window.above_m or 0.0) - spot.height_m, "out_m": far + window.overhang_m}
        under = (left - past - u, right + past - u)
    found = []
    for low, high in _visible((left, right), u, away, wall, walls, spot):
        inner = ((low - u) / away, (high - u) / away)
        outer = ((left - u) / far, (right - u) / far)
        t = (max(inner[0], outer[0]), min(inner[1], outer[1]))
        if t[0] < t[1]:
            least_up = sin(radians(window.skyline_deg or 0.0))
            found.append(Aperture((nx, ny), t, z, least_up, under_m=under, **shade))
    return found


def _shared(ends: tuple[float, float], origin: float, near: float, far: float) -> tuple[float, float] | None:
    """Return the slopes that pass between two ends both on the near and on the far plane."""
    low = max((ends[0] - origin) / near, (ends[0] - origin) / far)
    high = min((ends[1] - origin) / near, (ends[1] - origin) / far)
    return (low, high) if low < high and high > 0 else None


def _visible(
    opening: tuple[float, float], u: float, away: float, wall: Wall, walls: tuple[Wall, ...], spot: Spot
) -> list[tuple[float, float]]:
    """Return the parts of an opening that no other wall of the room hides, along its wall [m]."""
    (tx, ty), (nx, ny) = wall.along, wall.outward
    open_parts = [opening]
    for other in walls:
        if other.name == wall.name:
            continue
        ends = [
            ((x - spot.x_m) * tx + (y - spot.y_m) * ty, (x - spot.x_m) * nx + (y - spot.y_m) * ny)
            for x, y in (other.left, other.right)
        ]
        shadow = _shadow(ends[0], ends[1], away)
        if shadow is not None:
            open_parts = [part for whole in open_parts for part in _less(whole, (shadow[0] + u, shadow[1] + u))]
    return open_parts


def _shadow(a: Point, b: Point, away: float) -> tuple[float, float] | None:
    """Return what a wall between spot and window plane hides of that plane, along it from the spot; None if nothing."""
    if a[1] > b[1]:
        a, b = b, a
    nearest, farthest = LEAST, away * (1.0 - LEAST)
    if b[1] <= nearest or a[1] >= farthest:
        return None

    def cut(level: float) -> Point:
        share = (level - a[1]) / (b[1] - a[1])
        return a[0] + share * (b[0] - a[0]), level

    near, end = (cut(nearest) if a[1] < nearest else a), (cut(farthest) if b[1] > farthest else b)
    ends = sorted((near[0] * away / near[1], end[0] * away / end[1]))
    return ends[0], ends[1]


def _less(whole: tuple[float, float], hidden: tuple[float, float]) -> list[tuple[float, float]]:
    low, high = max(whole[0], hidden[0]), min(whole[1], hidden[1])
    if low >= high:
        return [whole]
    return [part for part in ((whole[0], low), (high, whole[1])) if part[1] - part[0] > LEAST]
