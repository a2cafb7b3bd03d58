"""Very many switch states of one netlist at once; same meaning as ``solve`` and ``settle``, to the last rule.

``compile_netlist`` does once what all states share. States are rows of flags in the order of ``Compiled.switches`` and
``Compiled.coils``; voltages are columns in the order of ``Compiled.nodes``, each against its own island's reference.
Beside the result itself, memory does not grow with the number of states.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence, Set
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import kernel
from subbase.circuit.elimination import Program, compile_program
from subbase.circuit.netlist import Coil, Netlist, Node, Switch, Tag
from subbase.errors import NoSolution

Bools = NDArray[np.bool_]
Complexes = NDArray[np.complex128]
Ints = NDArray[np.int64]

CHUNK = 16_384
"""States that one thread takes at a time; bounds what is copied. A smaller share is not worth a thread."""
SETTLE_CHUNK = CHUNK // 8
"""The same for states to be settled, each of which is several times as much work."""
BLOCK = 2 * CHUNK
"""States that a stream holds at a time. At 40 nodes their voltages still fit in memory that was used before; with larger
blocks the system clears new memory for each, which costs as much as solving."""


@dataclass(frozen=True, slots=True, eq=False)
class Compiled:
    """A netlist made ready for many states."""

    netlist: Netlist
    nodes: tuple[Node, ...]
    """Columns of every voltage array."""
    switches: tuple[Tag, ...]
    """Columns of ``operated``."""
    coils: tuple[Tag, ...]
    """Columns of ``coils_in``."""
    program: Program


@dataclass(frozen=True, slots=True, eq=False)
class SettledStates:
    """Many states at rest."""

    compiled: Compiled
    node_v: Complexes
    """(n_state, n_node) [V rms], not a number where coils chatter."""
    coils_in: Bools
    """(n_state, n_coil) at rest; where coils chatter, one state of their cycle."""
    chatter: Bools
    """(n_state, n_coil) coils that pull in and fall out by turns."""
    step_count: Ints
    """(n_state,) how many times coils acted; −1 where they chatter."""

    def chattering(self, state: int) -> tuple[Tag, ...]:
        """Return the coils that never come to rest in one state, sorted; empty when it is at rest."""
        return tuple(sorted(tag for tag, moves in zip(self.compiled.coils, self.chatter[state], strict=True) if moves))


def compile_netlist(netlist: Netlist) -> Compiled:
    """Return the netlist made ready for ``solve_states`` and ``settle_states``.

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node whatever the state.
    """
    return Compiled(
        netlist,
        netlist.nodes(),
        tuple(switch.tag for switch in netlist.of(Switch)),
        tuple(coil.tag for coil in netlist.of(Coil)),
        compile_program(netlist),
    )


def flag_rows(columns: tuple[Tag, ...], states: Sequence[Set[Tag]]) -> Bools:
    """Return (n_state, n_column) flags from sets of tags.

    Raises
    ------
    ValueError
        When a state names a tag that is not among the columns.
    """
    column_of = {tag: i for i, tag in enumerate(columns)}
    flags = np.zeros((len(states), len(columns)), dtype=np.bool_)
    for row, tags in enumerate(states):
        unknown = sorted(tags - column_of.keys())
        if unknown:
            raise ValueError(f"State {row} names tags that are not in the netlist: {', '.join(unknown)}.")
        flags[row, [column_of[tag] for tag in tags]] = True
    return flags


def solve_states(compiled: Compiled, operated: Bools, coils_in: Bools, *, threads: int = 2) -> Complexes:
    """Return the node voltages of many switch states.

    Parameters
    ----------
    operated : (n_state, n_switch) bool
        Switches that are not in their normal position.
    coils_in : (n_state, n_coil) bool
        Coils that are pulled in.

    Returns
    -------
    (n_state, n_node) complex [V rms], read-only

    Raises
    ------
    ValueError
        When the arrays do not fit the netlist or each other.
    NoSolution
        When inductance and capacitance cancel exactly at a node in some state.
    """
    n_state = _state_count(compiled, operated, coils_in)
    node_v = np.empty((n_state, len(compiled.nodes)), dtype=np.complex128)

    def work_on(chunk: slice) -> int:
        flags = _flags(compiled, operated[chunk], coils_in[chunk])
        work = kernel.new_work(compiled.program, len(flags))
        return kernel.solve_range(compiled.program, work, flags, _parts(node_v[chunk]))

    _for_chunks(work_on, n_state, CHUNK, threads)
    node_v.flags.writeable = False
    return node_v


def solve_in_blocks(
    compiled: Compiled, operated: Bools, coils_in: Bools, *, block: int = BLOCK, threads: int = 2
) -> Iterator[tuple[slice, Complexes]]:
    """Iterate over (which states, their node voltages), so that never more than one block is held."""
    for first in range(0, _state_count(compiled, operated, coils_in), block):
        part = slice(first, min(first + block, len(operated)))
        yield part, solve_states(compiled, operated[part], coils_in[part], threads=threads)


def settle_states(
    compiled: Compiled, operated: Bools, coils_in: Bools | None = None, *, threads: int = 2
) -> SettledStates:
    """Return many states at rest.

    Parameters
    ----------
    operated : (n_state, n_switch) bool
        Switches that are not in their normal position.
    coils_in : (n_state, n_coil) bool, optional
        Coils that are in at the start; none when left out.

    Raises
    ------
    ValueError
        When the arrays do not fit the netlist or each other.
    NoSolution
        When inductance and capacitance cancel exactly at a node in some state.
    """
    if coils_in is None:
        coils_in = np.zeros((len(operated), len(compiled.coils)), dtype=np.bool_)
    start = coils_in
    n_state, n_coil = _state_count(compiled, operated, start), len(compiled.coils)
    node_v = np.empty((n_state, len(compiled.nodes)), dtype=np.complex128)
    end = np.empty((n_state, n_coil), dtype=np.bool_)
    chatter = np.empty((n_state, n_coil), dtype=np.bool_)
    step_count = np.empty(n_state, dtype=np.int64)

    def work_on(chunk: slice) -> int:
        flags = _flags(compiled, operated[chunk], start[chunk])
        work = kernel.new_work(compiled.program, len(flags))
        moves = np.empty((n_coil, chunk.stop - chunk.start), dtype=np.uint8)
        rest = kernel.Rest(_parts(node_v[chunk]), moves, step_count[chunk])
        resonant = kernel.settle_range(compiled.program, work, kernel.new_lanes(n_coil), flags, rest)
        end[chunk], chatter[chunk] = flags[:n_coil, : moves.shape[1]].T, moves.T
        return resonant

    _for_chunks(work_on, n_state, SETTLE_CHUNK, threads)
    for array in (node_v, end, chatter, step_count):
        array.flags.writeable = False
    return SettledStates(compiled, node_v, end, chatter, step_count)


def _state_count(compiled: Compiled, operated: Bools, coils_in: Bools) -> int:
    for name, flags, columns in (("operated", operated, compiled.switches), ("coils_in", coils_in, compiled.coils)):
        if flags.dtype != np.bool_ or flags.ndim != 2 or flags.shape[1] != len(columns):
            raise ValueError(
                f"{name} must be boolean with one row for each state and {len(columns)} columns; "
                f"it is {flags.dtype} of shape {flags.shape}."
            )
    if len(operated) != len(coils_in):
        raise ValueError(f"operated has {len(operated)} states but coils_in has {len(coils_in)}; give as many of both.")
    return len(operated)


def _flags(compiled: Compiled, operated: Bools, coils_in: Bools) -> kernel.Bytes:
    """Return (n_flag, n_state) with coils first, states rounded up to whole blocks of lanes."""
    n_state, n_coil = coils_in.shape
    rounded = -(-n_state // kernel.LANES) * kernel.LANES
    flags = np.zeros((n_coil + len(compiled.switches), rounded), dtype=np.uint8)
    flags[:n_coil, :n_state] = coils_in.T
    flags[n_coil:, :n_state] = operated.T
    return flags


def _parts(node_v: Complexes) -> NDArray[np.float64]:
    """Return the (n_state, n_node, 2) view on real and imaginary parts."""
    return node_v.view(np.float64).reshape(*node_v.shape, 2)


def _for_chunks(work_on: Callable[[slice], int], n_state: int, size: int, threads: int) -> None:
    """Run over chunks of states, in threads when there is more than one chunk."""
    chunks = [slice(first, min(first + size, n_state)) for first in range(0, n_state, size)]
    if len(chunks) <= 1 or threads == 1:
        resonant = [work_on(chunk) for chunk in chunks]
    else:
        with ThreadPoolExecutor(threads) as pool:
            resonant = list(pool.map(work_on, chunks))
    for chunk, state in zip(chunks, resonant, strict=True):
        if state >= 0:
            raise NoSolution(
                f"Inductance and capacitance cancel exactly at a node in state {chunk.start + state}; "
                "give the branches there some resistance."
            )
