"""What an ohmmeter shows under each single fault, supplies locked out; and, nearly, under each two.

Ohms tell little more than metal, a winding, or nothing: a coil's resistance for direct current is not known from its
sealed impedance, and electronics show what they like. So a middle value is predicted and given a wide spread. Of two
faults that both change a reading the one that changes it more is taken, since each is exact where the other does not
matter (an approximation; volts under two faults are solved in full).
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import Coil, Impedance, Netlist
from subbase.circuit.many_ohms import ohms_between
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.diagnose.hypothesis import netlist_of
from subbase.diagnose.predictions import Predictions

Reals = NDArray[np.float64]
Ints = NDArray[np.int64]
Pair = tuple[str, str]

COIL_SHARE = 0.5
"""Resistance of a winding over what its sealed impedance shows: the middle of what it may be (judgement)."""
INPUT_SHARE = 0.6
"""The same of a board input, which is electronics with a burden resistor (judgement)."""


def single_ohms(predictions: Predictions, pairs: Sequence[Pair]) -> Reals:
    """Return (n_form, n_pair) ohms that every form of a single fault shows, leads included; infinite for OL."""
    known = predictions.memory.setdefault("ohms", {})
    assert isinstance(known, dict)
    missing = [pair for pair in dict.fromkeys(pairs) if pair not in known]
    if missing:
        nets = predictions.memory.setdefault("dead", _dead_netlists(predictions))
        assert isinstance(nets, list)
        found = [ohms_between(dead, missing) for dead in nets]
        for pair in missing:
            ohm = np.array([item[pair] for item in found]) + GOOD_LEADS_OHM
            known[pair] = np.where(ohm > MOST_OHM, math.inf, ohm)
    return np.column_stack([known[pair] for pair in pairs]) if pairs else np.zeros((len(predictions.rows.forms), 0))


def row_ohms(predictions: Predictions, rows: Ints, pair: Pair) -> Reals:
    """Return (n,) ohms that rows show between two points."""
    single = single_ohms(predictions, [pair])[:, 0]
    first, second = predictions.rows.form[rows, 0], predictions.rows.form[rows, 1]
    a, b = single[first], np.where(second < 0, single[first], single[second])
    well = scale(single[:1])  # the first form is 'nothing wrong'
    further = np.abs(scale(b) - well) > np.abs(scale(a) - well)
    found: Reals = np.where(further, b, a)
    return found


def scale(ohm: Reals) -> Reals:
    """Return ohms on the scale on which they are compared: 0 for metal, about 2 for 100 ohm, 9 for OL."""
    with np.errstate(over="ignore"):
        return np.where(np.isinf(ohm), 9.0, np.log10(1.0 + np.where(np.isinf(ohm), 0.0, ohm)))


def _dead_netlists(predictions: Predictions) -> list[Netlist]:
    return [_dead(netlist_of(predictions.house, form)) for form in predictions.rows.forms]


def _dead(netlist: Netlist) -> Netlist:
    known: dict[str, float] = {}
    for branch in netlist.branches:
        if isinstance(branch, Coil):
            z_ohm = complex(branch.z_in_ohm)
            known[branch.tag] = z_ohm.real * (COIL_SHARE if z_ohm.imag > 0.0 else INPUT_SHARE)
        elif isinstance(branch, Impedance) and branch.tag.endswith("/own draw"):
            known[branch.tag] = complex(branch.z_ohm).real * INPUT_SHARE
    return dead_netlist(netlist, dc_ohm=known)


__all__ = ["row_ohms", "scale", "single_ohms"]
