"""What is seen and heard under each row: displays, clicks, what runs, the air, a board's lamp."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from subbase.catalog import LoadPart
from subbase.diagnose.predictions import Block, Predictions, control_volts, volts_between
from subbase.diagnose.probes import ANSWERS, Probe
from subbase.wiring import House, State, need_of, system_calls
from subbase.wiring.outputs import ALIVE_SHARE

Bools = NDArray[np.bool_]
Reals = NDArray[np.float64]

SURE = 0.95
"""A person who looks or listens is right so often (judgement); of air and lamps a little less."""
FAIRLY_SURE = 0.88
LIT_SHARE = 0.6
"""Of rated volts, from which a board's electronics show a lamp (judgement)."""


def answer_probabilities(predictions: Predictions, block: Block, probe: Probe) -> Reals:
    """Return (n, n_answer) probability of each of ``ANSWERS`` in each row.

    Raises
    ------
    ValueError
        When what is looked at is not in the house.
    """
    house = predictions.house
    match probe.sight:
        case "display":
            return _display(predictions, block, probe.about)
        case "acts" | "runs":
            if probe.about not in predictions.coils:
                raise ValueError(f"There is no load {probe.about} in this house.")
            on = block.coils_in if probe.sight == "acts" else running(predictions, block)
            yes = np.where(on[:, predictions.coils.index(probe.about)], SURE, 1.0 - SURE)
            yes = np.where(block.chatter, 0.5, yes)
            return np.column_stack((yes, 1.0 - yes))
        case "air":
            return _air(predictions, block, probe.about)
        case "lamp" if probe.about in house.survey.equipment:
            return _lamp(predictions, block, probe)
    raise ValueError(f"{probe.about} has nothing of this kind to look at.")


def running(predictions: Predictions, block: Block) -> Bools:
    """Return (n, n_coil) loads of which the work is done."""
    without, always = _effects(predictions)
    first, second = predictions.rows.form[block.rows, 0], predictions.rows.form[block.rows, 1]
    paired = (second >= 0)[:, None]
    idle = without[first] | (paired & without[second])
    forced = always[first] | (paired & always[second])
    found: Bools = (block.coils_in & ~idle) | forced
    return found


def _effects(predictions: Predictions) -> tuple[Bools, Bools]:
    key = "effects"
    if key not in predictions.memory:
        forms, coils = predictions.rows.forms, predictions.coils
        predictions.memory[key] = (
            np.array([[tag in form.without_effect for tag in coils] for form in forms], dtype=np.bool_),
            np.array([[tag in form.always_running for tag in coils] for form in forms], dtype=np.bool_),
        )
    found = predictions.memory[key]
    assert isinstance(found, tuple)
    return found


def has_display(house: House, control: str) -> bool:
    """Tell whether a control shows anything: a mechanical one does not."""
    return house.survey.controls[control].old.power != "none"


def _display(predictions: Predictions, block: Block, control: str) -> Reals:
    house = predictions.house
    if control not in house.survey.controls or not has_display(house, control):
        raise ValueError(f"{control} is no control with a display.")
    least_v = house.survey.controls[control].old.least_v
    volts = control_volts(house, block, control)
    on = np.full(len(block.rows), SURE)
    if volts is not None and not house.survey.controls[control].old.battery:
        on = np.where(volts < ALIVE_SHARE * least_v, 1.0 - SURE, on)
        # What starves only while it calls comes back when it lets go: it goes on and off by turns.
        awake = ~predictions.asleep[block.rows, predictions.controls.index(control)]
        on = np.where((volts < ALIVE_SHARE * least_v) & awake, 0.5, on)
    silent = np.array([control in mode.silent for mode in predictions.rows.modes], dtype=np.bool_)
    on = np.where(silent[predictions.rows.mode[block.rows]], 1.0 - SURE, on)
    return np.column_stack((on, 1.0 - on))


def air_calls(house: House, control: str) -> tuple[frozenset[str], tuple[tuple[str, frozenset[str]], ...]]:
    """Return (loads that move a control's air, (warm or cold, loads that together make it so) ...)."""
    calls = system_calls(house.survey, house.catalog, control)

    def needs(call: str) -> frozenset[str]:
        return need_of(house.survey, house.catalog, State(((control, frozenset({call})),))).on  # type: ignore[arg-type]

    movers = needs("fan") if "fan" in calls else frozenset()
    makers = []
    for call in calls:
        warm, cold = "heat" in call, "cool" in call
        if warm or cold:
            makers.append(("warm" if warm else "cold", needs(call) - movers))
    return movers, tuple(makers)


def _air(predictions: Predictions, block: Block, control: str) -> Reals:
    house = predictions.house
    if control not in house.survey.controls:
        raise ValueError(f"There is no control {control} whose air could be felt.")
    movers, makers = air_calls(house, control)
    on = running(predictions, block)
    best = np.zeros(len(block.rows), dtype=np.int64)
    made = np.full(len(block.rows), 2, dtype=np.int64)  # unchanged
    for what, loads in sorted(makers, key=lambda item: len(item[1])):
        done = _all_on(predictions, on, loads) & (len(loads) >= best)
        made = np.where(done, 0 if what == "warm" else 1, made)
        best = np.where(done, len(loads), best)
    moved = _all_on(predictions, on, movers) if movers else made != 2
    made = np.where(moved, made, 3)
    count = len(ANSWERS["air"])
    found = np.full((len(block.rows), count), (1.0 - FAIRLY_SURE) / (count - 1))
    found[np.arange(len(made)), made] = FAIRLY_SURE
    found[block.chatter] = 1.0 / count
    return found


def _all_on(predictions: Predictions, on: Bools, loads: Iterable[str]) -> Bools:
    columns = [predictions.coils.index(tag) for tag in loads if tag in predictions.coils]
    return np.asarray(on[:, columns].all(axis=1), dtype=np.bool_)


def lamp_of(house: House, place: str) -> str | None:
    """Return the load that is a board's electronics, behind which a fault lamp shines; None where there is none."""
    if place not in house.survey.equipment:
        return None
    for part in house.kind(place).parts:
        if isinstance(part, LoadPart) and part.neutral and part.id not in house.survey.equipment[place].without:
            return f"{place}/{part.id}"
    return None


def _lamp(predictions: Predictions, block: Block, probe: Probe) -> Reals:
    """Lit when its board is fed; blinking, more likely than not, when the board waits for a load that does not come."""
    house, tag = predictions.house, lamp_of(predictions.house, probe.about)
    if tag is None:
        raise ValueError(f"{probe.about} has no board whose lamp could be seen.")
    branch = house.netlist.by_tag[tag]
    fed, _ = volts_between(block, predictions.column(branch.tail), predictions.column(branch.head))
    lost = np.array([any(c.tag == tag and c.becomes is None for c in form.changes) for form in predictions.rows.forms])
    first, second = predictions.rows.form[block.rows, 0], predictions.rows.form[block.rows, 1]
    dark = (fed < LIT_SHARE * house.loads[tag].volts) | lost[first] | ((second >= 0) & lost[second])
    need = need_of(house.survey, house.catalog, probe.state).on
    own = [i for i, coil in enumerate(predictions.coils) if coil in need and coil.startswith(f"{probe.about}/")]
    waiting = block.coils_in[:, own].any(axis=1) & ~block.coils_in[:, own].all(axis=1)
    blinking = np.where(waiting, 0.65, 0.08)
    lit = np.column_stack((1.0 - blinking - 0.04, blinking, np.full(len(dark), 0.04)))
    return np.where(dark[:, None], np.array([0.05, 0.05, 0.9]), lit)


__all__ = ["air_calls", "answer_probabilities", "has_display", "lamp_of", "running"]
