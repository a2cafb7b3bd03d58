"""What speaks against the meter, its leads or its setting rather than against the house. Each doubt is computed.

Volts at one moment are differences of potentials, so however the phases lie no reading exceeds the sum of the others
around a loop (Kirchhoff's voltage law and the triangle inequality). Resistance between points of one dead network obeys
the same inequality (the resistance distance; Klein and Randić, 1993, from memory). A loop that breaks it was not read
from any circuit at rest.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator, Sequence

from subbase.catalog import Catalog
from subbase.circuit import settle
from subbase.circuit.ghost import MOST_F_PER_M, Together, together_in_cable, with_capacitance
from subbase.circuit.meters import DIGITAL, volts_seen
from subbase.errors import Chatter
from subbase.names import conductor_words, list_words
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import LOOSE, NOWHERE, ConductorEnd, Survey, Unknown, with_landing
from subbase.wiring import State, build_house
from subbase.wiring.build import HIGH
from subbase.wiring.states import operated_switches
from subbase.words import _
from subbase.work.check_bounds import OHM_OFFSET, OHM_SHARE, Bounds
from subbase.work.explanations import within
from subbase.work.taken import ReadingTaken

LINE_SHARE = 0.05
"""The line may move this much between two readings of one loop (judgement)."""
NO_VOLTS = 1.5
"""Where a house has at most this much, a reading may be a ghost [V] (judgement)."""
SHORT_OHM = 1.0
"""A reading below this is leads and copper alone [ohm] (judgement)."""
CLEAR_V = 1.0
"""Volts that an AC range must show and a DC range does not [V] (judgement)."""
SCALES = (10.0, 100.0, 1000.0)


def setting_doubt(reading: ReadingTaken) -> str | None:
    """Return what the meter's setting, or the state of the supply, says against a reading whatever it shows."""
    value = reading.value or 0.0
    if reading.unit == "ohm":
        if reading.power == "on" or reading.state.calls:
            return _(
                "Ohms were taken with the supply on: lock it out, prove it dead, and take them again; the meter may be harmed too."
            )
        if reading.setting in ("ac", "dc"):
            return _("The meter was on a {setting} range, which does not show ohms; take it again on ohms.").format(
                setting=reading.setting.upper()
            )
        if value < 0.0:
            return _(
                "Ohms below 0 come from volts in the circuit or from leads that were zeroed wrongly; prove it dead and take them again."
            )
    else:
        if reading.power == "off":
            return _(
                "Volts were taken with the supply off, so they say nothing of the call; put it on and take them again."
            )
        if reading.setting is not None and reading.setting != "ac":
            if reading.setting == "dc":
                return _("The meter was on a DC range, which does not show AC; take it again on AC volts.")
            return _("The meter was on a ohm range, which does not show AC; take it again on AC volts.")
        if math.isinf(value):
            return _(
                "OL on volts is more than the range shows; take it again on the highest AC range, and keep clear till then."
            )
        if value < 0.0:
            return _("AC volts have no sign, so the meter was on a DC range; take it again on AC volts.")
    if reading.range_top is not None and math.isfinite(value) and value > reading.range_top:
        return _("It is more than the range of {range_top:g} {unit} can show; one of the two is written wrong.").format(
            range_top=reading.range_top, unit=reading.unit
        )
    return None


def range_doubt(reading: ReadingTaken, bounds: Bounds) -> str | None:
    """Return that a range was too low for what must be there; None otherwise."""
    if reading.range_top is not None and reading.range_top < bounds[0] and not math.isinf(bounds[0]):
        return _(
            "The range ends at {range_top:g} {unit}, below the {least:.1f} that must be there; take it again on a higher range."
        ).format(range_top=reading.range_top, unit=reading.unit, least=bounds[0])
    return None


def scale_doubt(reading: ReadingTaken, bounds: Bounds) -> str | None:
    """Return that the figures are right and the decimal point or the unit's prefix is not; None otherwise."""
    low, high = bounds
    value = reading.value
    if value is None or not 0.0 < value < math.inf or low <= 0.0 or math.isinf(high) or high > 8.0 * low:
        return None  # bounds this wide would take in any number by some shift of the point
    if reading.unit == "ohm" and value < SHORT_OHM:
        return None  # no more than the leads: a short, whatever the point
    for scale in SCALES:
        for shifted in (value * scale, value / scale):
            if within(shifted, bounds):
                said = (
                    _(
                        "{value:.4g} {unit} is {scale:.0f} times off what fits: {shifted:.4g} {unit} would be right, so look at the unit (milli or kilo) and take it again."
                    )
                    if scale == 1000.0
                    else _(
                        "{value:.4g} {unit} is {scale:.0f} times off what fits: {shifted:.4g} {unit} would be right, so look at the decimal point and take it again."
                    )
                )
                return said.format(value=value, unit=reading.unit, scale=scale, shifted=shifted)
    return None


def loop_doubts(readings: Sequence[ReadingTaken]) -> dict[int, str]:
    """Return {place in ``readings``: sentence} for each reading that exceeds the sum of others around some loop."""
    found: dict[int, str] = {}
    groups: dict[tuple[str, State | None], list[int]] = {}
    for i, reading in enumerate(readings):
        if reading.value is not None and 0.0 <= reading.value < math.inf and reading.clip is None:
            groups.setdefault((reading.unit, reading.state if reading.unit == "V" else None), []).append(i)
    for members in groups.values():
        for i in members:
            path = _shortest(readings, [m for m in members if m != i], *readings[i].between)
            least = _span(readings[i])[0]
            if path is not None and path[0] < least:
                others = list_words(f"{_pair_words(readings[m])} {readings[m].written}" for m in path[1])
                reading = readings[i]
                found[i] = _(
                    "{between} reads {written}, more than the sum of the others around the loop ({others}): no circuit gives that, so one of them was read wrongly."
                ).format(between=_pair_words(reading), written=reading.written, others=others)
    return found


def _pair_words(reading: ReadingTaken) -> str:
    return _("{a} to {b}").format(a=reading.between[0], b=reading.between[1])


def loop_members(readings: Sequence[ReadingTaken], index: int) -> tuple[int, ...]:
    """Return the other readings of the loop that a reading breaks."""
    reading = readings[index]
    same = [
        i
        for i, other in enumerate(readings)
        if i != index and other.unit == reading.unit and other.clip is None and other.value is not None
        and math.isfinite(other.value) and (reading.unit == "ohm" or other.state == reading.state)
    ]  # fmt: skip
    path = _shortest(readings, same, *reading.between)
    return path[1] if path is not None else ()


def _span(reading: ReadingTaken) -> Bounds:
    """Return what a reading may truly be, its meter's error and the line's moving included."""
    value = reading.value or 0.0
    if reading.unit == "V":
        share = METER_SHARE + LINE_SHARE
        return value * (1.0 - share) - METER_V, value * (1.0 + share) + METER_V
    return value * (1.0 - OHM_SHARE) - OHM_OFFSET, value * (1.0 + OHM_SHARE) + OHM_OFFSET


def _shortest(
    readings: Sequence[ReadingTaken], edges: Sequence[int], start: str, goal: str
) -> tuple[float, tuple[int, ...]] | None:
    """Return (sum of the most that readings along the way may be, those readings) of the least way between two points."""
    heap: list[tuple[float, str, tuple[int, ...]]] = [(0.0, start, ())]
    done: set[str] = set()
    while heap:
        total, at, path = heapq.heappop(heap)
        if at == goal:
            return total, path
        if at in done:
            continue
        done.add(at)
        for i in edges:
            if at in readings[i].between:
                other = readings[i].between[readings[i].between[0] == at]
                heapq.heappush(heap, (total + max(0.0, _span(readings[i])[1]), other, (*path, i)))
    return None


def ghost_doubt(reading: ReadingTaken, bounds: Bounds, left: Survey, catalog: Catalog) -> str | None:
    """Return that a reading may be what an open conductor picks up from its neighbours; None otherwise.

    Each conductor that lands on either terminal is taken off at its far end, the capacitance of its cable is added, and
    a meter of high impedance is put on.
    """
    value = reading.value
    if reading.unit != "V" or value is None or reading.meter not in (None, "digital"):
        return None
    if not (bounds[1] <= NO_VOLTS < value < math.inf):
        return None
    for end in _far_ends(left, reading.between):
        most_v = _ghost_v(with_landing(left, end, LOOSE), catalog, reading)
        if value <= most_v:
            name = _("{conductor} of {cable}").format(conductor=conductor_words(end.conductor), cable=end.cable)
            return _(
                "An open conductor picks up as much from its neighbours (up to {most_v:.1f} V here): take it again with a low-impedance meter; if that shows next to nothing, {name} is open or not joined at {terminal}."
            ).format(most_v=most_v, name=name, terminal=end.landing(left))
    return None


def _far_ends(left: Survey, between: tuple[str, str]) -> Iterator[ConductorEnd]:
    for cable, __, name, conductor in left.conductors():
        if conductor.from_ in between and conductor.to not in NOWHERE:
            yield ConductorEnd(cable=cable, conductor=name, end="to")
        elif conductor.to in between and conductor.from_ not in NOWHERE:
            yield ConductorEnd(cable=cable, conductor=name, end="from")


def _ghost_v(loose: Survey, catalog: Catalog, reading: ReadingTaken) -> float:
    house = build_house(loose, catalog, corner=HIGH)
    operated = operated_switches(house, reading.state)
    netlist = with_capacitance(house.netlist, tuple(_runs(loose)), f_per_m=MOST_F_PER_M)
    if not set(reading.between) <= house.netlist.index.keys():
        return 0.0
    try:
        if settle(house.netlist, operated=operated).solution.between(*reading.between) is not None:
            return 0.0  # wires and loads drive these volts; they are no ghost
        settled = settle(netlist, operated=operated)
        volts = volts_seen(settled, *reading.between, meter=DIGITAL)
    except Chatter:
        return 0.0
    return volts * (1.0 + METER_SHARE) + METER_V


def _runs(survey: Survey) -> Iterator[Together]:
    for cable in survey.cables.values():
        if not isinstance(cable.length_m, Unknown):
            nodes = [str(c.from_ if c.from_ not in NOWHERE else c.to) for c in cable.conductors.values()]
            yield from together_in_cable([node for node in nodes if node not in NOWHERE], cable.length_m)


__all__ = ["ghost_doubt", "loop_doubts", "loop_members", "range_doubt", "scale_doubt", "setting_doubt"]
