"""What can be read or seen, and what was: a probe is a question to the house, a reading its answer."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

from subbase.circuit.meters import DIGITAL, Meter
from subbase.wiring import OFF, State
from subbase.words import mark

ProbeKind = Literal["volts", "ohms", "amps", "seen"]
SightKind = Literal["display", "acts", "runs", "air", "lamp"]
"""``display`` of a control; whether a load ``acts`` (its click, or the hum of its coil) and what it works ``runs``; the
``air`` of a control's rooms; the fault ``lamp`` of a board."""
ANSWERS: dict[SightKind, tuple[str, ...]] = {
    "display": ("on", "dark"),
    "acts": ("yes", "no"),
    "runs": ("yes", "no"),
    "air": ("warm", "cold", "unchanged", "still"),
    "lamp": ("steady", "blinking", "dark"),
}
ANSWER_WORDS: dict[str, str] = {
    "on": mark("on"), "dark": mark("dark"), "yes": mark("yes"), "no": mark("no"), "warm": mark("warm"), "cold": mark("cold"),
    "unchanged": mark("unchanged"), "still": mark("still"), "steady": mark("steady"), "blinking": mark("blinking"),
}  # fmt: skip
"""What people call an answer, for the catalogue."""


@dataclass(frozen=True, slots=True)
class Probe:
    """One thing to read or to look at, in one call."""

    kind: ProbeKind
    state: State = OFF
    """What is called; of ohms nothing, since supplies are locked out."""
    between: tuple[str, str] = ("", "")
    """Nodes of the circuit, for volts and ohms."""
    through: str = ""
    """Tag of the conductor that a clamp is put around, for amperes."""
    sight: SightKind | None = None
    about: str = ""
    """The control, load or equipment looked at."""
    meter: Meter = DIGITAL

    def __post_init__(self) -> None:
        if self.kind in ("volts", "ohms") and len(set(self.between)) < 2:
            raise ValueError("Volts and ohms are read between two different points.")
        if (self.kind == "amps" and not self.through) or (self.kind == "seen" and not (self.sight and self.about)):
            raise ValueError("Amperes are read in a conductor, and what is seen is seen of something.")


@dataclass(frozen=True, slots=True)
class Reading:
    """What a probe gave."""

    probe: Probe
    value: float | str | None
    """Volts, ohms (infinite for OL) or amperes, or one of the answers to what is seen; None for 'don't know'."""
    error_share: float = 0.02
    """Of the meter, of what it shows (one standard deviation is half of it)."""
    error_offset: float = 0.3
    """The same in volts, ohms or a tenth of amperes."""
    doubt: float = 0.05
    """Probability that it is wrong altogether: leads, range, terminal or memory mistaken (judgement)."""

    def __post_init__(self) -> None:
        if self.value is None:
            return
        if self.probe.kind == "seen":
            answers = ANSWERS[self.probe.sight] if self.probe.sight else ()
            if self.value not in answers:
                raise ValueError(f"'{self.value}' is no answer to this; one of {', '.join(answers)} is.")
        elif not isinstance(self.value, int | float) or math.isnan(self.value) or self.value < 0.0:
            raise ValueError(f"'{self.value}' is not a reading; give a number not below 0.")


@dataclass(frozen=True, slots=True)
class Repaired:
    """Causes that were put right, or would have been had they been there; what is read later is of the house without them."""

    causes: tuple[str, ...]
    """Ids of hypotheses."""
    after: int
    """How many of the readings were taken before."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything known of the fault so far."""

    readings: tuple[Reading, ...] = ()
    history: tuple[str, ...] = ()
    """Words of ``odds.toml``: 'new work', 'after a storm', 'intermittent', 'worked until today' ..."""

    repaired: tuple[Repaired, ...] = ()
    """In the order in which it was done."""

    def and_then(self, reading: Reading) -> Evidence:
        """Return the evidence with one reading more."""
        return replace(self, readings=(*self.readings, reading))

    def and_repaired(self, causes: Iterable[str]) -> Evidence:
        """Return the evidence after a repair; the fault is not gone, or nothing would be read any more."""
        done = Repaired(tuple(dict.fromkeys(causes)), len(self.readings))
        return replace(self, repaired=(*self.repaired, done))

    def put_right_before(self, number: int) -> frozenset[str]:
        """Return the causes that had been put right when a reading was taken, counted from 0."""
        return frozenset(cause for item in self.repaired if item.after <= number for cause in item.causes)

    @property
    def since_repair(self) -> tuple[Reading, ...]:
        """Return the readings of the house as it stands: those after the last repair."""
        return self.readings[self.repaired[-1].after :] if self.repaired else self.readings


__all__ = ["ANSWERS", "ANSWER_WORDS", "OFF", "Evidence", "Probe", "ProbeKind", "Reading", "Repaired", "SightKind"]
