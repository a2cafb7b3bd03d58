"""What is joined to what in very many settled variants: two points on different islands have no voltage that is defined.

A union-find over the branches that conduct, in machine code. It holds no electrical equation; it only counts paths.
"""

from __future__ import annotations

from dataclasses import dataclass

import numba
import numpy as np
from numpy.typing import NDArray

from subbase.circuit.changes import Change
from subbase.circuit.netlist import Coil, Contact, Netlist, Node, Switch

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

ALWAYS, BY_SWITCH, BY_COILS = 0, 1, 2
GONE, CLOSED, AS_WAS = 0, 1, 2


@dataclass(frozen=True, slots=True, eq=False)
class Paths:
    """The branches of one netlist as paths, and what each change does to them."""

    ends: Ints
    """(n_branch, 2) nodes, counted as the netlist does."""
    kind: Ints
    """(n_branch,) ALWAYS, BY_SWITCH or BY_COILS."""
    first: Ints
    """(n_branch + 1,) where a branch's workers begin in ``workers``."""
    workers: Ints
    """Columns of the switches, or of the coils, that work a branch."""
    normally_closed: Bools
    leaky: Bools
    """(n_branch,) whether it conducts a little while open."""
    change_branch: Ints
    """(n_change,) branch that a change befalls; −1 for an addition."""
    change_does: Ints
    """(n_change,) GONE, CLOSED or AS_WAS."""
    change_ends: Ints
    """(n_change, 2) of additions."""
    node_count: int


def paths_of(netlist: Netlist, changes: tuple[Change, ...]) -> Paths:
    """Return a netlist's branches as paths."""
    switch = {branch.tag: i for i, branch in enumerate(netlist.of(Switch))}
    coil = {branch.tag: i for i, branch in enumerate(netlist.of(Coil))}
    kind, workers, first = [], [], [0]
    for branch in netlist.branches:
        if isinstance(branch, Switch):
            kind.append(BY_SWITCH)
            workers.append(switch[branch.tag])
        elif isinstance(branch, Contact):
            kind.append(BY_COILS)
            workers.extend(coil[tag] for tag in branch.coils)
        else:
            kind.append(ALWAYS)
        first.append(len(workers))
    place = {branch.tag: i for i, branch in enumerate(netlist.branches)}
    does = [
        GONE if c.becomes is None else AS_WAS if isinstance(c.becomes, Contact | Switch) else CLOSED for c in changes
    ]
    ends = [
        (netlist.index[c.becomes.tail], netlist.index[c.becomes.head]) if c.becomes is not None else (0, 0)
        for c in changes
    ]
    return Paths(
        np.array(netlist.ends, dtype=np.int64).reshape(-1, 2),
        np.array(kind, dtype=np.int64),
        np.array(first, dtype=np.int64),
        np.array(workers, dtype=np.int64),
        np.array([getattr(b, "normally_closed", False) for b in netlist.branches], dtype=np.bool_),
        np.array([getattr(b, "z_open_ohm", None) is not None for b in netlist.branches], dtype=np.bool_),
        np.array([place.get(c.tag, -1) for c in changes], dtype=np.int64),
        np.array(does, dtype=np.int64),
        np.array(ends, dtype=np.int64).reshape(-1, 2),
        len(netlist.index),
    )


def island_of(
    paths: Paths, change: Ints, operated: Bools, coils_in: Bools, nodes: tuple[Node, ...] | Ints, *, firm: bool = True
) -> NDArray[np.int16]:
    """Return the island of each wanted node in each variant.

    Parameters
    ----------
    change : (n_variant, 2) int
        As ``settle_variants`` takes it, with two columns.
    operated, coils_in : (n_variant, n_switch) and (n_variant, n_coil) bool
    nodes : (n_wanted,) int
        Positions in the netlist.
    firm
        Whether the leakage of an open contact is no path.

    Returns
    -------
    (n_variant, n_wanted) int16, the same number for points that a path joins.
    """
    out = np.empty((len(change), len(nodes)), dtype=np.int16)
    _label(
        paths.ends, paths.kind, paths.first, paths.workers, paths.normally_closed, paths.leaky & (not firm),
        paths.change_branch, paths.change_does, paths.change_ends, paths.node_count,
        np.ascontiguousarray(change), np.ascontiguousarray(operated), np.ascontiguousarray(coils_in),
        np.asarray(nodes, dtype=np.int64), out,
    )  # fmt: skip
    return out


@numba.njit(cache=True)
def _label(  # type: ignore[no-untyped-def]  # noqa: PLR0912, PLR0913, PLR0917 -- numba takes arrays, not a model
    ends, kind, first, workers, normally_closed, leaky,
    change_branch, change_does, change_ends, node_count,
    change, operated, coils_in, nodes, out,
):  # fmt: skip
    parent = np.empty(node_count, dtype=np.int64)
    closed = np.empty(len(kind), dtype=np.bool_)
    for row in range(change.shape[0]):
        for b in range(len(kind)):
            if kind[b] == 0:
                closed[b] = True
            else:
                acted = False
                for w in range(first[b], first[b + 1]):
                    acted = acted or (operated[row, workers[w]] if kind[b] == 1 else coils_in[row, workers[w]])
                closed[b] = (acted != normally_closed[b]) or leaky[b]
        for k in range(change.shape[1]):
            c = change[row, k]
            if c >= 0 and change_branch[c] >= 0:
                if change_does[c] == 0:
                    closed[change_branch[c]] = False
                elif change_does[c] == 1:
                    closed[change_branch[c]] = True
        for n in range(node_count):
            parent[n] = n
        for b in range(len(kind)):
            if closed[b]:
                _join(parent, ends[b, 0], ends[b, 1])
        for k in range(change.shape[1]):
            c = change[row, k]
            if c >= 0 and change_branch[c] < 0:
                _join(parent, change_ends[c, 0], change_ends[c, 1])
        for i in range(len(nodes)):
            out[row, i] = _head(parent, nodes[i])


@numba.njit(cache=True)
def _head(parent, n):  # type: ignore[no-untyped-def]
    while parent[n] != n:
        parent[n] = parent[parent[n]]
        n = parent[n]
    return n


@numba.njit(cache=True)
def _join(parent, a, b):  # type: ignore[no-untyped-def]
    parent[_head(parent, a)] = _head(parent, b)
