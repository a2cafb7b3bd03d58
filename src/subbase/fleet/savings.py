"""What a night setback is expected to save over a fleet, by climate: a share of the heat, with an honest spread.

The list says where a home stands, at most how large it is, and no more of the house, so nothing is said of one home. For
each climate a spread of ordinary houses is run through a made-up year, minute by minute, held at one temperature and with
a setback at night; the share of heat saved is told as what one in ten stays below, the middle, and what one in ten
exceeds. What all homes of a climate save together is told as the mean, between what it would be if every home were like
the house that one in ten stays below, and like the one that one in ten exceeds: what is not known of houses may be the
same in all of them, so the range is not narrowed by their number. Equipment, fuel and money are left out: a share of heat
is a share of fuel for a burner, and is not for a heat pump with strips.
"""

from __future__ import annotations

from collections.abc import Iterable
from collections.abc import Mapping as Map
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.comfort.equipment import ideal
from subbase.comfort.house import HouseFacts, Insulation, believe, quantiles, sample
from subbase.comfort.loop import Case, run_many, weekly_setpoints
from subbase.comfort.made_weather import made_weather
from subbase.comfort.network import plant_of
from subbase.comfort.sun_on_windows import drive_of
from subbase.fleet.counts import SQUARE_CM_PER_M2, Counts
from subbase.fleet.outcome import Outcome

Floats = NDArray[np.float64]

CLIMATES: dict[str, tuple[float, float, float]] = {
    "1": (20.0, 28.5, 25.8), "2": (12.0, 28.5, 29.8), "3": (7.0, 27.0, 33.6), "4": (2.0, 25.5, 38.9),
    "5": (-3.5, 23.5, 41.8), "6": (-8.5, 22.5, 44.9), "7": (-13.0, 19.5, 46.8), "8": (-22.0, 16.5, 64.8),
}  # fmt: skip
"""Climate zone -> mean of the coldest and of the warmest month [°C], latitude [deg]: one place for each zone, from memory."""
HELD_C, BACK_C = 20.0, 16.5
NIGHT = (22, 6)
"""Hours between which the setback holds (judgement; within what 10 CFR 460.202 asks of a first schedule)."""
COOL_C = 40.0
"""No cooling: only heat is looked at."""
FLOOR_M2 = (90.0, 140.0, 200.0)
LEVELS = (Insulation.LITTLE, Insulation.SOME, Insulation.ORDINARY)
EACH = 3
"""Houses of each floor area and level: 27 for a climate."""
LEAST_HEAT_KWH = 200.0
"""Where a house needs less heat in a year, a share of it says nothing (judgement)."""
SEED = 11
J_PER_KWH = 3.6e6


@dataclass(frozen=True, slots=True)
class Saving:
    """What the setback saves in one climate."""

    climate: str
    homes: int
    """Planned or asked, with this climate in the list."""
    low: float
    middle: float
    high: float
    """Shares of the heat."""
    heat_kwh: float
    """Of the middle house, held at one temperature, in a year."""
    with_floor: int = 0
    """Of the homes, how many have a floor area in the list; for the others ordinary houses of any size stand."""
    saved_kwh: tuple[float, float, float] = (0.0, 0.0, 0.0)
    """Heat that all homes of the climate save in a year: (if all were low, mean, if all were high)."""


@dataclass(frozen=True, slots=True)
class Place:
    """The homes of one climate."""

    homes: int
    with_floor: int
    floor_m2: float


def savings_of(counts: Counts, outcomes: Map[int, Outcome]) -> tuple[Saving, ...]:
    """Return the saving by climate, for climates that the list names; none where houses hardly need heat."""
    sums: dict[str, list[int]] = {}
    for (climate, number), homes in counts.by_climate.items():
        if climate in CLIMATES and outcomes[number].verdict in ("planned", "asked"):
            row = sums.setdefault(climate, [0, 0, 0])
            where = (climate, number)
            for at, count in enumerate((homes, counts.with_floor[where], counts.floor_cm2[where])):
                row[at] += count
    places = {name: Place(homes, known, cm2 / SQUARE_CM_PER_M2) for name, (homes, known, cm2) in sums.items()}
    return tuple(_savings(places))


def _savings(places: Map[str, Place]) -> Iterable[Saving]:
    hour = np.arange(96) // 4
    steady, cool = np.full(96, HELD_C), np.full(96, COOL_C)
    back = np.where((hour >= NIGHT[0]) | (hour < NIGHT[1]), BACK_C, HELD_C)
    held, lowered = weekly_setpoints(steady, cool), weekly_setpoints(back, cool)
    sizes = [(area_m2, level) for area_m2 in FLOOR_M2 for level in LEVELS]
    beliefs = [believe(HouseFacts(area_m2, insulation=level)) for area_m2, level in sizes]
    plants = [plant_of(house) for belief in beliefs for house in sample(belief, EACH, SEED)]
    floors_m2 = np.repeat([area_m2 for area_m2, _level in sizes], EACH)
    heater = ideal()
    for climate in sorted(places):
        drive = drive_of(made_weather(*CLIMATES[climate]))
        years = run_many([Case(plant, heater, points) for points in (held, lowered) for plant in plants], drive)
        before, after = years.heat_j[: len(plants)], years.heat_j[len(plants) :]
        enough = before > LEAST_HEAT_KWH * J_PER_KWH
        if not enough.any():
            continue
        low, middle, high = quantiles(1.0 - after[enough] / before[enough])
        heat_kwh = float(np.median(before[enough])) / J_PER_KWH
        place = places[climate]
        saved_kwh = _together(place, (before - after) / J_PER_KWH, floors_m2)
        yield Saving(climate, place.homes, low, middle, high, heat_kwh, place.with_floor, saved_kwh)


def _together(place: Place, saved_kwh: Floats, floors_m2: Floats) -> tuple[float, float, float]:
    """Return what all homes of a climate save: by floor area where it is known, by ordinary houses where it is not."""
    each = place.floor_m2 * saved_kwh / floors_m2 + (place.homes - place.with_floor) * saved_kwh
    low, __, high = quantiles(each)
    return low, float(each.mean()), high
