"""The facts that a thin record may hold: each declared once, with its words, unit and range.

The mapping, the reader, the made-up fleets and the reference table all come from here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from subbase.units import METRES_PER_FOOT
from subbase.words import mark

Kind = Literal["text", "choice", "number", "flag", "letters"]


@dataclass(frozen=True, slots=True)
class FieldOf:
    """One fact of a record."""

    name: str
    kind: Kind
    meaning: str
    choices: tuple[str, ...] = ()
    least: float = 0.0
    most: float = 0.0
    units: tuple[tuple[str, float], ...] = ()
    """Unit -> what one of it is in the unit used inside; the first is that unit."""
    whole: bool = False


LENGTHS = (("m", 1.0), ("ft", METRES_PER_FOOT), ("feet", METRES_PER_FOOT), ("cm", 0.01))
HEATING = (
    "gas furnace, one stage",
    "gas furnace, two stages",
    "standing pilot furnace",
    "oil furnace",
    "boiler, start pair",
    "boiler, 24 V circuit",
    "steam boiler",
    "heat pump, one stage",
    "heat pump, two stages",
    "electric strips",
    "packaged gas unit",
)
COOLING = ("none", "one stage", "two stages")
WIRING = ("low voltage", "line voltage", "millivolt", "serial data")
SIGNS = (
    "none",
    "thick conductors",
    "wire nuts on two thick conductors",
    "120 or 240 marking",
    "two thin conductors under one volt",
    "numbered data terminals",
    "scorched insulation",
    "water in the wall box",
)
LETTERS = ("R", "Rh", "Rc", "C", "W", "W1", "W2", "Y", "Y1", "Y2", "G", "O", "B", "E")
CLIMATES = ("1", "2", "3", "4", "5", "6", "7", "8")

FIELDS: tuple[FieldOf, ...] = (
    FieldOf("id", "text", mark("What the home is called in the list; every row needs its own.")),
    FieldOf("area", "text", mark("Where it is, as the truck goes: an estate, a stair, a postal area.")),
    FieldOf("day", "text", mark("The day of the visit, as it is to stand in the lists.")),
    FieldOf("wiring", "choice", mark("What kind of circuit the old control switches."), WIRING),
    FieldOf("sign", "choice", mark("A warning sign at the wall."), SIGNS),
    FieldOf("heating", "choice", mark("What heats."), HEATING),
    FieldOf("cooling", "choice", mark("What cools; 'none' is an answer, an empty cell is not."), COOLING),
    FieldOf("changeover", "choice", mark("Of a heat pump: when its changeover valve is energised."), ("cooling", "heating")),
    FieldOf("strips", "number", mark("Of a heat pump or electric heat: stages of electric strips."), least=0, most=3, whole=True),
    FieldOf("letters", "letters", mark("Terminals of the old control that have a conductor, as 'R W Y G'."), LETTERS),
    FieldOf("spares", "number", mark("Conductors of the cable that lie loose at the wall."), least=0, most=8, whole=True),
    FieldOf("spare_end", "choice", mark("Where the other end of the spare ones is."), ("loose", "common")),
    FieldOf("far_ends", "choice", mark("Whether conductors land at the equipment on the letter they bear at the wall."), ("as marked",)),
    FieldOf("length", "number", mark("Of the cable between control and equipment, one way."), least=0.5, most=300.0, units=LENGTHS),
    FieldOf("gauge", "number", mark("Of that cable, American wire gauge."), least=14, most=24, whole=True),
    FieldOf("outdoor_length", "number", mark("Of the cable to the outdoor unit, one way."), least=0.5, most=300.0, units=LENGTHS),
    FieldOf("outdoor_gauge", "number", mark("Of the cable to the outdoor unit."), least=14, most=24, whole=True),
    FieldOf("transformer_va", "number", mark("Rated VA of the control transformer, by its nameplate."), least=10, most=150),
    FieldOf("link", "flag", mark("Whether a jumper joins Rh and Rc at the old control.")),
    FieldOf("mercury", "flag", mark("Whether the old control holds mercury.")),
    FieldOf("year_built", "number", mark("Year the house was built."), least=1600, most=2100, whole=True),
    FieldOf("volts_rc", "number", mark("Volts read at the wall between R and C, nothing called."), least=0, most=600),
    FieldOf("climate", "choice", mark("Climate zone number of the place, 1 hot to 8 cold."), CLIMATES),
    FieldOf("floor_area", "number", mark("Heated floor area."), least=8.0, most=2000.0, units=(("m2", 1.0), ("ft2", METRES_PER_FOOT**2))),
)  # fmt: skip
FIELD = {field.name: field for field in FIELDS}
WHERE_ONLY = ("id", "area", "day", "climate", "floor_area")
"""Fields that the wiring does not depend on."""
YES = ("yes", "y", "true", "1", "x")
NO = ("no", "n", "false", "0")
MISSING = ("", "-", "?", "n/a", "na", "none given", "not known", "null", "unknown", "nan")
"""What people write where they know nothing, in small letters."""
