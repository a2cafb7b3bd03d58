"""Guaranteed bounds of a voltage: asked only where the corners' own bounds are just missed, since they cost more.

``circuit.tolerance`` needs numpy, so it is reached inside the function; where there is none, nothing is guaranteed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Source, settle
from subbase.errors import Chatter
from subbase.survey import Survey
from subbase.wiring import House, build_house
from subbase.wiring.build import HIGH, LOW
from subbase.wiring.states import operated_switches
from subbase.work.check_bounds import Bounds, read_volts
from subbase.work.taken import ReadingTaken

if TYPE_CHECKING:
    from subbase.circuit.tolerance import Spread

NEAR_V = 3.0
"""How far outside the corners' bounds a reading is looked at again [V] (judgement)."""


def guaranteed_bounds(
    left: Survey, catalog: Catalog, reading: ReadingTaken, value: float, usual: Bounds
) -> Bounds | None:
    """Return guaranteed bounds of a voltage just outside the corners' own; None where none are to be had.

    A control draws anything between asleep and awake, and the ranges are those of the corners, each on its own.
    """
    near = usual[0] - NEAR_V <= value <= usual[1] + NEAR_V
    if reading.unit != "V" or not near or reading.meter not in (None, "digital"):
        return None
    try:
        from subbase.circuit.tolerance import Between, bounds
    except ImportError:  # in a browser's Python, which has no numpy
        return None
    house = build_house(left, catalog)
    operated = operated_switches(house, reading.state)
    try:
        coils_in = settle(house.netlist, operated=operated).coils_in
    except Chatter:
        return None
    asked = Between(*reading.between)
    if not set(reading.between) <= house.netlist.index.keys():
        return None
    found = bounds(house.netlist, _spreads(house), [asked], operated=operated, coils_in=coils_in)[0]
    if found is None or found.kind != "guaranteed":
        return None
    return read_volts(found.low, found.high)


def _spreads(house: House) -> list[Spread]:
    """Return the ranges of the corners, branch by branch."""
    from subbase.circuit.tolerance import Spread

    spreads: list[Spread] = []
    cables = {f"{cable}/{name}" for cable, _, name, _ in house.survey.conductors()}
    for branch in house.netlist.branches:
        if isinstance(branch, Source):
            share = LOW.regulation - 1.0
            spreads.append(Spread.supply(branch.tag, line_share=1.0 - LOW.primary, regulation_share=share))
        elif isinstance(branch, Coil):
            spreads.append(Spread(branch.tag, z_low=1.0 / LOW.load_va, z_high=1.0 / HIGH.load_va))
        elif branch.tag in cables:
            spreads.append(Spread.copper(branch.tag, from_c=HIGH.conductor_c, to_c=LOW.conductor_c))
        elif isinstance(branch, Impedance) and branch.tag.endswith("/own draw"):
            profile = house.survey.controls[branch.tag.partition("/")[0]].old
            most = profile.awake_va / max(profile.asleep_va, 0.01 * profile.awake_va)
            spreads.append(Spread(branch.tag, z_low=1.0 / LOW.load_va, z_high=most / HIGH.load_va))
    return spreads


__all__ = ["guaranteed_bounds"]
