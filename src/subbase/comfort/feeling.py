"""How people feel at a temperature: predicted mean vote and the part of people not content, by ISO 7730.

Computed by ``pythermalcomfort``. It answers one question of the Tune stage: is what was wished for within what most people
call comfortable, sitting at home, in winter and in summer clothes?
"""

from __future__ import annotations

from dataclasses import dataclass

AIR_M_S, WINTER_HUMIDITY, SUMMER_HUMIDITY = 0.1, 40.0, 55.0
SITTING_MET, WINTER_CLO, SUMMER_CLO = 1.1, 1.0, 0.5
"""Light activity at home, indoor clothes with a jumper, light clothes (ISO 7730 annexes [from memory])."""


@dataclass(frozen=True, slots=True)
class Feeling:
    """What people say."""

    vote: float
    """Predicted mean vote, -3 cold to +3 hot."""
    not_content: float
    """Part of people not content, 0 to 1; never under 0.05."""


@dataclass(frozen=True, slots=True)
class Room:
    """What the body meets."""

    air_c: float
    radiant_c: float
    air_m_s: float
    """Relative to the body."""
    humidity: float
    """%"""
    met: float
    clo: float


def feeling(room: Room) -> Feeling:
    """Return the predicted mean vote and the part not content, ISO 7730."""
    # The package takes a second to load.
    from pythermalcomfort.models import pmv_ppd_iso

    found = pmv_ppd_iso(
        tdb=room.air_c,
        tr=room.radiant_c,
        vr=room.air_m_s,
        rh=room.humidity,
        met=room.met,
        clo=room.clo,
        limit_inputs=False,
        round_output=False,
    )
    return Feeling(float(found.pmv), float(found.ppd) / 100.0)


def at_home(air_c: float, *, summer: bool) -> Feeling:
    """Return how people feel sitting at home, walls as warm as the air."""
    humidity, clo = (SUMMER_HUMIDITY, SUMMER_CLO) if summer else (WINTER_HUMIDITY, WINTER_CLO)
    return feeling(Room(air_c, air_c, AIR_M_S, humidity, SITTING_MET, clo))
