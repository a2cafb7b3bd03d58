"""Loss of a 2.4 GHz path indoors, as bounds: two ITU-R models, two editions of the wall constants, and a fade.

Two ways of reckoning bracket the truth. The site-general model of ITU-R P.1238 (distance coefficient 28 for homes) holds a
usual house's walls in its coefficient, and adds the floors. The other way is free space plus each wall on the line by
ITU-R P.2040. Neither is right for one house; the range between the better and the worse of them is what is told.
"""

from __future__ import annotations

import cmath
from dataclasses import dataclass
from functools import lru_cache
from math import cos, log10, pi, radians, sin
from types import MappingProxyType

from subbase.survey.rooms import Material

FREQUENCY_MHZ = 2437.0
"""Middle of the 2.4 GHz band."""
LIGHT_M_S, CONDUCTIVITY_TERM = 299_792_458.0, 17.98
"""The second is 1/(2 pi eps0) in GHz·m/S: ITU-R P.2040 eq. for the imaginary part of permittivity."""
HOME_COEFFICIENT = 28.0
"""ITU-R P.1238, residential; read for 1.8 to 2 GHz, also used at 2.4 GHz (second-hand)."""
FLOOR_DB = (4.0, 10.0)
"""A floor: 4n dB at 1.8 to 2 GHz (P.1238-8), 5 (house) or 10 (apartment) at 2.4 GHz (P.1238-13 table 5); all read second-hand."""
FADE_DB = 10.0
"""What people, doors and furniture may take away nine times in ten: 1.28 × the 8 dB spread of P.1238 for homes (from memory)."""
READING_DB = 5.0
"""How far a phone's own reading may be out (judgement)."""
POWER_DBM = (14.0, 20.0)
"""What a house's radio sends when nothing says so: 20 dBm is the limit of EN 300 328 (from memory), the lower end is judgement."""
PLAN_DBM, SENSITIVITY_DBM = -70.0, -82.0
"""Level to plan for (common practice, no source), and least level of the lowest 802.11 rate (read second-hand)."""

Constants = tuple[float, float, float, float]
EDITIONS: MappingProxyType[str, MappingProxyType[str, Constants]] = MappingProxyType(
    {
        "ITU-R P.2040-1": MappingProxyType(
            {
                "concrete": (5.31, 0.0, 0.0326, 0.8095),
                "brick": (3.75, 0.0, 0.038, 0.0),
                "plasterboard": (2.94, 0.0, 0.0116, 0.7076),
                "wood": (1.99, 0.0, 0.0047, 1.0718),
                "glass": (6.27, 0.0, 0.0043, 1.1925),
            }
        ),
        "ITU-R P.2040-3": MappingProxyType(
            {
                "concrete": (5.24, 0.0, 0.0462, 0.7822),
                "brick": (3.91, 0.0, 0.0238, 0.16),
                "plasterboard": (2.73, 0.0, 0.0085, 0.9395),
                "wood": (1.99, 0.0, 0.0047, 1.0718),
                "glass": (6.31, 0.0, 0.0036, 1.3394),
            }
        ),
    }
)
"""Edition -> material -> a, b, c, d of table 3; both read in public code that cites the editions."""
BUILDS: MappingProxyType[str, tuple[tuple[str, float, float], ...]] = MappingProxyType(
    {
        "plasterboard": (("plasterboard", 0.012, 0.016), ("plasterboard", 0.012, 0.016)),
        "plaster and lath": (
            ("plasterboard", 0.015, 0.025), ("wood", 0.006, 0.010), ("wood", 0.006, 0.010), ("plasterboard", 0.015, 0.025)
        ),
        "brick": (("brick", 0.10, 0.22),),
        "concrete": (("concrete", 0.10, 0.20),),
        "wood": (("wood", 0.012, 0.025), ("wood", 0.012, 0.025)),
        "glass": (("glass", 0.004, 0.012),),
    }
)  # fmt: skip
"""Wall -> layers as (material, least and greatest thickness [m]); usual builds, common practice, no source."""


@dataclass(frozen=True, slots=True)
class Bounds:
    """The least and the most that a value may be."""

    low: float
    high: float

    def __add__(self, other: Bounds) -> Bounds:
        """Return the bounds of a sum."""
        return Bounds(self.low + other.low, self.high + other.high)


def permittivity(constants: Constants, ghz: float) -> complex:
    """Return the complex relative permittivity of a material: ITU-R P.2040, eta = a f^b - j 17.98 c f^d / f."""
    a, b, c, d = constants
    return complex(a * ghz**b, -CONDUCTIVITY_TERM * c * ghz**d / ghz)


def slab_loss_db(constants: Constants, thickness_m: float, mhz: float = FREQUENCY_MHZ, angle_deg: float = 0.0) -> float:
    """Return the loss through one slab [dB], electric field across the plane of incidence (TE).

    ITU-R P.2040, transmission through a single layer with all inner reflections.
    """
    eta = permittivity(constants, mhz / 1000.0)
    across = cmath.sqrt(eta - sin(radians(angle_deg)) ** 2)
    ahead = cos(radians(angle_deg))
    reflection = (ahead - across) / (ahead + across)
    turn = 2 * pi * thickness_m * mhz * 1e6 / LIGHT_M_S * across
    through = (1 - reflection**2) * cmath.exp(-1j * turn) / (1 - reflection**2 * cmath.exp(-2j * turn))
    return -20.0 * log10(abs(through))


@lru_cache(maxsize=64)
def wall_loss_db(material: Material) -> Bounds:
    """Return what one wall takes [dB]: over both editions and its usual thicknesses, head-on, layer by layer.

    Of a wall that is not known, anything from plasterboard to brick is taken for possible.
    """
    if material == "unknown":
        return Bounds(wall_loss_db("plasterboard").low, wall_loss_db("brick").high)
    low = high = 0.0
    for layer, least_m, most_m in BUILDS[material]:
        steps = [least_m + (most_m - least_m) * n / 12 for n in range(13)]
        losses = [slab_loss_db(table[layer], thickness) for table in EDITIONS.values() for thickness in steps]
        low, high = low + max(0.0, min(losses)), high + max(losses)
    return Bounds(low, high)


def home_loss_db(distance_m: float, floors: int, mhz: float = FREQUENCY_MHZ, floor_db: float = 4.0) -> float:
    """Return the basic transmission loss in a home [dB]: 20 log f + 28 log d + floors - 28 (ITU-R P.1238-8 eq. 1).

    Holds from 1 m on; a shorter way is taken for 1 m.
    """
    return 20 * log10(mhz) + HOME_COEFFICIENT * log10(max(1.0, distance_m)) + floor_db * floors - 28.0


def free_space_loss_db(distance_m: float, mhz: float = FREQUENCY_MHZ) -> float:
    """Return the loss of free space [dB] (ITU-R P.525)."""
    return 20 * log10(4 * pi * max(1.0, distance_m) * mhz * 1e6 / LIGHT_M_S)


def path_loss_db(distance_m: float, floors: int, walls: Bounds) -> Bounds:
    """Return the bounds of a path's loss [dB] over both ways of reckoning, before any fade.

    ``walls`` is what the walls on the line take together [dB].
    """
    free = free_space_loss_db(distance_m)
    ways = [home_loss_db(distance_m, floors, floor_db=floor) for floor in FLOOR_DB]
    ways += [free + walls.low + FLOOR_DB[0] * floors, free + walls.high + FLOOR_DB[1] * floors]
    return Bounds(min(ways), max(ways))
