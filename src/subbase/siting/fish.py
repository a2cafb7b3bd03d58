"""How the cable gets there, in words, with what must be looked for before the drill turns."""

from __future__ import annotations

from collections.abc import Iterator
from math import hypot

from subbase.names import named
from subbase.siting.air import nearest_point
from subbase.siting.apertures import Spot
from subbase.siting.finding import Finding, told
from subbase.survey.rooms import IN_WALL, Candidate, Room, Site
from subbase.words import _

DRILL_M = 0.45
"""What runs in the wall so near to the drill point must be found first (judgement): a stud bay is 16 in wide."""
LEAD_PAINT_YEAR = 1978
PAINT_SOURCE = "40 CFR 745.83"


def fish_path(site: Site, room: Room, candidate: Candidate, spot: Spot, units: str) -> tuple[str, ...]:
    """Return the way of the cable to a place, step by step."""
    return tuple(_steps(site, room, candidate, spot, units))


def _steps(site: Site, room: Room, candidate: Candidate, spot: Spot, units: str) -> Iterator[str]:
    material, behind = room.material(candidate.wall), room.behind(candidate.wall)
    below = any(other.floor == room.floor - 1 for other in site.rooms.values())
    above = any(other.floor == room.floor + 1 for other in site.rooms.values())
    for kind, distance in _hidden_near(site, room, spot):
        yield _(
            "Stop: a {kind} runs {distance} from the drill point. Choose another stud bay, or open the wall by hand."
        ).format(kind=named(kind), distance=told(distance, units))
    if material in ("brick", "concrete"):
        yield _(
            "The wall is {material}: no cavity to fish. Run the cable in a surface channel, or use a hollow wall."
        ).format(material=named(material))
    elif material == "glass":
        yield _("The wall is glass: nothing hangs on it. Use another wall.")
    else:
        if behind == "outside":
            yield _(
                "An outside wall is full of insulation and blocking, and its hole draws cold air: use an inside wall."
            )
        way = {
            (True, True): _(
                "Fish the stud bay from the room below, up through the bottom plate; from above, down through the top plate; look for fire blocks before you cut."
            ),
            (True, False): _(
                "Fish the stud bay from the room below, up through the bottom plate; look for fire blocks before you cut."
            ),
            (False, True): _(
                "Fish the stud bay from the room above, down through the top plate; look for fire blocks before you cut."
            ),
            (False, False): _(
                "Fish the stud bay from the basement, crawl space or attic that lies under or over it; look for fire blocks before you cut."
            ),
        }[below, above]
        yield way
    yield (
        _(
            "Before you drill: look on both sides of the wall and on the floors above and below for pipes, switches, sockets and flues in line with it; open a small hole by hand first. Power off what may be hit."
        )
    )
    if material in ("plaster and lath", "unknown"):
        yield _(
            "Plaster: score it, tape it, drill slowly without hammer; lath may be metal, which also stops the radio."
        )
    yield _("Keep the 24 V cable apart from power cables (NFPA 70 section 725.136), and leave slack. Seal every hole.")


def _hidden_near(site: Site, room: Room, spot: Spot) -> Iterator[tuple[str, float]]:
    for other in site.rooms.values():
        if other.floor != room.floor:
            continue
        for thing in other.things:
            if thing.kind in IN_WALL:
                at = nearest_point(*other.thing_points(thing), (spot.x_m, spot.y_m))
                distance = hypot(at[0] - spot.x_m, at[1] - spot.y_m)
                if distance < DRILL_M:
                    yield thing.kind, distance


def paint_caution(year_built: int | None) -> Finding | None:
    """Return the caution for paint that may hold lead; None for a house built since."""
    if year_built is None:
        text = _("The year of building is not known: before 1978 paint may hold lead. Find out before you drill.")
    elif year_built < LEAD_PAINT_YEAR:
        text = _(
            "Built before 1978: paint may hold lead. Drilling and cutting follow the lead-safe rules; up to 6 square feet a room is exempt as minor work."
        )
    else:
        return None
    return Finding("note", "wall", text, PAINT_SOURCE)
