"""Very many variants of one netlist, each with one or two of its branches changed, each brought to rest.

A variant means what ``settle(changed(netlist, its changes))`` means. ``compile_variants`` takes a catalogue of changes;
variants are rows of places in it. Voltages are against the reference of each island as the unchanged netlist has it: the
tail of its first source there, whether that source still works or not.

Additions have a program for each pair of nodes, made when first needed, since room for all of them at once would fill
the elimination. Beside the result itself, memory does not grow with the number of variants.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import variant_kernel
from subbase.circuit.changes import Change, require_fitting
from subbase.circuit.netlist import Coil, Impedance, Netlist, Node, Switch, Tag
from subbase.circuit.variant_kernel import CHANGES
from subbase.circuit.variant_program import NONE, VariantProgram, added_pair, compile_variation
from subbase.errors import NoSolution

Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
Ints = NDArray[np.int64]

CHUNK = 4_096
"""Variants that one thread takes at a time; a batch that is no larger is not worth a second thread."""
BLOCK = 32_768
"""Variants that a stream holds at a time."""


@dataclass(frozen=True, slots=True, eq=False)
class VariantCircuit:
    """A netlist and a catalogue of its changes, made ready for many variants."""

    netlist: Netlist
    changes: tuple[Change, ...]
    """What a number in ``change`` stands for."""
    nodes: tuple[Node, ...]
    """Columns of every voltage array."""
    switches: tuple[Tag, ...]
    """Columns of ``operated``."""
    coils: tuple[Tag, ...]
    """Columns of ``coils_in``."""
    place: Ints
    """(n_change,) the same for changes that cannot both be made."""
    pair: Ints
    """(n_change,) number of the pair of nodes that an addition joins, NONE for what is no addition."""
    pairs: tuple[tuple[int, int], ...]
    programs: dict[tuple[int, ...], VariantProgram] = field(repr=False)
    """By the pairs that have room for an addition; grows as variants ask for them."""


@dataclass(frozen=True, slots=True, eq=False)
class SettledVariants:
    """Many variants at rest."""

    circuit: VariantCircuit
    node_v: Complexes
    """(n_variant, n_node) [V rms], not a number where coils chatter."""
    coils_in: Bools
    """(n_variant, n_coil) at rest; where coils chatter, one state of their cycle."""
    chatter: Bools
    """(n_variant, n_coil) coils that pull in and fall out by turns."""
    step_count: Ints
    """(n_variant,) how many times coils acted; −1 where they chatter."""


def compile_variants(
    netlist: Netlist, changes: Sequence[Change], *, nodes: Sequence[Node] | None = None
) -> VariantCircuit:
    """Return the netlist made ready for ``settle_variants``.

    Parameters
    ----------
    changes
        The catalogue; each branch may have any number of changes.
    nodes
        Whose voltages are wanted; all when left out.

    Raises
    ------
    ValueError
        When a change does not fit the netlist, or a node is not in it.
    NoSolution
        When inductance and capacitance cancel exactly at a node that no switch and no change reaches.
    """
    for change in changes:
        require_fitting(netlist, change)
    unknown = sorted(set(nodes or ()) - netlist.index.keys())
    if unknown:
        raise ValueError(f"These nodes are not in the netlist: {', '.join(unknown)}.")
    added = [None if c.tag in netlist.by_tag else added_pair(netlist.index, c) for c in changes]
    pair_of = {pair: i for i, pair in enumerate(dict.fromkeys(pair for pair in added if pair is not None))}
    place_of = {tag: i for i, tag in enumerate(dict.fromkeys(change.tag for change in changes))}
    return VariantCircuit(
        netlist,
        tuple(changes),
        netlist.nodes() if nodes is None else tuple(nodes),
        tuple(switch.tag for switch in netlist.of(Switch)),
        tuple(coil.tag for coil in netlist.of(Coil)),
        np.array([place_of[change.tag] for change in changes], dtype=np.int64),
        np.array([NONE if pair is None else pair_of[pair] for pair in added], dtype=np.int64),
        tuple(pair_of),
        {(): compile_variation(netlist, changes)},
    )


def settle_variants(
    circuit: VariantCircuit,
    change: Ints,
    *,
    operated: Bools,
    coils_in: Bools | None = None,
    z_ohm: Complexes | None = None,
    threads: int = 2,
) -> SettledVariants:
    """Return many variants at rest.

    Parameters
    ----------
    change : (n_variant,) or (n_variant, 1 or 2) int
        Places in ``circuit.changes``; −1 for no change.
    operated : (n_switch,) or (n_variant, n_switch) bool
        Switches that are not in their normal position, in all variants or in each.
    coils_in : (n_coil,) or (n_variant, n_coil) bool, optional
        Coils that are in at the start; none when left out. A coil that a change takes away is never in.
    z_ohm : (n_variant, 1 or 2) complex, optional
        Impedance in place of the catalogue's, for changes to an impedance; not a number to keep the catalogue's.

    Raises
    ------
    ValueError
        When the arrays do not fit the circuit or each other, or a variant changes one branch twice.
    NoSolution
        When inductance and capacitance cancel exactly at a node in some variant.
    """
    change = _changes(circuit, change)
    n_variant, n_coil, n_switch = len(change), len(circuit.coils), len(circuit.switches)
    start = np.zeros(n_coil, dtype=np.bool_) if coils_in is None else coils_in
    start, operated = _rows("coils_in", start, n_variant, n_coil), _rows("operated", operated, n_variant, n_switch)
    given_y = _given_y(circuit, change, z_ohm)
    lossless = bool((given_y[..., 0] <= 0.0).any())
    settled = SettledVariants(
        circuit,
        np.empty((n_variant, len(circuit.nodes)), dtype=np.complex128),
        np.empty((n_variant, n_coil), dtype=np.bool_),
        np.empty((n_variant, n_coil), dtype=np.bool_),
        np.empty(n_variant, dtype=np.int64),
    )
    node = np.array([circuit.netlist.index[name] for name in circuit.nodes], dtype=np.int64)

    def work_on(part: tuple[VariantProgram, Ints]) -> int:
        program, row = part[0].program, part[1]
        if lossless:
            program = program._replace(lossless=True)
        job = variant_kernel.Job(
            row=row,
            change=change,
            given_y=given_y,
            flags=np.hstack((start[row], operated[row])).view(np.uint8),
            node=node,
            node_v=settled.node_v.view(np.float64).reshape(n_variant, len(node), 2),
            coils_in=settled.coils_in.view(np.uint8),
            chatter=settled.chatter.view(np.uint8),
            steps=settled.step_count,
        )
        scratch = variant_kernel.new_scratch(program, n_coil + n_switch)
        return variant_kernel.settle_job(program, part[0].variation, job, scratch)

    _refuse_resonance(_for_parts(work_on, list(_parts_by_program(circuit, change)), threads))
    for array in (settled.node_v, settled.coils_in, settled.chatter, settled.step_count):
        array.flags.writeable = False
    return settled


def settle_variants_in_blocks(
    circuit: VariantCircuit,
    change: Ints,
    *,
    operated: Bools,
    z_ohm: Complexes | None = None,
    block: int = BLOCK,
    threads: int = 2,
) -> Iterator[tuple[slice, SettledVariants]]:
    """Iterate over (which variants, these at rest), so that never more than one block is held.

    Coils are out at the start; the rest is as in ``settle_variants``.
    """
    for first in range(0, len(change), block):
        part = slice(first, min(first + block, len(change)))
        yield (
            part,
            settle_variants(
                circuit,
                change[part],
                operated=operated if operated.ndim == 1 else operated[part],
                z_ohm=None if z_ohm is None else z_ohm[part],
                threads=threads,
            ),
        )


def _changes(circuit: VariantCircuit, change: Ints) -> Ints:
    """Return (n_variant, CHANGES) places in the catalogue."""
    change = np.asarray(change)
    shape, count = change.shape, len(circuit.changes)
    if (
        change.dtype.kind not in "iu"
        or change.ndim not in (1, 2)
        or (change.ndim == 2 and shape[1] not in (1, CHANGES))
    ):
        raise ValueError(
            f"change must be integers with one row for each variant and at most {CHANGES} columns; "
            f"it is {change.dtype} of shape {shape}."
        )
    change = change.reshape(len(change), -1 if change.size else 1)
    full = np.full((len(change), CHANGES), NONE, dtype=np.int64)
    full[:, : change.shape[1]] = change
    wrong = np.flatnonzero((full < NONE).any(axis=1) | (full >= count).any(axis=1))
    if len(wrong):
        raise ValueError(f"Variant {wrong[0]} asks for a change that is not among the {count} of the catalogue.")
    if count:
        both = (full != NONE).all(axis=1)
        twice = np.flatnonzero(both & (circuit.place[full[:, 0]] == circuit.place[full[:, 1]]))
        if len(twice):
            tag = circuit.changes[full[twice[0], 0]].tag
            raise ValueError(f"Variant {twice[0]} changes {tag} twice; give one change that does both.")
    return full


def _rows(name: str, flags: Bools, n_variant: int, n_column: int) -> Bools:
    if flags.dtype != np.bool_ or flags.shape not in ((n_column,), (n_variant, n_column)):
        raise ValueError(
            f"{name} must be boolean with {n_column} columns and one row, or one for each of {n_variant} variants; "
            f"it is {flags.dtype} of shape {flags.shape}."
        )
    return np.broadcast_to(flags, (n_variant, n_column))


def _given_y(circuit: VariantCircuit, change: Ints, z_ohm: Complexes | None) -> NDArray[np.float64]:
    """Return (n_variant, CHANGES, 2) admittances, or none at all."""
    if z_ohm is None:
        return np.zeros((0, CHANGES, 2))
    if len(z_ohm) != len(change) or z_ohm.ndim != 2 or z_ohm.shape[1] > CHANGES:
        raise ValueError(f"z_ohm must have one row for each of {len(change)} variants; it has shape {z_ohm.shape}.")
    given_z = np.full(change.shape, np.nan, dtype=np.complex128)
    given_z[:, : z_ohm.shape[1]] = z_ohm
    given = ~np.isnan(given_z)
    fixed = np.array([*(isinstance(c.becomes, Impedance) for c in circuit.changes), False])
    wrong = np.flatnonzero((given & (~fixed[change] | (given_z == 0))).any(axis=1))
    if len(wrong):
        raise ValueError(f"z_ohm of variant {wrong[0]} is 0, or its change is not to an impedance.")
    given_y = np.divide(1.0, given_z, out=np.full(change.shape, np.nan, dtype=np.complex128), where=given)
    return given_y.view(np.float64).reshape(*change.shape, 2)


def _parts_by_program(circuit: VariantCircuit, change: Ints) -> Iterator[tuple[VariantProgram, Ints]]:
    """Iterate over (program, rows of variants for it), each a chunk for one thread."""
    pair = np.append(circuit.pair, NONE)[change]
    low, high = pair.min(axis=1, initial=len(circuit.pairs)), pair.max(axis=1, initial=NONE)
    # Variants of one program are brought together, so that its lanes are full.
    key = (low + 1) * (len(circuit.pairs) + 1) + high + 1
    order = np.argsort(key, kind="stable")
    found, starts, counts = np.unique(key[order], return_index=True, return_counts=True)
    for first, last, code in zip(starts, starts + counts, found.tolist(), strict=True):
        program = _program(circuit, divmod(code, len(circuit.pairs) + 1))
        for begin in range(first, last, CHUNK):
            yield program, order[begin : min(begin + CHUNK, last)]


def _program(circuit: VariantCircuit, numbers: tuple[int, int]) -> VariantProgram:
    """Return the program with room for these pairs, counted from 1."""
    wanted = tuple(sorted({number - 1 for number in numbers if number > 0}))
    if wanted not in circuit.programs:
        added = {circuit.pairs[number] for number in wanted}
        circuit.programs[wanted] = compile_variation(circuit.netlist, circuit.changes, added)
    return circuit.programs[wanted]


def _for_parts(
    work_on: Callable[[tuple[VariantProgram, Ints]], int], parts: list[tuple[VariantProgram, Ints]], threads: int
) -> list[int]:
    if threads == 1 or sum(len(row) for _, row in parts) <= CHUNK:
        return [work_on(part) for part in parts]
    with ThreadPoolExecutor(threads) as pool:
        return list(pool.map(work_on, parts))


def _refuse_resonance(resonant: list[int]) -> None:
    variants = [variant for variant in resonant if variant != NONE]
    if variants:
        raise NoSolution(
            f"Inductance and capacitance cancel exactly at a node in variant {min(variants)}; "
            "give the branches there some resistance."
        )
