"""The numeric kernel: a ``Program`` run for LANES states side by side.

A row of work holds the real parts of LANES states and then the imaginary parts, so every inner loop is one straight
run that the compiler turns into vector instructions; what to do next is decided once for a whole block of lanes. Loops
touch few rows each, because the compiler gives up when it must prove many of them apart. All functions release the
interpreter lock and touch only what they are given.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from subbase.circuit.elimination import FIXED, LEAF, PAIR, Floats, Ints, Program

LANES = 128
"""States side by side. Measured best of 8 to 256 at 40 nodes: the rows fill the second-level cache, and shorter rows
cost more in checks that they lie apart than they gain."""
PAD = 8
"""Numbers between rows, so that the same lane of all rows does not fall on the same few cache sets."""
TINY = 1e-300
"""Added to a squared modulus so that 0/0 is 0; far under the square of any admittance."""

Bytes = NDArray[np.uint8]
F = TypeVar("F", bound=Callable[..., Any])


class Work(NamedTuple):
    """One thread's scratch for a block of LANES states."""

    y: Floats
    """(n_slot + 2, 2 LANES) admittances, then shares; two rows at the end are for sums."""
    a: Floats
    """(n_injection, 2 LANES) injected currents, then their part of the voltages."""
    v: Floats
    """(n_node, 2 LANES) node voltages."""
    flags: Bytes
    """(n_flag, LANES) coils that are in, then switches that are operated."""
    acted: Bytes
    """(LANES,) whether a branch that varies is acted."""
    resonant: Bytes
    """(LANES,) 1 where a pivot is exactly 0 though its admittances are not."""


class Lanes(NamedTuple):
    """What each lane of a block is doing while states settle."""

    state: Ints
    """(LANES,) the state in the lane, −1 when it is idle."""
    steps: Ints
    """(LANES,) how many times coils have acted."""
    marked_at: Ints
    """(LANES,) the step at which ``mark`` was set."""
    mark: Bytes
    """(n_coil, LANES) coils that were in then."""
    moved: Bytes
    """(n_coil, LANES) coils that have acted since then."""
    acting: Bytes
    """(n_coil, LANES) coils that act now."""
    wants: Bytes
    """(LANES,) whether any coil wants to change."""
    looped: Bytes
    """(LANES,) whether the coils stand again as at the mark."""
    rank: Ints
    """(LANES,) rank of the shortest delay among coils that want to change."""


class Rest(NamedTuple):
    """Where states come to rest; filled by ``settle_range``."""

    node_v: Floats
    """(n_state, n_node, 2), not a number in chatter."""
    chatter: Bytes
    """(n_coil, n_state) coils that never come to rest."""
    steps: Ints
    """(n_state,) −1 in chatter."""


def new_lanes(n_coil: int) -> Lanes:
    """Return idle lanes for one thread."""

    def counts() -> Ints:
        return np.full(LANES, -1, dtype=np.int64)

    def marks() -> Bytes:
        return np.zeros((n_coil, LANES), dtype=np.uint8)

    wants, looped = np.zeros((2, LANES), dtype=np.uint8)
    return Lanes(
        state=counts(),
        steps=counts(),
        marked_at=counts(),
        mark=marks(),
        moved=marks(),
        acting=marks(),
        wants=wants,
        looped=looped,
        rank=counts(),
    )


def new_work(program: Program, n_flag: int) -> Work:
    """Return scratch for one thread."""

    def rows(count: int) -> Floats:
        return np.zeros((count, 2 * LANES + PAD))

    return Work(
        y=rows(len(program.base_y) + 2),
        a=rows(len(program.base_a)),
        v=rows(len(program.back_node)),
        flags=np.zeros((n_flag, LANES), dtype=np.uint8),
        acted=np.zeros(LANES, dtype=np.uint8),
        resonant=np.zeros(LANES, dtype=np.uint8),
    )


def compiled(function: F) -> F:
    """Compile a function; a product and a sum may be fused, which keeps an exact 0 exact.

    The compiler's cache notices changes of this file only: after a change of ``Program`` empty ``__pycache__``.
    """
    return cast(F, numba.njit(cache=True, nogil=True, error_model="numpy", fastmath={"contract"})(function))


def inlined(function: F) -> F:
    """Compile a function into each of its callers, where its call would cost more than its work."""
    return cast(F, numba.njit(inline="always", error_model="numpy", fastmath={"contract"})(function))


@compiled
def solve_range(program: Program, work: Work, flags: Bytes, node_v: Floats) -> int:
    """Solve every state; return the first that resonates, or −1.

    ``flags`` is (n_flag, n_state) with n_state rounded up to whole blocks; ``node_v`` (n_state, n_node, 2) is filled.
    """
    n_state = node_v.shape[0]
    for first in range(0, n_state, LANES):
        for flag in range(flags.shape[0]):
            for lane in range(LANES):
                work.flags[flag, lane] = flags[flag, first + lane]
        solve_block(program, work)
        for lane in range(min(LANES, n_state - first)):
            if work.resonant[lane]:
                return first + lane
            write_voltages(work, lane, node_v[first + lane])
    return -1


@compiled
def settle_range(program: Program, work: Work, lanes: Lanes, flags: Bytes, rest: Rest) -> int:
    """Settle every state; return the first that resonates, or −1.

    ``flags`` is (n_flag, n_state); its coils are read as the start and left as the end.
    """
    # A lane that comes to rest takes the next state, so lanes stay busy however long each state takes.
    n_state, taken, busy = rest.node_v.shape[0], 0, 0
    for lane in range(min(LANES, n_state)):
        _take(work, lanes, lane, flags, taken)
        taken += 1
        busy += 1
    while busy > 0:
        solve_block(program, work)
        _choose_acting(program, work, lanes)
        _act(work, lanes)
        for lane in range(LANES):
            state = lanes.state[lane]
            if state < 0:
                continue
            if work.resonant[lane]:
                return int(state)
            if lanes.wants[lane] and not lanes.looped[lane]:
                _step(work, lanes, lane)
                continue
            _leave(work, lanes, lane, flags, rest)
            if taken < n_state:
                _take(work, lanes, lane, flags, taken)
                taken += 1
            else:
                lanes.state[lane] = -1
                busy -= 1
    return -1


@inlined
def _take(work: Work, lanes: Lanes, lane: int, flags: Bytes, state: int) -> None:
    """Start a state in a lane."""
    lanes.state[lane], lanes.steps[lane], lanes.marked_at[lane] = state, 0, 0
    for flag in range(flags.shape[0]):
        work.flags[flag, lane] = flags[flag, state]
    for coil in range(lanes.mark.shape[0]):
        lanes.mark[coil, lane], lanes.moved[coil, lane] = flags[coil, state], 0


@inlined
def _choose_acting(program: Program, work: Work, lanes: Lanes) -> None:
    """Find the coils that want to change and, in each lane, those with the shortest delay."""
    v, never = work.v, program.coil_ends.shape[0]
    for lane in range(LANES):
        lanes.rank[lane] = never
    for coil in range(program.coil_ends.shape[0]):
        tail, head, rank = program.coil_ends[coil, 0], program.coil_ends[coil, 1], program.coil_delay_rank[coil]
        pull_in_v2, drop_out_v2 = program.coil_limits_v2[coil, 0], program.coil_limits_v2[coil, 1]
        for lane in range(LANES):
            re, im = v[tail, lane] - v[head, lane], v[tail, LANES + lane] - v[head, LANES + lane]
            across_v2 = re * re + im * im
            is_in = work.flags[coil, lane] != 0
            wants = (is_in & (across_v2 < drop_out_v2)) | (~is_in & (across_v2 >= pull_in_v2))
            lanes.acting[coil, lane] = wants
            lanes.rank[lane] = min(lanes.rank[lane], rank if wants else never)
    for coil in range(program.coil_ends.shape[0]):
        rank = program.coil_delay_rank[coil]
        for lane in range(LANES):
            lanes.acting[coil, lane] &= np.uint8(rank == lanes.rank[lane])
    for lane in range(LANES):
        lanes.wants[lane] = lanes.rank[lane] < never


@inlined
def _act(work: Work, lanes: Lanes) -> None:
    """Let the coils act, and see whether they stand again as at the mark."""
    for lane in range(LANES):
        lanes.looped[lane] = 1
    for coil in range(lanes.mark.shape[0]):
        for lane in range(LANES):
            work.flags[coil, lane] ^= lanes.acting[coil, lane]
            lanes.moved[coil, lane] |= lanes.acting[coil, lane]
            lanes.looped[lane] &= np.uint8(work.flags[coil, lane] == lanes.mark[coil, lane])


@inlined
def _step(work: Work, lanes: Lanes, lane: int) -> None:
    """Count a step and move the mark at steps 1, 2, 4, 8, ...

    Cycle detection of Brent, BIT 20 (1980) 176-184 (from memory): the mark is met again only in a cycle, and what
    moved since the mark is then what moves in the cycle.
    """
    lanes.steps[lane] += 1
    if lanes.steps[lane] >= 2 * lanes.marked_at[lane]:
        lanes.marked_at[lane] = lanes.steps[lane]
        for coil in range(lanes.mark.shape[0]):
            lanes.mark[coil, lane], lanes.moved[coil, lane] = work.flags[coil, lane], 0


@inlined
def _leave(work: Work, lanes: Lanes, lane: int, flags: Bytes, rest: Rest) -> None:
    """Write down a state that is at rest, or in a cycle."""
    state, chatters = lanes.state[lane], lanes.wants[lane]
    for coil in range(lanes.mark.shape[0]):
        flags[coil, state] = work.flags[coil, lane]
        rest.chatter[coil, state] = lanes.moved[coil, lane] if chatters else 0
    if chatters:
        rest.steps[state] = -1
        rest.node_v[state] = np.nan
    else:
        rest.steps[state] = lanes.steps[lane]
        write_voltages(work, lane, rest.node_v[state])


@inlined
def write_voltages(work: Work, lane: int, node_v: Floats) -> None:
    """Copy one lane's voltages to (n_node, 2)."""
    for node in range(node_v.shape[0]):
        node_v[node, 0] = work.v[node, lane]
        node_v[node, 1] = work.v[node, LANES + lane]


@compiled
def eliminate(program: Program, work: Work) -> None:
    """Find the voltages of every lane from its admittances and injections."""
    for pivot in range(program.pivot_slot.shape[0]):
        degree = program.pivot_from[pivot + 1] - program.pivot_from[pivot]
        slot, first, mesh = program.pivot_slot[pivot], program.pivot_from[pivot], program.mesh_from[pivot]
        own = program.pivot_injection[pivot]
        if program.lossless:
            _flag_resonance(work, slot, degree)
        if own >= 0:
            _sum(work.y, slot, degree)
            for k in range(degree):
                target = program.neighbour_injection[first + k]
                if target >= 0:
                    _pass_injection(work, slot + k, own, target)
            _own_part(work, own)
        if degree == 1:
            _fold_leaf(work.y, slot)
        elif degree == 2:
            _fold_pair(work.y, slot, program.mesh_slot[mesh])
        else:
            _fold_star(work.y, slot, degree, program.mesh_slot[mesh : program.mesh_from[pivot + 1]])
    _substitute(program, work)


@compiled
def solve_block(program: Program, work: Work) -> None:
    """Find the voltages of every lane from ``work.flags``."""
    _load(program, work)
    eliminate(program, work)


@inlined
def _load(program: Program, work: Work) -> None:
    """Set admittances and injections as they are before elimination."""
    y, a = work.y, work.a
    work.resonant[:] = 0
    for slot in range(program.base_y.shape[0]):
        re, im = program.base_y[slot, 0], program.base_y[slot, 1]
        for lane in range(LANES):
            y[slot, lane] = re
            y[slot, LANES + lane] = im
    for k in range(a.shape[0]):
        re, im = program.base_a[k, 0], program.base_a[k, 1]
        for lane in range(LANES):
            a[k, lane] = re
            a[k, LANES + lane] = im
    for vary in range(program.vary_slot.shape[0]):
        slot = program.vary_slot[vary]
        rest_re, rest_im = program.vary_y[vary, 0, 0], program.vary_y[vary, 0, 1]
        acted_re, acted_im = program.vary_y[vary, 1, 0], program.vary_y[vary, 1, 1]
        acted = work.acted
        for lane in range(LANES):
            acted[lane] = 0
        for k in range(program.vary_from[vary], program.vary_from[vary + 1]):
            flag = program.vary_flag[k]
            for lane in range(LANES):
                acted[lane] |= work.flags[flag, lane]
        for lane in range(LANES):
            y[slot, lane] += acted_re if acted[lane] else rest_re
            y[slot, LANES + lane] += acted_im if acted[lane] else rest_im


@inlined
def _flag_resonance(work: Work, slot: int, degree: int) -> None:
    for lane in range(LANES):
        re, im, size = 0.0, 0.0, 0.0
        for k in range(slot, slot + degree):
            re += work.y[k, lane]
            im += work.y[k, LANES + lane]
            size += abs(work.y[k, lane]) + abs(work.y[k, LANES + lane])
        if re == 0.0 and im == 0.0 and size > 0.0:
            work.resonant[lane] = 1


@inlined
def _sum(y: Floats, slot: int, degree: int) -> None:
    """Put 1/Σ of a row in the last row but one, 0 where every admittance is 0."""
    s = y.shape[0] - 2
    for lane in range(LANES):
        y[s, lane], y[s, LANES + lane] = y[slot, lane], y[slot, LANES + lane]
    for k in range(slot + 1, slot + degree):
        for lane in range(LANES):
            y[s, lane] += y[k, lane]
            y[s, LANES + lane] += y[k, LANES + lane]
    for lane in range(LANES):
        re, im = y[s, lane], y[s, LANES + lane]
        inverse = 1.0 / (re * re + im * im + TINY)
        y[s, lane], y[s, LANES + lane] = re * inverse, -im * inverse


@inlined
def _pass_injection(work: Work, slot: int, own: int, target: int) -> None:
    """Give a neighbour its share of a pivot's injected current."""
    y, a, s = work.y, work.a, work.y.shape[0] - 2
    for lane in range(LANES):
        re = y[slot, lane] * y[s, lane] - y[slot, LANES + lane] * y[s, LANES + lane]
        im = y[slot, lane] * y[s, LANES + lane] + y[slot, LANES + lane] * y[s, lane]
        a[target, lane] += re * a[own, lane] - im * a[own, LANES + lane]
        a[target, LANES + lane] += re * a[own, LANES + lane] + im * a[own, lane]


@inlined
def _own_part(work: Work, own: int) -> None:
    """Turn a pivot's injected current into its own part of its voltage."""
    y, a, s = work.y, work.a, work.y.shape[0] - 2
    for lane in range(LANES):
        re, im = a[own, lane], a[own, LANES + lane]
        a[own, lane] = re * y[s, lane] - im * y[s, LANES + lane]
        a[own, LANES + lane] = re * y[s, LANES + lane] + im * y[s, lane]


@inlined
def _fold_leaf(y: Floats, slot: int) -> None:
    """Turn a leaf's admittance into its share: 1, or 0 when it is open."""
    for lane in range(LANES):
        closed = y[slot, lane] != 0.0 or y[slot, LANES + lane] != 0.0
        y[slot, lane], y[slot, LANES + lane] = 1.0 if closed else 0.0, 0.0


@inlined
def _fold_pair(y: Floats, slot: int, mesh: int) -> None:
    """Replace a node between two neighbours by one admittance between them; leave the shares in its row."""
    other = slot + 1
    for lane in range(LANES):
        p_re, p_im = y[slot, lane], y[slot, LANES + lane]
        q_re, q_im = y[other, lane], y[other, LANES + lane]
        s_re, s_im = p_re + q_re, p_im + q_im
        inverse = 1.0 / (s_re * s_re + s_im * s_im + TINY)
        r_re, r_im = s_re * inverse, -s_im * inverse
        share_re, share_im = q_re * r_re - q_im * r_im, q_re * r_im + q_im * r_re
        y[mesh, lane] += p_re * share_re - p_im * share_im
        y[mesh, LANES + lane] += p_re * share_im + p_im * share_re
        y[slot, lane], y[slot, LANES + lane] = p_re * r_re - p_im * r_im, p_re * r_im + p_im * r_re
        y[other, lane], y[other, LANES + lane] = share_re, share_im


@compiled
def _fold_star(y: Floats, slot: int, degree: int, mesh: NDArray[np.int64]) -> None:
    """Replace a node by admittances between all of its neighbours; leave the shares in its row."""
    s, share, done = y.shape[0] - 2, y.shape[0] - 1, 0
    _sum(y, slot, degree)
    for j in range(degree):
        own = slot + j
        for lane in range(LANES):
            re, im = y[own, lane], y[own, LANES + lane]
            y[share, lane] = re * y[s, lane] - im * y[s, LANES + lane]
            y[share, LANES + lane] = re * y[s, LANES + lane] + im * y[s, lane]
        for k in range(own + 1, slot + degree):
            target = mesh[done]
            done += 1
            for lane in range(LANES):
                re, im = y[k, lane], y[k, LANES + lane]
                y[target, lane] += re * y[share, lane] - im * y[share, LANES + lane]
                y[target, LANES + lane] += re * y[share, LANES + lane] + im * y[share, lane]
        for lane in range(LANES):
            y[own, lane], y[own, LANES + lane] = y[share, lane], y[share, LANES + lane]


@compiled
def _substitute(program: Program, work: Work) -> None:
    """Find voltages from the last node eliminated to the first."""
    for k in range(program.back_node.shape[0]):
        first = program.back_from[k]
        if program.back_kind[k] == FIXED:
            _mix_fixed(program, work.v, k)
            continue
        _own_voltage(work, program.back_node[k], program.back_injection[k])
        if program.back_kind[k] == LEAF:
            _add_leaf(work, program.back_node[k], program.back_slot[k], program.back_neighbour[first])
        elif program.back_kind[k] == PAIR:
            _add_pair(work, program.back_node[k], program.back_slot[k], program.back_neighbour[first : first + 2])
        else:
            for j in range(program.back_from[k + 1] - first):
                _add(work, program.back_node[k], program.back_slot[k] + j, program.back_neighbour[first + j])


@inlined
def _own_voltage(work: Work, node: int, own: int) -> None:
    v, a = work.v, work.a
    if own < 0:
        for lane in range(2 * LANES):
            v[node, lane] = 0.0
    else:
        for lane in range(2 * LANES):
            v[node, lane] = a[own, lane]


@inlined
def _add_leaf(work: Work, node: int, slot: int, neighbour: int) -> None:
    v, y = work.v, work.y
    for lane in range(LANES):
        v[node, lane] += y[slot, lane] * v[neighbour, lane]
        v[node, LANES + lane] += y[slot, lane] * v[neighbour, LANES + lane]


@inlined
def _add_pair(work: Work, node: int, slot: int, neighbours: NDArray[np.int64]) -> None:
    v, y, other, p, q = work.v, work.y, slot + 1, neighbours[0], neighbours[1]
    for lane in range(LANES):
        y_re, y_im, v_re, v_im = y[slot, lane], y[slot, LANES + lane], v[p, lane], v[p, LANES + lane]
        z_re, z_im, u_re, u_im = y[other, lane], y[other, LANES + lane], v[q, lane], v[q, LANES + lane]
        re = y_re * v_re - y_im * v_im + z_re * u_re - z_im * u_im
        im = y_re * v_im + y_im * v_re + z_re * u_im + z_im * u_re
        v[node, lane] += re
        v[node, LANES + lane] += im


@inlined
def _add(work: Work, node: int, slot: int, neighbour: int) -> None:
    v, y = work.v, work.y
    for lane in range(LANES):
        re, im = y[slot, lane], y[slot, LANES + lane]
        v[node, lane] += re * v[neighbour, lane] - im * v[neighbour, LANES + lane]
        v[node, LANES + lane] += re * v[neighbour, LANES + lane] + im * v[neighbour, lane]


@inlined
def _mix_fixed(program: Program, v: Floats, k: int) -> None:
    """Set the voltage of a node whose shares are the same in all states."""
    node, first, share = program.back_node[k], program.back_from[k], program.back_slot[k]
    own_re, own_im = program.fixed_v[k, 0], program.fixed_v[k, 1]
    for lane in range(LANES):
        v[node, lane], v[node, LANES + lane] = own_re, own_im
    for j in range(program.back_from[k + 1] - first):
        a = program.back_neighbour[first + j]
        re, im = program.fixed_share[share + j, 0], program.fixed_share[share + j, 1]
        for lane in range(LANES):
            v[node, lane] += re * v[a, lane] - im * v[a, LANES + lane]
            v[node, LANES + lane] += re * v[a, LANES + lane] + im * v[a, lane]
