"""Variants in bulk against the reference solver on netlists written anew, and against arithmetic without rounding."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace
from itertools import combinations
from random import Random

import numpy as np
import pytest

from subbase.circuit import Coil, Contact, Impedance, Netlist, Settled, Source, Switch, settle
from subbase.circuit.batch import compile_netlist, flag_rows, settle_states
from subbase.circuit.changes import Change, bridged, changed, opened, usual_changes, weakened, with_impedance
from subbase.circuit.netlist import Tag
from subbase.circuit.solve import branch_impedances
from subbase.circuit.variants import (
    SettledVariants,
    VariantCircuit,
    compile_variants,
    settle_variants,
    settle_variants_in_blocks,
)
from subbase.errors import Chatter, NoSolution
from tests.agreement.exact import exact_node_voltages
from tests.laws.circuits import random_circuit, random_state

RELATIVE = 1e-10
"""Of the largest voltage in the variant."""
SEEDS = 120
NONE = -1


def catalogue(rng: Random, netlist: Netlist) -> list[Change]:
    """Return the usual changes, dead shorts of 1 microhm between a few nodes, and a coil and a contact of other values."""
    touching = rng.sample(netlist.nodes(), 4)
    odd = [replace(coil, z_in_ohm=coil.z_in_ohm * 2, pull_in_v=21.0, drop_out_v=20.0) for coil in netlist.of(Coil)]
    flipped = [replace(contact, normally_closed=not contact.normally_closed) for contact in netlist.of(Contact)]
    return [
        *usual_changes(netlist),
        *(bridged(a, b, 1e-6) for a, b in combinations(touching, 2)),
        *(with_impedance(branch, 1e-6) for branch in netlist.of(Impedance)),
        *(Change(coil.tag, coil) for coil in odd),
        *(Change(contact.tag, contact) for contact in flipped),
    ]


def pairs_of_changes(rng: Random, circuit: VariantCircuit, count: int) -> list[tuple[int, int]]:
    """Return variants of none, one and two changes."""
    found: list[tuple[int, int]] = []
    while len(found) < count:
        a, b = rng.choices(range(NONE, len(circuit.changes)), k=2)
        if NONE in (a, b) or circuit.place[a] != circuit.place[b]:
            found.append(rng.choice([(a, b), (a, NONE), (NONE, b)]))
    return found


def rebuilt(circuit: VariantCircuit, pair: tuple[int, int]) -> Netlist:
    """Return the netlist of one variant, written anew."""
    return changed(circuit.netlist, [circuit.changes[i] for i in pair if i != NONE])


def settle_or_chatter(netlist: Netlist, operated: set[Tag], coils_in: set[Tag]) -> Settled | Chatter:
    """Settle by the reference; return the error when the variant never comes to rest."""
    alive = {coil.tag for coil in netlist.of(Coil)}
    try:
        return settle(netlist, operated=operated, coils_in=coils_in & alive)
    except Chatter as chatter:
        return chatter


def references(original: Netlist, island_of: dict[str, str]) -> dict[str, str]:
    """Return each node's reference by the unchanged netlist: the first source's tail in its island."""
    tail_of: dict[str, str] = {}
    for source in original.of(Source):
        if source.tail in island_of:
            tail_of.setdefault(island_of[source.tail], source.tail)
    return {node: tail_of.get(island, island) for node, island in island_of.items()}


def expected_v(circuit: VariantCircuit, settled: Settled) -> np.ndarray:
    """Return the reference's voltages against the references of the unchanged netlist; 0 where a node has no branch."""
    node_v, reference = settled.solution.node_v, references(circuit.netlist, settled.solution.island_of)
    return np.array([node_v[node] - node_v[reference[node]] if node in node_v else 0j for node in circuit.nodes])


def assert_alike(batch: SettledVariants, k: int, settled: Settled | Chatter, what: str) -> None:
    """Compare one variant with the reference: coils at rest, chatter, count of steps, voltages."""
    circuit = batch.circuit
    moving = {tag for tag, moves in zip(circuit.coils, batch.chatter[k], strict=True) if moves}
    if isinstance(settled, Chatter):
        assert moving == set(settled.coils), what
        assert batch.step_count[k] == -1, what
        assert np.isnan(batch.node_v[k]).all(), what
        return
    at_rest = {tag for tag, is_in in zip(circuit.coils, batch.coils_in[k], strict=True) if is_in}
    wanted_v = expected_v(circuit, settled)
    assert not moving, what
    assert at_rest == settled.coils_in, what
    assert batch.step_count[k] == len(settled.steps), what
    assert np.abs(batch.node_v[k] - wanted_v).max() <= RELATIVE * np.abs(wanted_v).max(), what


@pytest.mark.parametrize("first", range(0, SEEDS, 20))
def test_random_variants_settle_as_netlists_written_anew(first: int) -> None:
    """Opens, shorts, dead and weak supplies, stuck contacts, dead coils and additions, alone and two at a time."""
    for seed in range(first, first + 20):
        rng = Random(seed)
        netlist = random_circuit(rng)
        circuit = compile_variants(netlist, catalogue(rng, netlist))
        pairs = pairs_of_changes(rng, circuit, 40)
        states = [random_state(rng, netlist) for _ in pairs]
        operated, coils_in = zip(*states, strict=True)
        batch = settle_variants(
            circuit,
            np.array(pairs),
            operated=flag_rows(circuit.switches, operated),
            coils_in=flag_rows(circuit.coils, coils_in),
        )
        for k, pair in enumerate(pairs):
            settled = settle_or_chatter(rebuilt(circuit, pair), *states[k])
            assert_alike(batch, k, settled, f"seed {seed}, variant {k}, {[circuit.changes[i] for i in pair]}")


@pytest.mark.parametrize("seed", range(12))
def test_opens_and_dead_shorts_keep_every_digit(seed: int) -> None:
    """Against fractions that never round, voltages are good to 1e-12, also for opens and shorts of 1 microhm."""
    rng = Random(seed)
    netlist = random_circuit(rng)
    a, b = rng.sample(netlist.nodes(), 2)
    shorted = rng.sample(list(netlist.of(Impedance)), 2)
    changes = [
        opened(rng.choice(netlist.branches).tag),
        *(with_impedance(branch, 1e-6) for branch in shorted),
        bridged(a, b, 1e-6),
    ]
    circuit = compile_variants(netlist, changes)
    operated, _ = random_state(rng, netlist)
    pairs = [(i, NONE) for i in range(len(changes))] + [(1, 3)]
    batch = settle_variants(circuit, np.array(pairs), operated=flag_rows(circuit.switches, [operated])[0])
    for k, pair in enumerate(pairs):
        if batch.step_count[k] < 0:
            continue
        variant = rebuilt(circuit, pair)
        at_rest = {tag for tag, is_in in zip(circuit.coils, batch.coils_in[k], strict=True) if is_in}
        solution = settle(variant, operated=operated).solution
        reference = references(netlist, solution.island_of)
        exact = exact_node_voltages(
            list(branch_impedances(variant, operated, at_rest)), variant.nodes(), set(reference.values())
        )
        wanted_v = np.array([exact.get(node, 0j) for node in circuit.nodes])
        assert np.abs(batch.node_v[k] - wanted_v).max() <= 1e-12 * np.abs(wanted_v).max()


def test_threads_and_blocks_change_nothing() -> None:
    """However variants are split, and whichever nodes are asked for, every bit is the same."""
    rng = Random(3)
    netlist = random_circuit(rng)
    changes = catalogue(rng, netlist)
    circuit = compile_variants(netlist, changes)
    some = compile_variants(netlist, changes, nodes=netlist.nodes()[2:5])
    change = np.array(pairs_of_changes(rng, circuit, 10_000))
    operated = np.random.default_rng(3).random((len(change), len(circuit.switches))) < 0.5
    whole = settle_variants(circuit, change, operated=operated, threads=1)
    few = settle_variants(some, change, operated=operated)
    assert np.array_equal(few.node_v, whole.node_v[:, 2:5], equal_nan=True)
    covered: list[int] = []
    for part, settled in settle_variants_in_blocks(circuit, change, operated=operated, block=3_000):
        covered += range(len(change))[part]
        assert np.array_equal(whole.node_v[part], settled.node_v, equal_nan=True)
        assert np.array_equal(whole.coils_in[part], settled.coils_in)
        assert np.array_equal(whole.step_count[part], settled.step_count)
    assert covered == list(range(len(change)))


def test_memory_does_not_grow_with_the_number_of_variants() -> None:
    """Beside the numbers of the changes, a stream of eight blocks needs no more memory than one of two."""
    circuit = compile_variants(small(), [opened("wire"), bridged("R", "a")])
    peaks = []
    for count in (20_000, 80_000):
        change = np.arange(count) % 2
        tracemalloc.start()
        for _part, _settled in settle_variants_in_blocks(circuit, change, operated=np.array([True]), block=10_000):
            pass
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] <= 1.2 * peaks[0]


def test_given_impedances_replace_those_of_the_catalogue() -> None:
    """One change of a conductor serves any number of impedances, pure reactances included."""
    netlist = small()
    circuit = compile_variants(netlist, [with_impedance(netlist.by_tag["wire"], 1.0), bridged("R", "a")])
    z_ohm = np.array([[5.0, np.nan], [70.0 + 3j, 2.0], [np.nan, np.nan], [40j, 9.0]])
    change = np.array([[0, NONE], [0, 1], [0, 1], [0, 1]])
    batch = settle_variants(circuit, change, operated=np.array([True]), z_ohm=z_ohm)
    for k, (given, pair) in enumerate(zip(z_ohm.tolist(), change.tolist(), strict=True)):
        made = [
            Change(c.tag, c.becomes if np.isnan(z) else replace(c.becomes, z_ohm=z))
            for c, z in ((circuit.changes[i], z) for i, z in zip(pair, given, strict=True) if i != NONE)
            if isinstance(c.becomes, Impedance)
        ]
        settled = settle_or_chatter(changed(netlist, made), {"call"}, set())
        assert_alike(batch, k, settled, f"variant {k}")


def test_a_weak_or_dead_supply_lets_the_coil_starve() -> None:
    """Changed sources inject what they then can, and no more."""
    netlist = small()
    supply = next(netlist.of(Source))
    circuit = compile_variants(netlist, [weakened(supply, emf=0.5), opened("supply"), weakened(supply)])
    batch = settle_variants(circuit, np.arange(3), operated=np.array([True]))
    assert batch.coils_in[:, 0].tolist() == [False, False, True]
    assert np.abs(batch.node_v[1]).max() == 0.0


def test_a_resonance_is_refused_for_its_variant() -> None:
    """An exact cancellation that a change makes is refused, and no other."""
    capacitor, load = Impedance("c", "a", "C", -10j), Impedance("load", "R", "a", 3.0)
    netlist = Netlist((capacitor, load, Source("supply", "C", "R", 24.0, 1.0)))
    circuit = compile_variants(netlist, [with_impedance(load, 10j), opened("c")])
    none = np.zeros(0, dtype=bool)
    assert settle_variants(circuit, np.array([1]), operated=none).step_count.tolist() == [0]
    with pytest.raises(NoSolution, match="in variant 1"):
        settle_variants(circuit, np.array([1, 0]), operated=none)
    with pytest.raises(NoSolution, match="in variant 0"):
        settle_variants(
            compile_variants(netlist, [with_impedance(load, 5.0)]),
            np.array([0]),
            operated=none,
            z_ohm=np.array([[10j]]),
        )


CHOKES = (Impedance("choke", "a", "C", 10j), Coil("choke", "a", "C", 10j, 10j, 18.0, 9.0))


@pytest.mark.parametrize("choke", CHOKES, ids=["choke", "coil"])
@pytest.mark.parametrize("operated", [False, True])
def test_a_resonance_by_a_switch_that_leaks_without_loss_is_refused(operated: bool, choke: Impedance | Coil) -> None:
    """An output that is off leaks by a capacitor, which may cancel an inductance exactly; only while it is off."""
    netlist = Netlist(
        (
            choke, Switch("off", "R", "a", z_open_ohm=-10j), Impedance("load", "R", "C", 60.0),
            Source("supply", "C", "R", 24.0, 1.0), Impedance("wire", "R", "b", 1.0), Impedance("more", "b", "C", 60.0),
        )
    )  # fmt: skip
    compiled, on = compile_variants(netlist, []), np.array([operated])
    if operated:
        assert abs(settle_variants(compiled, np.array([NONE]), operated=on).node_v).max() < 25.0
        return
    with pytest.raises(NoSolution):
        settle_variants(compiled, np.array([NONE]), operated=on)
    with pytest.raises(NoSolution):
        settle_states(compile_netlist(netlist), on[None, :])


def test_only_the_nodes_that_were_asked_for_are_given() -> None:
    """Columns stand in the order in which the nodes were named."""
    batch = settle_variants(
        compile_variants(small(), [], nodes=["d", "b"]), np.array([NONE]), operated=np.array([True])
    )
    whole = settle(small(), operated={"call"}).solution
    assert batch.circuit.nodes == ("d", "b")
    assert batch.node_v[0].tolist() == pytest.approx([whole.node_v["d"], whole.node_v["b"]])


def test_what_does_not_fit_is_refused() -> None:
    """Wrong changes, shapes and numbers are told apart in a sentence."""
    netlist = small()
    wire, coil = netlist.by_tag["wire"], next(netlist.of(Coil))
    for change, said in (
        (opened("nothing"), "not in the netlist"),
        (Change("wire", Impedance("wire", "R", "C", 1.0)), "must stay between"),
        (Change("wire", replace(coil, tag="wire", tail="a", head="b")), "not a Coil"),
        (Change("K", replace(coil, delay_s=9.0)), "keep its delay"),
        (Change("wire", Impedance("other", "a", "b", 1.0)), "keep its tag"),
        (with_impedance(wire, 0.0), "zero impedance"),
    ):
        with pytest.raises(ValueError, match=said):
            compile_variants(netlist, [change])
    with pytest.raises(ValueError, match="not in the netlist: x"):
        compile_variants(netlist, [], nodes=["x"])
    circuit = compile_variants(netlist, [opened("wire"), with_impedance(wire, 5.0)])
    on = np.array([True])
    for wrong, said in (
        (np.array([2]), "among the 2"),
        (np.array([[0, 1]]), "changes wire twice"),
        (np.array([0.0]), "must be integers"),
        (np.zeros((1, 3), dtype=int), "at most 2 columns"),
    ):
        with pytest.raises(ValueError, match=said):
            settle_variants(circuit, wrong, operated=on)
    with pytest.raises(ValueError, match="operated must be boolean"):
        settle_variants(circuit, np.array([0]), operated=np.zeros(3, dtype=bool))
    with pytest.raises(ValueError, match="not to an impedance"):
        settle_variants(circuit, np.array([0]), operated=on, z_ohm=np.array([[1.0 + 0j]]))
    with pytest.raises(ValueError, match="not to an impedance"):
        settle_variants(circuit, np.array([NONE]), operated=on, z_ohm=np.array([[1.0 + 0j]]))
    with pytest.raises(ValueError, match="one row for each"):
        settle_variants(circuit, np.array([0]), operated=on, z_ohm=np.ones((2, 1), dtype=complex))
    with pytest.raises(ValueError, match="changed twice"):
        changed(netlist, circuit.changes)


def test_no_variants_and_no_changes_are_no_error() -> None:
    """An empty batch, an empty catalogue and variants without a change are settled like any other."""
    circuit = compile_variants(small(), [])
    on = np.array([True])
    assert settle_variants(circuit, np.zeros(0, dtype=int), operated=on).node_v.shape == (0, len(circuit.nodes))
    batch = settle_variants(circuit, np.array([NONE, NONE]), operated=on)
    assert batch.coils_in.tolist() == [[True], [True]]
    assert_alike(batch, 1, settle_or_chatter(small(), {"call"}, set()), "no change")


def small() -> Netlist:
    """Return a supply, a call, a conductor and a relay with its contact."""
    return Netlist(
        (
            Source("supply", "C", "R", 27.0, 1.8),
            Switch("call", "R", "a"),
            Impedance("wire", "a", "b", 0.6),
            Coil("K", "b", "C", 100.0 + 80j, 200.0 + 150j, 18.0, 9.0),
            Contact("k", "R", "d", ("K",)),
            Impedance("load", "d", "C", 120.0 + 40j),
        )
    )
