"""The plan by which one netlist is settled with any of its changes: elimination in which no changed branch is folded in.

A changed branch is never undone by subtraction. Its admittance stays apart from what is stamped for all, and where a
variant changes it, the sum over its pair of nodes is made anew; so an open is exactly 0 S and a short costs no digits.
Low-rank updates of a solved circuit would be cheaper for a few outputs, but they cancel for opens (decision 6).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass
from math import inf
from typing import NamedTuple

import numpy as np

from subbase.circuit.changes import Change
from subbase.circuit.elimination import (
    Floats,
    Ints,
    Program,
    _assemble,
    _contact_y,
    _ints,
    _Network,
    _offsets,
    _pair,
    _parts,
    _Vary,
)
from subbase.circuit.netlist import Branch, Coil, Contact, Netlist, Source, Switch, Tag

NONE = -1
"""No branch, no source, no coil, no change."""
NEVER_DROPS_OUT = -1.0
"""Squared drop-out limit of what is no coil any more."""


class Variation(NamedTuple):
    """What the changes of a catalogue do to one program; one row for each change unless told otherwise."""

    slot: Ints
    """Slot of the pair of nodes; NONE when the program has no room for an addition there."""
    vary: Ints
    """Row of ``Program.vary_y`` that is replaced; NONE for an addition."""
    y: Floats
    """(n_change, 2, 2) admittance at rest and acted [S]."""
    source: Ints
    """Source that is replaced, or NONE."""
    source_a: Floats
    """(n_change, 2) its new current as a Norton equivalent [A]."""
    coil: Ints
    """Coil that is replaced, or NONE."""
    limits_v2: Floats
    """(n_change, 2) its squared limits; the second NEVER_DROPS_OUT when it never acts."""
    slot_from: Ints
    """(n_slot + 1,) where the branches of a slot that vary begin in ``slot_vary``."""
    slot_vary: Ints
    bare_a: Floats
    """(n_injection, 2) injected current without the sources that may change."""
    source_injection: Ints
    """(n_source, 2) injections of each such source's tail and head; NONE at the node that is eliminated last."""
    old_source_a: Floats
    """(n_source, 2) its current when it is not changed."""


@dataclass(frozen=True, slots=True, eq=False)
class VariantProgram:
    """A program and its catalogue of changes."""

    program: Program
    variation: Variation


def compile_variation(
    netlist: Netlist, changes: Sequence[Change], added: Set[tuple[int, int]] = frozenset()
) -> VariantProgram:
    """Return the program that settles any variant whose additions all lie between the pairs ``added``.

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node that no switch and no change reaches.
    """
    touched = {change.tag for change in changes} & netlist.by_tag.keys()
    network = _ChangeableNetwork(netlist, touched, sorted(added))
    network.lossless |= any(y != 0 and y.real <= 0 for change in changes for y in law(change.becomes, {})[:2])
    pivots = [network.eliminate(node) for node in network.order()]
    bare = _assemble(netlist, network, pivots)
    injection_of = dict(zip(bare.back_node.tolist(), bare.back_injection.tolist(), strict=True))
    sources = [source for source in netlist.of(Source) if source.tag in touched]
    source_injection = _ints(
        injection_of[netlist.index[node]] for source in sources for node in (source.tail, source.head)
    ).reshape(-1, 2)
    old_source_a = _parts(source.emf_v / source.z_ohm for source in sources)
    base_a = bare.base_a.copy()
    for (tail, head), source_a in zip(source_injection.tolist(), old_source_a, strict=True):
        if tail != NONE:
            base_a[tail] -= source_a
        if head != NONE:
            base_a[head] += source_a
    by_slot = [np.flatnonzero(bare.vary_slot == slot).tolist() for slot in range(len(bare.base_y))]
    source_of = {source.tag: i for i, source in enumerate(sources)}
    coil_of = {coil.tag: i for i, coil in enumerate(netlist.of(Coil))}
    vary = [network.vary_of.get(change.tag, NONE) for change in changes]
    slots = [_slot_of(bare, network, change, row) for change, row in zip(changes, vary, strict=True)]
    variation = Variation(
        slot=_ints(slots),
        vary=_ints(vary),
        y=_parts(y for change in changes for y in law(change.becomes, {})[:2]).reshape(-1, 2, 2),
        source=_ints(source_of.get(change.tag, NONE) for change in changes),
        source_a=_parts(_norton_a(change.becomes) for change in changes),
        coil=_ints(coil_of.get(change.tag, NONE) for change in changes),
        limits_v2=np.array([_limits_v2(change.becomes) for change in changes], dtype=np.float64).reshape(-1, 2),
        slot_from=_offsets(by_slot),
        slot_vary=_ints(row for rows in by_slot for row in rows),
        bare_a=bare.base_a,
        source_injection=source_injection,
        old_source_a=old_source_a,
    )
    return VariantProgram(bare._replace(base_a=base_a), variation)


def law(branch: Branch | None, flag: Mapping[Tag, int]) -> tuple[complex, complex, tuple[int, ...]]:
    """Return (admittance at rest [S], acted [S], flags any of which acts it); flags not in ``flag`` are left out."""
    workers: tuple[Tag, ...]
    match branch:
        case None:
            return 0j, 0j, ()
        case Coil():
            rest_y, acted_y, workers = 1.0 / branch.z_out_ohm, 1.0 / branch.z_in_ohm, (branch.tag,)
        case Switch():
            rest_y, acted_y, workers = *_contact_y(branch), (branch.tag,)
        case Contact():
            rest_y, acted_y, workers = *_contact_y(branch), branch.coils
        case _:
            return 1.0 / branch.z_ohm, 1.0 / branch.z_ohm, ()
    return complex(rest_y), complex(acted_y), tuple(flag[tag] for tag in workers if tag in flag)


class _ChangeableNetwork(_Network):
    """The network during elimination, with the branches that may change kept apart."""

    def __init__(self, netlist: Netlist, touched: Set[Tag], added: Sequence[tuple[int, int]]) -> None:
        super().__init__(Netlist(()))
        self.index = dict(netlist.index)
        self.y = [{} for _ in self.index]
        self.vary_of: dict[Tag, int] = {}
        workers: tuple[Coil | Switch, ...] = (*netlist.of(Coil), *netlist.of(Switch))
        flag = {worker.tag: i for i, worker in enumerate(workers)}
        for branch, (tail, head) in zip(netlist.branches, netlist.ends, strict=True):
            rest_y, acted_y, flags = law(branch, flag)
            if branch.tag in touched or rest_y != acted_y:
                self.vary_of[branch.tag] = len(self.vary)
                self._keep_apart(_Vary((tail, head), rest_y, acted_y, flags))
            else:
                self._stamp(tail, head, rest_y)
            if isinstance(branch, Source):
                self._supply(branch, (tail, head), branch.tag in touched)
        self.vary_of_pair: dict[tuple[int, int], int] = {}
        for pair in added:
            self.vary_of_pair[pair] = len(self.vary)
            self._keep_apart(_Vary(pair, 0j, 0j, ()))

    def _keep_apart(self, vary: _Vary) -> None:
        self.lossless |= any(y != 0 and y.real <= 0.0 for y in (vary.rest_y, vary.acted_y))
        self._add(*vary.pair, 0j)
        self.varying_pairs.add(_pair(*vary.pair))
        self.vary.append(vary)

    def _supply(self, source: Source, ends: tuple[int, int], touched: bool) -> None:
        if ends[0] not in self.tails:
            self.tails.append(ends[0])
        if touched:
            for node in ends:
                self.injected.setdefault(node, 0j)
                self.varying_injections.add(node)
        else:
            self._inject(*ends, source.emf_v / source.z_ohm)


def _slot_of(program: Program, network: _ChangeableNetwork, change: Change, row: int) -> int:
    if row == NONE:
        row = network.vary_of_pair.get(added_pair(network.index, change), NONE)
    return NONE if row == NONE else int(program.vary_slot[row])


def added_pair(index: Mapping[str, int], change: Change) -> tuple[int, int]:
    """Return the nodes that an addition joins, as positions, the lesser first."""
    branch = change.becomes
    assert branch is not None, f"{change.tag} adds nothing."
    return _pair(index[branch.tail], index[branch.head])


def _norton_a(branch: Branch | None) -> complex:
    return branch.emf_v / branch.z_ohm if isinstance(branch, Source) else 0j


def _limits_v2(branch: Branch | None) -> tuple[float, float]:
    """Return the squares of a coil's limits; what is no coil never acts."""
    if isinstance(branch, Coil):
        return max(branch.pull_in_v, 0.0) ** 2, max(branch.drop_out_v, 0.0) ** 2
    return inf, NEVER_DROPS_OUT
