"""A building as layers, areas and glass: what a model of its heat is made from. SI units.

Each opaque element is listed from outside to inside. The same records serve a light and a heavy house, a test building
of a standard and the typical house of an age class.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

INSIDE_FILM_W_M2K = 8.29
"""Inside film, convection and radiation together, that a window's rated U holds (ASHRAE Fundamentals, still air at a wall)."""
OUTSIDE_FILM_W_M2K = 21.0
"""Outside film of a window's rated U in the older editions of ASHRAE Standard 140 [from memory]; it shifts a rated U by little."""


class Face(StrEnum):
    """Where an element's outer side looks."""

    NORTH = "north"
    EAST = "east"
    SOUTH = "south"
    WEST = "west"
    SKY = "sky"
    OPEN = "open"
    """Outdoor air without sun or sky: a raised floor, an attic, a crawl space taken as outdoors."""
    GROUND = "ground"
    INSIDE = "inside"
    """Both sides in the house: partitions, floors between storeys, furniture. Area counts both sides."""


COMPASS = (Face.NORTH, Face.EAST, Face.SOUTH, Face.WEST)


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of a wall, roof or floor."""

    thickness_m: float
    conductivity_w_mk: float
    density_kg_m3: float = 0.0
    heat_j_kgk: float = 0.0

    @property
    def resistance_m2k_w(self) -> float:
        """Resistance from face to face [m² K/W]."""
        return self.thickness_m / self.conductivity_w_mk

    @property
    def capacity_j_m2k(self) -> float:
        """Heat stored per kelvin [J/(m² K)]."""
        return self.thickness_m * self.density_kg_m3 * self.heat_j_kgk


@dataclass(frozen=True, slots=True)
class Opaque:
    """A wall, roof, floor or partition; layers from outside to inside."""

    name: str
    face: Face
    area_m2: float
    layers: tuple[Layer, ...]
    solar_absorptance: float = 0.6
    """Outside and inside."""
    is_floor: bool = False
    """Whether sun through windows falls on it first."""


@dataclass(frozen=True, slots=True)
class Window:
    """Glass of one facing."""

    face: Face
    area_m2: float
    u_w_m2k: float
    """Rated, with the standard films above."""
    shgc: float
    """Solar heat gain coefficient at normal incidence, 0 to 1."""
    inward_share: float = 0.09
    """Part of ``shgc`` that is absorbed in the panes and comes in as heat; 0.07 of 0.77 for clear double glass [computed]."""
    screen: float = 1.0
    """What trees, eaves, curtains and insect screens let through."""


@dataclass(frozen=True, slots=True)
class Building:
    """Everything the heat of one zone depends on, except weather and equipment."""

    name: str
    volume_m3: float
    opaques: tuple[Opaque, ...]
    windows: tuple[Window, ...]
    air_changes_per_h: float
    """Outdoor air, mean over the year."""
    internal_gain_w: float
    """Mean over the day, sensible."""
    internal_radiant_share: float = 0.5
    air_capacity_factor: float = 1.0
    """Air with what follows it within minutes, such as light furniture, as a multiple of the air alone."""
    elevation_m: float = 0.0
    gain_by_hour: tuple[float, ...] = field(default=(1.0,) * 24)
    """Internal gain by hour of the day as a multiple of its mean."""
