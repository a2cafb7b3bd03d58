"""A small survey to fill in where there is none to paste: a furnace, one control, one cable of four."""

from __future__ import annotations

from subbase.words import _

_SURVEY = """\
survey: 1
name: New job
units: us
equipment:
  furnace: {kind: gas-furnace-1, at: basement}
controls:
  hall:
    old: {terminals: [R, W], power: battery}
    new: {terminals: [R, C, W1, Y1, G], power: common, asleep_va: 0.6, awake_va: 3}
cables:
  wall:
    from: hall
    to: furnace
    length: 40 ft
    gauge: 18
    conductors:
      red: R
      white: W
      green: loose
      blue: loose
"""


def pattern() -> str:
    """Return the survey, with a comment on top that says what to do with it."""
    told = _("A pattern: put in what you find. 'unknown' may stand for any value that you have not seen yet.")
    return f"# {told}\n{_SURVEY}"


__all__ = ["pattern"]
