"""Every single fault and every two at once, form by form, as rows of arrays that the circuit engine settles in bulk.

A row is one form of a hypothesis, or one form each of two. Forms that bring a wiring of their own, or take a part with
them, have a circuit of their own; changes that the base circuit knows are made to fit there. Not every two forms make a
row: two that each need a circuit of their own, two that set controls otherwise, two that change one branch, two shorts, and a
short where landings are wrong are left out (``Rows.left_out`` says how many pairs of hypotheses have no row at all; an
addition to a circuit has a program of its own for each two points, so squaring them would cost seconds for what hardly ever
happens). ``beyond`` looks for such sets where nothing else fits.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import Netlist
from subbase.circuit.changes import Change
from subbase.circuit.variants import VariantCircuit, compile_variants
from subbase.diagnose.hypothesis import Form, Hypothesis, netlist_of
from subbase.diagnose.islands import Paths, paths_of
from subbase.wiring import House

Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Reals = NDArray[np.float64]
NONE = -1
MOST_CHANGES = 2


@dataclass(frozen=True, slots=True, eq=False)
class Circuit:
    """One netlist with the catalogue's changes made to fit it."""

    netlist: Netlist
    compiled: VariantCircuit
    paths: Paths
    local: Ints
    """(n_change + 1,) the catalogue's change -> its place here; NONE where it does not fit, and for NONE."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows of forms, their shares, and the cause of each."""

    hypotheses: tuple[Hypothesis, ...]
    forms: tuple[Form, ...]
    owner: Ints
    """(n_form,) hypothesis of each form."""
    changes: tuple[Change, ...]
    """The catalogue."""
    form_changes: Ints
    """(n_form, 2) places in ``changes``, NONE where there is none."""
    modes: tuple[Form, ...]
    circuits: tuple[Circuit, ...]
    form: Ints
    """(n_row, 2) forms of each row; the second NONE in single faults. Singles come first."""
    circuit: Ints
    """(n_row,)"""
    mode: Ints
    """(n_row,)"""
    share: Reals
    """(n_row,) of its cause's probability; adds up to 1 within each cause."""
    cause: Ints
    """(n_row,) number in ``causes``."""
    causes: Ints
    """(n_cause, 2) hypotheses; the second NONE in single faults. Singles come first, in the order of hypotheses."""
    left_out: int
    """Pairs of hypotheses without a row."""

    @property
    def single_count(self) -> int:
        """Return how many rows are single faults."""
        return len(self.forms)

    def changes_of(self, rows: Ints) -> Ints:
        """Return (n, 2) places in the catalogue for each row, NONE where there is none."""
        first, second = self.form[rows, 0], self.form[rows, 1]
        both = np.hstack((self.form_changes[first], np.where(second[:, None] < 0, NONE, self.form_changes[second])))
        # Most rows have two at most; what there is moves to the front.
        order = np.argsort(both == NONE, axis=1, kind="stable")
        return np.take_along_axis(both, order, axis=1)[:, :MOST_CHANGES]


def rows_of(house: House, hypotheses: Sequence[Hypothesis], *, doubles: bool = True) -> Rows:
    """Return the rows of all single faults, and of all double ones."""
    forms = [(h, form) for h, hypothesis in enumerate(hypotheses) for form in hypothesis.forms]
    catalogue: dict[Change, int] = {}
    keys: dict[tuple[object, ...], int] = {(None, ()): 0}
    modes: dict[tuple[object, ...], int] = {((), frozenset()): 0}
    form_changes = np.full((len(forms), MOST_CHANGES), NONE, dtype=np.int64)
    form_circuit, form_mode = np.zeros(len(forms), np.int64), np.zeros(len(forms), np.int64)
    own: list[Form] = [Form()]
    set_otherwise: list[Form] = [Form()]
    for i, (_, form) in enumerate(forms):
        for k, change in enumerate(form.changes):
            form_changes[i, k] = catalogue.setdefault(change, len(catalogue))
        key = (None if form.survey is None else id(form.survey), tuple(sorted(form.gone)))
        form_circuit[i] = keys.setdefault(key, len(keys))
        if form_circuit[i] == len(own):
            own.append(Form(survey=form.survey, gone=form.gone))
        mode = (form.settings, form.silent)
        form_mode[i] = modes.setdefault(mode, len(modes))
        if form_mode[i] == len(set_otherwise):
            set_otherwise.append(Form(settings=form.settings, silent=form.silent))
    changes = tuple(catalogue)
    added = np.append(np.array([change.tag not in house.netlist.by_tag for change in changes], dtype=np.bool_), False)
    circuits = []
    for number, form in enumerate(own):
        wanted = np.zeros(len(changes) + 1, dtype=np.bool_)
        wanted[form_changes[form_circuit == number]] = True
        if number == 0 or doubles:
            wanted |= ~added if form.survey is not None else True
        circuits.append(_circuit(house, form, changes, wanted))
    owner = np.array([h for h, _ in forms], dtype=np.int64)
    shares = np.array([form.share for _, form in forms])
    single = np.column_stack((np.arange(len(forms)), np.full(len(forms), NONE)))
    reshaped = np.take(np.array([form.survey is not None for form in own], dtype=np.bool_), form_circuit)
    adds: Bools = np.logical_or.reduce(added[form_changes], axis=1)
    well = np.array([hypotheses[h].kind == "nothing wrong" for h, _ in forms], dtype=np.bool_)
    place = _places(circuits[0], changes)
    alone = np.array([form.alone for _, form in forms], dtype=np.bool_)
    of_form = (form_circuit, form_mode, adds, reshaped, alone)
    pairs = _pairs(owner, form_changes, of_form, place) if doubles else single[:0]
    pairs = pairs[~well[pairs].any(axis=1)]
    pairs = pairs[np.argsort(form_circuit[pairs].max(axis=1), kind="stable")]  # what settles together stands together
    row_form = np.vstack((single, pairs)).astype(np.int64)
    first, second = row_form[:, 0], row_form[:, 1]
    circuit = np.where(second < 0, form_circuit[first], np.maximum(form_circuit[first], form_circuit[second]))
    row_mode = np.where(second < 0, form_mode[first], np.maximum(form_mode[first], form_mode[second]))
    share = shares[first] * np.where(second < 0, 1.0, shares[second])
    hypothesis_pairs = np.column_stack((owner[first], np.where(second < 0, NONE, owner[second])))
    key = hypothesis_pairs[:, 0] * (len(hypotheses) + 1) + hypothesis_pairs[:, 1] + 1
    key[second < 0] -= (len(hypotheses) + 1) ** 2  # singles first
    _, at, cause = np.unique(key, return_index=True, return_inverse=True)
    total = np.bincount(cause, weights=share)
    count = len(hypotheses)
    return Rows(
        tuple(hypotheses), tuple(form for _, form in forms), owner, changes, form_changes,
        tuple(set_otherwise), tuple(circuits), row_form, circuit, row_mode, share / total[cause], cause.astype(np.int64),
        hypothesis_pairs[at], left_out=count * (count - 1) // 2 - (len(at) - count) if doubles else 0,
    )  # fmt: skip


def _places(base: Circuit, changes: tuple[Change, ...]) -> Ints:
    """Return (n_change,) the same number for changes that cannot both be made."""
    return np.asarray(base.compiled.place) if changes else np.zeros(0, np.int64)


def _pairs(owner: Ints, form_changes: Ints, of_form: tuple[Ints, Ints, Bools, Bools, Bools], place: Ints) -> Ints:
    """Return (n_pair, 2) forms of different hypotheses that make a row together.

    ``of_form`` holds each form's circuit, its mode, whether it adds a branch, whether it has landings of its own, and whether
    it is weighed as a single fault only.
    """
    form_circuit, form_mode, adds, reshaped, alone = of_form
    a, b = np.triu_indices(len(owner), 1)
    count = (form_changes != NONE).sum(axis=1)
    keep = (owner[a] != owner[b]) & ~alone[a] & ~alone[b]
    keep &= count[a] + count[b] <= MOST_CHANGES
    keep &= (form_circuit[a] == 0) | (form_circuit[b] == 0)
    keep &= (form_mode[a] == 0) | (form_mode[b] == 0)
    keep &= ~(adds[a] & (adds[b] | reshaped[b])) & ~(adds[b] & reshaped[a])
    placed = np.append(place, NONE)[form_changes]
    for i in range(MOST_CHANGES):
        for k in range(MOST_CHANGES):
            keep &= (placed[a, i] == NONE) | (placed[a, i] != placed[b, k])
    return np.column_stack((a[keep], b[keep]))


def _circuit(house: House, form: Form, changes: tuple[Change, ...], wanted: Bools) -> Circuit:
    netlist = netlist_of(house, form)
    fitting: list[Change] = []
    local = np.full(len(changes) + 1, NONE, dtype=np.int64)
    for i, change in enumerate(changes):
        fitted = _fitted(netlist, house.netlist, change) if wanted[i] else None
        if fitted is not None:
            local[i] = len(fitting)
            fitting.append(fitted)
    # Columns in the base's order, so that a block can be taken over as it is.
    shared = [node for node in house.netlist.nodes() if node in netlist.index]
    compiled = compile_variants(netlist, fitting, nodes=shared)
    return Circuit(netlist, compiled, paths_of(netlist, tuple(fitting)), local)


def _fitted(netlist: Netlist, base: Netlist, change: Change) -> Change | None:
    """Return a change of the base netlist as another has it; None where what it befalls is not there."""
    old = netlist.by_tag.get(change.tag)
    if old is None and change.tag in base.by_tag:
        return None
    becomes = change.becomes
    if old is not None and becomes is not None:
        becomes = replace(becomes, tail=old.tail, head=old.head)
    if old is None and (becomes is None or not {becomes.tail, becomes.head} <= netlist.index.keys()):
        return None
    return Change(change.tag, becomes)


def by_circuit(rows: Rows, wanted: Ints) -> Iterator[tuple[int, Ints]]:
    """Iterate over (circuit, positions in ``wanted`` of its rows)."""
    circuit = rows.circuit[wanted]
    order = np.argsort(circuit, kind="stable")
    found, starts = np.unique(circuit[order], return_index=True)
    yield from zip(found.tolist(), np.split(order, starts[1:]), strict=True)


__all__ = ["Circuit", "Rows", "by_circuit", "rows_of"]
