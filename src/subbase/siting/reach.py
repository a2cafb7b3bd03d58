"""Height and reach: what a person who stands, and one who sits, can get at and read.

2010 ADA Standards for Accessible Design, section 308. Inches are the standard's own; metres follow from them.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot

from subbase.siting.finding import DISTANCE, INCH_M, PRACTICE, Finding, sources, told
from subbase.survey.rooms import Candidate, Furniture, Room, Wall
from subbase.words import _, mark

HIGHEST_M, LOWEST_M = 48 * INCH_M, 15 * INCH_M
"""308.2.1 and 308.3.1, unobstructed."""
ADA = mark("2010 ADA Standards 308.2.1, 308.3.1")
ADA_SIDE = mark("2010 ADA Standards 308.3.2")
USUAL_M = (52 * INCH_M, 60 * INCH_M)
"""Common practice, no source."""
POSSIBLE_M = (48 * INCH_M, 72 * INCH_M)
"""4 to 6 ft: common practice, no source."""
ROUNDING_M = 0.003
HIDDEN_M = 0.15
"""Furniture that ends less below a control stands before it (judgement)."""
BEFORE_M = 0.6
"""Furniture that begins farther from the wall leaves room to stand (judgement)."""


def usual_height_m(reach: str) -> float:
    """Return the height to hang a control at when none is told: 48 in unless nobody who sits must reach it."""
    return HIGHEST_M if reach != "usual" else sum(USUAL_M) / 2


def highest_sideways_m(depth_m: float, obstruction_m: float) -> float | None:
    """Return the most height [m] reached sideways over something solid, so deep and so high; None: not at all."""
    if depth_m <= 10 * INCH_M + ROUNDING_M:
        return 48 * INCH_M
    fits = depth_m <= 24 * INCH_M + ROUNDING_M and obstruction_m <= 34 * INCH_M + ROUNDING_M
    return 46 * INCH_M if fits else None


def reach_findings(room: Room, candidate: Candidate, height_m: float, reach: str, units: str) -> Iterator[Finding]:
    """Iterate over what height, furniture and door leaves say of a place."""
    here = height_words(height_m, units)
    within = LOWEST_M - ROUNDING_M <= height_m <= HIGHEST_M + ROUNDING_M
    if reach == "accessible" and not within:
        yield Finding(
            "rules out",
            "reach",
            _("{here} high; a person who sits reaches 15 to 48 in. Hang it at 48 in.").format(here=here),
            _(ADA),
        )
    elif reach == "unknown" and not within:
        text = _("{here} is beyond the reach of a person who sits (48 in); ask whether one must reach it.").format(
            here=here
        )
        yield Finding("against", "reach", text, _(ADA))
    if not POSSIBLE_M[0] - 0.06 <= height_m <= POSSIBLE_M[1] + ROUNDING_M:
        yield Finding(
            "against",
            "reach",
            _("{here}: outside 4 to 6 ft, where room air is even and a display is read.").format(here=here),
            _(PRACTICE),
        )
    elif reach == "usual" and not USUAL_M[0] - ROUNDING_M <= height_m <= USUAL_M[1] + ROUNDING_M:
        yield Finding("note", "reach", _("{here}; usual is 52 to 60 in.").format(here=here), _(PRACTICE))
    wall = room.wall(candidate.wall)
    for item in room.furniture:
        depth = depth_before(room, item, wall, candidate.along_m)
        if depth is not None:
            yield from _furniture(item, depth, height_m, reach, units)
    yield from _door_leaves(room, candidate)


def height_words(height_m: float, units: str) -> str:
    """Return a mounting height: inches, as reach is always said in the trade, with centimetres where those are used."""
    inches = f"{round(height_m / INCH_M)} in"
    return inches if units == "us" else f"{height_m * 100:.0f} cm ({inches})"


def _furniture(item: Furniture, depth_m: float, height_m: float, reach: str, units: str) -> Iterator[Finding]:
    depth = told(depth_m, units)
    if item.height_m >= height_m - HIDDEN_M:
        text = _("Behind the {what}: no room air gets there, and nobody reads it.").format(what=item.what)
        yield Finding("rules out", "air", text, _(PRACTICE))
        return
    if reach == "usual":
        if depth_m > BEFORE_M:
            yield Finding(
                "against",
                "reach",
                _("Reached only over the {what}, {depth} deep.").format(what=item.what, depth=depth),
                sources(PRACTICE, DISTANCE),
            )
        return
    highest = highest_sideways_m(depth_m, item.height_m)
    if highest is not None and height_m <= highest + ROUNDING_M:
        return
    said = (
        _("Over the {what}, {depth} deep, a person who sits reaches no higher than {highest} in.")
        if highest
        else _("Over the {what}, {depth} deep, a person who sits reaches nowhere at all.")
    )
    text = said.format(what=item.what, depth=depth, highest=round((highest or 0.0) / INCH_M))
    yield Finding("rules out" if reach == "accessible" else "against", "reach", text, _(ADA_SIDE))


def depth_before(room: Room, item: Furniture, wall: Wall, along_m: float) -> float | None:
    """Return how far from a wall furniture reaches that stands before a place on it; None when none does."""
    (tx, ty), (nx, ny) = wall.along, wall.outward
    x, y = room.at_m[0] + item.at_m[0], room.at_m[1] + item.at_m[1]
    corners = [(x + dx, y + dy) for dx in (0.0, item.size_m[0]) for dy in (0.0, item.size_m[1])]
    us = [(cx - wall.left[0]) * tx + (cy - wall.left[1]) * ty for cx, cy in corners]
    away = [-((cx - wall.left[0]) * nx + (cy - wall.left[1]) * ny) for cx, cy in corners]
    before = min(us) - 0.05 <= along_m <= max(us) + 0.05 and -0.05 <= min(away) < BEFORE_M
    return max(away) if before else None


def _door_leaves(room: Room, candidate: Candidate) -> Iterator[Finding]:
    x, y = room.wall(candidate.wall).point(candidate.along_m)
    for door in room.doors:
        if door.swing not in ("in, hinged left", "in, hinged right", "unknown"):
            continue
        wall = room.wall(door.wall)
        hinges = {"in, hinged left": (0.0,), "in, hinged right": (door.width_m,)}.get(door.swing, (0.0, door.width_m))
        for hinge in hinges:
            hx, hy = wall.point(door.along_m + hinge)
            if hypot(x - hx, y - hy) <= door.width_m + 0.1:
                if door.swing == "unknown":
                    text = _("A door's leaf may open over it: see which way the door swings.")
                    yield Finding("against", "reach", text, _(PRACTICE))
                else:
                    text = _(
                        "The open door's leaf comes before it: it is struck or hidden, and the air behind is dead."
                    )
                    yield Finding("rules out", "reach", text, _(PRACTICE))
                break
