"""Readings taken on the job, as they were entered: with a meter, with thermometers, and by eye, ear and watch.

They come in any order, some of them twice, some not at all. Nothing that was written is lost: what a later reading of the
same place replaces, what was not taken and what is not known stay in the record, each with its line.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from subbase.circuit.meters import DIGITAL, LOW_IMPEDANCE, MIDDLE, Meter
from subbase.wiring import State
from subbase.work.air_and_water import Air, Water

Pair = tuple[str, str]
METERS: dict[str, Meter] = {"digital": DIGITAL, "low-impedance": LOW_IMPEDANCE, "middle": MIDDLE}


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """One reading with a meter, as it was entered."""

    between: Pair
    state: State
    unit: Literal["V", "ohm"]
    value: float | None
    """V or ohm; infinite for OL; None when it was not taken or is not known."""
    written: str
    """As in the file."""
    line: int = 0
    clip: Pair | None = None
    power: Literal["on", "off"] | None = None
    setting: Literal["ac", "dc", "ohms"] | None = None
    """What the meter was set to; None when not said."""
    meter: str | None = None
    """A name in ``METERS``; None when not said."""
    range_top: float | None = None
    """Top of the range that the meter was set to, in ``unit``."""
    when: str = ""
    who: str = ""
    note: str = ""

    @property
    def key(self) -> tuple[object, ...]:
        """Return what makes it the same reading as another, whichever way round the probes were."""
        clip = frozenset(self.clip) if self.clip else None
        return frozenset(self.between), clip, self.unit, self.state if self.unit == "V" else None


@dataclass(frozen=True, slots=True)
class AirTaken:
    """What was taken of the air in one call."""

    state: State
    air: Air
    line: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class WaterTaken:
    """What was taken of the water in one call."""

    state: State
    water: Water
    line: int = 0
    note: str = ""


@dataclass(frozen=True, slots=True)
class StepSeen:
    """One step of a sequence as it was seen."""

    label: str
    at_s: float | None
    """None when it never came, or is not known."""
    known: bool
    line: int = 0


@dataclass(frozen=True, slots=True)
class SequenceSeen:
    """What was seen of one call."""

    state: State
    steps: tuple[StepSeen, ...]
    line: int = 0


@dataclass(frozen=True, slots=True)
class Taken:
    """Everything that was entered, in the order of the file."""

    readings: tuple[ReadingTaken, ...] = ()
    air: tuple[AirTaken, ...] = ()
    water: tuple[WaterTaken, ...] = ()
    sequences: tuple[SequenceSeen, ...] = ()
    notes: str = ""

    def latest(self) -> tuple[ReadingTaken, ...]:
        """Return the readings that count: of each place and call the latest that has a value.

        Later is what bears the later ``when``, where both bear one; else what stands further down.
        """
        best: dict[tuple[object, ...], ReadingTaken] = {}
        for reading in self.readings:
            if reading.value is not None:
                earlier = best.get(reading.key)
                if earlier is None or not (reading.when and earlier.when and reading.when < earlier.when):
                    best[reading.key] = reading
        return tuple(reading for reading in self.readings if best.get(reading.key) is reading)

    def replaced(self) -> tuple[tuple[ReadingTaken, ReadingTaken], ...]:
        """Return (earlier reading, the one that counts in its place)."""
        counts = {reading.key: reading for reading in self.latest()}
        return tuple(
            (reading, counts[reading.key])
            for reading in self.readings
            if reading.value is not None and counts[reading.key] is not reading
        )

    def not_taken(self) -> tuple[ReadingTaken, ...]:
        """Return the readings that are listed without a value, where no other reading stands for them."""
        counts = {reading.key for reading in self.latest()}
        return tuple(r for r in self.readings if r.value is None and r.key not in counts)


__all__ = ["METERS", "AirTaken", "Pair", "ReadingTaken", "SequenceSeen", "StepSeen", "Taken", "WaterTaken"]
