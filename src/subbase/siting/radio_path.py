"""What lies between the house's radio and a place on a wall, and whether the radio carries."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import floor, hypot
from typing import Literal

from subbase.names import and_words, named
from subbase.siting.apertures import Spot
from subbase.siting.radio import (
    FADE_DB,
    PLAN_DBM,
    POWER_DBM,
    READING_DB,
    SENSITIVITY_DBM,
    Bounds,
    path_loss_db,
    wall_loss_db,
)
from subbase.survey.rooms import Material, Point, Room, Site
from subbase.words import _, plural

ONE_WALL_M = 0.4
"""Two rooms' faces closer than this on the line are the two faces of one wall (judgement)."""
FLOOR_THICK_M, USUAL_CEILING_M = 0.3, 2.5
UNSEEN_WALL_M = 3.0
"""Through space that was not drawn, one wall each three metres is taken for possible (judgement)."""
Grade = Literal["carries", "should carry", "doubtful", "weak", "does not carry"]


@dataclass(frozen=True, slots=True)
class RadioVerdict:
    """Whether 2.4 GHz carries to a place."""

    grade: Grade
    level_dbm: Bounds
    """What the receiver gets: from the worst to the best."""
    measured: bool
    distance_m: float | None = None
    walls: tuple[Material, ...] = ()
    floors: int = 0

    @property
    def margin_db(self) -> Bounds:
        """Over the level to plan for."""
        return Bounds(self.level_dbm.low - PLAN_DBM, self.level_dbm.high - PLAN_DBM)

    def words(self) -> str:
        """Return the level as a sentence, in whole decibels; no unit of length, so that it holds in any survey."""
        low, high = round(self.level_dbm.low), round(self.level_dbm.high)
        walls, floors = len(self.walls), self.floors
        what = [plural("{count} wall", "{count} walls", walls).format(count=walls)] if walls else []
        what += [plural("{count} floor", "{count} floors", floors).format(count=floors)] if floors else []
        if self.measured:
            said = _(
                "2.4 GHz {grade}: {high} to {low} dBm ({plan:.0f} is planned for, {least:.0f} the least), from the reading there."
            )
        elif what:
            said = _(
                "2.4 GHz {grade}: {high} to {low} dBm ({plan:.0f} is planned for, {least:.0f} the least), reckoned through {what}."
            )
        else:
            said = _(
                "2.4 GHz {grade}: {high} to {low} dBm ({plan:.0f} is planned for, {least:.0f} the least), reckoned in the same room."
            )
        return said.format(
            grade=named(self.grade), high=high, low=low, plan=PLAN_DBM, least=SENSITIVITY_DBM, what=and_words(what)
        )


def graded(level: Bounds) -> Grade:
    """Return what a level's bounds amount to."""
    if level.low >= PLAN_DBM:
        return "carries"
    if level.high < SENSITIVITY_DBM:
        return "does not carry"
    if level.high < PLAN_DBM:
        return "weak"
    return "should carry" if (level.low + level.high) / 2 >= PLAN_DBM else "doubtful"


def radio_verdict(site: Site, room: Room, spot: Spot, rssi_dbm: float | None) -> RadioVerdict | None:
    """Return whether the radio carries to a spot; None when neither a reading nor the radio's place is known."""
    if rssi_dbm is not None:
        level = Bounds(rssi_dbm - FADE_DB, rssi_dbm + READING_DB)
        return RadioVerdict(graded(level), level, measured=True)
    point = site.access_point
    if point is None:
        return None
    home = site.rooms[point.room]
    start = (home.at_m[0] + point.at_m[0], home.at_m[1] + point.at_m[1])
    heights = floor_heights(site)
    rise = (heights[home.floor] + point.height_m, heights[room.floor] + spot.height_m)
    distance = hypot(start[0] - spot.x_m, start[1] - spot.y_m, rise[0] - rise[1])
    walls, unseen = between(site, start, (spot.x_m, spot.y_m), (home.floor, room.floor))
    taken = sum((wall_loss_db(wall) for wall in walls), Bounds(0.0, 0.0))
    taken += Bounds(0.0, floor(unseen / UNSEEN_WALL_M) * wall_loss_db("unknown").high)
    loss = path_loss_db(distance, abs(home.floor - room.floor), taken)
    power = Bounds(point.power_dbm, point.power_dbm) if point.power_dbm is not None else Bounds(*POWER_DBM)
    level = Bounds(power.low - loss.high - FADE_DB, power.high - loss.low)
    return RadioVerdict(graded(level), level, False, distance, walls, abs(home.floor - room.floor))


def floor_heights(site: Site) -> dict[int, float]:
    """Return how high each storey's floor lies above the lowest one that was drawn [m]."""
    storeys = range(min(r.floor for r in site.rooms.values()), max(r.floor for r in site.rooms.values()) + 1)
    found, height = {}, 0.0
    for storey in storeys:
        found[storey] = height
        ceilings = [r.height_m for r in site.rooms.values() if r.floor == storey and r.height_m is not None]
        height += max(ceilings, default=USUAL_CEILING_M) + FLOOR_THICK_M
    return found


def between(site: Site, start: Point, end: Point, floors: tuple[int, int]) -> tuple[tuple[Material, ...], float]:
    """Return (walls crossed, metres of the way outside all drawn rooms).

    On its way from storey to storey the line spends an equal share in each, and there meets that storey's walls.
    """
    length = hypot(end[0] - start[0], end[1] - start[1])
    if length < 1e-6:
        return (), 0.0
    low, high = min(floors), max(floors)
    storeys = list(range(low, high + 1))
    if floors[0] > floors[1]:
        storeys.reverse()
    walls: list[Material] = []
    unseen = 0.0
    for number, storey in enumerate(storeys):
        share = (number / len(storeys), (number + 1) / len(storeys))
        rooms = [room for room in site.rooms.values() if room.floor == storey]
        walls += _walls(rooms, start, end, share)
        unseen += _unseen(rooms, start, end, share) * length
    return tuple(walls), unseen


def crossing(a: Point, b: Point, c: Point, d: Point) -> float | None:
    """Return how far along the way from a to b (0 to 1) it crosses the segment from c to d; None when it does not."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    turn = ux * vy - uy * vx
    if abs(turn) < 1e-12:
        return None
    wx, wy = c[0] - a[0], c[1] - a[1]
    on_way, on_wall = (wx * vy - wy * vx) / turn, (wx * uy - wy * ux) / turn
    return on_way if 0.0 < on_way < 1.0 and 0.0 <= on_wall < 1.0 else None


def _walls(rooms: list[Room], start: Point, end: Point, share: tuple[float, float]) -> list[Material]:
    met: list[tuple[float, int, Material]] = []
    for number, room in enumerate(rooms):
        for wall in room.walls_found():
            at = crossing(start, end, wall.left, wall.right)
            if at is not None and share[0] <= at < share[1]:
                met.append((at, number, room.material(wall.name)))
    met.sort(key=lambda item: item[0])
    length = hypot(end[0] - start[0], end[1] - start[1])
    found: list[Material] = []
    index = 0
    while index < len(met):
        at, number, material = met[index]
        index += 1
        if index < len(met) and met[index][1] != number and (met[index][0] - at) * length <= ONE_WALL_M:
            # The other face of the same wall: what is known of either face holds.
            other = met[index][2]
            material = worse(material, other)
            index += 1
        found.append(material)
    return found


def worse(one: Material, other: Material) -> Material:
    """Return the material of a wall of which two rooms speak: the known one, or the one that takes more."""
    if "unknown" in (one, other):
        return other if one == "unknown" else one
    return max((one, other), key=lambda material: wall_loss_db(material).high)


def _unseen(rooms: list[Room], start: Point, end: Point, share: tuple[float, float]) -> float:
    """Return the share of the way, within a share of it, that lies outside all rooms; walls' own thickness aside."""
    cuts = {share[0], share[1]}
    for room in rooms:
        for wall in room.walls_found():
            at = crossing(start, end, wall.left, wall.right)
            if at is not None and share[0] < at < share[1]:
                cuts.add(at)
    points = sorted(cuts)
    outside = 0.0
    length = hypot(end[0] - start[0], end[1] - start[1])
    for low, high in pairwise(points):
        middle = (low + high) / 2
        here = (start[0] + middle * (end[0] - start[0]), start[1] + middle * (end[1] - start[1]))
        if (high - low) * length > ONE_WALL_M and not any(inside(room.outline(), here) for room in rooms):
            outside += high - low
    return outside


def inside(outline: tuple[Point, ...], point: Point) -> bool:
    """Return whether a point lies within a polygon."""
    x, y = point
    within = False
    for (ax, ay), (bx, by) in zip(outline, (*outline[1:], outline[0]), strict=True):
        if (ay > y) != (by > y) and x < ax + (y - ay) / (by - ay) * (bx - ax):
            within = not within
    return within
