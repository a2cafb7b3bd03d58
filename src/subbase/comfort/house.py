"""A house from what an installer can know in five minutes, with an honest spread.

``HouseFacts`` are asked; ``believe`` turns them into medians and a spread for the dozen quantities that matter;
``building_of`` makes the layers; ``sample`` draws as many houses as wanted. An answer is then a range, not a number.

Insulation levels follow the idea of the thermal-integrity levels of an open grid simulator's house module, wall, ceiling
and floor R in ft² °F h/Btu from memory, turned into SI; air changes are means over the heating season [judgement: the
simulator's are for design hours]. Every spread is judgement: a logarithmic standard deviation.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import StrEnum

import numpy as np

from subbase.comfort.building import COMPASS, Building, Face, Layer, Opaque, Window
from subbase.comfort.weather import Floats
from subbase.errors import Fault, InputError
from subbase.words import _

R_SI = 0.17611
"""m² K/W per ft² °F h/Btu."""
FRAMING = 0.85
"""A framed wall's mean R as a part of its cavity's [common practice]."""
STILL_BASEMENT_M2K_W = 0.7
"""What an unheated basement or crawl space adds to the floor's R [judgement]."""
SOIL_M2K_W = 1.2
"""What the soil adds under a slab, to the yearly ground half a metre down [judgement]."""


class Insulation(StrEnum):
    """How well the house is insulated, in words that need no tool."""

    NONE = "none"
    LITTLE = "little"
    SOME = "some"
    ORDINARY = "ordinary"
    GOOD = "good"
    VERY_GOOD = "very good"


class Mass(StrEnum):
    """What the inside is made of."""

    LIGHT = "light"
    """Frame walls, plasterboard, carpet."""
    MEDIUM = "medium"
    """Frame walls, thick plaster on walls and partitions."""
    HEAVY = "heavy"
    """Masonry walls insulated outside, or bare concrete floors."""


class Below(StrEnum):
    """What is under the lowest heated floor."""

    SLAB = "slab"
    BASEMENT = "basement"
    CRAWL_SPACE = "crawl space"


@dataclass(frozen=True, slots=True)
class HouseFacts:
    """What is asked at the door; only the floor area must be known."""

    floor_area_m2: float
    """Heated, all storeys."""
    storeys: int = 1
    insulation: Insulation = Insulation.ORDINARY
    window_area_m2: float | None = None
    """15 % of the floor [common practice] where nobody measured."""
    window_shares: tuple[float, float, float, float] = (0.25, 0.25, 0.25, 0.25)
    """Part of the glass facing north, east, south, west."""
    mass: Mass = Mass.LIGHT
    below: Below = Below.BASEMENT
    ceiling_m: float = 2.44
    people: int = 3
    shared_walls: float = 0.0
    """Part of the walls shared with heated neighbours."""
    elevation_m: float = 0.0


@dataclass(frozen=True, slots=True)
class Quantities:
    """What the facts do not tell exactly; also the logarithmic standard deviations of the same, field by field."""

    wall_m2k_w: float
    """R of the wall's insulation."""
    ceiling_m2k_w: float
    floor_m2k_w: float
    window_u_w_m2k: float
    window_shgc: float
    """With screens, curtains and trees."""
    window_area_m2: float
    air_changes_per_h: float
    internal_gain_w: float
    contents: float
    """Light contents and air as a multiple of the air alone."""
    mass: float
    """Heavy contents and partitions as a multiple of the class's."""


@dataclass(frozen=True, slots=True)
class HouseBelief:
    """A house as far as it is known."""

    facts: HouseFacts
    medians: Quantities
    spread: Quantities
    """Logarithmic standard deviations: 0.25 means that two in three houses lie within a quarter of the median."""


@dataclass(frozen=True, slots=True)
class _LevelOfInsulation:
    wall_r: float
    ceiling_r: float
    floor_r: float
    window_u_w_m2k: float
    shgc: float
    air_changes_per_h: float


_LEVELS = {
    Insulation.NONE: _LevelOfInsulation(4, 11, 4, 5.8, 0.75, 0.9),
    Insulation.LITTLE: _LevelOfInsulation(11, 19, 4, 4.5, 0.70, 0.7),
    Insulation.SOME: _LevelOfInsulation(11, 19, 11, 3.2, 0.65, 0.55),
    Insulation.ORDINARY: _LevelOfInsulation(13, 30, 13, 2.8, 0.60, 0.40),
    Insulation.GOOD: _LevelOfInsulation(19, 38, 19, 2.0, 0.40, 0.30),
    Insulation.VERY_GOOD: _LevelOfInsulation(24, 49, 30, 1.6, 0.30, 0.20),
}
_SPREAD = Quantities(
    wall_m2k_w=0.25,
    ceiling_m2k_w=0.25,
    floor_m2k_w=0.35,
    window_u_w_m2k=0.15,
    window_shgc=0.25,
    window_area_m2=0.25,
    air_changes_per_h=0.40,
    internal_gain_w=0.30,
    contents=0.30,
    mass=0.30,
)
_SCREEN = 0.7
"""What curtains, eaves, trees and frames leave of the sun on a window [judgement]."""
_BASE_GAIN_W_M2, _GAIN_PER_PERSON_W = 2.2, 60.0
"""Appliances and light per heated area, and people, mean over the day [judgement]."""
_CONTENTS = 5.0
"""Light contents and air as a multiple of the air [judgement; open home-energy models use 7 without partitions]."""
MEASURED_SPREAD = 0.05
MOST_GLASS_U_W_M2K = 5.85
"""A rated U holds its two films, so it cannot exceed what they alone pass."""

PLASTERBOARD = Layer(0.0127, 0.16, 800.0, 1090.0)
PLASTER = Layer(0.025, 0.5, 1300.0, 1000.0)
SIDING = Layer(0.012, 0.14, 530.0, 900.0)
WOOD_FLOOR = Layer(0.020, 0.14, 650.0, 1200.0)
BLOCK = Layer(0.100, 0.51, 1400.0, 1000.0)
CONCRETE = Layer(0.100, 1.13, 1400.0, 1000.0)
CARPET = Layer(0.010, 0.06)
FURNITURE = Layer(0.040, 0.14, 600.0, 1600.0)
"""Layers from handbooks of building physics [from memory]."""


def insulation_of_year(built: int) -> Insulation:
    """Return the likely insulation of a house never improved, by the year it was built in [judgement, US practice]."""
    for before, level in (
        (1940, Insulation.NONE),
        (1965, Insulation.LITTLE),
        (1980, Insulation.SOME),
        (2000, Insulation.ORDINARY),
    ):
        if built < before:
            return level
    return Insulation.GOOD if built < 2015 else Insulation.VERY_GOOD


def believe(facts: HouseFacts) -> HouseBelief:
    """Return medians and spread.

    Raises
    ------
    InputError
        A fact is impossible.
    """
    faults = tuple(_faults(facts))
    if faults:
        raise InputError(faults)
    level = _LEVELS[facts.insulation]
    measured = facts.window_area_m2 is not None
    medians = Quantities(
        wall_m2k_w=level.wall_r * R_SI * FRAMING,
        ceiling_m2k_w=level.ceiling_r * R_SI * FRAMING,
        floor_m2k_w=level.floor_r * R_SI * FRAMING if facts.below is not Below.SLAB else 0.35 * level.floor_r * R_SI,
        window_u_w_m2k=level.window_u_w_m2k,
        window_shgc=level.shgc * _SCREEN,
        window_area_m2=facts.window_area_m2 if facts.window_area_m2 is not None else 0.15 * facts.floor_area_m2,
        air_changes_per_h=level.air_changes_per_h,
        internal_gain_w=_BASE_GAIN_W_M2 * facts.floor_area_m2 + _GAIN_PER_PERSON_W * facts.people,
        contents=_CONTENTS,
        mass=1.0,
    )
    values = {field.name: getattr(_SPREAD, field.name) for field in fields(Quantities)}
    if measured:
        values["window_area_m2"] = MEASURED_SPREAD
    return HouseBelief(facts, medians, Quantities(**values))


def building_of(facts: HouseFacts, quantities: Quantities) -> Building:
    """Return the layers and areas of a house with all quantities given: a square box of its storeys."""
    footprint_m2 = facts.floor_area_m2 / facts.storeys
    side_m = footprint_m2**0.5
    wall_m2 = side_m * facts.ceiling_m * facts.storeys
    outer = 1.0 - facts.shared_walls
    heavy = facts.mass is Mass.HEAVY
    lining = BLOCK if heavy else PLASTER if facts.mass is Mass.MEDIUM else PLASTERBOARD
    wall = (SIDING, _insulation(quantities.wall_m2k_w), lining)
    windows, opaques = [], []
    for face, share in zip(COMPASS, facts.window_shares, strict=True):
        glass_m2 = min(quantities.window_area_m2 * share, 0.8 * wall_m2 * outer)
        opaques.append(Opaque(f"{face} wall", face, wall_m2 * outer - glass_m2, wall))
        if glass_m2 > 0.0:
            windows.append(Window(face, glass_m2, quantities.window_u_w_m2k, quantities.window_shgc))
    opaques.append(
        Opaque("ceiling", Face.SKY, footprint_m2, (SIDING, _insulation(quantities.ceiling_m2k_w), PLASTERBOARD))
    )
    opaques.append(_lowest_floor(facts, quantities, footprint_m2))
    scale = quantities.mass
    if facts.shared_walls > 0.001:
        # A shared wall stores on our side what it takes from it and passes nothing: its middle is a mirror.
        opaques.append(Opaque("shared walls", Face.INSIDE, 4.0 * wall_m2 * facts.shared_walls, (lining, lining)))
    # Faces of partitions and furniture per floor [judgement]; with them the classes hold about 107, 167 and 353 kJ/K for
    # each square metre, near the light, medium and heavy classes of ISO 13790 (110, 165, 260).
    partition = PLASTERBOARD if facts.mass is Mass.LIGHT else PLASTER
    opaques.append(Opaque("partitions", Face.INSIDE, 2.2 * facts.floor_area_m2, (_thick(partition, 2.0 * scale),)))
    opaques.append(Opaque("furniture", Face.INSIDE, 1.2 * facts.floor_area_m2, (_thick(FURNITURE, scale),)))
    if facts.storeys > 1:
        between_m2 = 2.0 * (facts.floor_area_m2 - footprint_m2)
        opaques.append(
            Opaque("floors between", Face.INSIDE, between_m2, (_thick(CONCRETE if heavy else WOOD_FLOOR, 2.0 * scale),))
        )
    return Building(
        name=f"{facts.floor_area_m2:.0f} m², {facts.insulation} insulation, {facts.mass}",
        volume_m3=facts.floor_area_m2 * facts.ceiling_m,
        opaques=tuple(opaques),
        windows=tuple(windows),
        air_changes_per_h=quantities.air_changes_per_h,
        internal_gain_w=quantities.internal_gain_w,
        air_capacity_factor=quantities.contents,
        elevation_m=facts.elevation_m,
    )


def typical(facts: HouseFacts) -> Building:
    """Return the house at the medians."""
    return building_of(facts, believe(facts).medians)


def sample(belief: HouseBelief, count: int, seed: int) -> tuple[Building, ...]:
    """Return houses drawn from a belief."""
    return tuple(building_of(belief.facts, one) for one in drawn(belief, count, seed))


def drawn(belief: HouseBelief, count: int, seed: int) -> tuple[Quantities, ...]:
    """Return quantities drawn from a belief, each log-normal about its median and apart from the others."""
    rng = np.random.default_rng(seed)
    names = [field.name for field in fields(Quantities)]
    draws = rng.standard_normal((count, len(names)))
    found = []
    for row in draws:
        values = {
            name: getattr(belief.medians, name) * float(np.exp(getattr(belief.spread, name) * z))
            for name, z in zip(names, row, strict=True)
        }
        values["window_shgc"] = min(values["window_shgc"], 0.85)
        values["window_u_w_m2k"] = min(values["window_u_w_m2k"], MOST_GLASS_U_W_M2K)
        found.append(Quantities(**values))
    return tuple(found)


def quantiles(values: Floats, at: tuple[float, ...] = (0.1, 0.5, 0.9)) -> tuple[float, ...]:
    """Return quantiles of a result over sampled houses."""
    return tuple(float(value) for value in np.quantile(values, at))


def _lowest_floor(facts: HouseFacts, quantities: Quantities, area_m2: float) -> Opaque:
    bare = facts.mass is not Mass.LIGHT
    if facts.below is Below.SLAB:
        layers = (_resistance(SOIL_M2K_W + quantities.floor_m2k_w), CONCRETE) + (() if bare else (CARPET,))
        return Opaque("slab", Face.GROUND, area_m2, layers, is_floor=True)
    inner = CONCRETE if facts.mass is Mass.HEAVY else WOOD_FLOOR
    layers = (_resistance(STILL_BASEMENT_M2K_W), _insulation(quantities.floor_m2k_w), inner)
    return Opaque("floor", Face.OPEN, area_m2, layers, is_floor=True)


def _insulation(r_m2k_w: float) -> Layer:
    """Return mineral wool of a resistance."""
    return Layer(0.04 * r_m2k_w, 0.04, 12.0, 840.0)


def _resistance(r_m2k_w: float) -> Layer:
    """Return a layer without mass."""
    return Layer(0.04 * r_m2k_w, 0.04)


def _thick(layer: Layer, times: float) -> Layer:
    return Layer(layer.thickness_m * times, layer.conductivity_w_mk, layer.density_kg_m3, layer.heat_j_kgk)


def _faults(facts: HouseFacts) -> list[Fault]:
    found = []
    if not 10.0 <= facts.floor_area_m2 <= 3000.0:
        found.append(Fault(_("The heated floor area must be 10 to 3000 m² (100 to 32,000 ft²)."), "floor_area_m2"))
    if not 1 <= facts.storeys <= 4:
        found.append(Fault(_("Storeys must be 1 to 4."), "storeys"))
    if facts.window_area_m2 is not None and not 0.0 < facts.window_area_m2 <= facts.floor_area_m2:
        found.append(Fault(_("The window area must be more than 0 and at most the floor area."), "window_area_m2"))
    if min(facts.window_shares) < 0.0 or abs(sum(facts.window_shares) - 1.0) > 0.01:
        found.append(Fault(_("The parts of the windows by facing must be 0 or more and add up to 1."), "window_shares"))
    if not 1.8 <= facts.ceiling_m <= 6.0:
        found.append(Fault(_("The ceiling must be 1.8 to 6 m high."), "ceiling_m"))
    if not 0 <= facts.people <= 20:
        found.append(Fault(_("People must be 0 to 20."), "people"))
    if not 0.0 <= facts.shared_walls <= 0.75:
        found.append(Fault(_("The part of walls shared with neighbours must be 0 to 0.75."), "shared_walls"))
    return found
