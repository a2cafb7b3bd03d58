"""The equipment that serves a house in the loop: from its nameplate where it is known, else sized as is usual.

Sizes that stand in are common practice: a burner at 1.4 times the heat that the house needs in its coldest hours, a heat
pump by the cooling it needs, strips that carry the coldest hour alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from subbase.comfort.answers import Answers
from subbase.comfort.differential import WARM_C, band_k, half_load_w
from subbase.comfort.equipment import (
    GRID_C,
    STEAM_START_S,
    WATER_START_S,
    Equipment,
    HeatPumpRating,
    air_conditioner,
    boiler,
    furnace,
    heat_pump,
    ideal,
    strip_heat,
    typical_heat_pump,
)
from subbase.comfort.loop import Case, Control, flat_setpoints, run_year
from subbase.comfort.network import Plant
from subbase.comfort.setting_records import COOLING_CYCLES_PER_H, CYCLES_PER_H, Heat
from subbase.comfort.sun_on_windows import Drive
from subbase.words import _

OVERSIZE = 1.4
COOL_OVERSIZE = 1.15
EER = 3.3
"""W of cooling for a W, near 11.3 Btu/Wh [typical of units ten years old, from memory]."""
LEAST_COOL_W = 5_275.0
"""1.5 tons: smaller split units are rare [common practice]."""
STRIP_W = 5_000.0
NO_HEAT_C = 15.0
"""Outdoors at which a house with sun and people needs no heat, to find its half load [judgement]."""
QUICK_S, PLAIN_S = 120.0, 300.0
"""Least time off of strips, and of what has a burner or a compressor."""
AUXILIARY_WAIT_S = 1800.0
LEAST_BURNER_W = 11_700.0
"""40,000 Btu/h: smaller furnaces and boilers are rare [common practice]."""


@dataclass(frozen=True, slots=True)
class Wired:
    """What the wiring of one control serves."""

    heat: Heat
    heat_stages: int
    cool_stages: int
    strip_stages: int
    second_fuel: bool
    auxiliary_below_c: float = math.inf
    """Strips join only below this."""
    compressor_above_c: float = -math.inf
    """Below this the second fuel takes over, or strips alone."""
    auxiliary_wait_s: float = AUXILIARY_WAIT_S


@dataclass(frozen=True, slots=True, eq=False)
class Served:
    """Equipment as it runs in the loop."""

    equipment: Equipment
    control: Control
    rating: HeatPumpRating | None
    strips_w: float
    heat_peak_w: float
    """What the house needs in its coldest hours (the 20 hardest of the year)."""
    cool_peak_w: float
    told: tuple[str, ...]
    """What was taken from a nameplate and what was sized."""


def served(wired: Wired, answers: Answers, plant: Plant, drive: Drive) -> Served:
    """Return the equipment of one control."""
    wishes = answers.wishes()
    year = run_year(Case(plant, ideal(), flat_setpoints(wishes.heat_c, wishes.cool_c)), drive)
    assert year.hourly is not None
    heat_peak_w = max(float(np.sort(year.hourly.heat_w[0])[-20]), 1000.0)
    cool_peak_w = float(np.sort(year.hourly.cool_w[0])[-20])
    told: list[str] = []
    cool_w = _cool_w(answers, cool_peak_w, told) if wired.cool_stages or wired.heat is Heat.HEAT_PUMP else 0.0
    rating, strips_w = None, 0.0
    if wired.heat is Heat.HEAT_PUMP:
        rating = _rating(answers, cool_w, told)
        equipment, strips_w = _heat_pump(wired, answers, rating, heat_peak_w, told)
    else:
        equipment = _burner(wired, answers, heat_peak_w, told)
        if wired.cool_stages:
            shares = (0.65, 1.0) if wired.cool_stages > 1 else (1.0,)
            equipment = equipment.with_cooling(air_conditioner(cool_w, EER, shares))
        strips_w = float(equipment.heating[-1].strip_w.max()) if wired.heat is Heat.ELECTRIC else 0.0
    if not wired.cool_stages:
        equipment = replace(equipment, cooling=())
    heat_band_k, cool_band_k = _bands_k(wired.heat, equipment, plant)
    control = Control(
        heat_band_k=heat_band_k,
        cool_band_k=cool_band_k,
        # The next level waits until the air has left the band.
        stage_up_k=max(0.8, 0.5 * heat_band_k + 0.3),
        least_on_s=QUICK_S if wired.heat is Heat.ELECTRIC and not wired.cool_stages else 180.0,
        least_off_s=QUICK_S if wired.heat is Heat.ELECTRIC and not wired.cool_stages else PLAIN_S,
        stage_delay_s=wired.auxiliary_wait_s if wired.strip_stages else 900.0,
    )
    return Served(equipment, control, rating, strips_w, heat_peak_w, cool_peak_w, tuple(told))


def _bands_k(heat: Heat, equipment: Equipment, plant: Plant) -> tuple[float, float]:
    """Return the bands that make heating and cooling cycle by the cycling curve."""
    heat_k = cool_k = Control().heat_band_k
    if equipment.heating:
        first = equipment.heating[0]
        full_w = half_load_w(first, plant, NO_HEAT_C)
        most, _source = CYCLES_PER_H[heat]
        heat_k = band_k(plant, full_w, most, start_s=equipment.heat_start_s, given_back=first.given_back)
    if equipment.cooling:
        full_w = float(np.interp(WARM_C, GRID_C, equipment.cooling[0].heat_w))
        cool_k = band_k(plant, full_w, COOLING_CYCLES_PER_H, start_s=equipment.cool_start_s, given_back=0.0)
    return heat_k, cool_k


def _cool_w(answers: Answers, peak_w: float, told: list[str]) -> float:
    if answers.cool_output is not None:
        told.append(_("Cooling capacity from the nameplate: {kw:.1f} kW.").format(kw=answers.cool_output / 1e3))
        return answers.cool_output
    # The air feels three quarters of it.
    found = max(math.ceil(COOL_OVERSIZE * peak_w / 0.75 / 1758.4) * 1758.4, LEAST_COOL_W)
    told.append(_("Cooling capacity sized from the house, in half tons: {kw:.1f} kW.").format(kw=found / 1e3))
    return found


def _rating(answers: Answers, cool_w: float, told: list[str]) -> HeatPumpRating:
    if answers.capacity is not None and answers.power is not None:
        told.append(_("The heat pump's heat and power from its data sheet."))
        return HeatPumpRating(*answers.capacity, *answers.power, cool_w, cool_w / EER)
    told.append(_("The heat pump's heat and power typical of an ordinary unit of that cooling capacity."))
    return typical_heat_pump(cool_w)


def _heat_pump(
    wired: Wired, answers: Answers, rating: HeatPumpRating, peak_w: float, told: list[str]
) -> tuple[Equipment, float]:
    if wired.second_fuel:
        backup = furnace(_output(answers, peak_w, told), answers.efficiency)
        change_c = wired.compressor_above_c
        # Never both at once: the coil sits in the burner's warm air.
        made = heat_pump(rating, compressor_lockout_c=change_c, auxiliary_lockout_c=change_c, backup=backup)
        return made, 0.0
    strips_w = 0.0
    if wired.strip_stages:
        strips_w = answers.strips * 1e3 if answers.strips is not None else math.ceil(peak_w / STRIP_W) * STRIP_W
        words = (
            _("Strips from the nameplate: {kw:.0f} kW.")
            if answers.strips is not None
            else _("Strips sized to carry the house alone: {kw:.0f} kW.")
        )
        told.append(words.format(kw=strips_w / 1e3))
    stages = (strips_w / wired.strip_stages,) * wired.strip_stages if strips_w else ()
    made = heat_pump(
        rating,
        stages,
        compressor_lockout_c=wired.compressor_above_c if strips_w else -math.inf,
        auxiliary_lockout_c=wired.auxiliary_below_c,
    )
    return made, strips_w


def _burner(wired: Wired, answers: Answers, peak_w: float, told: list[str]) -> Equipment:
    if wired.heat is Heat.NONE:
        return Equipment("no heat")
    shares = (0.65, 1.0) if wired.heat_stages > 1 else (1.0,)
    if wired.heat is Heat.ELECTRIC:
        total_w = answers.strips * 1e3 if answers.strips else _output(answers, peak_w, told, burner=False)
        return strip_heat((total_w / wired.heat_stages,) * max(wired.heat_stages, 1))
    output_w = _output(answers, peak_w, told)
    if wired.heat in (Heat.WATER, Heat.STEAM):
        start_s = STEAM_START_S if wired.heat is Heat.STEAM else WATER_START_S
        return boiler(output_w, answers.efficiency, start_s=start_s)
    return furnace(output_w, answers.efficiency, shares)


def _output(answers: Answers, peak_w: float, told: list[str], *, burner: bool = True) -> float:
    if answers.heat_output is not None:
        told.append(_("Heat output from the nameplate: {kw:.1f} kW.").format(kw=answers.heat_output / 1e3))
        return answers.heat_output
    found = OVERSIZE * peak_w
    if burner and found < LEAST_BURNER_W:
        told.append(
            _("Heat output taken as {kw:.1f} kW, though the house needs less: smaller burners are rare.").format(
                kw=LEAST_BURNER_W / 1e3
            )
        )
        return LEAST_BURNER_W
    told.append(
        _("Heat output sized from the house, {times:g} times what its coldest hours need: {kw:.1f} kW.").format(
            times=OVERSIZE, kw=found / 1e3
        )
    )
    return found
