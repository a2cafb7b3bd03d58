"""What a proof says by its numbers, for many homes at once: its margin, and on which side of each limit it stands.

The rules are those of ``plan.proof``, and the first home must come out as it did there. Nothing is decided here: the
caller asks whether each number stands on the same side of its limit as in the first home.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import Impedance
from subbase.plan.proof import Proved
from subbase.plan.proven import ControlProof, StateProof
from subbase.wiring.build import House, build_house
from subbase.wiring.states import judged_loads, need_of

if TYPE_CHECKING:
    from subbase.catalog import Catalog
    from subbase.fleet.alike import Lanes

Floats = NDArray[np.float64]
Limited = tuple[Floats, float]
STARVED_SHARE = 0.2
"""As in ``plan.proof``: above this share of its pull-in voltage a load that stays off is starved, not missing."""
UNPOWERED_V = 1.0


def margins_and_verdicts(made: Proved, lanes: Sequence[Lanes], catalog: Catalog) -> tuple[Floats, list[Limited]]:
    """Return (margin in each home, every number that was held against a limit).

    ``lanes`` are the circuits that the proof settled, in its own order.
    """
    house = build_house(made.survey, catalog)
    margins: list[Floats] = []
    limited: list[Limited] = []
    per_state = len(lanes) // max(1, len(made.proof.states))
    for number, state in enumerate(made.proof.states):
        nominal, low, high = lanes[number * per_state : number * per_state + 3]
        margins.extend(_load_margins(house, state, low))
        limited.extend(_missing_loads(house, state, (nominal, low, high)))
        for supply in state.supplies:
            draw_va = nominal.current_a(supply.tag) * house.sources[supply.tag].volts
            margins.append(1.0 - draw_va / supply.rated_va)
            limited.append((draw_va, supply.rated_va))
        for control in state.controls:
            margins.append(_feed(house, control, low) / control.least_v - 1.0)
            limited.append((_feed(house, control, low), control.least_v))
            limited.append((_feed(house, control, high), control.most_v))
            limited.append((_feed(house, control, nominal), UNPOWERED_V))
        for branch in house.netlist.of(Impedance):
            if branch.fuse_a:
                current_a = high.current_a(branch.tag)
                margins.append(1.0 - current_a / branch.fuse_a)
                limited.append((current_a, branch.fuse_a))
        limited.extend(_outputs(house, nominal))
    if not margins:
        return np.zeros(len(lanes[0].volts[0]) if lanes else 1), limited
    return np.minimum.reduce(margins), limited


def _needed(house: House, state: StateProof) -> frozenset[str]:
    return frozenset() if state.waived else need_of(house.survey, house.catalog, state.state).on


def _load_margins(house: House, state: StateProof, low: Lanes) -> Iterator[Floats]:
    """Yield each needed load's margin: volts at rest and as it pulls in, whichever is less, over what it needs."""
    needed = _needed(house, state)
    for load in state.loads:
        if load.tag not in needed:
            continue
        low_v = np.abs(low.across(load.tag))
        yield np.minimum(_inrush_v(low, load.tag, low_v), low_v) / load.pull_in_v - 1.0


def _inrush_v(low: Lanes, tag: str, otherwise_v: Floats) -> Floats:
    settled = low.settling.settled
    steps = settled.steps if settled is not None else ()
    at = [number for number, step in enumerate(steps) if tag in step.pulled_in]
    return np.abs(low.across(tag, step=at[-1])) if at else otherwise_v


def _missing_loads(house: House, state: StateProof, corners: Sequence[Lanes]) -> Iterator[Limited]:
    for lanes in corners:
        settled = lanes.settling.settled
        on = settled.coils_in & judged_loads(house) if settled is not None else frozenset()
        for tag in sorted(_needed(house, state) - on):
            load = house.loads[tag]
            yield np.abs(lanes.across(tag)), STARVED_SHARE * load.pull_in * load.volts


def _feed(house: House, control: ControlProof, lanes: Lanes) -> Floats:
    power = house.survey.controls[control.control].old.power_terminal()
    return np.abs(lanes.between(f"{control.control}.{power}", f"{control.control}.C"))


def _outputs(house: House, nominal: Lanes) -> Iterator[Limited]:
    for name, control in house.survey.controls.items():
        for output in control.old.terminals:
            tag = f"{name}/{output}"
            if tag in house.netlist.by_tag:
                yield nominal.current_a(tag), control.old.output_a
