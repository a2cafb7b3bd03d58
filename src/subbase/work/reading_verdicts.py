"""Each reading with a meter judged: what it says alone, then beside all others, and what would explain a failure.

Bounds are those of the checks: the corners that the proof solves, a common meter's error added. A reading that falls just
outside is held against the guaranteed bounds of the same ranges before it is called a failure. A failure names the
single slips and faults that give every reading so far.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from subbase.catalog import Catalog
from subbase.circuit import settle
from subbase.circuit.meters import volts_seen
from subbase.errors import Chatter
from subbase.survey import Survey, split_terminal
from subbase.wiring import build_house
from subbase.wiring.build import CORNERS
from subbase.wiring.states import operated_switches
from subbase.words import _, mark
from subbase.work.call_sequences import Judged, Mark
from subbase.work.check_bounds import Bounds, Check, ohm_bounds, read_volts, volt_bounds
from subbase.work.checks import CheckPlan, room_of
from subbase.work.doubts import ghost_doubt, loop_doubts, loop_members, range_doubt, scale_doubt, setting_doubt
from subbase.work.entry_doubts import entry_doubts
from subbase.work.explanations import (
    MOST_EXPLANATIONS,
    Explanation,
    Reading,
    agreeing,
    fault_causes,
    slip_causes,
    within,
)
from subbase.work.guaranteed import guaranteed_bounds
from subbase.work.meter_words import bounds_words
from subbase.work.taken import METERS, ReadingTaken, Taken

LEAST_AGREEING = 2
"""Other readings that must agree before one that nothing explains is laid on the meter (judgement)."""
TOO_HIGH_V = 36.0
"""No 24 V Class 2 winding gives this much; line voltage may be on the wires [V] (judgement)."""
WEAK_SUPPLY_V = 20.4
"""85 % of 24 V: below it coils may not pull in [V] (common practice, no source)."""
BOUNDS_SOURCE = mark("the circuit at the corners of its tolerances, and a common meter's error")


@dataclass(frozen=True, slots=True)
class ReadingVerdict:
    """One reading and what is said of it."""

    taken: ReadingTaken
    judged: Judged
    explained_by: tuple[Explanation, ...] = ()
    """Single slips, worst first, then single faults, that give this and every other reading so far; at most a few."""
    more: int = 0
    """How many further ones there are."""


def reading_verdicts(left: Survey, catalog: Catalog, checks: CheckPlan, taken: Taken) -> tuple[ReadingVerdict, ...]:
    """Return each reading that counts, judged against the house that a plan leaves and against all others."""
    return _Bench(left, catalog, checks, taken.latest(), taken).verdicts()


def check_of(left: Survey, reading: ReadingTaken) -> Check:
    """Return the check that a reading answers, without its bounds."""
    site = room_of(left, split_terminal(reading.between[0])[0])
    if reading.unit == "V":
        return Check("live", reading.between, 0.0, 0.0, "V", site, state=reading.state)
    return Check("dead, clipped" if reading.clip else "dead", reading.between, 0.0, 0.0, "ohm", site, reading.clip)


@dataclass(frozen=True, slots=True)
class _Bench:
    """The good house and what was taken of it."""

    left: Survey
    catalog: Catalog
    checks: CheckPlan
    latest: tuple[ReadingTaken, ...]
    taken: Taken

    def verdicts(self) -> tuple[ReadingVerdict, ...]:
        """Return each reading that counts, judged."""
        bounds = self.bounds()
        marks = [self.first_look(reading, found) for reading, found in zip(self.latest, bounds, strict=True)]
        self._loops(marks, bounds)
        causes = _Causes(self.checks, self.left, self.catalog)
        failing = [i for i, one in enumerate(marks) if one.mark == "fail"]
        passing = [self.reading(i) for i, one in enumerate(marks) if one.mark == "pass"]
        # One thing wrong that gives several bad readings is likelier than several mistakes with the meter.
        if len(failing) < 2 or not causes.agreeing([self.reading(i) for i in failing], passing):
            for i in failing:
                marks[i] = self.second_look(i, marks, bounds[i], causes)
        usable = [i for i, one in enumerate(marks) if one.mark in ("pass", "fail")]
        failing = [i for i in failing if marks[i].mark == "fail"]
        # What gives one failure and every other reading gives all of them, so one search serves all failures.
        found = causes.agreeing(
            [self.reading(i) for i in failing], [self.reading(i) for i in usable if i not in failing]
        )
        for i, doubt in entry_doubts(self.left, self.catalog, self.latest, bounds, failing).items():
            suspect = doubt.exchanged and not found and not marks[i].stop
            word: Mark = "meter or lead suspect" if suspect else marks[i].mark
            marks[i] = replace(marks[i], mark=word, why=f"{marks[i].why} {doubt.text}")
        failing = [i for i in failing if marks[i].mark == "fail"]
        verdicts = []
        for i, one in enumerate(marks):
            if i not in failing:
                verdicts.append(ReadingVerdict(self.latest[i], one))
                continue
            told = replace(one, stop=True) if any(e.damaging for e in found) else one
            verdicts.append(
                ReadingVerdict(self.latest[i], told, found[:MOST_EXPLANATIONS], len(found[MOST_EXPLANATIONS:]))
            )
        return tuple(verdicts)

    def reading(self, index: int) -> Reading:
        """Return a reading as causes are asked for it."""
        reading = self.latest[index]
        return Reading(check_of(self.left, reading), reading.value if reading.value is not None else 0.0)

    def bounds(self) -> list[Bounds]:
        """Return what each reading must be in the good house, on the meter that took it."""
        live = [check_of(self.left, reading) for reading in self.latest if reading.unit == "V"]
        dead = [check_of(self.left, reading) for reading in self.latest if reading.unit == "ohm"]
        volts = iter(volt_bounds(self.left, self.catalog, live) if live else ())
        ohms = iter(ohm_bounds(self.left, self.catalog, dead) if dead else ())
        found = [next(volts if reading.unit == "V" else ohms) for reading in self.latest]
        return [
            self.on_meter(reading) or bounds
            if reading.unit == "V" and reading.meter not in (None, "digital")
            else bounds
            for reading, bounds in zip(self.latest, found, strict=True)
        ]

    def on_meter(self, reading: ReadingTaken) -> Bounds | None:
        """Return what a meter that loads the circuit shows; None where relays chatter."""
        shown = []
        for corner in CORNERS:
            house = build_house(self.left, self.catalog, corner=corner, awake=corner.name != "high")
            if not set(reading.between) <= house.netlist.index.keys():
                return None
            try:
                settled = settle(house.netlist, operated=operated_switches(house, reading.state))
                shown.append(volts_seen(settled, *reading.between, meter=METERS[str(reading.meter)]))
            except Chatter:
                return None
        return read_volts(min(shown), max(shown))

    def first_look(self, reading: ReadingTaken, bounds: Bounds) -> Judged:
        """Return what a reading alone says: pass, fail, not judged, or a doubt that its own setting raises."""
        value = reading.value if reading.value is not None else 0.0
        low, high, unit = _shown(bounds, reading.unit)
        if reading.unit == "V" and TOO_HIGH_V < value < math.inf:
            text = _(
                "{value:.0f} V is more than any 24 V winding gives: switch off; line voltage may be on these wires."
            ).format(value=value)
            shifted = value / 10.0
            if within(shifted, bounds):
                text = " ".join(
                    (
                        text,
                        _("Only if {shifted:.4g} was read and {value:.4g} written is it a slip of the pen.").format(
                            shifted=shifted, value=value
                        ),
                    )
                )
            return Judged("fail", text, low, high, unit, _("judgement"), stop=True)
        doubt = setting_doubt(reading) or range_doubt(reading, bounds)
        if doubt is not None:
            return Judged("meter or lead suspect", doubt, low, high, unit)
        if reading.unit == "V" and math.isinf(bounds[1]):
            text = _(
                "Nothing joins these two terminals in this call, so a meter may show anything up to the supply here."
            )
            return Judged("not judged", text)
        if within(value, bounds):
            ghosted = self._ghosted(reading, bounds)
            if ghosted is not None:
                return Judged("fail", ghosted, low, high, unit, _(BOUNDS_SOURCE))
            return Judged(
                "pass",
                _("It is within {bounds}.").format(bounds=_words(bounds, reading.unit)),
                low,
                high,
                unit,
                _(BOUNDS_SOURCE),
            )
        sure = guaranteed_bounds(self.left, self.catalog, reading, value, bounds)
        if sure is not None and within(value, sure):
            text = _("It is within {sure}, the guaranteed bounds; the usual ones are {bounds}.").format(
                sure=_words(sure, "V"), bounds=_words(bounds, "V")
            )
            return Judged("pass", text, sure[0], sure[1], unit, _("guaranteed bounds of the same tolerances"))
        said = _("It reads {written}; it must be {bounds}.").format(
            written=reading.written, bounds=_words(bounds, reading.unit)
        )
        if reading.unit == "V" and self._is_supply(reading) and value < WEAK_SUPPLY_V:
            said = _("The supply is {written} under load; below {weak_supply_v} V coils may not pull in.").format(
                written=reading.written, weak_supply_v=WEAK_SUPPLY_V
            )
        return Judged("fail", said, low, high, unit, _(BOUNDS_SOURCE))

    def _is_supply(self, reading: ReadingTaken) -> bool:
        return any(
            set(reading.between) == {f"{name}.{control.old.power_terminal()}", f"{name}.C"}
            for name, control in self.left.controls.items()
        )

    def _ghosted(self, reading: ReadingTaken, bounds: Bounds) -> str | None:
        """Return that a low-impedance meter took away what a digital one had shown: the mark of an open conductor."""
        if reading.unit != "V" or reading.meter in (None, "digital"):
            return None
        for earlier in self.taken.readings:
            if earlier.key == reading.key and ghost_doubt(earlier, bounds, self.left, self.catalog) is not None:
                return _(
                    "A digital meter showed {digital} here and a low-impedance one {low}: a conductor that is joined does not do that; it is open or not landed."
                ).format(digital=earlier.written, low=reading.written)
        return None

    def _loops(self, marks: list[Judged], bounds: Sequence[Bounds]) -> None:
        """Mark the reading to blame for each broken loop: those of it that fail, or else all of it."""
        usable = [i for i, one in enumerate(marks) if one.mark in ("pass", "fail")]
        readings = [self.latest[i] for i in usable]
        for at, text in loop_doubts(readings).items():
            members = [usable[at], *(usable[m] for m in loop_members(readings, at))]
            for i in [m for m in members if marks[m].mark == "fail"] or members:
                if not marks[i].stop:
                    low, high, unit = _shown(bounds[i], self.latest[i].unit)
                    marks[i] = Judged("meter or lead suspect", text, low, high, unit, _("Kirchhoff's voltage law"))

    def second_look(self, index: int, marks: Sequence[Judged], bounds: Bounds, causes: _Causes) -> Judged:
        """Return a failure, or the doubt that is likelier: a ghost, a shifted decimal point, a reading that nothing gives."""
        reading, mark = self.latest[index], marks[index]
        if mark.stop:
            return mark  # it may be a slip of the pen, and nobody is sent back to a terminal to find out
        ghost = ghost_doubt(reading, bounds, self.left, self.catalog)
        if ghost is not None:
            return replace(mark, mark="meter or lead suspect", why=ghost)
        scale = scale_doubt(reading, bounds)
        if scale is None and reading.unit == "ohm":
            return mark
        others = [i for i, other in enumerate(marks) if i != index and other.mark == "pass"]
        found = causes.agreeing([self.reading(index)], [self.reading(i) for i in others])
        if scale is not None and not any(explanation.damaging for explanation in found):
            also = (_("If it stays, this would give it: {cause}.").format(cause=found[0].words),) if found else ()
            return replace(mark, mark="meter or lead suspect", why=" ".join((scale, *also)))
        if not found and len(others) >= LEAST_AGREEING and not mark.stop:
            text = _(
                "No single wrong landing and no single fault of this house gives {written} here with the {count} readings that are as they must be: look at the leads and the range, and take it again; if it stays, two things are wrong."
            ).format(written=reading.written, count=len(others))
            return replace(mark, mark="meter or lead suspect", why=text)
        return mark


@dataclass(slots=True)
class _Causes:
    """Every slip and fault, made when first asked for."""

    checks: CheckPlan
    left: Survey
    catalog: Catalog

    def agreeing(self, failing: Sequence[Reading], rest: Sequence[Reading]) -> tuple[Explanation, ...]:
        """Return what gives all readings: slips worst first, then faults; nothing when nothing failed."""
        if not failing:
            return ()
        slips = agreeing(slip_causes(self.checks.outcomes, self.catalog), failing, rest)
        found = [cause.explanation() for cause in slips]
        if any(reading.check.unit == "V" for reading in failing):
            found += [cause.explanation() for cause in agreeing(fault_causes(self.left, self.catalog), failing, rest)]
        return tuple(dict.fromkeys(found))


def _shown(bounds: Bounds, unit: str) -> tuple[float, float | None, str]:
    """Return bounds as data: OL is None."""
    return bounds[0], bounds[1] if math.isfinite(bounds[1]) else None, unit


def _words(bounds: Bounds, unit: str) -> str:
    return bounds_words(*bounds, unit)


__all__ = ["TOO_HIGH_V", "ReadingVerdict", "check_of", "reading_verdicts"]
