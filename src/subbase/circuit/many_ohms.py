"""Resistance between very many pairs of nodes of one dead circuit, from a single elimination."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from subbase.circuit.netlist import Netlist, Node

Pair = tuple[Node, Node]


def ohms_between(
    dead: Netlist, pairs: Iterable[Pair], *, clip: Pair | None = None, clip_ohm: float = 0.05
) -> dict[Pair, float]:
    """Return the resistance between nodes of a dead circuit [ohm], infinite where no path joins them.

    One elimination serves all pairs: with a unit current in at one node and out at the other, the power in the circuit
    is the sum of (current at the eliminated node)² over its conductance, and power over current² is the resistance.
    ``clip`` joins two nodes by a lead of ``clip_ohm``. Without one it agrees with ``meters.ohms_seen`` without leads.
    """
    index = dead.index
    rows = [{node: complex(y).real for node, y in row.items()} for row in dead.fixed_rows]
    if clip is not None and set(clip) <= index.keys():
        a, b = index[clip[0]], index[clip[1]]
        rows[a][b] = rows[b][a] = rows[a].get(b, 0.0) + 1.0 / clip_ohm
    eliminated = [(node, *_eliminated(rows, node)) for node in dead.elimination]
    return {pair: _ohms(index, eliminated, *pair) for pair in pairs}


def _eliminated(rows: list[dict[int, float]], node: int) -> tuple[float, tuple[tuple[int, float], ...]]:
    """Take a node out by the star-mesh transform; return (conductance, (neighbour, share of what is injected) ...)."""
    row = rows[node]
    total = sum(row.values())
    shares = tuple((neighbour, y / total) for neighbour, y in row.items())
    for i, (a, share) in enumerate(shares):
        del rows[a][node]
        for b, _ in shares[:i]:
            rows[a][b] = rows[b][a] = rows[a].get(b, 0.0) + share * row[b]
    return total, shares


def _ohms(
    index: Mapping[str, int],
    eliminated: Sequence[tuple[int, float, tuple[tuple[int, float], ...]]],
    a: str,
    b: str,
) -> float:
    if a == b:
        return 0.0
    if a not in index or b not in index:
        return math.inf
    injected = {index[a]: 1.0, index[b]: -1.0}
    ohm = 0.0
    for node, total, shares in eliminated:
        current = injected.pop(node, 0.0)
        if current == 0.0:
            continue
        if not shares:
            if abs(current) > 0.5:  # the last of an island keeps what another island should have taken
                return math.inf
            continue
        ohm += current * current / total
        for neighbour, share in shares:
            injected[neighbour] = injected.get(neighbour, 0.0) + share * current
    return ohm
