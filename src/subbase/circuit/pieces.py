"""What a circuit with diodes does while no diode switches: a linear system with an exact solution.

With the diodes' states held, nodes are solved by nodal analysis for given winding currents, and the winding currents
obey y' = A·y + b0 + Re(b1·exp(jωt)). Currents of windings that meet at a node with nothing else are not independent, so
y are the independent ones: loop currents N with Nᵀ·L·N = 1, in which A is symmetric and negative definite. Hence every
voltage and current is a sum of a constant, a sinusoid and decaying exponentials:

    w0 + w1·exp(jωτ) + w2·exp(−jωτ) + Σ w(2+k)·exp(λk·τ),    τ = time since the piece began,

and ``terms`` arrays hold the weights w of many quantities, one row each. (Nodal analysis: Ho, Ruehli and Brennan, IEEE
Trans. CAS-22 (1975) 504-509; the rest is the theory of linear differential equations with constant coefficients.)
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from subbase.circuit.diodes import Diode, DiodeCircuit, Sine, Winding
from subbase.circuit.netlist import Node
from subbase.errors import NoSolution

Reals = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

LINE_SEARCHES = 60
ROUNDING_V = 1e-6
"""By so much a diode may contradict its state when arithmetic can tell no closer."""
HALVINGS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """The linear system of one combination of conducting diodes."""

    rates: Reals
    """(n_y,) λ [1/s], all negative."""
    modes: Reals
    """(n_y, n_y) orthogonal; columns belong to ``rates``."""
    steady: Reals
    """(n_y,) y that constant sources alone would leave."""
    swing: Complexes
    """(n_y,) y is Re(swing·exp(jωt)) by sinusoidal sources alone."""
    node_by_y: Reals
    """(n_node, n_y) node voltage within its island for each unit of y."""
    node_steady: Reals
    node_swing: Complexes
    """(n_node,) node voltage within its island by sources alone."""

    def propagator(self, seconds: float) -> Reals:
        """Return (n_y, n_y) how a small change of y has grown after a time."""
        return np.asarray((self.modes * np.exp(self.rates * seconds)) @ self.modes.T)


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """The matrices of a circuit that no diode changes, and its pieces as they are met."""

    circuit: DiodeCircuit
    nodes: dict[Node, int]
    whole: Ints
    """(n_node,) galvanic island of each node."""
    linear: Reals
    """(n_node, n_node) conductance of all but the diodes, one node of each resistive island grounded [S]."""
    injected: Complexes
    """(n_node,) current that resistive sources inject [A, peak phasor]."""
    diode_ends: Reals
    """(n_node, n_diode) +1 at the anode, −1 at the cathode."""
    forward_v: Reals
    on_ohm: Reals
    off_ohm: Reals
    winding_ends: Reals
    """(n_node, n_winding) of branches with inductance: +1 at the tail, −1 at the head."""
    winding_r: Reals
    winding_l: Reals
    winding_emf: Complexes
    """(n_winding,) [V, peak phasor]."""
    loops: Reals
    """(n_winding, n_y) winding currents for each unit of y."""
    lift: Reals
    """(n_node, n_winding) node voltage for each volt by which windings set resistive islands apart."""
    kept: dict[bytes, Piece] = field(default_factory=dict)
    """A memory of pieces already made; it changes no result."""

    @property
    def omega(self) -> float:
        """Angular frequency [rad/s]."""
        return 2.0 * math.pi * self.circuit.hertz

    def piece(self, on: Bools) -> Piece:
        """Return the linear system with the diodes of ``on`` conducting."""
        key = on.tobytes()
        if key not in self.kept:
            self.kept[key] = self._make_piece(on)
        return self.kept[key]

    def _make_piece(self, on: Bools) -> Piece:
        conductance = np.where(on, 1.0 / self.on_ohm, 1.0 / self.off_ohm)
        matrix = self.linear + (self.diode_ends * conductance) @ self.diode_ends.T
        # A conducting diode is a resistance and a constant current that joins its line to that of the blocking one.
        offset_a = np.where(on, self.forward_v * (1.0 / self.off_ohm - 1.0 / self.on_ohm), 0.0)
        by_y: Reals = np.asarray(np.linalg.solve(matrix, -self.winding_ends @ self.loops), np.float64)
        node_steady: Reals = np.asarray(np.linalg.solve(matrix, -self.diode_ends @ offset_a), np.float64)
        node_swing: Complexes = np.asarray(np.linalg.solve(matrix, self.injected), np.complex128)
        into = self.loops.T
        system = into @ (self.winding_ends.T @ by_y - self.winding_r[:, None] * self.loops)
        rates, modes = np.linalg.eigh((system + system.T) / 2.0)
        push = modes.T @ (into @ (self.winding_ends.T @ node_steady))
        swing = modes.T @ (into @ (self.winding_ends.T @ node_swing + self.winding_emf))
        return Piece(
            rates,
            modes,
            modes @ (-push / rates),
            modes @ (swing / (1j * self.omega - rates)),
            by_y,
            node_steady,
            node_swing,
        )

    def y_terms(self, piece: Piece, y: Reals, time_s: float) -> Complexes:
        """Return (n_y, n_term) weights of y from a moment at which it is known."""
        turned = piece.swing * np.exp(1j * self.omega * time_s)
        decaying = piece.modes * (piece.modes.T @ (y - piece.steady - turned.real))
        return _side_by_side(piece.steady, turned, decaying)

    def rates(self, piece: Piece) -> Complexes:
        """Return (n_term,) exponents s [1/s] that belong to the columns of ``terms``."""
        return np.concatenate(([0.0, 1j * self.omega, -1j * self.omega], piece.rates))

    def island_terms(self, piece: Piece, y_terms: Complexes, time_s: float) -> Complexes:
        """Return (n_node, n_term) weights of node voltages within their resistive islands."""
        turned = piece.node_swing * np.exp(1j * self.omega * time_s)
        alone = _side_by_side(piece.node_steady, turned, np.zeros((len(turned), len(piece.rates))))
        return np.asarray(piece.node_by_y @ y_terms + alone)

    def node_terms(self, piece: Piece, y_terms: Complexes, time_s: float) -> Complexes:
        """Return (n_node, n_term) weights of node voltages, windings between resistive islands counted in."""
        within = self.island_terms(piece, y_terms, time_s)
        x_terms = self.loops @ y_terms
        turned = self.winding_emf * np.exp(1j * self.omega * time_s)
        emf = _side_by_side(np.zeros(len(turned)), turned, np.zeros((len(turned), len(piece.rates))))
        across = self.winding_l[:, None] * x_terms * self.rates(piece) + self.winding_r[:, None] * x_terms - emf
        return np.asarray(within + self.lift @ (across - self.winding_ends.T @ within))

    def conducting(self, y: Reals, time_s: float, guess: Bools, slack_v: float) -> tuple[Bools, float]:
        """Return (which diodes conduct (n_diode,), by how many volts one may contradict it) for given winding currents.

        Diodes and resistances have currents that grow with voltage, so there is one answer. Newton's method with an
        exact search along each step finds it in finitely many steps.
        """
        lifted = np.exp(1j * self.omega * time_s)
        injected = (self.injected * lifted).real - self.winding_ends @ (self.loops @ y)

        def solved(on: Bools) -> Reals:
            piece = self.piece(on)
            return np.asarray(piece.node_by_y @ y + piece.node_steady + (piece.node_swing * lifted).real)

        def surplus_a(volts: Reals) -> Reals:
            over_v = self.diode_ends.T @ volts - self.forward_v
            through_a = self.forward_v / self.off_ohm + np.where(
                over_v > 0.0, over_v / self.on_ohm, over_v / self.off_ohm
            )
            return np.asarray(self.linear @ volts + self.diode_ends @ through_a - injected)

        volts, best, best_v = solved(guess), guess, math.inf
        for _ in range(LINE_SEARCHES):
            on = self.diode_ends.T @ volts > self.forward_v
            target = solved(on)
            beyond_v = float(self.overstep(on, self.diode_ends.T @ target).max(initial=-math.inf))
            if beyond_v < best_v:
                best, best_v = np.asarray(on), beyond_v
            if best_v <= slack_v:
                return best, slack_v
            step, low, high = target - volts, 0.0, 1.0
            if step @ surplus_a(target) > 0.0:
                for _ in range(HALVINGS):
                    middle = (low + high) / 2.0
                    low, high = (low, middle) if step @ surplus_a(volts + middle * step) > 0.0 else (middle, high)
            volts = volts + high * step
        if best_v > ROUNDING_V:
            raise NoSolution("The diodes' states were not found; bring the resistances of the circuit nearer together.")
        return best, 2.0 * best_v

    def overstep(self, on: Bools, across_v: Reals) -> Reals:
        """Return by how many volts each diode contradicts its state; negative where it agrees.

        ``across_v`` has diodes in its first axis.
        """
        over_v = across_v - self.forward_v.reshape(-1, *(1,) * (across_v.ndim - 1))
        return np.asarray(np.where(on.reshape(over_v.shape[:1] + (1,) * (over_v.ndim - 1)), -over_v, over_v))


def network_of(circuit: DiodeCircuit) -> Network:
    """Return the matrices of a circuit."""
    nodes = {node: i for i, node in enumerate(circuit.nodes())}
    windings = [b for b in circuit.branches if not isinstance(b, Diode) and b.l_h > 0.0]
    resistive = [b for b in circuit.branches if not isinstance(b, Diode) and b.l_h == 0.0]
    diodes = [b for b in circuit.branches if isinstance(b, Diode)]
    island = _islands(len(nodes), [(nodes[b.tail], nodes[b.head]) for b in (*resistive, *diodes)])
    whole = _islands(len(nodes), [(nodes[b.tail], nodes[b.head]) for b in circuit.branches])
    ends = _incidence(nodes, resistive)
    conductance = np.array([1.0 / b.r_ohm for b in resistive])
    linear = (ends * conductance) @ ends.T
    grounded = np.unique(island, return_index=True)[1]
    linear[grounded, grounded] += np.maximum(linear[grounded, grounded], 1.0)
    winding_ends = _incidence(nodes, windings)
    member = (island[:, None] == np.unique(island)).astype(np.float64)
    inductance = np.array([b.l_h for b in windings])
    joints = member.T @ winding_ends
    return Network(
        circuit,
        nodes,
        whole,
        linear,
        -ends @ (conductance * _emf(resistive)),
        _incidence(nodes, diodes),
        np.array([d.forward_v for d in diodes]),
        np.array([d.on_ohm for d in diodes]),
        np.array([d.off_ohm for d in diodes]),
        winding_ends,
        np.array([b.r_ohm for b in windings]),
        inductance,
        _emf(windings),
        _loops(joints, inductance),
        member @ np.linalg.pinv(joints.T) if windings else np.zeros((len(nodes), 0)),
    )


def _loops(joints: Reals, inductance: Reals) -> Reals:
    """Return a basis N of the winding currents that sum to nothing at every island, with Nᵀ·L·N = 1."""
    if not inductance.size:
        return np.zeros((0, 0))
    _, sizes, rows = np.linalg.svd(joints)
    basis = rows[int(np.sum(sizes > 1e-9)) :].T
    weight = basis.T @ (inductance[:, None] * basis)
    return np.asarray(np.linalg.solve(np.linalg.cholesky(weight), basis.T).T)


def _emf(branches: list[Winding | Sine]) -> Complexes:
    """Return peak phasors e with instantaneous volts Re(e·exp(jωt)); sines begin at 0, hence the quarter turn."""
    return np.array([-1j * math.sqrt(2.0) * (b.emf_v if isinstance(b, Sine) else 0.0) for b in branches], complex)


def _incidence(nodes: dict[Node, int], branches: list[Winding | Sine] | list[Diode]) -> Reals:
    ends = np.zeros((len(nodes), len(branches)))
    for column, branch in enumerate(branches):
        ends[nodes[branch.tail], column] = 1.0
        ends[nodes[branch.head], column] = -1.0
    return ends


def _islands(count: int, pairs: list[tuple[int, int]]) -> Ints:
    """Return a label for each node; nodes that branches join have the same one."""
    label = list(range(count))
    for tail, head in pairs:
        old, new = label[head], label[tail]
        label = [new if each == old else each for each in label]
    return np.array(label, dtype=np.int64)


def _side_by_side(steady: Reals, turned: Complexes, decaying: Reals) -> Complexes:
    """Return weights in the order of ``Network.rates``: constant, the two halves of a sinusoid, exponentials."""
    return np.hstack([steady[:, None], turned[:, None] / 2.0, np.conj(turned)[:, None] / 2.0, decaying])
