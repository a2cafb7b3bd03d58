"""Words that Work and Check show for the plan's own short ones."""

from __future__ import annotations

from subbase.words import mark
from subbase.work.progress import Status
from subbase.work.steps import LICENCES, Licence, Phase, Season

PHASE_WORDS: dict[Phase, str] = {
    "look": mark("Look first"),
    "tell": mark("Tell the household"),
    "control off": mark("Control off"),
    "lock out": mark("Lock out"),
    "prove dead": mark("Prove dead: meter on live, terminals, meter on live again"),
    "photograph and label": mark("Photograph and label"),
    "move": mark("Move, one end at a time"),
    "look twice": mark("Read back, look twice"),
    "check dead": mark("Meter, still dead"),
    "close up": mark("Close up"),
    "power up": mark("Supply on"),
    "set up": mark("Set up"),
    "calls": mark("Calls, one by one"),
    "hand over": mark("Hand over"),
}
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

__all__ = ["LICENCE_WORDS", "PHASE_WORDS", "SEASON_WORDS", "STATUS_SIGNS", "STATUS_WORDS"]
