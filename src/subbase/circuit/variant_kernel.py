"""The numeric kernel for variants: each lane has its own changes; elimination and coils are those of ``kernel``.

A lane is loaded like any state, then the few rows that its changes touch are made anew for that lane alone.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from subbase.circuit.elimination import Floats, Ints, Program
from subbase.circuit.kernel import (
    LANES,
    Bytes,
    Lanes,
    Work,
    _act,
    _load,
    _step,
    compiled,
    eliminate,
    new_lanes,
    new_work,
)
from subbase.circuit.variant_program import NEVER_DROPS_OUT, NONE, Variation

CHANGES = 2
"""Changes that one variant may have."""


class Job(NamedTuple):
    """Variants to be settled by one program, and where they come to rest."""

    row: Ints
    """(n,) row of each in the arrays below that have one for every variant of the batch."""
    change: Ints
    """(n_variant, CHANGES) its changes, NONE for none."""
    given_y: Floats
    """(n_variant, CHANGES, 2) admittance [S] in place of the catalogue's, not a number where there is none; or empty."""
    flags: Bytes
    """(n, n_flag) of each of ``row``: coils that are in, then switches operated."""
    node: Ints
    """(n_output,) nodes whose voltages are wanted."""
    node_v: Floats
    """(n_variant, n_output, 2), not a number in chatter."""
    coils_in: Bytes
    """(n_variant, n_coil) at rest."""
    chatter: Bytes
    """(n_variant, n_coil) coils that never come to rest."""
    steps: Ints
    """(n_variant,) NONE in chatter."""


class Scratch(NamedTuple):
    """One thread's room for a block of LANES variants."""

    work: Work
    lanes: Lanes
    pull_in_v2: Floats
    """(n_coil, LANES) squared limit of every coil in every lane."""
    drop_out_v2: Floats


def new_scratch(program: Program, n_flag: int) -> Scratch:
    """Return scratch for one thread."""
    n_coil = len(program.coil_ends)
    pull_in_v2, drop_out_v2 = np.zeros((2, n_coil, LANES))
    return Scratch(new_work(program, n_flag), new_lanes(n_coil), pull_in_v2, drop_out_v2)


@compiled
def settle_job(program: Program, variation: Variation, job: Job, scratch: Scratch) -> int:
    """Settle every variant of a job; return the row of the first that resonates, or NONE."""
    # A lane that comes to rest takes the next variant, so lanes stay busy however long each takes.
    work, lanes = scratch.work, scratch.lanes
    lanes.state[:] = NONE
    taken = _take(program, variation, job, scratch, 0)
    while lanes.state.max() >= 0:
        _load_all(program, work)
        _replace(program, variation, job, work, lanes)
        _add(variation, job, work, lanes)
        if variation.source_injection.shape[0] > 0:
            _inject(variation, job, work, lanes)
        eliminate(program, work)
        _choose_acting(program, scratch)
        _act_all(work, lanes)
        for lane in range(LANES):
            if work.resonant[lane] and lanes.state[lane] >= 0:
                return int(job.row[lanes.state[lane]])
        _leave(job, work, lanes)
        taken = _take(program, variation, job, scratch, taken)
    return NONE


@compiled
def _take(program: Program, variation: Variation, job: Job, scratch: Scratch, taken: int) -> int:
    """Start the next variants in the lanes that are idle; return how many have been taken by now."""
    # Arrays are taken out of their tuples first, here and below: within a loop that costs more than all the rest.
    lanes, flags, given_flags, changes, rows = scratch.lanes, scratch.work.flags, job.flags, job.change, job.row
    state, steps, marked_at, mark, moved = lanes.state, lanes.steps, lanes.marked_at, lanes.mark, lanes.moved
    pull_in_v2, drop_out_v2, usual_v2 = scratch.pull_in_v2, scratch.drop_out_v2, program.coil_limits_v2
    coil_of, limits_v2 = variation.coil, variation.limits_v2
    for lane in range(LANES):
        if state[lane] >= 0 or taken >= rows.shape[0]:
            continue
        state[lane], steps[lane], marked_at[lane] = taken, 0, 0
        for flag in range(flags.shape[0]):
            flags[flag, lane] = given_flags[taken, flag]
        for coil in range(mark.shape[0]):
            pull_in_v2[coil, lane], drop_out_v2[coil, lane] = usual_v2[coil, 0], usual_v2[coil, 1]
        for i in range(CHANGES):
            change = changes[rows[taken], i]
            if change >= 0 and coil_of[change] >= 0:
                coil = coil_of[change]
                pull_in_v2[coil, lane], drop_out_v2[coil, lane] = limits_v2[change, 0], limits_v2[change, 1]
                if limits_v2[change, 1] == NEVER_DROPS_OUT:
                    # What is no coil any more is out from the start.
                    flags[coil, lane] = 0
        for coil in range(mark.shape[0]):
            mark[coil, lane], moved[coil, lane] = flags[coil, lane], 0
        taken += 1
    return taken


@compiled
def _replace(program: Program, variation: Variation, job: Job, work: Work, lanes: Lanes) -> None:
    """Make anew, lane by lane, the admittances between nodes where a branch is replaced."""
    y, flags, state, rows, changes, given_y = work.y, work.flags, lanes.state, job.row, job.change, job.given_y
    base_y, old_y, new_y, slot_of, replaces = (
        program.base_y,
        program.vary_y,
        variation.y,
        variation.slot,
        variation.vary,
    )
    vary_from, vary_flag = program.vary_from, program.vary_flag
    slot_from, slot_vary, given = variation.slot_from, variation.slot_vary, given_y.shape[0] > 0
    for lane in range(LANES):
        row = rows[max(state[lane], 0)]
        for i in range(CHANGES):
            change = changes[row, i]
            if change < 0 or replaces[change] < 0:
                continue
            slot = slot_of[change]
            re, im = base_y[slot, 0], base_y[slot, 1]
            for k in range(slot_from[slot], slot_from[slot + 1]):
                branch, acted = slot_vary[k], 0
                for m in range(vary_from[branch], vary_from[branch + 1]):
                    acted |= flags[vary_flag[m], lane]
                branch_re, branch_im = old_y[branch, acted, 0], old_y[branch, acted, 1]
                for other in range(CHANGES):
                    by = changes[row, other]
                    if by >= 0 and replaces[by] == branch:
                        branch_re, branch_im = new_y[by, acted, 0], new_y[by, acted, 1]
                        if given and not np.isnan(given_y[row, other, 0]):
                            branch_re, branch_im = given_y[row, other, 0], given_y[row, other, 1]
                re += branch_re
                im += branch_im
            y[slot, lane], y[slot, LANES + lane] = re, im


@compiled
def _add(variation: Variation, job: Job, work: Work, lanes: Lanes) -> None:
    """Add, lane by lane, what joins nodes that nothing joined before."""
    y, state, rows, changes, given_y = work.y, lanes.state, job.row, job.change, job.given_y
    new_y, slot_of, replaces, given = variation.y, variation.slot, variation.vary, given_y.shape[0] > 0
    for lane in range(LANES):
        row = rows[max(state[lane], 0)]
        for i in range(CHANGES):
            change = changes[row, i]
            if change >= 0 and replaces[change] < 0:
                slot, re, im = slot_of[change], new_y[change, 0, 0], new_y[change, 0, 1]
                if given and not np.isnan(given_y[row, i, 0]):
                    re, im = given_y[row, i, 0], given_y[row, i, 1]
                y[slot, lane] += re
                y[slot, LANES + lane] += im


@compiled
def _inject(variation: Variation, job: Job, work: Work, lanes: Lanes) -> None:
    """Make anew, lane by lane, what sources inject where one of them is changed."""
    a, state, rows, changes, source_of = work.a, lanes.state, job.row, job.change, variation.source
    ends, old_a, new_a, bare_a = (
        variation.source_injection,
        variation.old_source_a,
        variation.source_a,
        variation.bare_a,
    )
    for lane in range(LANES):
        if state[lane] < 0:
            continue
        row, touched = rows[state[lane]], False
        for i in range(CHANGES):
            touched |= changes[row, i] >= 0 and source_of[changes[row, i]] >= 0
        if not touched:
            continue
        for injection in range(bare_a.shape[0]):
            a[injection, lane], a[injection, LANES + lane] = bare_a[injection, 0], bare_a[injection, 1]
        for source in range(ends.shape[0]):
            re, im = old_a[source, 0], old_a[source, 1]
            for i in range(CHANGES):
                change = changes[row, i]
                if change >= 0 and source_of[change] == source:
                    re, im = new_a[change, 0], new_a[change, 1]
            tail, head = ends[source, 0], ends[source, 1]
            if tail >= 0:
                a[tail, lane] -= re
                a[tail, LANES + lane] -= im
            if head >= 0:
                a[head, lane] += re
                a[head, LANES + lane] += im


@compiled
def _load_all(program: Program, work: Work) -> None:
    _load(program, work)


@compiled
def _act_all(work: Work, lanes: Lanes) -> None:
    _act(work, lanes)


@compiled
def _choose_acting(program: Program, scratch: Scratch) -> None:
    """Find the coils that want to change and, in each lane, those with the shortest delay."""
    work, lanes, never = scratch.work, scratch.lanes, program.coil_ends.shape[0]
    v = work.v
    for lane in range(LANES):
        lanes.rank[lane] = never
    for coil in range(program.coil_ends.shape[0]):
        tail, head, rank = program.coil_ends[coil, 0], program.coil_ends[coil, 1], program.coil_delay_rank[coil]
        for lane in range(LANES):
            re, im = v[tail, lane] - v[head, lane], v[tail, LANES + lane] - v[head, LANES + lane]
            across_v2 = re * re + im * im
            is_in = work.flags[coil, lane] != 0
            falls = is_in & (across_v2 < scratch.drop_out_v2[coil, lane])
            wants = falls | (~is_in & (across_v2 >= scratch.pull_in_v2[coil, lane]))
            lanes.acting[coil, lane] = wants
            lanes.rank[lane] = min(lanes.rank[lane], rank if wants else never)
    for coil in range(program.coil_ends.shape[0]):
        rank = program.coil_delay_rank[coil]
        for lane in range(LANES):
            lanes.acting[coil, lane] &= np.uint8(rank == lanes.rank[lane])
    for lane in range(LANES):
        lanes.wants[lane] = lanes.rank[lane] < never


@compiled
def _leave(job: Job, work: Work, lanes: Lanes) -> None:
    """Write down the variants that are at rest or in a cycle, and make their lanes idle; let the others step."""
    v, flags, moved, state, wants, looped = work.v, work.flags, lanes.moved, lanes.state, lanes.wants, lanes.looped
    node_of, node_v, coils_in, chatter, steps = job.node, job.node_v, job.coils_in, job.chatter, job.steps
    for lane in range(LANES):
        if state[lane] < 0:
            continue
        chatters = wants[lane] != 0
        if chatters and not looped[lane]:
            _step(work, lanes, lane)
            continue
        row = job.row[state[lane]]
        state[lane] = NONE
        for coil in range(moved.shape[0]):
            coils_in[row, coil], chatter[row, coil] = flags[coil, lane], moved[coil, lane] if chatters else 0
        steps[row] = NONE if chatters else lanes.steps[lane]
        if chatters:
            node_v[row] = np.nan
            continue
        for k in range(node_of.shape[0]):
            node_v[row, k, 0], node_v[row, k, 1] = v[node_of[k], lane], v[node_of[k], LANES + lane]
