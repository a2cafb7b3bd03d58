"""What a reading would be right as, if it had been written down otherwise: in another call, another line, another unit.

None of this clears a failure. It is the question that clears it up: whoever took the reading knows which call was running.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.survey import Survey, split_terminal
from subbase.wiring import OFF, legal_states
from subbase.words import _
from subbase.work.check_bounds import Bounds, Check, ohm_bounds, volt_bounds
from subbase.work.checks import room_of
from subbase.work.explanations import within
from subbase.work.taken import ReadingTaken

LEAST_TELLING_V = 2.0
"""What must read at least this shows that there is a supply [V] (judgement)."""
NONE_V = 0.5
"""A reading below this shows no volts at all [V] (judgement)."""
LEAST_READINGS = 2
"""So many readings that show nothing point at the meter as much as at the house (judgement)."""


@dataclass(frozen=True, slots=True)
class EntryDoubt:
    """What to ask about one reading."""

    text: str
    exchanged: bool = False
    """Whether it is right in the place of another reading that fails too, and that one in its place."""


def entry_doubts(
    left: Survey, catalog: Catalog, readings: Sequence[ReadingTaken], bounds: Sequence[Bounds], failing: Sequence[int]
) -> dict[int, EntryDoubt]:
    """Return {place in ``readings``: what to ask} of those that fail."""
    found: dict[int, EntryDoubt] = {}
    nothing = _shows_nothing(readings, bounds)
    for i in failing:
        value = readings[i].value
        if value is None:
            continue
        if readings[i].unit in nothing:
            found[i] = EntryDoubt(nothing[readings[i].unit])
            continue
        other = _exchanged(readings, bounds, failing, i)
        if other is not None:
            words = (
                _(
                    "It would be right for {a} to {b}, and that reading for this one: were the two written in each other's place, the probes one terminal off, or another call running? Take both again."
                )
                if readings[i].unit == "V"
                else _(
                    "It would be right for {a} to {b}, and that reading for this one: were the two written in each other's place, or the probes one terminal off? Take both again."
                )
            )
            a, b = readings[other].between
            found[i] = EntryDoubt(words.format(a=a, b=b), exchanged=True)
            continue
        texts = list(_other_ways(left, catalog, readings[i]))
        if texts:
            found[i] = EntryDoubt(texts[0])
    return found


def _shows_nothing(readings: Sequence[ReadingTaken], bounds: Sequence[Bounds]) -> dict[str, str]:
    """Return {unit: what to ask} where no reading of a unit shows anything, though several must."""
    found: dict[str, str] = {}
    taken = [(one, ends) for one, ends in zip(readings, bounds, strict=True) if one.value is not None]
    volts = [(one.value or 0.0, ends) for one, ends in taken if one.unit == "V"]
    if sum(ends[0] > LEAST_TELLING_V for _v, ends in volts) >= LEAST_READINGS and all(v < NONE_V for v, _e in volts):
        found["V"] = _(
            "No reading shows any volts. Prove the meter on a known live source before you look for the fault: with a lead in the current jack, or with its fuse or battery gone, it shows 0 everywhere."
        )
    ohms = [(one.value or 0.0, ends) for one, ends in taken if one.unit == "ohm"]
    must = sum(math.isfinite(ends[1]) for _v, ends in ohms)
    if must >= LEAST_READINGS and all(math.isinf(v) for v, _e in ohms):
        found["ohm"] = _(
            "Every reading is OL. Touch the leads together: that must read next to nothing. With a lead in the current jack, or a broken lead, the meter shows OL everywhere."
        )
    return found


def _exchanged(
    readings: Sequence[ReadingTaken], bounds: Sequence[Bounds], failing: Sequence[int], index: int
) -> int | None:
    one = readings[index]
    for other in failing:
        two = readings[other]
        if other == index or one.unit != two.unit or one.value is None or two.value is None:
            continue
        if within(one.value, bounds[other]) and within(two.value, bounds[index]):
            return other
    return None


def _other_ways(left: Survey, catalog: Catalog, reading: ReadingTaken) -> Iterator[str]:
    value = reading.value or 0.0
    site = room_of(left, split_terminal(reading.between[0])[0])
    if reading.unit == "V":
        yield from _other_calls(left, catalog, reading, site)
        if not reading.state.calls and reading.clip is None and value > LEAST_TELLING_V:
            (ohms,) = ohm_bounds(left, catalog, [Check("dead", reading.between, 0.0, 0.0, "ohm", site)])
            if math.isfinite(ohms[1]) and within(value, ohms):
                yield _("As {value:.4g} ohm it would be right: was it read on the ohms range, supply off?").format(
                    value=value
                )
    elif reading.clip is None and value > LEAST_TELLING_V:
        check = Check("live", reading.between, 0.0, 0.0, "V", site, state=OFF)
        (volts,) = volt_bounds(left, catalog, [check])
        if math.isfinite(volts[1]) and volts[0] > LEAST_TELLING_V and within(value, volts):
            yield _(
                "As {value:.4g} V it would be right: was the supply on? Never put the ohms range on a live circuit."
            ).format(value=value)


def _other_calls(left: Survey, catalog: Catalog, reading: ReadingTaken, site: str) -> Iterator[str]:
    """Yield the calls in which a reading would be right, the same call of another control first."""
    own = {call for _control, calls in reading.state.calls for call in calls}
    states = [
        state
        for state in legal_states(left, catalog)
        if state != reading.state
        and state.condition is None
        and len(state.calls) <= 1
        and all(len(calls) == 1 for _control, calls in state.calls)
    ]
    states.sort(key=lambda state: not any(calls == own for _control, calls in state.calls))
    if not states:
        return
    checks = [Check("live", reading.between, 0.0, 0.0, "V", site, state=state) for state in states]
    several = len(left.controls) > 1
    fit = [
        state
        for state, ends in zip(states, volt_bounds(left, catalog, checks), strict=True)
        if math.isfinite(ends[1]) and within(reading.value or 0.0, ends)
    ]
    if fit and fit[0].calls:
        words = _("In {call} it would be right: which call was running, and of which control?")
        yield words.format(call=fit[0].words(name_controls=several))
    elif fit:
        yield _("With nothing called it would be right: was the call running?")


__all__ = ["EntryDoubt", "entry_doubts"]
