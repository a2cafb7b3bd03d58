"""What a volt in series with one branch drives in every other, for many cases of one network at once.

A case is one set of branch impedances; the network's shape is the same in all. The elimination is the one of ``solve``
(star-mesh, nothing subtracted), on arrays with one element for each case and one column for each branch that is driven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.errors import NoSolution

Complexes = NDArray[np.complex128]
Pair = tuple[int, int]


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """Which branches conduct, and what is asked of them; nodes are counted from 0."""

    elimination: tuple[int, ...]
    """Every node, in the order in which they are eliminated."""
    ends: tuple[Pair, ...]
    """(tail, head) of every branch that conducts."""
    driven: tuple[int, ...]
    """Positions in ``ends`` of the branches that are driven, and whose currents are wanted."""
    ports: tuple[Pair, ...] = ()
    """Pairs of nodes whose voltage is wanted."""


def influence(shape: Shape, z_ohm: Complexes) -> tuple[Complexes, Complexes]:
    """Return what each driven branch does to all of them and to the ports.

    Parameters
    ----------
    z_ohm : (n_case, n_branch) complex
        Impedance of every branch of ``shape.ends`` [ohm], not 0.

    Returns
    -------
    current_s : (n_case, n_driven, n_driven) complex
        Current from tail to head in the row's branch for 1 V in series with the column's, which raises its head [A/V].
    port_share : (n_case, n_port, n_driven) complex
        Voltage of the port's first node above its second for the same volt [V/V].

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node in some case.
    """
    y = 1.0 / z_ohm
    volts = _node_voltages(shape, y)
    driven = np.array(shape.driven, dtype=np.int64)
    ends = np.array([shape.ends[i] for i in shape.driven], dtype=np.int64).reshape(-1, 2)
    across = _differences(volts, ends)
    within = np.arange(len(driven))
    across[:, within, within] += 1.0
    return y[:, driven, None] * across, _differences(volts, np.array(shape.ports, dtype=np.int64).reshape(-1, 2))


def _differences(volts: Complexes, pairs: NDArray[np.int64]) -> Complexes:
    """Return (n_case, n_pair, n_driven), the first of each pair above the second."""
    difference: Complexes = volts[:, pairs[:, 0]] - volts[:, pairs[:, 1]]
    return difference


def _node_voltages(shape: Shape, y: Complexes) -> Complexes:
    """Return (n_case, n_node, n_driven) volts, each node against its island's reference."""
    n_node, n_case, n_driven = len(shape.elimination), len(y), len(shape.driven)
    injected = np.zeros((n_node, n_case, n_driven), dtype=np.complex128)
    for column, position in enumerate(shape.driven):
        tail, head = shape.ends[position]
        injected[head, :, column] += y[:, position]
        injected[tail, :, column] -= y[:, position]
    rows: list[dict[int, Complexes]] = [{} for _ in range(n_node)]
    for position, (tail, head) in enumerate(shape.ends):
        _join(rows, tail, head, y[:, position])
    totals: dict[int, Complexes] = {}
    for node in shape.elimination:
        neighbours = list(rows[node].items())
        if neighbours:
            totals[node] = _eliminate(rows, injected, node, neighbours)
    volts = np.zeros((n_case, n_node, n_driven), dtype=np.complex128)
    for node in reversed(shape.elimination):
        if node in totals:
            flowing = injected[node]
            for neighbour, share in rows[node].items():
                flowing += share[:, None] * volts[:, neighbour]
            volts[:, node] = flowing / totals[node][:, None]
    return volts


def _eliminate(
    rows: list[dict[int, Complexes]], injected: Complexes, node: int, neighbours: Sequence[tuple[int, Complexes]]
) -> Complexes:
    """Pass a node's star on to its neighbours as a mesh; return the sum of its admittances."""
    total: Complexes = np.add.reduce([admittance for _, admittance in neighbours])
    if not total.all():
        raise NoSolution("Inductance and capacitance cancel exactly at a node, so its voltage has no bound.")
    for i, (a, y_a) in enumerate(neighbours):
        share = y_a / total
        injected[a] += share[:, None] * injected[node]
        del rows[a][node]
        for b, y_b in neighbours[:i]:
            _join(rows, a, b, share * y_b)
    return total


def _join(rows: Sequence[dict[int, Complexes]], a: int, b: int, admittance: Complexes) -> None:
    before = rows[a].get(b)
    rows[a][b] = rows[b][a] = admittance if before is None else before + admittance
