"""Circuits whose elimination is kept, against the same circuits written anew and solved by the reference."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from random import Random
from typing import TypeVar

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import Coil, Impedance, Netlist, settle, solve
from subbase.circuit.kept import KeptCircuit, KeptSolution, kept_circuit
from subbase.circuit.many_ohms import ohms_between
from subbase.circuit.solve import Solution
from subbase.errors import Chatter
from subbase.survey import Survey, with_landing
from subbase.wiring import build_house, legal_states, rewiring
from subbase.wiring.states import operated_switches
from subbase.work.calls import landing_room
from subbase.work.double_slips import double_slips
from subbase.work.slips import movable_ends, single_slips
from tests.houses import BUILDABLE, plan_of
from tests.laws.circuits import random_circuit, random_state

PLANNED = tuple(name for name in BUILDABLE if plan_of(name).left is not None)
S = TypeVar("S")
RELATIVE = 1e-10
"""Of the largest voltage in the circuit."""
NEW = ("new a", "new b")


def rewired(rng: Random, netlist: Netlist, kept: KeptCircuit) -> tuple[Netlist, KeptCircuit]:
    """Return a circuit with up to three of its fixed impedances gone and up to three others put in, both ways."""
    fixed = [branch.tag for branch in netlist.of(Impedance)]
    gone = rng.sample(fixed, min(len(fixed), rng.randint(0, 3)))
    nodes = (*netlist.nodes(), *NEW)
    ends = [rng.sample(nodes, 2) for _ in range(rng.randint(0, 3))]
    added = [Impedance(f"added {i}", a, b, 10.0 ** rng.uniform(-3, 3)) for i, (a, b) in enumerate(ends)]
    left = tuple(branch for branch in netlist.branches if branch.tag not in gone)
    return Netlist((*left, *added)), kept.rewired(gone, added)


def assert_alike(plain: Solution, quick: KeptSolution) -> None:
    """Hold every voltage between two nodes and every branch current of the reference against the kept circuit's."""
    assert plain.coils_in == quick.coils_in
    largest_v = max([abs(v) for v in plain.volts], default=0.0)
    nodes = plain.netlist.nodes()
    for node in nodes[1:]:
        theirs, ours = plain.between(nodes[0], node), quick.between(nodes[0], node)
        assert (theirs is None) == (ours is None), node
        assert abs((theirs or 0j) - (ours or 0j)) <= RELATIVE * largest_v
    for tag in plain.netlist.by_tag:
        assert abs(plain.across(tag) - quick.across(tag)) <= RELATIVE * largest_v
        assert quick.current_a(tag) == pytest.approx(plain.current_a(tag), rel=1e-6, abs=RELATIVE * largest_v * 1e3)


def settled_plainly(netlist: Netlist, operated: frozenset[str]) -> Solution:
    """Return the reference's state at rest."""
    return settle(netlist, operated=operated).solution


def rest_or_chatter(settled: Callable[[], S]) -> tuple[S | None, tuple[str, ...]]:
    """Return (the state at rest, the coils that never come to it)."""
    try:
        return settled(), ()
    except Chatter as error:
        return None, error.coils


@pytest.mark.parametrize("block", range(4))
def test_a_rewired_circuit_solves_as_if_written_anew(block: int) -> None:
    """On 400 random circuits, rewired twice, every state and every state at rest is the reference's; chatter too."""
    for seed in range(100 * block, 100 * block + 100):
        rng = Random(seed)
        netlist = random_circuit(rng)
        kept = kept_circuit(netlist, room_for=NEW)
        for _ in range(2):
            other, quick = rewired(rng, netlist, kept)
            operated, coils_in = random_state(rng, other)
            acting = frozenset(operated)
            assert_alike(
                solve(other, operated=acting, coils_in=coils_in), quick.solve(operated=acting, coils_in=coils_in)
            )
            at_rest, theirs = rest_or_chatter(partial(settled_plainly, other, acting))
            quickly, ours = rest_or_chatter(partial(quick.settle, operated=acting))
            assert ours == theirs
            if at_rest is not None and quickly is not None:
                assert_alike(at_rest, quickly)


def test_resistances_of_a_rewired_circuit_are_those_of_many_ohms() -> None:
    """On 100 random dead circuits, every pair of nodes reads as in one written anew, open where that is open."""
    for seed in range(100):
        rng = Random(seed)
        whole = random_circuit(rng, resistive=True)
        dead = Netlist(tuple(Impedance(b.tag, b.tail, b.head, rng.uniform(0.01, 100.0)) for b in whole.branches))
        kept = kept_circuit(dead, room_for=NEW)
        other, quick = rewired(rng, dead, kept)
        nodes = rng.sample(other.nodes(), min(8, len(other.nodes())))
        pairs = [(a, b) for a in nodes for b in nodes]
        for (a, b), ohm in ohms_between(other, pairs).items():
            assert quick.ohms(a, b) == pytest.approx(ohm, rel=1e-9), f"{a} to {b}, seed {seed}"
            # What has a say in a resistance is known by its nodes, those of the way alone.
            assert quick.way(a, b) <= frozenset(range(len(quick.rank)))
        clipped = other.with_branches((Impedance("clip", nodes[0], nodes[-1], 0.05),)) if len(nodes) > 1 else other
        with_clip = ohms_between(other, pairs, clip=(nodes[0], nodes[-1]), clip_ohm=0.05)
        assert with_clip == pytest.approx(ohms_between(clipped, pairs), rel=1e-9)
        # A lead clipped to what is not in the circuit joins nothing.
        assert ohms_between(other, pairs, clip=(nodes[0], "nowhere")) == ohms_between(other, pairs)


def test_rewiring_leaves_the_circuit_before_as_it_was() -> None:
    """A circuit solved again after others were made from it gives the very same volts."""
    rng = Random(7)
    netlist = random_circuit(rng)
    kept = kept_circuit(netlist, room_for=NEW)
    before = kept.solve().volts
    for _ in range(20):
        rewired(rng, netlist, kept)[1].solve()
    assert kept.solve().volts == before


@pytest.mark.parametrize("name", PLANNED)
def test_every_house_settles_alike_both_ways(name: str) -> None:
    """Every planned house in every legal state has the reference's voltages and currents."""
    left = plan_of(name).left
    assert left is not None
    house = build_house(left, load_catalog())
    kept = kept_circuit(house.netlist)
    for state in legal_states(left, load_catalog()):
        operated = operated_switches(house, state)
        assert_alike(settle(house.netlist, operated=operated).solution, kept.settle(operated=operated))


def branches_of(survey: Survey) -> dict[str, tuple[frozenset[str], complex]]:
    """Return the fixed impedances of a house: tag -> (its ends, its ohms)."""
    netlist = build_house(survey, load_catalog()).netlist
    return {b.tag: (frozenset((b.tail, b.head)), complex(b.z_ohm)) for b in netlist.of(Impedance)}


@pytest.mark.parametrize("name", PLANNED)
def test_a_rewiring_makes_the_house_that_would_be_built(name: str) -> None:
    """For every single slip and some doubles, taking out and putting in gives the branches of the house built anew."""
    plan = plan_of(name)
    assert plan.left is not None
    before = branches_of(plan.left)
    room = set(landing_room(plan.left, plan.catalog))
    slips = [*single_slips(plan), *(double.both for double in double_slips(plan)[::40])]
    for slip in slips:
        changed = rewiring(plan.left, slip.survey)
        assert changed is not None
        after = {tag: branch for tag, branch in before.items() if tag not in changed.gone}
        after |= {b.tag: (frozenset((b.tail, b.head)), complex(b.z_ohm)) for b in changed.added}
        assert after == branches_of(slip.survey), slip.words
        assert {node for b in changed.added for node in (b.tail, b.head)} <= room


def test_a_house_of_other_equipment_is_no_rewiring() -> None:
    """Where more than conductors and links differs, there is no rewiring."""
    left, other = plan_of("01-no-common-spare-blue").left, plan_of("12-heat-pump-with-strips").left
    assert left is not None
    assert other is not None
    assert rewiring(left, other) is None
    longer = left.cables["wall"].model_copy(update={"length_m": 3.0})
    assert rewiring(left, left.model_copy(update={"cables": {**left.cables, "wall": longer}})) is None
    end = movable_ends(left)[0]
    moved = rewiring(left, with_landing(left, end, "loose"))
    assert moved is not None
    assert moved.gone == (f"{end.cable}/{end.conductor}",)


def test_what_does_not_fit_a_kept_circuit_is_refused() -> None:
    """A coil cannot be taken out, nothing lands where there is no room, and no branch joins a node to itself."""
    netlist = random_circuit(Random(3))
    kept = kept_circuit(netlist)
    coil = next(netlist.of(Coil))
    with pytest.raises(ValueError, match="no conductor"):
        kept.rewired([coil.tag], [])
    with pytest.raises(ValueError, match="no room"):
        kept.rewired([], [Impedance("far", coil.tail, "nowhere", 1.0)])
    with pytest.raises(ValueError, match="to itself"):
        kept.rewired([], [Impedance("ring", coil.tail, coil.tail, 1.0)])
    assert math.isinf(kept.ohms(coil.tail, "nowhere"))
