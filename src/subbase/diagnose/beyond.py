"""What must be faulty at all events, and three faults at once where neither one nor two fit.

A reading that the sound house cannot give is a conflict: among the parts on which it depends, at least one is faulty. A
reading depends on a part when some fault of that part alone changes what it would show. Minimal hitting sets of these
conflicts are the candidates for more than two faults; the circuit then settles each of them in full, and what does not
explain the readings is dropped.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from subbase.circuit import Netlist, settle
from subbase.diagnose.hypothesis import Form, Hypothesis, netlist_of, operated_in
from subbase.diagnose.likelihood import LINE, good_and_wild
from subbase.diagnose.minimal import minimal_hitting_sets, minimal_sets
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence, Reading
from subbase.diagnose.weigh import Belief
from subbase.errors import Chatter
from subbase.wiring import OFF
from subbase.wiring.outputs import ALIVE_SHARE

UNLIKELY = 0.1
"""A likelihood below this share of its best counts as a contradiction (judgement)."""
MOST_SETS = 400
MOST_FORMS = 24
"""Combinations of forms that are settled for one set."""
WITHIN_V = 1.5
"""A reading is explained when it is no further than this from what the line at its lowest or highest would give (judgement)."""


@dataclass(frozen=True, slots=True)
class Conflict:
    """A reading that the sound house cannot give, and the parts of which at least one must be faulty for it."""

    reading: Reading
    parts: frozenset[str]
    """Tags of branches and names of places, as in ``Hypothesis.tags``."""


@dataclass(frozen=True, slots=True)
class Explanation:
    """Three faults or more that together explain every reading."""

    faults: tuple[Hypothesis, ...]
    odds: float


def conflicts_of(predictions: Predictions, evidence: Evidence) -> tuple[Conflict, ...]:
    """Return the conflicts that readings make with the house as it should be, in the order of the readings."""
    found = []
    owner = predictions.rows.owner
    for reading in evidence.readings:
        if reading.value is None:
            continue
        good, wild = good_and_wild(predictions, predictions.singles(reading.probe.state), reading)
        best = good.max(axis=1)
        # What a mistake would give as well as the sound house does is no contradiction to build on.
        if best[0] >= UNLIKELY * max(float(best.max()), wild) or float(best.max()) < wild:
            continue
        helps = np.flatnonzero(best >= UNLIKELY * best.max())
        moved = np.flatnonzero(np.abs(best - best[0]) > 1e-6 + 0.5 * best[0])
        touching = np.union1d(helps, moved)
        parts = {tag for row in touching.tolist() for tag in predictions.hypotheses[owner[row]].tags}
        if parts:
            found.append(Conflict(reading, frozenset(parts)))
    return tuple(found)


def must_be_faulty(conflicts: Sequence[Conflict]) -> tuple[frozenset[str], ...]:
    """Return the minimal conflicts: of each at least one part is faulty, if its readings are right."""
    return minimal_sets(conflict.parts for conflict in conflicts)


def three_faults(belief: Belief, *, most: int = 5) -> tuple[Explanation, ...]:
    """Return sets of three faults that explain every reading which is not doubted, the likeliest first.

    They are looked for among the hypotheses that help with at least one contradicting reading. Only volts and what is seen
    of loads are held against them.
    """
    predictions = belief.predictions
    doubted = {doubt.reading for doubt in belief.doubted}
    kept = tuple(r for r in belief.evidence.readings if r not in doubted and r.value is not None)
    conflicts = [_helpers(predictions, reading) for reading in kept]
    wanted = [conflict for conflict in conflicts if conflict]
    odds = {h.id: h.odds for h in predictions.hypotheses}
    sets = [s for s in minimal_hitting_sets(wanted, most=3) if len(s) == 3] or list(_threes(wanted))
    sets.sort(key=lambda s: -math.prod(odds[name] for name in s))
    by_id = {h.id: h for h in predictions.hypotheses}
    found = []
    for item in sets[:MOST_SETS]:
        faults = tuple(by_id[name] for name in sorted(item))
        if _explains(predictions, faults, kept):
            found.append(Explanation(faults, math.prod(fault.odds for fault in faults)))
            if len(found) == most:
                break
    return tuple(found)


def _helpers(predictions: Predictions, reading: Reading) -> frozenset[str]:
    """Return the ids of single causes that make a reading likely which the sound house cannot give; none when it can."""
    good, wild = good_and_wild(predictions, predictions.singles(reading.probe.state), reading)
    best = good.max(axis=1)
    if best[0] >= UNLIKELY * max(float(best.max()), wild):
        return frozenset()
    helps = np.flatnonzero(best >= UNLIKELY * best.max())
    return frozenset(predictions.hypotheses[predictions.rows.owner[row]].id for row in helps.tolist())


def _threes(conflicts: Sequence[frozenset[str]]) -> Iterator[frozenset[str]]:
    """Yield one helper for each of three readings, where fewer than three would hit all and yet do not explain them."""
    few = sorted({tuple(sorted(c)[:8]) for c in conflicts})[:3]
    if len(few) == 3:
        for combination in product(*few):
            if len(set(combination)) == 3:
                yield frozenset(combination)


def _explains(predictions: Predictions, faults: tuple[Hypothesis, ...], readings: Sequence[Reading]) -> bool:
    combinations = product(*(fault.forms for fault in faults))
    for count, forms in enumerate(combinations):
        if count >= MOST_FORMS:
            return False
        try:
            netlist = netlist_of(predictions.house, *forms)
        except ValueError:
            continue
        if all(_fits(predictions, netlist, forms, reading) for reading in readings):
            return True
    return False


def _fits(predictions: Predictions, netlist: Netlist, forms: tuple[Form, ...], reading: Reading) -> bool:
    probe, house = reading.probe, predictions.house
    if probe.kind not in ("volts", "seen") or reading.value is None:
        return True
    try:
        at_rest = settle(netlist, operated=operated_in(house, OFF, *forms)).solution
        asleep = frozenset(
            name
            for name, control in house.survey.controls.items()
            if control.old.power == "common"
            and not control.old.battery
            and abs(at_rest.between(f"{name}.{control.old.power_terminal()}", f"{name}.C") or 0.0)
            < ALIVE_SHARE * control.old.least_v
        )
        settled = settle(netlist, operated=operated_in(house, probe.state, *forms, asleep=asleep))
    except Chatter:
        return True
    if probe.kind == "seen":
        if probe.sight not in ("acts", "runs"):
            return True
        return (probe.about in settled.coils_in) == (reading.value == "yes")
    volts = settled.solution.between(*probe.between)
    if volts is None:
        return True  # a ghost may be anything
    near = (abs(volts) * LINE).tolist()
    shown = float(reading.value)
    return bool(min(near) - WITHIN_V <= shown <= max(near) + WITHIN_V)


__all__ = ["Conflict", "Explanation", "conflicts_of", "must_be_faulty", "three_faults"]
