"""What is said for or against a place, each with its rule's source."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Literal

from subbase.words import _, day_and_month, mark

Weight = Literal["rules out", "against", "for", "note"]
Subject = Literal["sun", "wall", "air", "heat", "reach", "radio"]

PRACTICE = mark("common practice, no source")
NECB = mark(
    "National Energy Code of Canada for Buildings 2011, intent on wall-mounted thermostat sensors (NRC intent i014250)"
)
SWS = mark("NREL Standard Work Specification 5.0201.1c, Thermostat location (2020)")
SUN_SOURCE = HEAT_SOURCE = (NECB, SWS)
DISTANCE = mark("the distance is a judgement")


INCH_M = 0.0254
MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Finding:
    """One reason."""

    weight: Weight
    subject: Subject
    text: str
    source: str


def told(length_m: float, units: str) -> str:
    """Return a length as people say it in a survey's units: ``3 ft 4 in``, ``14 in``, ``1.02 m``, ``36 cm``."""
    if units == "si":
        return f"{length_m:.2f} m" if length_m >= 1.0 else f"{length_m * 100:.0f} cm"
    inches = round(length_m / INCH_M)
    if inches < 24:
        return f"{inches} in"
    return f"{inches // 12} ft {inches % 12} in" if inches % 12 else f"{inches // 12} ft"


def sources(*marked: str) -> str:
    """Return marked sources in the language that is set, one after the other."""
    return "; ".join(_(source) for source in marked)


def day_words(date: datetime.date) -> str:
    """Return a day without its year: 5 March."""
    return day_and_month(date)


def clock(minute: int) -> str:
    """Return minutes since midnight as a time of day."""
    return f"{minute // 60}:{minute % 60:02d}"
