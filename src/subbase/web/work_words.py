"""Words that Work and Check show for the plan's own short ones."""

from __future__ import annotations

from subbase.words import mark
from subbase.work.progress import Status
from subbase.work.steps import LICENCES, Licence, Season

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

__all__ = ["LICENCE_WORDS", "SEASON_WORDS", "STATUS_SIGNS", "STATUS_WORDS"]
