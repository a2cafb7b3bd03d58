"""One check: a reading, what it must be in the house as planned, and what it would be in any other house.

A check tells a slip when the bounds under the slip do not touch the bounds of the good house. Bounds of volts are those
of the corners that the proof solves, no guarantee. Bounds of ohms hold for any resistances within the stated ranges,
because the resistance between two points never falls when one inside rises (Rayleigh's monotonicity law; Doyle and
Snell, Random Walks and Electric Networks, 1984; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Netlist, Source
from subbase.circuit.many_ohms import ohms_between
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import Survey
from subbase.wiring import House, State, build_house
from subbase.wiring.build import CORNERS, Corner
from subbase.words import _
from subbase.work.calls import solved_calls
from subbase.work.slips import Slip

CLIP_OHM = 0.05
"""A clip lead between two terminals (judgement)."""
COIL_SHARE = (0.2, 1.0)
"""Direct-current resistance of a winding, over what its sealed impedance shows (judgement)."""
SUPPLY_SHARE = (0.2, 1.0)
"""The same of a transformer's secondary, over its series resistance at rated load (judgement)."""
ELECTRONICS_LEAST = 0.2
"""Electronics show at least this share of the resistance of their draw, and at most OL, to under a volt (judgement)."""
OHM_SHARE, OHM_OFFSET = 0.02, 0.3
"""An ohmmeter and its leads: 2 % of reading plus 0.3 ohm either way (judgement)."""
COLD_AND_WARM = (Corner("cold copper", conductor_c=0.0), Corner("warm copper", conductor_c=50.0))

Pair = tuple[str, str]
Bounds = tuple[float, float]
"""Least and most of a reading; infinite ohms are OL."""
NOTHING_KNOWN: Bounds = (0.0, math.inf)


@dataclass(frozen=True, slots=True)
class Check:
    """One reading, and what it must be in the house as planned."""

    kind: Literal["dead", "dead, clipped", "live"]
    between: Pair
    low: float
    high: float
    unit: Literal["ohm", "V"]
    site: str
    """Where the probes are held."""
    clip: Pair | None = None
    """Terminals at the other end of the cable that a clip lead joins meanwhile."""
    state: State | None = None
    """What is called, of live checks."""
    seconds: int = 0
    """Of the reading itself."""
    groups: tuple[tuple[str, int], ...] = ()
    """(walk or call that it shares with others, its seconds)."""

    @property
    def key(self) -> tuple[object, ...]:
        """Return what makes it the same as a ``ReadingTaken`` of this key, whichever way round the probes are."""
        clip = frozenset(self.clip) if self.clip else None
        return frozenset(self.between), clip, self.unit, self.state if self.unit == "V" else None

    def words(self) -> str:
        """Return the check as people say it."""
        a, b = self.between
        if self.state is not None:
            return _("{a} to {b} at {state}: {low:.1f} to {high:.1f} V").format(
                a=a, b=b, state=self.state.words(name_controls=True), low=self.low, high=self.high
            )
        if math.isinf(self.low):
            bounds = "OL"
        else:
            most = "OL" if math.isinf(self.high) else f"{self.high:.1f} ohm"
            bounds = _("{low} to {high}").format(low=f"{self.low:.1f} ohm", high=most)
        if self.clip is None:
            return _("{a} to {b} dead: {bounds}").format(a=a, b=b, bounds=bounds)
        return _("{a} to {b} dead with {first} and {second} clipped together: {bounds}").format(
            a=a, b=b, first=self.clip[0], second=self.clip[1], bounds=bounds
        )


def telling(slip: Slip, catalog: Catalog, checks: Sequence[Check]) -> tuple[int, ...]:
    """Return the positions of the checks, all dead or all live, that tell a slip from the good house."""
    if checks and checks[0].state is not None:
        return tuple(_telling_live(slip, catalog, checks))
    bounds = ohm_bounds(slip.survey, catalog, checks)
    return tuple(
        i for i, (check, (low, high)) in enumerate(zip(checks, bounds, strict=True)) if apart(check, low, high)
    )


def _telling_live(slip: Slip, catalog: Catalog, checks: Sequence[Check]) -> Iterator[int]:
    """Yield what ``volt_bounds`` and ``apart`` would find, leaving a check at the first corner that reads as it should."""
    read: dict[int, list[float]] = {i: [] for i in range(len(checks))}
    for corner in CORNERS:
        house = build_house(slip.survey, catalog, corner=corner, awake=corner.name != "high")
        states = tuple(dict.fromkeys(state for i in read if (state := checks[i].state) is not None))
        calls = dict(zip(states, solved_calls(house, states, dict(slip.settings)), strict=True))
        for i in tuple(read):
            check = checks[i]
            call = calls[check.state] if check.state is not None else None
            volts = call.solutions[0].between(*check.between) if call is not None and not call.chattering else None
            if volts is None or check.low <= abs(volts) <= check.high:
                del read[i]
            else:
                read[i].append(abs(volts))
    yield from (i for i, volts in read.items() if apart(checks[i], *read_volts(min(volts), max(volts))))


def apart(check: Check, low: float, high: float) -> bool:
    """Return whether bounds do not touch a check's own; OL on both sides touches."""
    return high < check.low or low > check.high


def volt_bounds(
    survey: Survey, catalog: Catalog, checks: Sequence[Check], slip: Slip | None = None
) -> tuple[Bounds, ...]:
    """Return the bounds of what live checks read in a house, a common meter's error included.

    Where no path defines a reading, or a relay chatters, nothing is known of it: a meter of high input impedance can
    show anything there up to the supply (ghost voltage).
    """
    states = tuple(dict.fromkeys(check.state for check in checks if check.state is not None))
    settings = dict(slip.settings) if slip else {}
    houses = [build_house(survey, catalog, corner=corner, awake=corner.name != "high") for corner in CORNERS]
    solved = [dict(zip(states, solved_calls(house, states, settings), strict=True)) for house in houses]
    found = []
    for check in checks:
        calls = [corner[check.state] for corner in solved if check.state is not None]
        volts = [call.solutions[0].between(*check.between) for call in calls if not call.chattering]
        sure = [abs(v) for v in volts if v is not None]
        found.append(read_volts(min(sure), max(sure)) if len(sure) == len(CORNERS) else NOTHING_KNOWN)
    return tuple(found)


def read_volts(low: float, high: float) -> Bounds:
    """Return the bounds of what a common meter shows of volts between two values."""
    return max(0.0, low - METER_SHARE * low - METER_V), high + METER_SHARE * high + METER_V


def ohm_bounds(survey: Survey, catalog: Catalog, checks: Sequence[Check]) -> tuple[Bounds, ...]:
    """Return the bounds of what dead checks read in a house, the ohmmeter's error included."""
    found: list[list[float]] = []
    for least, corner in zip((True, False), COLD_AND_WARM, strict=True):
        dead = dead_side(build_house(survey, catalog, corner=corner), least=least)
        by_clip: dict[Pair | None, dict[Pair, float]] = {}
        for clip in dict.fromkeys(check.clip for check in checks):
            pairs = [check.between for check in checks if check.clip == clip]
            by_clip[clip] = ohms_between(dead, pairs, clip=clip, clip_ohm=CLIP_OHM)
        found.append([by_clip[check.clip][check.between] for check in checks])
    return tuple(read_ohms(low, high) for low, high in zip(*found, strict=True))


def read_ohms(low: float, high: float) -> Bounds:
    """Return the bounds of what a common meter shows of ohms between two values; above ``MOST_OHM`` it shows OL."""
    least = max(0.0, (low + GOOD_LEADS_OHM) * (1.0 - OHM_SHARE) - OHM_OFFSET)
    most = (high + GOOD_LEADS_OHM) * (1.0 + OHM_SHARE) + OHM_OFFSET
    return (least if least <= MOST_OHM else math.inf), (most if most <= MOST_OHM else math.inf)


def dead_side(house: House, *, least: bool) -> Netlist:
    """Return what direct current sees at the least, or the most, of every resistance that is not copper."""
    side = 0 if least else 1
    known: dict[str, float] = {}
    for branch in house.netlist.branches:
        if isinstance(branch, Source):
            known[branch.tag] = complex(branch.z_ohm).real * SUPPLY_SHARE[side]
        elif isinstance(branch, Coil):
            z_ohm = complex(branch.z_in_ohm)
            winding_ohm = z_ohm.real * COIL_SHARE[side]
            electronics_ohm = z_ohm.real * ELECTRONICS_LEAST if least else math.inf
            known[branch.tag] = winding_ohm if z_ohm.imag > 0.0 else electronics_ohm
        elif isinstance(branch, Impedance) and branch.tag.endswith("/own draw"):
            known[branch.tag] = complex(branch.z_ohm).real * ELECTRONICS_LEAST if least else math.inf
    return dead_netlist(house.netlist, dc_ohm=known)


__all__ = [
    "CLIP_OHM",
    "COLD_AND_WARM",
    "Bounds",
    "Check",
    "Pair",
    "apart",
    "dead_side",
    "ohm_bounds",
    "read_ohms",
    "read_volts",
    "telling",
    "volt_bounds",
]
