"""Heating and cooling equipment: capacity and draw against outdoor temperature, level by level.

A *level* is one way the equipment can run (compressor; compressor and one strip; furnace on high). A control climbs the
levels that its lockouts allow at an outdoor temperature. Heat given while starting is short by exp(-t/τ). Of a compressor
it is lost, which on average is the part-load loss PLF = 1 - C_d (1 - X): Henderson and Rengarajan, ASHRAE Transactions
102(1) (1996) [from memory]. Iron and water that a burner or a strip has warmed give it back after the stop; what a burner's
cycles do lose is in its AFUE already [common practice]. US ratings are turned into SI where they are read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from subbase.comfort.weather import Floats

GRID_FROM_C, GRID_TO_C = -50, 60
GRID_C = np.arange(GRID_FROM_C, GRID_TO_C + 1, dtype=np.float64)
"""Outdoor temperatures at which a level is tabulated [°C]; between them by straight lines, beyond them held."""
F17_C, F35_C, F45_C, F47_C = (17 - 32) / 1.8, (35 - 32) / 1.8, (45 - 32) / 1.8, (47 - 32) / 1.8
F95_C = (95 - 32) / 1.8
W_PER_BTU_H = 0.29307107
ALWAYS = (-math.inf, math.inf)


@dataclass(frozen=True, slots=True, eq=False)
class Level:
    """One way to run; arrays are (111,) on ``GRID_C``."""

    name: str
    heat_w: Floats
    """Into the house when warm and running; cooling counts as positive heat taken out (sensible)."""
    electric_w: Floats
    """All electricity but strips."""
    strip_w: Floats
    fuel_w: Floats
    """By higher heating value."""
    above_c: float = -math.inf
    """Runs only at or above this outdoor temperature."""
    below_c: float = math.inf
    """Runs only below this outdoor temperature."""
    given_back: float = 0.0
    """Part of the heat lacking at a start that comes after the stop."""


@dataclass(frozen=True, slots=True, eq=False)
class Equipment:
    """What serves the house; levels in rising order of heat at every outdoor temperature where they are allowed."""

    name: str
    heating: tuple[Level, ...] = ()
    cooling: tuple[Level, ...] = ()
    heat_start_s: float = 0.0
    """Time constant τ with which heat comes up after a start."""
    cool_start_s: float = 0.0
    lowest_share: float = 1.0
    """Least part of a level's heat it can run at: 1 is on and off, 0 an ideal modulating one."""

    def with_cooling(self, other: Equipment) -> Equipment:
        """Return this equipment's heating with another's cooling."""
        return replace(self, cooling=other.cooling, cool_start_s=other.cool_start_s, name=f"{self.name}, {other.name}")


@dataclass(frozen=True, slots=True)
class HeatPumpRating:
    """What a data sheet says of an air-source heat pump [W]; nothing is thermal efficiency, all are rates."""

    heat_17f_w: float
    heat_35f_w: float
    heat_47f_w: float
    power_17f_w: float
    power_35f_w: float
    power_47f_w: float
    cool_95f_w: float
    cool_power_95f_w: float


def heat_pump_line(at_17: float, at_35: float, at_47: float, outdoor_c: Floats) -> Floats:
    """Return capacity or power at outdoor temperatures by AHRI 210/240 (2017 and 2023), which is lower while it frosts.

    At or under 17 °F and at or over 45 °F on the line from 17 to 47 °F, between on the line from 17 to 35 °F.
    """
    dry = at_17 + (at_47 - at_17) * (outdoor_c - F17_C) / (F47_C - F17_C)
    frost = at_17 + (at_35 - at_17) * (outdoor_c - F17_C) / (F35_C - F17_C)
    return np.asarray(np.where((outdoor_c <= F17_C) | (outdoor_c >= F45_C), dry, frost))


def typical_heat_pump(cool_95f_w: float, hspf_class: str = "ordinary") -> HeatPumpRating:
    """Return a rating typical of an air-source heat pump of a cooling capacity.

    Ratios of single-stage split systems [from memory, shapes of AHRI data sheets]: ``old``, ``ordinary`` or ``cold climate``.
    """
    shape = {
        "old": (0.55, 0.75, 0.95, 2.0, 2.5, 3.0, 2.9),
        "ordinary": (0.60, 0.83, 1.00, 2.3, 2.8, 3.6, 3.5),
        "cold climate": (0.80, 0.92, 1.05, 2.5, 3.0, 3.9, 3.8),
    }
    heat_17, heat_35, heat_47, cop_17, cop_35, cop_47, eer = shape[hspf_class]
    return HeatPumpRating(
        heat_17f_w=heat_17 * cool_95f_w,
        heat_35f_w=heat_35 * cool_95f_w,
        heat_47f_w=heat_47 * cool_95f_w,
        power_17f_w=heat_17 * cool_95f_w / cop_17,
        power_35f_w=heat_35 * cool_95f_w / cop_35,
        power_47f_w=heat_47 * cool_95f_w / cop_47,
        cool_95f_w=cool_95f_w,
        cool_power_95f_w=cool_95f_w / eer,
    )


def heat_pump(
    rating: HeatPumpRating,
    strips_w: tuple[float, ...] = (),
    *,
    compressor_lockout_c: float = -math.inf,
    auxiliary_lockout_c: float = math.inf,
    backup: Equipment | None = None,
    sensible_share: float = 0.75,
) -> Equipment:
    """Return a heat pump with strips in stages, or with a fuel furnace that takes over (``backup``).

    Strips join only below ``auxiliary_lockout_c``, and replace the compressor below ``compressor_lockout_c``. Defrost
    is in the 35 °F rating.
    """
    heat = np.maximum(heat_pump_line(rating.heat_17f_w, rating.heat_35f_w, rating.heat_47f_w, GRID_C), 0.0)
    power = np.maximum(
        heat_pump_line(rating.power_17f_w, rating.power_35f_w, rating.power_47f_w, GRID_C), 0.2 * rating.power_17f_w
    )
    none = np.zeros_like(GRID_C)
    levels = [Level("compressor", heat, power, none, none, above_c=compressor_lockout_c)]
    total_w = 0.0
    # Without an auxiliary lockout below it, a locked-out compressor leaves strips at any temperature.
    for count, strip_w in enumerate(strips_w, start=1):
        total_w += strip_w
        strip = np.full_like(GRID_C, total_w)
        name = f"{count} strip{'s' if count > 1 else ''}"
        levels.append(
            Level(f"compressor and {name}", heat + strip, power, strip, none, compressor_lockout_c, auxiliary_lockout_c)
        )
        levels.append(Level(name, strip, none + 0.015 * total_w, strip, none, -math.inf, compressor_lockout_c, 1.0))
    if backup is not None:
        levels += [replace(level, below_c=min(level.below_c, auxiliary_lockout_c)) for level in backup.heating]
    cooling = air_conditioner(
        rating.cool_95f_w, rating.cool_95f_w / rating.cool_power_95f_w, sensible_share=sensible_share
    )
    return Equipment("heat pump", tuple(levels), cooling.cooling, heat_start_s=77.0, cool_start_s=77.0)


def furnace(
    output_w: float, efficiency: float, stage_shares: tuple[float, ...] = (1.0,), *, blower_w: float = 400.0
) -> Equipment:
    """Return a fuel furnace with warm air; ``efficiency`` 0 to 1, stages in rising order ending at 1."""
    return _burner("furnace", output_w, efficiency, stage_shares, blower_w, 45.0)


WATER_START_S, STEAM_START_S = 480.0, 900.0
"""How slowly heat comes to the rooms through pipes and radiators, and goes [judgement]."""


def boiler(
    output_w: float,
    efficiency: float,
    *,
    pump_w: float = 80.0,
    lowest_share: float = 1.0,
    start_s: float = WATER_START_S,
) -> Equipment:
    """Return a fuel boiler with water; one that modulates has ``lowest_share`` under 1."""
    return replace(_burner("boiler", output_w, efficiency, (1.0,), pump_w, start_s), lowest_share=lowest_share)


def strip_heat(strips_w: tuple[float, ...], *, blower_share: float = 0.015) -> Equipment:
    """Return resistance heat in stages."""
    none = np.zeros_like(GRID_C)
    levels = []
    for count in range(1, len(strips_w) + 1):
        strip = np.full_like(GRID_C, sum(strips_w[:count]))
        name = f"{count} strips" if count > 1 else "1 strip"
        levels.append(Level(name, strip, strip * blower_share, strip, none, given_back=1.0))
    return Equipment("strip heat", tuple(levels), heat_start_s=20.0)


def air_conditioner(
    cool_95f_w: float, eer: float, stage_shares: tuple[float, ...] = (1.0,), *, sensible_share: float = 0.75
) -> Equipment:
    """Return an air conditioner; ``eer`` is W of cooling per W at 95 °F.

    Capacity falls 0.9 % and power rises 1.8 % per kelvin over 95 °F, typical of data sheets [from memory]; the air
    sees the sensible part only.
    """
    over_k = GRID_C - F95_C
    cool = cool_95f_w * np.clip(1.0 - 0.009 * over_k, 0.3, 1.3)
    power = cool_95f_w / eer * np.clip(1.0 + 0.018 * over_k, 0.4, 2.0)
    none = np.zeros_like(GRID_C)
    levels = tuple(
        Level(f"cooling {k}", share * cool * sensible_share, share * power, none, none)
        for k, share in enumerate(stage_shares, start=1)
    )
    return Equipment("air conditioner", cooling=levels, cool_start_s=77.0)


def ideal(heat_w: float = 1e6, cool_w: float = 1e6) -> Equipment:
    """Return equipment that gives exactly what is asked, for loads."""
    none = np.zeros_like(GRID_C)
    heat, cool = np.full_like(GRID_C, heat_w), np.full_like(GRID_C, cool_w)
    heating = (Level("ideal heat", heat, none, none, none),) if heat_w else ()
    cooling = (Level("ideal cold", cool, none, none, none),) if cool_w else ()
    return Equipment("ideal", heating, cooling, lowest_share=0.0)


def start_time_constant_s(degradation: float, most_cycles_per_h: float) -> float:
    """Return the start-up time constant τ that gives a degradation coefficient C_d.

    C_d = 4τN (1 - exp(-1/(4τN))) with N cycles an hour at half load: Henderson and Rengarajan (1996) [from memory].
    """
    if degradation <= 0.0:
        return 0.0
    x = degradation
    for _ in range(60):
        x = degradation / (1.0 - math.exp(-1.0 / x))
    return x * 3600.0 / (4.0 * most_cycles_per_h)


def cycles_per_h(load_share: float, most_cycles_per_h: float) -> float:
    """Return cycles an hour at a run-time share X: N = 4 N_max X (1 - X), NEMA DC 3 [from memory]."""
    return 4.0 * most_cycles_per_h * load_share * (1.0 - load_share)


def on_off_s(load_share: float, most_cycles_per_h: float) -> tuple[float, float]:
    """Return seconds on and off of a cycle at a run-time share between 0 and 1."""
    quarter = 3600.0 / (4.0 * most_cycles_per_h)
    return quarter / (1.0 - load_share), quarter / load_share


def part_load_factor(load_share: float, degradation: float) -> float:
    """Return PLF = 1 - C_d (1 - X)."""
    return 1.0 - degradation * (1.0 - load_share)


def _burner(
    name: str, output_w: float, efficiency: float, stage_shares: tuple[float, ...], electric_w: float, start_s: float
) -> Equipment:
    none = np.zeros_like(GRID_C)
    levels = tuple(
        Level(
            f"{name} {k}",
            none + share * output_w,
            none + share * electric_w,
            none,
            none + share * output_w / efficiency,
            given_back=1.0,
        )
        for k, share in enumerate(stage_shares, start=1)
    )
    return Equipment(name, levels, heat_start_s=start_s)
