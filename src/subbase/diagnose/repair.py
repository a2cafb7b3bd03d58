"""For a cause: what to do, what part it takes, which reading proves it fixed, and when to stop and hand over."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np

from subbase.diagnose.costs import Offer, Situation, cost_minutes, offers
from subbase.diagnose.hypothesis import FAULT_KINDS, Hypothesis
from subbase.diagnose.likelihood import LINE
from subbase.diagnose.places import part_name
from subbase.diagnose.predictions import Predictions, volts_between
from subbase.diagnose.probes import ANSWER_WORDS, ANSWERS
from subbase.diagnose.sights import answer_probabilities
from subbase.words import _

CLEAR_V = 5.0
"""A reading proves a repair when it moves by more than this."""


@dataclass(frozen=True, slots=True)
class Repair:
    """What to do about one cause."""

    hypothesis: Hypothesis
    do: str
    part: str
    site: str
    proof: str
    """The reading that shows it fixed, and what it must be; or the calls to try where no reading shows it."""
    stop: str
    """When to stop and hand over."""


@cache
def _texts() -> Mapping[str, Mapping[str, str]]:
    found = tomllib.loads((resources.files("subbase.diagnose") / "repairs.toml").read_text("utf-8"))
    assert set(found) == set(FAULT_KINDS), "repairs.toml must say something for every kind of fault, and nothing more"
    return found


def repair_for(hypothesis: Hypothesis, predictions: Predictions) -> Repair:
    """Return what to do about one cause in this house."""
    text = _texts()[hypothesis.kind]
    tag = hypothesis.tags[0] if hypothesis.tags else ""
    name = part_name(predictions.house, tag) if tag in predictions.house.netlist.by_tag else tag
    said = {key: _(words).format(name=name, what=hypothesis.words) for key, words in text.items()}
    return Repair(hypothesis, said["do"], said["part"], hypothesis.site, _proof(hypothesis, predictions), said["stop"])


def _proof(hypothesis: Hypothesis, predictions: Predictions) -> str:
    """Return the cheapest reading, from where the repair is made, that the cause moves clearly in all its forms."""
    rows = predictions.rows
    own = np.flatnonzero(rows.owner == [h.id for h in predictions.hypotheses].index(hypothesis.id))
    situation = Situation(stands=hypothesis.site)
    best: tuple[float, str] | None = None
    for offer in offers(predictions):
        if offer.probe.kind not in ("volts", "seen"):
            continue
        words = _proving(offer, predictions, own.tolist())
        if words:
            minutes = cost_minutes(offer, predictions.house, situation)
            if best is None or minutes < best[0]:
                said = (
                    _("Then read {what}.").format(what=words)
                    if offer.probe.kind == "volts"
                    else _("Then see {what}.").format(what=words)
                )
                best = (minutes, f"{said} {offer.caution}".rstrip())
    end = _("Then try every call once more.")
    return f"{best[1]} {end}" if best is not None else end


def _proving(offer: Offer, predictions: Predictions, own: list[int]) -> str:
    """Return what a test must show once the cause is gone; empty where it does not tell."""
    probe, block = offer.probe, predictions.singles(offer.probe.state)
    if probe.kind == "seen":
        p = answer_probabilities(predictions, block, probe)
        good = int(p[0].argmax())
        if p[0, good] < 0.8 or any(p[i, good] > 0.3 for i in own):
            return ""
        answer = _(ANSWER_WORDS[ANSWERS[probe.sight or "acts"][good]])
        return _("{test}: it must be '{answer}'").format(test=offer.words, answer=answer)
    volts, joined = volts_between(block, *(predictions.column(node) for node in probe.between))
    if not joined[0] or any(not joined[i] or abs(volts[i] - volts[0]) < CLEAR_V for i in own):
        return ""
    low, high = float(volts[0] * LINE[0]), float(volts[0] * LINE[-1])
    if high > 1.0:
        return _("{test}: it must be {low:.1f} to {high:.1f} V").format(test=offer.words, low=low, high=high)
    return _("{test}: it must be under 1 V").format(test=offer.words)


__all__ = ["Repair", "repair_for"]
