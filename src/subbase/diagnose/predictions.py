"""What every hypothesis predicts: each row of ``rows`` settled in a call, once, and kept for every reading taken in it.

A block holds the voltages of every point, so that any pair of points can be read in any call without solving anew. A
control that too little supply reaches closes no output, so calls are solved with its outputs open.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import Coil, Contact, Impedance, Source
from subbase.circuit.netlist import Node, Switch
from subbase.circuit.variants import SettledVariants, settle_variants
from subbase.diagnose.hypothesis import Hypothesis, operated_in
from subbase.diagnose.islands import island_of
from subbase.diagnose.odds import Odds, load_odds
from subbase.diagnose.rows import NONE, Rows, by_circuit, rows_of
from subbase.wiring import OFF, House, State, single_calls
from subbase.wiring.outputs import ALIVE_SHARE
from subbase.words import _

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Reals = NDArray[np.float64]

KEPT_BLOCKS = 4
"""Blocks of all rows that are held at once; about 50 MB each in the largest example."""
NEAR_PULL_IN = 0.08
"""Of its pull-in volts, within which a relay may as well do the other thing: tolerances of loads, line, spring (judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Rows at rest in one call."""

    rows: Ints
    """(n,) which rows."""
    v: NDArray[np.complex64]
    """(n, n_node) within each island [V rms]."""
    island: NDArray[np.int16]
    """(n, n_node) the same for points that a path joins; leakage of open contacts is no path."""
    leaky_island: NDArray[np.int16]
    """The same, leakage being a path."""
    coils_in: Bools
    """(n, n_coil)"""
    chatter: Bools
    """(n,) whether relays pull in and fall out by turns."""
    marginal: Bools
    """(n,) whether some relay is so near its pull-in that nobody knows what it does."""

    def only(self, pick: Ints) -> Block:
        """Return some of its rows."""
        island = self.island[pick]
        leaky = island if self.leaky_island is self.island else self.leaky_island[pick]
        return Block(
            self.rows[pick], self.v[pick], island, leaky, self.coils_in[pick], self.chatter[pick], self.marginal[pick]
        )


@dataclass(frozen=True, slots=True, eq=False)
class Predictions:
    """A house, its hypotheses, and what they predict."""

    house: House
    rows: Rows
    states: tuple[State, ...]
    """The calls in which something may be read, nothing called first."""
    nodes: tuple[Node, ...]
    """Columns of voltages."""
    coils: tuple[str, ...]
    """Columns of coils."""
    asleep: Bools
    """(n_row, n_control) controls that nothing feeds."""
    most_v: float
    """The largest voltage that the house's supplies can give together on no load [V rms]."""
    odds: Odds
    """The factors of a history, and the shares of doubles and of what is not listed."""
    kept: OrderedDict[State, Block] = field(default_factory=OrderedDict, repr=False)
    """A memory of blocks already settled; it changes no result."""
    memory: dict[object, object] = field(default_factory=dict, repr=False)
    """What other modules worked out of these predictions once; it changes no result."""

    @property
    def hypotheses(self) -> tuple[Hypothesis, ...]:
        """Return what is held for possible."""
        return self.rows.hypotheses

    @property
    def controls(self) -> tuple[str, ...]:
        """Return the controls: columns of ``asleep``."""
        return tuple(self.house.survey.controls)

    def column(self, node: Node) -> int:
        """Return the column of a node."""
        return self.house.netlist.index[node]

    def block(self, state: State) -> Block:
        """Return every row at rest in a call, settled when first asked for."""
        if state not in self.kept:
            self.kept[state] = self.settled(state, np.arange(len(self.rows.share)))
            while len(self.kept) > KEPT_BLOCKS:
                self.kept.popitem(last=False)
        self.kept.move_to_end(state)
        return self.kept[state]

    def singles(self, state: State) -> Block:
        """Return the rows of single faults at rest in a call."""
        key = ("singles", state)
        if key not in self.memory:
            self.memory[key] = self.settled(state, np.arange(self.rows.single_count))
        found = self.memory[key]
        assert isinstance(found, Block)
        return found

    def settled(self, state: State, wanted: Ints) -> Block:
        """Return some rows at rest in a call."""
        return _settled(self.house, self.rows, self.nodes, state, wanted, self.asleep[wanted])


def predict(
    house: House,
    hypotheses: Sequence[Hypothesis],
    *,
    doubles: bool = True,
    odds: Odds | None = None,
    progress: Callable[[str], None] = lambda said: None,  # noqa: ARG005,
) -> Predictions:
    """Return what hypotheses, alone and two at a time, predict of a house."""
    rows = rows_of(house, hypotheses, doubles=doubles)
    doubled = len(rows.causes) - len(hypotheses)
    progress(_("{single} single causes and {double} double ones ...").format(single=len(hypotheses), double=doubled))
    nodes = house.netlist.nodes()
    everything = np.arange(len(rows.share))
    nobody = np.zeros((len(everything), len(house.survey.controls)), dtype=np.bool_)
    at_rest = _settled(house, rows, nodes, OFF, everything, nobody)
    asleep = _asleep(house, rows, at_rest)
    made = Predictions(
        house, rows, readable_states(house), nodes, tuple(house.loads), asleep,
        sum(abs(source.emf_v) for source in house.netlist.of(Source)) or 30.0, load_odds() if odds is None else odds,
    )  # fmt: skip
    made.kept[OFF] = at_rest
    return made


def readable_states(house: House) -> tuple[State, ...]:
    """Return the calls that a person can set: none, or one call of one control."""
    return tuple(state for state in single_calls(house.survey, house.catalog) if state.condition is None)


def _settled(house: House, rows: Rows, nodes: tuple[Node, ...], state: State, wanted: Ints, asleep: Bools) -> Block:
    n, n_node, n_coil = len(wanted), len(nodes), len(house.loads)
    v = np.zeros((n, n_node), dtype=np.complex64)
    island = np.empty((n, n_node), dtype=np.int16)
    leaky = any(isinstance(b, Contact | Switch) and b.z_open_ohm is not None for b in house.netlist.branches)
    leaky_island = np.empty((n, n_node), dtype=np.int16) if leaky else island
    coils_in, chatter = np.zeros((n, n_coil), dtype=np.bool_), np.zeros(n, dtype=np.bool_)
    marginal = np.zeros(n, dtype=np.bool_)
    operated = _operated(house, rows, state, wanted, asleep)
    change = rows.changes_of(wanted)
    for number, part in by_circuit(rows, wanted):
        circuit = rows.circuits[number]
        local = circuit.local[change[part]]
        settled = settle_variants(circuit.compiled, local, operated=operated[part])
        index = circuit.netlist.index
        here = np.array([i for i, node in enumerate(nodes) if node in index], dtype=np.int64)
        there = np.array([index[nodes[i]] for i in here], dtype=np.int64)
        _put(v, part, here, settled.node_v)
        coils_in[part] = settled.coils_in
        chatter[part] = settled.chatter.any(axis=1)
        marginal[part] = _marginal(settled)
        for firm, out in ((True, island), (False, leaky_island)):
            if firm or leaky:
                out[part] = -1 - np.arange(n_node, dtype=np.int16)  # what the circuit lacks is an island of its own
                found = island_of(circuit.paths, local, operated[part], settled.coils_in, there, firm=firm)
                _put(out, part, here, found)
    return Block(wanted, v, island, leaky_island, coils_in, chatter, marginal)


def _marginal(settled: SettledVariants) -> Bools:
    """Return (n,) whether a coil that is in hardly has its pull-in volts, or one that is out nearly has."""
    column = {node: i for i, node in enumerate(settled.circuit.nodes)}
    found = np.zeros(len(settled.node_v), dtype=np.bool_)
    place = {tag: i for i, tag in enumerate(settled.circuit.coils)}
    for coil in settled.circuit.netlist.of(Coil):
        if coil.tail not in column or coil.head not in column:
            continue
        with np.errstate(invalid="ignore"):
            volts = np.abs(settled.node_v[:, column[coil.tail]] - settled.node_v[:, column[coil.head]])
        is_in = settled.coils_in[:, place[coil.tag]]
        low, high = (1.0 - NEAR_PULL_IN) * coil.pull_in_v, (1.0 + NEAR_PULL_IN) * coil.pull_in_v
        found |= np.where(is_in, volts < high, (volts > low) & (volts < high))
    return found


def _put(out: NDArray[Any], part: Ints, columns: Ints, found: NDArray[Any]) -> None:
    """Write found columns of some rows; a block of rows and all columns go over in one piece."""
    whole = len(columns) == out.shape[1]
    first, last = int(part[0]), int(part[-1]) + 1
    if whole and last - first == len(part):
        out[first:last] = found
    elif whole:
        out[part] = found
    else:
        out[np.ix_(part, columns)] = found


def _operated(house: House, rows: Rows, state: State, wanted: Ints, asleep: Bools) -> Bools:
    """Return (n, n_switch) switches out of their normal position in each row."""
    switches = [switch.tag for switch in house.netlist.of(Switch)]
    by_mode = np.zeros((len(rows.modes), len(switches)), dtype=np.bool_)
    for m, mode in enumerate(rows.modes):
        on = operated_in(house, state, mode)
        by_mode[m] = [tag in on for tag in switches]
    operated = by_mode[rows.mode[wanted]]
    for c, name in enumerate(house.survey.controls):
        own = np.array([tag.startswith(f"{name}/") for tag in switches], dtype=np.bool_)
        operated &= ~(asleep[:, c, None] & own)
    return operated


def _asleep(house: House, rows: Rows, at_rest: Block) -> Bools:
    asleep = np.zeros((len(at_rest.rows), len(house.survey.controls)), dtype=np.bool_)
    for c, (name, control) in enumerate(house.survey.controls.items()):
        volts = control_volts(house, at_rest, name)
        if volts is not None and not control.old.battery:
            asleep[:, c] = volts < ALIVE_SHARE * control.old.least_v
        silent = np.array([name in mode.silent for mode in rows.modes], dtype=np.bool_)
        asleep[:, c] |= silent[rows.mode[at_rest.rows]]
    return asleep


def control_volts(house: House, block: Block, name: str) -> Reals | None:
    """Return (n,) what feeds a control's own electronics [V rms]; None when it needs nothing from the circuit."""
    profile, index = house.survey.controls[name].old, house.netlist.index
    power = profile.power_terminal()
    pairs: list[tuple[str, str]] = []
    if profile.power == "common" and power is not None:
        pairs = [(f"{name}.{power}", f"{name}.C")]
    elif profile.power == "stealing":
        pairs = [(branch.tail, branch.head) for branch in house.netlist.of(Switch) if branch.tag.startswith(f"{name}/")]
    if not pairs:
        return None
    found = np.zeros(len(block.rows))
    for a, b in pairs:
        if a in index and b in index:
            found = np.maximum(found, volts_between(block, index[a], index[b], leaky=True)[0])
    return found


def volts_between(block: Block, a: int, b: int, *, leaky: bool = True) -> tuple[Reals, Bools]:
    """Return ((n,) volts between two columns, (n,) whether a path joins them); 0 V where none does."""
    island = block.leaky_island if leaky else block.island
    defined = (island[:, a] == island[:, b]) & ~block.chatter
    with np.errstate(invalid="ignore"):
        volts = np.abs(block.v[:, a] - block.v[:, b]).astype(np.float64)
    return np.where(defined, volts, 0.0), defined


def amps_through(predictions: Predictions, block: Block, state: State, tag: str) -> Reals:
    """Return (n,) current in a conductor or other impedance, in the call in which the block was settled [A rms]."""
    alone = single_amps(predictions, state, tag)
    found = np.zeros(len(block.rows))
    single = block.rows < predictions.rows.single_count
    found[single] = alone[block.rows[single]]
    if not single.all():
        found[~single] = _amps(predictions, block.only(np.flatnonzero(~single)), tag)
    return found


def single_amps(predictions: Predictions, state: State, tag: str) -> Reals:
    """Return (n_form,) current that single faults leave in a conductor [A rms]; worked out once."""
    key = ("amps", state, tag)
    if key not in predictions.memory:
        predictions.memory[key] = _amps(predictions, predictions.singles(state), tag)
    found = predictions.memory[key]
    assert isinstance(found, np.ndarray)
    return found


def _amps(predictions: Predictions, block: Block, tag: str) -> Reals:
    branch = predictions.house.netlist.by_tag[tag]
    if not isinstance(branch, Impedance):
        raise ValueError(f"{tag} is no conductor, so no clamp can be put around it.")
    rows = predictions.rows
    z = np.full(len(block.rows), branch.z_ohm, dtype=np.complex128)
    befalling = [i for i, item in enumerate(rows.changes) if item.tag == tag]
    change = rows.changes_of(block.rows) if befalling else np.zeros((len(block.rows), 0), np.int64)
    for i in befalling:
        becomes = rows.changes[i].becomes
        z[(change == i).any(axis=1)] = becomes.z_ohm if isinstance(becomes, Impedance) else np.inf
    ends = _ends_in_circuits(predictions, tag)[rows.circuit[block.rows]]
    known: Bools = np.logical_and.reduce(ends >= 0, axis=1)
    safe = np.where(known[:, None], ends, 0)
    here = np.arange(len(block.rows))
    with np.errstate(invalid="ignore"):
        drop = np.abs(block.v[here, safe[:, 0]] - block.v[here, safe[:, 1]])
        amps = np.where(known & np.isfinite(z), drop / np.abs(z), 0.0)
    return np.nan_to_num(amps)


def _ends_in_circuits(predictions: Predictions, tag: str) -> Ints:
    """Return (n_circuit, 2) columns between which a branch lies; NONE where the base has no such point; worked out once."""
    key = ("ends", tag)
    if key not in predictions.memory:
        index = predictions.house.netlist.index
        ends = []
        for circuit in predictions.rows.circuits:
            branch = circuit.netlist.by_tag.get(tag)
            ends.append(
                (NONE, NONE) if branch is None else (index.get(branch.tail, NONE), index.get(branch.head, NONE))
            )
        predictions.memory[key] = np.array(ends, dtype=np.int64)
    found = predictions.memory[key]
    assert isinstance(found, np.ndarray)
    return found


__all__ = [
    "Block",
    "Predictions",
    "amps_through",
    "control_volts",
    "predict",
    "readable_states",
    "single_amps",
    "volts_between",
]
