"""Words that Work and Check show for the plan's own short ones."""

from __future__ import annotations

import math
from typing import Literal

from subbase.words import mark
from subbase.work.progress import Status
from subbase.work.steps import LICENCES, Licence, Season, Step, shown_value

STATUS_WORDS: dict[Status, str] = {
    "done": mark("done"),
    "failed": mark("not met"),
    "skipped": mark("left out"),
    "open": mark("may be done now"),
    "blocked": mark("waits"),
}
STATUS_SIGNS: dict[Status, str] = {"done": "✓", "failed": "!", "skipped": "–", "open": "○", "blocked": "·"}
"""Beside the word, never instead of it."""
SEASON_WORDS: dict[Season, str] = {"heating": mark("Heating weather"), "cooling": mark("Cooling weather")}
LICENCE_WORDS: dict[Licence, str] = {
    "electrician": mark("electrician"),
    "gas": mark("gas fitter"),
    "refrigerant": mark("certified for refrigerant"),
}
assert set(LICENCE_WORDS) == set(LICENCES)


def unit_words(step: Step, units: Literal["us", "si"]) -> str:
    """Return the unit that a step is read in; empty when nothing is read."""
    if step.expected is None:
        return ""
    return {"V": "V", "ohm": "ohm", "degC": "°F" if units == "us" else "°C"}[step.expected.unit]


def value_words(step: Step, value: float | None, units: Literal["us", "si"]) -> str:
    """Return what was read at a step, with its unit; empty when nothing was."""
    if value is None or step.expected is None:
        return ""
    if math.isinf(value):
        return "OL"
    return f"{shown_value(value, step.expected.unit, units):.4g} {unit_words(step, units)}"


__all__ = ["LICENCE_WORDS", "SEASON_WORDS", "STATUS_SIGNS", "STATUS_WORDS", "unit_words", "value_words"]
