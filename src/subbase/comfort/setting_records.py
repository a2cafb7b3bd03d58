"""What is known of a house when its control is set, and the settings that follow: frozen records."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from subbase.comfort.balance import LoadLine
from subbase.comfort.equipment import HeatPumpRating
from subbase.words import mark

NO_HEAT_ABOVE_F = 60.0
"""Outdoor temperature at which a house of ordinary gains needs no heat, where nobody knows better [judgement]; AHRI
210/240 takes 55 to 58 °F for rating."""


class Heat(StrEnum):
    """How heat reaches the rooms, as far as a control cares."""

    NONE = "none"
    HEAT_PUMP = "heat pump"
    WARM_AIR = "warm air from a burner"
    WATER = "hot water"
    STEAM = "steam"
    ELECTRIC = "electric"


CYCLES_PER_H = {
    Heat.HEAT_PUMP: (2.5, mark("typical value in the EnergyPlus documentation")),
    Heat.WARM_AIR: (5.0, mark("common practice, from memory")),
    Heat.WATER: (3.0, mark("common practice, from memory")),
    Heat.STEAM: (1.0, mark("common practice, from memory")),
    Heat.ELECTRIC: (9.0, mark("common practice, from memory")),
}
"""Most cycles an hour, which happen at half load, and how the number is known."""
COOLING_CYCLES_PER_H = 3.0
"""The same in cooling."""


@dataclass(frozen=True, slots=True)
class Facts:
    """What of the house and its bills is known; a field that is None is not known."""

    load: LoadLine | None = None
    rating: HeatPumpRating | None = None
    electricity_per_kwh: float | None = None
    fuel_per_therm: float | None = None
    fuel_efficiency: float | None = None
    """Of the second fuel's burner, 0 to 1."""


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing to set."""

    key: str
    """For programs; stays the same in every language."""
    name: str
    value: str
    """What to set, with its unit; when it is not known, what is safe until it is."""
    why: str
    source: str
    number: float | None = None
    unit: str = ""
    ask: str = ""
    """What must be found out before this is more than a safe start; empty when nothing."""
    always: float | None = None
    """Where ``number`` is None because no outdoor temperature bounds it: plus infinity for 'at any', minus for 'at none'."""


@dataclass(frozen=True, slots=True)
class Slot:
    """From this time of day on, these setpoints hold [°F]; None where there is no such equipment."""

    at: str
    heat_f: float | None
    cool_f: float | None


@dataclass(frozen=True, slots=True)
class Tuning:
    """All settings of one control, and the schedule to leave it with."""

    control: str
    heat: Heat
    settings: tuple[Setting, ...]
    first_schedule: tuple[Slot, ...]
    schedule_why: str
    schedule_source: str

    def of(self, key: str) -> Setting | None:
        """Return a setting by its key, or None when this equipment has no use for it."""
        return next((setting for setting in self.settings if setting.key == key), None)

    @property
    def questions(self) -> tuple[str, ...]:
        """Return what is to be found out, each once."""
        return tuple(dict.fromkeys(setting.ask for setting in self.settings if setting.ask))
