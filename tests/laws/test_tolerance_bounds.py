"""Bounds over ranges of many parameters hold whatever case is drawn from them, and are hardly wider than they must be.

Cases are solved by dense nodal equations in numpy, which share nothing with the bounds but the netlist.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest
from numpy.typing import NDArray

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, solve
from subbase.circuit.conductor import conductor_ohm
from subbase.circuit.netlist import Branch, Tag
from subbase.circuit.solve import branch_impedances
from subbase.circuit.tolerance import Between, Reading, Spread, Through, bounds
from tests.laws.circuits import random_circuit, random_state

CASES = 4_000
"""Drawn for each circuit; with 25 circuits 100,000."""
DENSE_V, DENSE_A = 1e-6, 1e-5
"""Rounding of the dense equations, which subtract conductances of closed contacts from each other."""
EXCESS_SHARE = 0.011
"""Bounds of a reading may be wider than the range reached by this share of it: half a hundredth at each end, with
a little for rounding ..."""
EXCESS_FLOOR = 1e-5
"""... and by so many volts or amperes where the reading hardly varies."""
HARD = {"near resonance": 0.35}
"""Circuits in which the search ends before it is done: within the ranges inductance and capacitance nearly cancel."""

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
SUPPLY = Source("supply", "C", "X", 27.0, 1.8)
FUSE = Impedance("fuse", "X", "R", 0.02)


def load(tag: Tag, node: str, z_ohm: complex, common: str = "C") -> Coil:
    """Return a load that is in or out as the caller says."""
    return Coil(tag, node, common, z_out_ohm=0.3 * z_ohm, z_in_ohm=z_ohm, pull_in_v=18.0, drop_out_v=10.0)


def cooling() -> Netlist:
    """Return a supply, a long cable to the control and back, a contactor and a fan relay, and the control's own draw."""
    return Netlist(
        (
            SUPPLY,
            FUSE,
            Impedance("red", "R", "wall R", 0.6),
            Impedance("blue", "wall C", "C", 0.6),
            Impedance("own draw", "wall R", "wall C", 240.0),
            Switch("Y", "wall R", "wall Y"),
            Switch("G", "wall R", "wall G", z_open_ohm=24_000.0),
            Impedance("yellow", "wall Y", "Y", 0.6),
            Impedance("green", "wall G", "G", 0.6),
            Impedance("far", "Y", "outdoor Y", 1.1),
            Impedance("far back", "outdoor C", "C", 1.1),
            load("contactor", "outdoor Y", 29.0 + 66.0j, "outdoor C"),
            load("fan relay", "G", 150.0 + 180.0j),
        )
    )


def two_supplies(phase: complex) -> Netlist:
    """Return two transformers whose R terminals a forgotten jumper joins, with loads on both."""
    return Netlist(
        (
            SUPPLY,
            FUSE,
            Source("other", "C2", "R2", 26.0 * phase, 2.4 + 0.5j),
            Impedance("jumper", "R", "R2", 0.005),
            Impedance("shared common", "C", "C2", 0.4),
            load("valve", "R2", 60.0 + 40.0j, "C2"),
            load("relay", "R", 120.0 + 200.0j),
        )
    )


def leaking(siemens: float) -> Netlist:
    """Return outputs that leak through capacitors when off, into coils of low power factor."""
    return Netlist(
        (
            SUPPLY,
            FUSE,
            Switch("W", "R", "W", z_open_ohm=40.0 - 0.7j / siemens),
            Switch("Y", "R", "Y", z_open_ohm=40.0 - 0.5j / siemens),
            load("valve", "W", 120.0 + 610.0j),
            load("contactor", "Y", 60.0 + 420.0j),
            Impedance("between", "W", "Y", 900.0),
        )
    )


def parallel_contacts() -> Netlist:
    """Return a relay chain whose contacts stand beside each other, where each changes the other's current."""
    return Netlist(
        (
            SUPPLY,
            FUSE,
            load("K", "R", 200.0 + 300.0j),
            Contact("one", "R", "mid", ("K",)),
            Contact("two", "R", "mid", ("K",)),
            Contact("three", "mid", "out", ("K",)),
            Switch("limit", "out", "fed", normally_closed=True),
            Impedance("bypass", "R", "out", 0.08),
            load("heater", "fed", 9.0 + 8.0j),
            load("inducer", "out", 30.0 + 20.0j),
        )
    )


NAMED: dict[str, tuple[Netlist, set[Tag], set[Tag]]] = {
    "cooling": (cooling(), {"Y", "G"}, {"contactor", "fan relay"}),
    "cooling at rest": (cooling(), set(), set()),
    "two supplies in phase": (two_supplies(1), set(), {"valve", "relay"}),
    "two supplies out of phase": (two_supplies(1j), set(), {"valve"}),
    "two supplies opposed": (two_supplies(-1), set(), {"relay"}),
    "leaking": (leaking(5e-5), set(), {"valve", "contactor"}),
    "near resonance": (leaking(1e-3), set(), {"valve", "contactor"}),
    "parallel contacts": (parallel_contacts(), set(), {"K", "heater", "inducer"}),
}
SEEDS = tuple(range(25 - len(NAMED)))


def circuit_of(case: str | int) -> tuple[Netlist, set[Tag], set[Tag]]:
    """Return (netlist, operated switches, coils that are in) of a name or a seed."""
    if isinstance(case, str):
        return NAMED[case]
    rng = Random(case)
    netlist = random_circuit(rng)
    return (netlist, *random_state(rng, netlist))


def usual_spreads(netlist: Netlist) -> list[Spread]:
    """Return what varies in a house: the line, regulation, loads, copper, contacts and leakage."""
    found = []
    for branch in netlist.branches:
        match branch:
            case Source():
                found.append(Spread.supply(branch.tag, line_share=0.1, regulation_share=0.1))
            case Coil():
                found.append(Spread.either_way(branch.tag, 0.1))
            case Contact() | Switch():
                closed = Spread.contact(branch, from_ohm=0.005, to_ohm=0.1)
                found.append(Spread(branch.tag, closed.z_low, closed.z_high, leak_low=0.7, leak_high=1.5))
            case Impedance():
                found.append(Spread.copper(branch.tag, from_c=0.0, to_c=50.0))
    return found


def some_readings(netlist: Netlist, rng: Random) -> list[Reading]:
    """Return three voltages, one of them across a load, and three currents, one of them of a supply."""
    nodes = netlist.nodes()
    loads: list[Branch] = [branch for branch in netlist.branches if isinstance(branch, Coil | Impedance)]
    across = rng.choice(loads)
    tags = [next(netlist.of(Source)).tag, across.tag, rng.choice(netlist.branches).tag]
    pairs = [(across.tail, across.head), *(tuple(rng.sample(nodes, 2)) for _ in range(2))]
    return [*(Between(a, b) for a, b in pairs), *(Through(tag) for tag in tags)]


class Dense:
    """Very many cases of one state, each drawn from the ranges, by dense nodal equations."""

    def __init__(
        self, netlist: Netlist, state: tuple[set[Tag], set[Tag]], spreads: list[Spread], draws: Floats
    ) -> None:
        operated, coils_in = state
        self.conducting = dict(branch_impedances(netlist, operated, coils_in))
        self.draws = iter(draws)
        self.netlist = netlist
        spread_of = {spread.tag: spread for spread in spreads}
        line = next(self.draws)
        self.z_ohm: dict[Tag, Complexes] = {}
        self.emf_v: dict[Tag, Complexes] = {}
        for branch, z_ohm in self.conducting.items():
            spread = spread_of[branch.tag]
            leaks = isinstance(branch, Contact | Switch) and z_ohm != branch.r_closed_ohm
            ends = (spread.leak_low, spread.leak_high) if leaks else (spread.z_low, spread.z_high)
            self.z_ohm[branch.tag] = self._within(*ends) * np.complex128(z_ohm)
            if isinstance(branch, Source):
                # All of these supplies are on one line.
                emf = (spread.emf_low + (spread.emf_high - spread.emf_low) * line).astype(np.complex128)
                self.emf_v[branch.tag] = emf * np.complex128(branch.emf_v)
        self.volts = self._volts(solve(netlist, operated=operated, coils_in=coils_in).reference)

    def _within(self, low: float, high: float) -> Complexes:
        factors: Complexes = (low + (high - low) * next(self.draws)).astype(np.complex128)
        return factors

    def _volts(self, reference: Sequence[int]) -> Complexes:
        index, n_node = self.netlist.index, len(self.netlist.index)
        n_case = len(next(iter(self.z_ohm.values())))
        matrix = np.zeros((n_node, n_node, n_case), dtype=np.complex128)
        injected = np.zeros((n_node, n_case), dtype=np.complex128)
        for branch in self.conducting:
            tail, head, y = index[branch.tail], index[branch.head], 1.0 / self.z_ohm[branch.tag]
            for here, there in ((tail, head), (head, tail)):
                matrix[here, here] += y
                matrix[here, there] -= y
            if branch.tag in self.emf_v:
                injected[head] += y * self.emf_v[branch.tag]
                injected[tail] -= y * self.emf_v[branch.tag]
        for node in set(reference):
            matrix[node] = 0.0
            matrix[node, node] = 1.0
            injected[node] = 0.0
        volts = np.linalg.solve(np.moveaxis(matrix, -1, 0), injected.T[..., None])[..., 0].T
        return volts.astype(np.complex128)

    def modulus(self, reading: Reading) -> Floats:
        """Return the reading of every case."""
        index = self.netlist.index
        if isinstance(reading, Between):
            return _size(self.volts[index[reading.a]] - self.volts[index[reading.b]])
        branch = self.netlist.by_tag[reading.tag]
        if branch not in self.conducting:
            return np.zeros(self.volts.shape[1])
        across = self.volts[index[branch.tail]] - self.volts[index[branch.head]]
        return _size((across + self.emf_v.get(reading.tag, np.complex128(0.0))) / self.z_ohm[reading.tag])


def _size(values: Complexes) -> Floats:
    size: Floats = np.abs(values)
    return size


def draw(netlist: Netlist, seed: int) -> Floats:
    """Return draws in which every second case is at a corner of the ranges."""
    parameters = len(netlist.branches) + sum(1 for _ in netlist.of(Source))
    draws = np.random.default_rng(seed).random((parameters, CASES))
    draws[:, ::2] = draws[:, ::2] > 0.5
    return draws


@pytest.mark.parametrize("case", [*NAMED, *SEEDS])
def test_no_case_drawn_from_the_ranges_is_outside_guaranteed_bounds(case: str | int) -> None:
    """In 25 circuits, 4,000 cases each, half of them at corners, every reading is within its bounds, which are proven."""
    netlist, operated, coils_in = circuit_of(case)
    spreads = usual_spreads(netlist)
    readings = some_readings(netlist, Random(f"readings {case}"))
    found = bounds(netlist, spreads, readings, operated=operated, coils_in=coils_in)
    cases = Dense(netlist, (operated, coils_in), spreads, draw(netlist, 1))
    judged = 0
    for reading, bound in zip(readings, found, strict=True):
        if bound is None:
            continue
        judged += 1
        allowed = DENSE_V if isinstance(reading, Between) else DENSE_A
        modulus = cases.modulus(reading)
        assert bound.kind == "guaranteed"
        assert bound.low - allowed <= modulus.min(), f"{case}, {bound}"
        assert modulus.max() <= bound.high + allowed, f"{case}, {bound}"
        assert (
            bound.excess <= HARD.get(str(case), EXCESS_SHARE) * (bound.reached_high - bound.reached_low) + EXCESS_FLOOR
        ), f"{case}, {bound}"
    assert judged >= 3


@pytest.mark.parametrize("seed", range(8))
def test_bounds_of_resistances_are_reached_at_corners(seed: int) -> None:
    """With resistances alone the bounds are the least and the largest over all corners, no wider."""
    rng = Random(seed)
    netlist = random_circuit(rng, resistive=True)
    operated, coils_in = random_state(rng, netlist)
    varied = rng.sample([branch for branch, _ in branch_impedances(netlist, operated, coils_in)], 5)
    spreads = [Spread(branch.tag, 0.6, 1.7, *((0.9, 1.1) if isinstance(branch, Source) else ())) for branch in varied]
    spreads = [replace(spread, leak_low=0.6, leak_high=1.7) for spread in spreads]
    factors = [sorted({(z, e) for z in (0.6, 1.7) for e in (spread.emf_low, spread.emf_high)}) for spread in spreads]
    readings = some_readings(netlist, rng)[:3]
    found = bounds(netlist, spreads, readings, operated=operated, coils_in=coils_in)
    for reading, bound in zip(readings, found, strict=True):
        if bound is None or not isinstance(reading, Between):
            continue
        moduli = []
        for chosen in product(*factors):
            corner = Netlist(tuple(scaled(branch, spreads, chosen) for branch in netlist.branches))
            volts = solve(corner, operated=operated, coils_in=coils_in).between(reading.a, reading.b)
            assert volts is not None
            moduli.append(abs(volts))
        assert bound.kind == "guaranteed"
        assert bound.high == pytest.approx(max(moduli), rel=1e-8, abs=1e-7)
        if bound.low > 0.0:  # where the voltage changes its sign within the ranges no corner is at 0
            assert bound.low == pytest.approx(min(moduli), rel=1e-8, abs=1e-7)


def scaled(branch: Branch, spreads: list[Spread], chosen: Sequence[tuple[float, float]]) -> Branch:
    """Return a branch with its impedance and emf at the chosen factors."""
    for spread, (z, emf) in zip(spreads, chosen, strict=True):
        if spread.tag == branch.tag:
            match branch:
                case Source():
                    return replace(branch, z_ohm=z * branch.z_ohm, emf_v=emf * branch.emf_v)
                case Impedance():
                    return replace(branch, z_ohm=z * branch.z_ohm)
                case Coil():
                    return replace(branch, z_in_ohm=z * branch.z_in_ohm, z_out_ohm=z * branch.z_out_ohm)
                case Contact() | Switch():
                    leak = None if branch.z_open_ohm is None else z * branch.z_open_ohm
                    return replace(branch, r_closed_ohm=z * branch.r_closed_ohm, z_open_ohm=leak)
    return branch


def test_supplies_on_one_line_are_high_together() -> None:
    """Two like transformers joined at both terminals exchange nothing on one line, and much on lines of their own."""
    netlist = Netlist((SUPPLY, replace(SUPPLY, tag="like it"), Impedance("load", "X", "C", 60.0)))
    read: list[Reading] = [Between("X", "C"), Through("supply")]
    found = {}
    for other_line in ("line", "other line"):
        spreads = [Spread.supply("supply", line_share=0.1, regulation_share=0.0)]
        spreads.append(Spread.supply("like it", line_share=0.1, regulation_share=0.0, line=other_line))
        found[other_line] = [bound for bound in bounds(netlist, spreads, read) if bound is not None]
    nominal = solve(netlist)
    for bound, value in zip(found["line"], (nominal.between("X", "C"), nominal.current_a("supply")), strict=True):
        assert value is not None
        assert (bound.low, bound.high) == pytest.approx((0.9 * abs(value), 1.1 * abs(value)), rel=1e-6)
    apart_a = 0.1 * 2.0 * SUPPLY.emf_v.real / (2.0 * abs(SUPPLY.z_ohm))
    # One line high and the other low drives this round both windings, beside half of the load's current each.
    assert found["other line"][1].high == pytest.approx(apart_a + abs(nominal.current_a("supply")), rel=1e-6)
    assert found["other line"][0].high == pytest.approx(found["line"][0].high, rel=1e-7)
    # Where no line is told, each is taken by itself: the wider bounds, never the narrower.
    untold = [Spread(tag, emf_low=0.9, emf_high=1.1) for tag in ("supply", "like it")]
    alone = [bound for bound in bounds(netlist, untold, read) if bound is not None]
    assert [bound.high for bound in alone] == pytest.approx([bound.high for bound in found["other line"]], rel=1e-6)
    assert all(bound.boxes > 0 for bound in alone)


def test_a_resonance_within_the_ranges_is_not_called_guaranteed() -> None:
    """Where a loss-free coil and capacitor may cancel, no bound exists and what was sampled is called so."""
    tank = (Impedance("coil", "R", "mid", 100j), Impedance("capacitor", "mid", "C", -97j))
    spreads = [Spread("coil", 0.9, 1.1), Spread("capacitor", 0.9, 1.1)]
    (bound,) = bounds(Netlist((replace(SUPPLY, head="R", z_ohm=1e-9), *tank)), spreads, [Between("mid", "C")])
    assert bound is not None
    assert bound.kind == "sampled"
    assert bound.high > 1000.0


def test_nodes_that_no_path_joins_have_no_bounds_and_open_branches_no_current() -> None:
    """Between two islands nothing is said, and an open switch carries nothing at all."""
    netlist = Netlist((SUPPLY, Switch("open", "X", "fan"), Impedance("fan", "fan", "fan back", 50.0)))
    across, through = bounds(netlist, [Spread.either_way("fan", 0.1)], [Between("X", "fan"), Through("open")])
    assert across is None
    assert through is not None
    assert (through.low, through.high, through.kind) == (0.0, 0.0, "guaranteed")


def test_copper_spreads_as_its_resistance_does() -> None:
    """A conductor in an attic from 0 to 60 °C, taken at 20 °C: the factors are those of its resistance."""
    spread = Spread.copper("wall", from_c=0.0, to_c=60.0)
    at_0, at_20, at_60 = (
        conductor_ohm(gauge_awg=18, length_m=15.0, temperature_c=celsius) for celsius in (0.0, 20.0, 60.0)
    )
    assert (spread.z_low, spread.z_high) == pytest.approx((at_0 / at_20, at_60 / at_20))
    assert Spread.copper("wall", from_c=0.0, to_c=60.0, built_at_c=60.0).z_high == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("spreads", "words"),
    [
        ([Spread("no such", 0.9, 1.1)], "no branch no such"),
        ([Spread("fuse", 0.9, 1.1), Spread("fuse", 0.8, 1.1)], "two spreads"),
        ([Spread("fuse", emf_high=1.1)], "no source"),
    ],
)
def test_a_spread_of_what_is_not_there_is_refused(spreads: list[Spread], words: str) -> None:
    """A wrong tag, a tag named twice and the emf of a fuse are each told in one sentence."""
    with pytest.raises(ValueError, match=words):
        bounds(Netlist((SUPPLY, FUSE)), spreads, [])


@pytest.mark.parametrize(("low", "high"), [(1.1, 0.9), (0.0, 1.0), (-1.0, 1.0), (1.0, float("inf"))])
def test_factors_run_upwards_and_are_above_0(low: float, high: float) -> None:
    """A range that runs backwards, or reaches 0 or infinity, is refused."""
    with pytest.raises(ValueError, match="give the lower one first"):
        Spread("fuse", low, high)
