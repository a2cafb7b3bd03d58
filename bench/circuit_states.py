"""Many switch states of a 40-node circuit: reference, batched kernel, dense matrices, ngspice in this process."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from bench.circuits import control_circuit
from bench.dense import DenseCircuit
from bench.plot import save_growth
from bench.report import Result, Row, timed
from subbase.circuit import Coil, Netlist, solve
from subbase.circuit.batch import (
    BLOCK,
    CHUNK,
    Bools,
    Compiled,
    compile_netlist,
    settle_states,
    solve_in_blocks,
    solve_states,
)
from subbase.circuit.netlist import Tag
from subbase.circuit.solve import branch_impedances
from subbase.circuit.spice import FREQUENCY_HZ, spice_deck
from tests.outside.spice_runner import SpiceLibrary, spice_library

STATES = 10_000
SPICE_STATES = 1_000
GROWTH = (1_000, 10_000, 100_000, 1_000_000)


def run(docs: Path) -> Result:
    """Measure all ways and draw how the time grows with the number of states."""
    netlist = control_circuit()
    compiled = compile_netlist(netlist)
    operated, coils_in = random_states(compiled, STATES)
    spice = SpiceStates(control_circuit(leaky=True))
    error_v = spice.largest_error_v(operated[:200], coils_in[:200])
    dense = DenseCircuit(netlist)
    dense_error_v = np.abs(dense.solve(operated, coils_in) - solve_states(compiled, operated, coils_in)).max()
    some = slice(0, SPICE_STATES)
    rows = [
        timed("ngspice in process", SPICE_STATES, lambda: spice.solve_all(operated[some], coils_in[some]), runs=3),
        timed("ngspice, one state again and again", SPICE_STATES, lambda: spice.repeat(SPICE_STATES), runs=3),
        timed("reference solver", SPICE_STATES, lambda: reference(compiled, operated[some], coils_in[some]), runs=3),
        timed("dense matrices in numpy", STATES, lambda: dense.solve(operated, coils_in)),
        timed("kernel", STATES, lambda: solve_states(compiled, operated, coils_in), runs=21),
        timed("kernel, settled, one thread", STATES, lambda: settle_states(compiled, operated, threads=1), runs=21),
        timed("kernel, settled, two threads", STATES, lambda: settle_states(compiled, operated), runs=21),
    ]
    growth = list(growth_rows(compiled))
    save_growth(docs / "img" / "circuit-states.svg", [*rows[:1], *rows[2:4]], growth[1:])
    steps = settle_states(compiled, operated).step_count
    return Result(
        title="States of one circuit",
        unit="states",
        rows=(*rows, *growth),
        notes=(
            f"The circuit is a house's control wiring of {len(compiled.nodes)} nodes and {len(netlist.branches)} "
            f"branches, {len(compiled.switches)} switches and {len(compiled.coils)} coils, each coil with a contact; "
            "states are random.",
            "ngspice 39 takes the values that change by `alter`, finds the phasors and hands over every node voltage; "
            "the second row leaves out altering and handing over.",
            f"Largest difference from ngspice over 200 states: {error_v:.1e} V, of the dense matrices {dense_error_v:.1e} V.",
            f"Settling solves each state {np.mean(np.maximum(steps, 0) + 1):.2f} times on average.",
            f"Rows in blocks go through `solve_in_blocks`, which never holds more than {BLOCK:,} states. Up to "
            f"{CHUNK:,} states are solved by one thread, since a second would not pay. What bounds large numbers is memory: each state writes "
            f"{16 * len(compiled.nodes)} bytes of voltages.",
        ),
        images=(("img/circuit-states.svg", "Time against number of states; both axes logarithmic."),),
    )


def random_states(compiled: Compiled, count: int) -> tuple[Bools, Bools]:
    """Return random switches and coils."""
    rng = np.random.default_rng(1)
    return rng.random((count, len(compiled.switches))) < 0.5, rng.random((count, len(compiled.coils))) < 0.5


def growth_rows(compiled: Compiled) -> Iterator[Row]:
    """Iterate over the kernel's times for more and more states."""
    operated, coils_in = random_states(compiled, GROWTH[-1])
    for threads, counts in ((1, GROWTH[-1:]), (2, GROWTH)):
        for count in counts:

            def in_blocks(count: int = count, threads: int = threads) -> None:
                for _ in solve_in_blocks(compiled, operated[:count], coils_in[:count], threads=threads):
                    pass

            yield timed(f"kernel in blocks, {('one thread', 'two threads')[threads - 1]}", count, in_blocks, runs=7)


def reference(compiled: Compiled, operated: Bools, coils_in: Bools) -> None:
    """Solve states one by one with the reference solver."""
    for switches, coils in zip(operated, coils_in, strict=True):
        solve(compiled.netlist, operated=tags(compiled.switches, switches), coils_in=tags(compiled.coils, coils))


def tags(columns: tuple[Tag, ...], flags: Bools) -> set[Tag]:
    """Return the tags of one row of flags."""
    return {tag for tag, flag in zip(columns, flags, strict=True) if flag}


class SpiceStates:
    """A circuit in ngspice whose contacts and coils are altered from state to state."""

    def __init__(self, netlist: Netlist) -> None:
        self.compiled = compile_netlist(netlist)
        self.library: SpiceLibrary = spice_library()
        deck = spice_deck(netlist)
        self.library.load(deck)
        self.names = dict(re.findall(r'^\* "(.+)"\nR(\S+)', deck, re.MULTILINE))
        self.now = {branch.tag: z_ohm for branch, z_ohm in branch_impedances(netlist, set(), set())}

    def solve(self, operated: Bools, coils_in: Bools) -> dict[str, complex]:
        """Return the node voltages of one state."""
        netlist = self.compiled.netlist
        wanted = branch_impedances(netlist, tags(self.compiled.switches, operated), tags(self.compiled.coils, coils_in))
        for branch, z_ohm in wanted:
            if self.now[branch.tag] != z_ohm:
                self.now[branch.tag] = z_ohm
                name = self.names[branch.tag]
                self.library.command(f"alter R{name} = {complex(z_ohm).real!r}")
                if isinstance(branch, Coil):
                    self.library.command(f"alter L{name} = {complex(z_ohm).imag / (2 * np.pi * FREQUENCY_HZ)!r}")
        self.library.run()
        return self.library.node_voltages()

    def solve_all(self, operated: Bools, coils_in: Bools) -> None:
        """Solve states one after another."""
        for switches, coils in zip(operated, coils_in, strict=True):
            self.solve(switches, coils)

    def repeat(self, count: int) -> None:
        """Solve the state as it is, many times."""
        for _ in range(count):
            self.library.run()

    def largest_error_v(self, operated: Bools, coils_in: Bools) -> float:
        """Return how far the kernel is from ngspice at most [V]; stop when they disagree."""
        node_v = solve_states(self.compiled, operated, coils_in)
        worst_v = 0.0
        for found_v, switches, coils in zip(node_v, operated, coils_in, strict=True):
            spice_v = self.solve(switches, coils)
            expected_v = np.array([spice_v[node] for node in self.compiled.nodes])
            worst_v = max(worst_v, float(np.abs(found_v - expected_v).max()))
        if worst_v > 1e-3:
            raise SystemExit(f"The kernel and ngspice disagree by {worst_v} V; speed means nothing until they agree.")
        return worst_v
