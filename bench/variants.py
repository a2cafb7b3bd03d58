"""Many changes of one 40-node circuit, each settled: reference, batched kernel, dense matrices, ngspice in process."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import numba
import numpy as np
from numpy.typing import NDArray

from bench.circuits import control_circuit
from bench.dense import FLOATING_S
from bench.plot import save_growth
from bench.report import Result, Row, timed
from subbase.circuit import Coil, Netlist, settle
from subbase.circuit.changes import Change, changed, usual_changes
from subbase.circuit.kernel import LANES
from subbase.circuit.netlist import Impedance, Source, Switch
from subbase.circuit.solve import branch_impedances
from subbase.circuit.spice import spice_deck
from subbase.circuit.variant_program import VariantProgram
from subbase.circuit.variants import BLOCK, VariantCircuit, compile_variants, settle_variants, settle_variants_in_blocks
from subbase.errors import Chatter
from tests.outside.spice_runner import SpiceLibrary, spice_library

VARIANTS = 10_000
FEW = 500
GROWTH = (1_000, 10_000, 100_000, 1_000_000, 10_000_000)
CALLS = frozenset({"call 0", "call 1", "call 4"})
MEMORY_BYTES = 200_000_000
"""Read and written to find what memory can do; well beyond the caches."""
CACHED_BYTES = 256_000
"""The same for the second-level cache; about what one thread's work rows take."""


def run(docs: Path) -> Result:
    """Measure all ways, draw the growth, and set the time beside what the machine could do at best."""
    netlist = control_circuit()
    lands = [f"landing {i}" for i in range(6)]
    circuit = compile_variants(netlist, list(usual_changes(netlist, touching=lands)))
    operated = np.array([tag in CALLS for tag in circuit.switches])
    change = np.random.default_rng(1).integers(0, len(circuit.changes), GROWTH[-1])
    spice = SpiceVariants(control_circuit(leaky=True))
    error_v = spice.largest_error_v()
    dense = DenseVariants(circuit)

    def settle_few() -> None:
        for i in change[:FEW].tolist():
            settled_by_reference(netlist, circuit.changes[i])

    def all_of(count: int, threads: int) -> Callable[[], None]:
        def work() -> None:
            for _ in settle_variants_in_blocks(circuit, change[:count], operated=operated, threads=threads):
                pass

        return work

    rows = [
        timed("ngspice in process, each solved once", FEW, lambda: spice.solve_all(change[:FEW]), runs=3),
        timed("reference solver", FEW, settle_few, runs=3),
        timed("dense matrices in numpy, each solved once", VARIANTS, lambda: dense.solve(change[:VARIANTS]), runs=3),
        timed("kernel, one thread", VARIANTS, all_of(VARIANTS, 1), runs=11),
    ]
    counted = ((1_000_000, 1), *((count, 2) for count in GROWTH))
    growth = [
        timed(
            f"kernel in blocks, {('one thread', 'two threads')[threads - 1]}",
            count,
            all_of(count, threads),
            runs=5 if count < GROWTH[-1] else 3,
        )
        for count, threads in counted
    ]
    save_growth(docs / "img" / "circuit-variants.svg", rows[:3], growth[1:], unit="variants")
    steps = settle_variants(circuit, change[:VARIANTS], operated=operated).step_count
    solves = float(np.mean(steps[steps >= 0] + 1))
    return Result(
        title="Variants of one circuit",
        unit="variants",
        rows=(*rows, *growth),
        notes=(
            f"The circuit is the one above, with three of its calls on. Each variant has one change, drawn from "
            f"{len(circuit.changes)}: every branch open, poor, shorted, welded, dead or weak, and {len(circuit.pairs)} "
            "shorts between landings; the kernel and the reference bring it to rest.",
            f"Largest difference from ngspice over all changes of impedances: {error_v:.1e} V.",
            f"Settling solves each variant {solves:.2f} times on average; {np.mean(steps < 0):.1%} never come to rest and take more. At most {BLOCK:,} variants are held at a time.",
            *peak_notes(circuit, growth[0], solves),
        ),
        images=(("img/circuit-variants.svg", "Time against number of variants; both axes logarithmic."),),
    )


def settled_by_reference(netlist: Netlist, change: Change) -> None:
    """Bring one variant to rest with the reference solver; chatter is an answer too."""
    try:
        settle(changed(netlist, [change]), operated=CALLS)
    except Chatter:
        return


def peak_notes(circuit: VariantCircuit, row: Row, solves: float) -> Iterator[str]:
    """Say which share of the machine's peak one thread reaches, and how that was estimated."""
    made = circuit.programs[()]
    flops, touched = solves * flops_of_one_solution(made), solves * bytes_of_one_solution(made)
    written = 16 * len(circuit.nodes)
    shares = (
        ("arithmetic", flops * row.per_second / 1e9, peak_flops_per_second() / 1e9, "Gflop/s"),
        ("second-level cache", touched * row.per_second / 1e9, copy_bytes_per_second(CACHED_BYTES) / 1e9, "GB/s"),
        ("memory", written * row.per_second / 1e9, copy_bytes_per_second(MEMORY_BYTES) / 2e9, "GB/s written"),
    )
    said = "; ".join(f"{what} {is_:.3g} of {best:.3g} {unit}, {is_ / best:.0%}" for what, is_, best, unit in shares)
    yield (
        f"One thread's share of what the machine can do: {said}. The first of each is counted from the elimination "
        f"({flops:,.0f} flops and {touched:,.0f} bytes of work rows a variant, {written} bytes of voltages), the second "
        "measured here by a loop of fused multiply-adds in registers, by adding to an array as large as the work rows, and "
        "by adding to one far larger than the caches."
    )
    yield (
        "So arithmetic bounds nothing. What does is the traffic of work rows, which are larger than the first-level cache, "
        "and beside it what is done lane by lane: taking a variant in, its own admittances, and writing its voltages out, "
        "node by node, to memory."
    )


def bytes_of_one_solution(made: VariantProgram) -> float:
    """Return how many bytes of work rows one solution reads and writes, in one lane."""
    program, rows = made.program, 0.0
    for pivot, degree in enumerate(np.diff(program.pivot_from).tolist()):
        rows += 2.0 * degree + (2.0 + (degree > 2)) * degree * (degree - 1) / 2
        if program.pivot_injection[pivot] >= 0:
            rows += 4.0 + 4.0 * degree
    rows += len(program.base_y) + 2.0 * len(program.vary_slot) + 4.0 * len(program.back_neighbour)
    return 16.0 * (rows + len(program.back_node) + 2.0 * len(program.coil_ends))


def flops_of_one_solution(made: VariantProgram) -> float:
    """Return how many real operations one solution takes, a division counted as one."""
    program = made.program
    flops = 0.0
    for pivot, degree in enumerate(np.diff(program.pivot_from).tolist()):
        if degree == 2:
            flops += 32.0
        elif degree > 2:
            flops += 10.0 + 2.0 * degree + 6.0 * degree + 8.0 * degree * (degree - 1) / 2
        if program.pivot_injection[pivot] >= 0:
            flops += 10.0 + 16.0 * degree
    return flops + 8.0 * len(program.back_neighbour) + 2.0 * len(program.vary_slot) + 6.0 * len(program.coil_ends)


@numba.njit(fastmath=True)
def _multiply_add(rows: NDArray[np.float64], times: int) -> None:
    for _ in range(times):
        for k in range(rows.shape[1]):
            a, b, c, d = rows[0, k], rows[1, k], rows[2, k], rows[3, k]
            for _ in range(64):
                a = a * 0.999 + 0.5
                b = b * 0.998 + 0.5
                c = c * 0.997 + 0.5
                d = d * 0.996 + 0.5
            rows[0, k], rows[1, k], rows[2, k], rows[3, k] = a, b, c, d


def peak_flops_per_second() -> float:
    """Return what one thread reaches when all operands are in registers [1/s]."""
    rows, times = np.ones((4, LANES)), 2_000
    row = timed("peak", 1, lambda: _multiply_add(rows, times), runs=5)
    return 2 * 4 * 64 * LANES * times / row.median_s


def copy_bytes_per_second(size_bytes: int) -> float:
    """Return what one thread reads and writes, together, when it adds a number to an array of this size [bytes/s]."""
    here, there = np.ones(size_bytes // 16), np.zeros(size_bytes // 16)
    times = max(1, MEMORY_BYTES // size_bytes)

    def work() -> None:
        for _ in range(times):
            np.add(here, 1.0, out=there)

    return size_bytes * times / timed("add", 1, work, runs=5).median_s


class DenseVariants:
    """The usual way: one dense matrix for each variant, with coils as they are at rest without any change."""

    def __init__(self, circuit: VariantCircuit) -> None:
        nodes = {node: i for i, node in enumerate(circuit.netlist.nodes())}
        self.base, self.injected = _stamped(circuit.netlist, nodes)
        made = [_stamped(changed(circuit.netlist, [change]), nodes) for change in circuit.changes]
        self.delta = np.array([matrix - self.base for matrix, _ in made])
        self.currents = np.array([current for _, current in made])
        self.kept = [i for node, i in nodes.items() if node != "C"]

    def solve(self, change: NDArray[np.int64]) -> None:
        """Solve variants in chunks that fit in memory."""
        kept = np.ix_(self.kept, self.kept)
        for first in range(0, len(change), 1_000):
            part = change[first : first + 1_000]
            matrices = (self.base + self.delta[part])[:, kept[0], kept[1]] + FLOATING_S * np.eye(len(self.kept))
            np.linalg.solve(matrices, self.currents[part][:, self.kept, None])


def _stamped(netlist: Netlist, nodes: dict[str, int]) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    matrix = np.zeros((len(nodes), len(nodes)), dtype=np.complex128)
    current = np.zeros(len(nodes), dtype=np.complex128)
    for branch, z_ohm in branch_impedances(netlist, CALLS, frozenset()):
        ends = [nodes[branch.tail], nodes[branch.head]]
        matrix[np.ix_(ends, ends)] += np.array([[1, -1], [-1, 1]]) / z_ohm
        if isinstance(branch, Source):
            current[ends] += np.array([-1, 1]) * branch.emf_v / z_ohm
    return matrix, current


class SpiceVariants:
    """A circuit in ngspice of which one resistor is altered and put back; opens are 10 Mohm there."""

    OPEN_OHM = 1e7

    def __init__(self, netlist: Netlist) -> None:
        self.netlist = netlist
        self.library: SpiceLibrary = spice_library()
        deck = spice_deck(netlist, operated=CALLS)
        self.library.load(deck)
        self.names = dict(re.findall(r'^\* "(.+)"\nR(\S+)', deck, re.MULTILINE))
        self.now = {branch.tag: complex(z_ohm).real for branch, z_ohm in branch_impedances(netlist, CALLS, frozenset())}
        self.tags = [branch.tag for branch in netlist.of(Impedance)] + [switch.tag for switch in netlist.of(Switch)]

    def solve(self, tag: str, ohm: float) -> dict[str, complex]:
        """Return the node voltages with one resistance changed."""
        self.library.command(f"alter R{self.names[tag]} = {ohm!r}")
        self.library.run()
        found_v = self.library.node_voltages()
        self.library.command(f"alter R{self.names[tag]} = {self.now[tag]!r}")
        return found_v

    def solve_all(self, change: NDArray[np.int64]) -> None:
        """Solve as many variants as there are numbers, the number choosing the branch and how it is changed."""
        for i in change.tolist():
            self.solve(self.tags[i % len(self.tags)], self.OPEN_OHM if i % 2 else 0.02)

    def largest_error_v(self) -> float:
        """Return how far the kernel is from ngspice at most [V], coils that cannot act left at rest; stop when they disagree."""
        quiet = Netlist(
            tuple(
                Coil(b.tag, b.tail, b.head, b.z_out_ohm, b.z_in_ohm, 1e6, 0.0) if isinstance(b, Coil) else b
                for b in self.netlist.branches
            )
        )
        changes = [
            Change(b.tag, Impedance(b.tag, b.tail, b.head, complex(ohm, complex(b.z_ohm).imag)))
            for b in quiet.of(Impedance)
            for ohm in (self.OPEN_OHM, 0.02)
        ]
        circuit = compile_variants(quiet, changes)
        operated = np.array([tag in CALLS for tag in circuit.switches])
        settled = settle_variants(circuit, np.arange(len(changes)), operated=operated)
        worst_v = 0.0
        for found_v, change in zip(settled.node_v, changes, strict=True):
            assert isinstance(change.becomes, Impedance)
            spice_v = self.solve(change.tag, complex(change.becomes.z_ohm).real)
            expected_v = np.array([spice_v[node] for node in circuit.nodes])
            worst_v = max(worst_v, float(np.abs(found_v - expected_v).max()))
        if worst_v > 1e-3:
            raise SystemExit(f"The kernel and ngspice disagree by {worst_v} V; speed means nothing until they agree.")
        return worst_v
