"""What a meter must read: after the work, for checking; and as found, to hold the survey against its own readings."""

from __future__ import annotations

from collections.abc import Iterator

from subbase.catalog import Catalog
from subbase.circuit import Impedance, settle
from subbase.circuit.netlist import Netlist
from subbase.errors import Chatter
from subbase.names import conductor_words, named
from subbase.plan.result import Contradiction, ExpectedReading
from subbase.survey import (
    LOOSE,
    NOWHERE,
    ConductorEnd,
    Reading,
    Survey,
    with_landing,
)
from subbase.wiring import OFF, House, State, build_house, legal_states, system_calls
from subbase.wiring.build import CORNERS
from subbase.wiring.states import operated_switches
from subbase.words import _

METER_OHM = 10e6
"""Input resistance of a common digital meter (common practice, no source)."""
METER_SHARE, METER_V = 0.03, 0.5
"""Added to bounds for the meter and its leads: 3 % of reading plus half a volt (judgement)."""
MOST_EXPLANATIONS, MOST_ENTRIES = 3, 2
SHIFTS = (10.0, 100.0, 0.1, 0.01)
"""What a decimal point in the wrong place makes of a number."""
LEAST_TELLING_V = 2.0
"""Above this a reading is more than nothing [V] (judgement)."""


def expected_readings(left: Survey, catalog: Catalog) -> tuple[ExpectedReading, ...]:
    """Return what must be read after the work, at every terminal pair that matters, call by call."""
    houses = [build_house(left, catalog, corner=corner, awake=corner.name != "high") for corner in CORNERS]
    pairs = tuple(_pairs(left, catalog))
    several = len(left.controls) > 1
    found: list[ExpectedReading] = []
    for state in legal_states(left, catalog):
        if state.condition is not None or len(state.calls) > 1 or any(len(calls) > 1 for __, calls in state.calls):
            continue
        solved = [settle(h.netlist, operated=operated_switches(h, state)).solution for h in houses]
        for a, b in pairs:
            volts = [solution.between(a, b) for solution in solved]
            if any(v is None for v in volts):
                continue
            nominal, low, high = (abs(v or 0j) for v in volts)
            low, high = sorted((low, high))
            name, words = state.name(name_controls=several), state.words(name_controls=several)
            found.append(ExpectedReading(name, (a, b), nominal, *_widened(low, high), words=words))
    return tuple(found)


def _widened(low: float, high: float) -> tuple[float, float]:
    return max(0.0, low - METER_SHARE * low - METER_V), high + METER_SHARE * high + METER_V


def _pairs(left: Survey, catalog: Catalog) -> Iterator[tuple[str, str]]:
    """Yield supply and outputs against common at each control, and at the equipment its landed terminals."""
    landed = {end for jumper in left.jumpers for end in jumper.between}
    landed |= {
        str(end) for _cable, _held, _name, c in left.conductors() for end in (c.from_, c.to) if end not in NOWHERE
    }
    for name, control in left.controls.items():
        common = f"{name}.C"
        has_common = common in landed
        reference = (
            common if has_common else next((f"{name}.{t}" for t in ("R", "Rh", "Rc") if f"{name}.{t}" in landed), "")
        )
        for terminal in control.old.terminals:
            point = f"{name}.{terminal}"
            if reference and point != reference and point in landed:
                yield (point, reference) if has_common else (reference, point)
    for place, item in left.equipment.items():
        kind = catalog[str(item.kind)]
        if kind.common is None:
            continue
        for terminal in kind.terminals:
            if terminal != kind.common and f"{place}.{terminal}" in landed and terminal != "SH":
                yield f"{place}.{terminal}", f"{place}.{kind.common}"


def predicted_bounds(survey: Survey, catalog: Catalog, reading: Reading) -> tuple[float, float] | None:
    """Return the least and most volts the as-found circuit gives for a reading, or None where nothing defines it."""
    values = [_predict(build_house(survey, catalog, corner=corner), reading) for corner in CORNERS]
    if any(value is None for value in values):
        return None
    sure = [value for value in values if value is not None]
    return _widened(min(sure), max(sure))


def _predict(house: House, reading: Reading) -> float | None:
    a, b = reading.between
    control = reading.control or next(iter(house.survey.controls))
    state = OFF if reading.call == "off" else State(((control, frozenset({reading.call})),))
    metered: Netlist = house.netlist.with_branches((Impedance("meter", a, b, METER_OHM),))
    try:
        solution = settle(metered, operated=operated_switches(house, state)).solution
    except Chatter:
        return None
    if a in solution.floating or b in solution.floating:
        return None
    value = solution.between(a, b)
    return None if value is None else abs(value)


def disagreements(survey: Survey, catalog: Catalog) -> tuple[str, ...]:
    """Return one sentence for each reading that the survey as written cannot give."""
    found = []
    for reading in survey.readings:
        if reading.volts is None:
            continue
        bounds = predicted_bounds(survey, catalog, reading)
        if bounds is not None and not bounds[0] <= reading.volts <= bounds[1]:
            a, b = reading.between
            said = (
                _(
                    "{a} to {b} with nothing called was read as {volts:.1f} V; wired as the survey says it would read {low:.1f} to {high:.1f} V."
                )
                if reading.call == "off"
                else _(
                    "{a} to {b} in {call} was read as {volts:.1f} V; wired as the survey says it would read {low:.1f} to {high:.1f} V."
                )
            )
            found.append(
                said.format(a=a, b=b, call=named(reading.call), volts=reading.volts, low=bounds[0], high=bounds[1])
            )
    return tuple(found)


def contradictions(survey: Survey, catalog: Catalog) -> tuple[Contradiction, ...]:
    """Return the readings that contradict the survey, with the single changes that would bring all to agree."""
    texts = disagreements(survey, catalog)
    if not texts:
        return ()
    entries = [words for words, changed in _other_entries(survey, catalog) if not disagreements(changed, catalog)]
    wirings = [words for words, changed in _single_changes(survey) if not disagreements(changed, catalog)]
    explanations = (*entries[:MOST_ENTRIES], *wirings[:MOST_EXPLANATIONS])
    return tuple(Contradiction(text, explanations) for text in texts)


def _other_entries(survey: Survey, catalog: Catalog) -> Iterator[tuple[str, Survey]]:
    """Yield surveys in which one reading was meant otherwise: its decimal point, the terminals of another, its call."""
    for index, reading in enumerate(survey.readings):
        if reading.volts is None:
            continue

        def instead(at: int = index, **values: object) -> Survey:
            changed = survey.readings[at].model_copy(update=values)
            return survey.model_copy(update={"readings": (*survey.readings[:at], changed, *survey.readings[at + 1 :])})

        a, b = reading.between
        bounds = predicted_bounds(survey, catalog, reading)
        for shifted in (reading.volts * scale for scale in SHIFTS):
            # Bounds that begin near 0 take in any number by some shift of the point.
            if bounds is not None and bounds[0] > LEAST_TELLING_V and bounds[0] <= shifted <= bounds[1]:
                words = _("{a} to {b} is {shifted:.4g} V and the decimal point was written in the wrong place")
                yield words.format(a=a, b=b, shifted=shifted), instead(volts=shifted)
        control = reading.control or next(iter(survey.controls))
        for call in ("off", *sorted(system_calls(survey, catalog, control))):
            if call != reading.call:
                words = (
                    _("{a} to {b} was read with nothing called")
                    if call == "off"
                    else _("{a} to {b} was read in {call}")
                )
                yield words.format(a=a, b=b, call=named(call)), instead(call=call)


def _single_changes(survey: Survey) -> Iterator[tuple[str, Survey]]:
    """Yield surveys that differ in one likely way: an end off, two ends swapped, a jumper missing."""
    ends = [
        ConductorEnd(cable=cable, conductor=name, end=end)
        for cable, _held, name, _conductor in survey.conductors()
        for end in ("from", "to")
    ]
    for end in ends:
        if end.landing(survey) not in NOWHERE:
            words = _("{conductor} of {cable} is not really joined at {terminal}").format(
                conductor=conductor_words(end.conductor), cable=end.cable, terminal=end.landing(survey)
            )
            yield words, with_landing(survey, end, LOOSE)
    for i, a in enumerate(ends):
        for b in ends[i + 1 :]:
            here, there = str(a.landing(survey)), str(b.landing(survey))
            if (a.cable, a.end) == (b.cable, b.end) and here != there:
                words = _("{conductor} and {conductor_2} of {cable} are the other way round at {place}").format(
                    conductor=conductor_words(a.conductor),
                    conductor_2=conductor_words(b.conductor),
                    cable=a.cable,
                    place=a.place(survey),
                )
                yield words, with_landing(with_landing(survey, a, there), b, here)
    for index, jumper in enumerate(survey.jumpers):
        kept = survey.jumpers[:index] + survey.jumpers[index + 1 :]
        yield (
            _("the jumper {first} to {second} is missing").format(first=jumper.between[0], second=jumper.between[1]),
            survey.model_copy(update={"jumpers": kept}),
        )


__all__ = ["contradictions", "disagreements", "expected_readings", "predicted_bounds"]
