"""The repeating waveforms of a circuit with diodes: rectifiers, steering diodes, solenoids behind a bridge.

Between two switchings the circuit is linear and followed exactly (``pieces``); a switching is where a diode's voltage
first contradicts its state, found by bisection. One period maps the winding currents onto new ones; where they repeat
is found by Newton's method (shooting, as in Aprille and Trick, Proceedings of the IEEE 60 (1972) 108-114; from memory).
A diode's current is continuous in its voltage, so the map's derivative is the product of the pieces' own. Means, rms
values and powers are integrals of exponentials, so nothing is sampled except the highest and lowest values.

An excursion shorter than 1/256 of a period may be missed, which leaves an error of its own small size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from subbase.circuit.diodes import Diode, DiodeBranch, DiodeCircuit, Sine
from subbase.circuit.netlist import Node, Tag
from subbase.circuit.pieces import Bools, Complexes, Network, Piece, Reals, network_of
from subbase.errors import NoSolution

LOOKS_PER_PERIOD = 256
SHORTEST_LOOK = 2.0**-40
"""Of a look; bisection also ends here, so a switching is placed to about 1e-14 of a period."""
MOST_SWITCHINGS = 5_000
MOST_PERIODS = 500
REPEATS_WITHIN = 1e-10
SAMPLES = 64
"""Looks at a span for its highest and lowest value."""


@dataclass(frozen=True, slots=True)
class Waveform:
    """What repeats each period of one voltage or current [V or A].

    A meter on direct volts reads ``mean``; a true-rms meter on alternating volts reads ``ripple_rms`` when it blocks
    direct voltage, as most do, and ``rms`` when it does not.
    """

    mean: float
    rms: float
    highest: float
    lowest: float

    @property
    def ripple_rms(self) -> float:
        """The rms value of what is left without the mean."""
        return math.sqrt(max(0.0, self.rms**2 - self.mean**2))


@dataclass(frozen=True, slots=True, eq=False)
class Span:
    """A part of the period in which no diode switches."""

    start_s: float
    seconds: float
    on: Bools
    """(n_diode,) which diodes conduct."""
    rates: Complexes
    node_terms: Complexes
    """(n_node, n_term) weights as in ``pieces``."""
    winding_terms: Complexes
    """(n_winding, n_term) weights of the currents in branches with inductance."""


@dataclass(frozen=True, slots=True, eq=False)
class Periodic:
    """A circuit with diodes once every period is like the one before."""

    network: Network
    spans: tuple[Span, ...]

    def between(self, a: Node, b: Node) -> Waveform | None:
        """Return the voltage of ``a`` above ``b`` [V], or None when no path joins them."""
        i, j = self.network.nodes.get(a, -1), self.network.nodes.get(b, -1)
        if i < 0 or j < 0 or self.network.whole[i] != self.network.whole[j]:
            return None
        return self._waveform([span.node_terms[i] - span.node_terms[j] for span in self.spans])

    def across(self, tag: Tag) -> Waveform:
        """Return the voltage from tail to head of a branch [V]."""
        return self._waveform([self._across_terms(span, self._branch(tag)) for span in self.spans])

    def current_a(self, tag: Tag) -> Waveform:
        """Return the current from tail to head of a branch [A]; for a source, out of its head."""
        return self._waveform([self._current_terms(span, self._branch(tag)) for span in self.spans])

    def power_w(self, tag: Tag) -> float:
        """Return the mean power that a branch takes up [W]; what a source gives is negative."""
        branch = self._branch(tag)
        total = 0.0
        for span in self.spans:
            volts, amperes = self._across_terms(span, branch), self._current_terms(span, branch)
            total += float((volts @ _integrals(span) @ amperes).real)
        return total * self.network.circuit.hertz

    def _branch(self, tag: Tag) -> DiodeBranch:
        for branch in self.network.circuit.branches:
            if branch.tag == tag:
                return branch
        raise KeyError(f"No branch is called {tag!r} in this circuit.")

    def _across_terms(self, span: Span, branch: DiodeBranch) -> Complexes:
        nodes = self.network.nodes
        return np.asarray(span.node_terms[nodes[branch.tail]] - span.node_terms[nodes[branch.head]])

    def _current_terms(self, span: Span, branch: DiodeBranch) -> Complexes:
        circuit = self.network.circuit
        if not isinstance(branch, Diode) and branch.l_h > 0.0:
            windings = [b.tag for b in circuit.branches if not isinstance(b, Diode) and b.l_h > 0.0]
            return np.asarray(span.winding_terms[windings.index(branch.tag)])
        volts = self._across_terms(span, branch)
        if isinstance(branch, Diode):
            diodes = [b.tag for b in circuit.branches if isinstance(b, Diode)]
            if not span.on[diodes.index(branch.tag)]:
                return volts / branch.off_ohm
            constant = np.zeros_like(volts)
            constant[0] = branch.forward_v
            return np.asarray((volts - constant) / branch.on_ohm + constant / branch.off_ohm)
        if isinstance(branch, Sine):
            turned = -1j * math.sqrt(2.0) * branch.emf_v * np.exp(1j * self.network.omega * span.start_s)
            volts = volts.copy()
            volts[1] += turned / 2.0
            volts[2] += np.conj(turned) / 2.0
        return np.asarray(volts / branch.r_ohm)

    def _waveform(self, terms: list[Complexes]) -> Waveform:
        mean = square = 0.0
        highest, lowest = -math.inf, math.inf
        for span, weights in zip(self.spans, terms, strict=True):
            mean += float((weights @ _integral(span.rates, span.seconds)).real)
            square += float((weights @ _integrals(span) @ weights).real)
            highest = max(highest, _highest(weights, span))
            lowest = min(lowest, -_highest(-weights, span))
        hertz = self.network.circuit.hertz
        return Waveform(mean * hertz, math.sqrt(max(0.0, square * hertz)), highest, lowest)


def steady_state(circuit: DiodeCircuit) -> Periodic:
    """Return the waveforms that a circuit with diodes settles to.

    Raises
    ------
    NoSolution
        When the waveforms don't come to repeat, a diode switches without end, or resistances lie so far apart that
        arithmetic cannot tell which diodes conduct.
    """
    network = network_of(circuit)
    y = np.zeros(network.loops.shape[1])
    worst_before = math.inf
    for _ in range(MOST_PERIODS):
        spans, after, slope = _one_period(network, y)
        change = after - y
        worst = float(np.abs(change).max(initial=0.0))
        if worst <= REPEATS_WITHIN * max(1.0, float(np.abs(after).max(initial=0.0))):
            return Periodic(network, spans)
        # A period never drives two states apart, so plain repetition is safe wherever Newton's step did not help.
        y = y + np.linalg.solve(np.eye(len(y)) - slope, change) if worst < worst_before else after
        worst_before = worst
    raise NoSolution(
        f"The waveforms did not come to repeat within {MOST_PERIODS} periods; "
        "give the windings the resistance that they really have."
    )


def _one_period(network: Network, y: Reals) -> tuple[tuple[Span, ...], Reals, Reals]:
    """Return (spans, y at the end, its derivative by y at the beginning) of one period from y."""
    period_s = 1.0 / network.circuit.hertz
    # Little more than rounding: what a conducting diode oversteps is multiplied by off_ohm/on_ohm once it blocks.
    slack_v = 3e-14 * (1.0 + float(np.abs(network.winding_emf).sum()) + _resistive_emf_v(network))
    on = np.zeros(len(network.forward_v), dtype=np.bool_)
    slope = np.eye(len(y))
    spans: list[Span] = []
    time_s = 0.0
    for _ in range(MOST_SWITCHINGS):
        on, beyond_v = network.conducting(y, time_s, on, slack_v)
        piece = network.piece(on)
        y_terms = network.y_terms(piece, y, time_s)
        rates = network.rates(piece)
        seconds = _until_switching(network, piece, on, y_terms, (time_s, period_s - time_s, beyond_v))
        nodes = network.node_terms(piece, y_terms, time_s)
        spans.append(Span(time_s, seconds, on, rates, nodes, network.loops @ y_terms))
        y = (y_terms @ np.exp(rates * seconds)).real
        slope = piece.propagator(seconds) @ slope
        time_s += seconds
        if time_s >= period_s * (1.0 - 1e-14):
            return tuple(spans), y, slope
    raise NoSolution(f"Diodes switched more than {MOST_SWITCHINGS} times in one period; check the diodes' resistances.")


def _until_switching(
    network: Network, piece: Piece, on: Bools, y_terms: Complexes, when: tuple[float, float, float]
) -> float:
    """Return how long the diodes stay as they are [s]; ``when`` is (now, time left, slack [V])."""
    time_s, left_s, slack_v = when
    across = network.diode_ends.T @ network.island_terms(piece, y_terms, time_s)
    rates = network.rates(piece)

    def contradicted(seconds: Reals) -> Bools:
        volts = (across @ np.exp(np.outer(rates, seconds))).real
        return np.asarray(network.overstep(on, volts).max(axis=0, initial=-math.inf) > slack_v)

    look_s = 1.0 / (network.circuit.hertz * LOOKS_PER_PERIOD)
    # Close looks at first, since the currents of blocked windings die within a fraction of a microsecond.
    close = look_s * SHORTEST_LOOK ** np.linspace(1.0, 0.0, 81)
    looks = np.concatenate((close, np.arange(2.0, left_s / look_s + 1.0) * look_s))
    looks = np.append(looks[looks < left_s], left_s)
    found = np.flatnonzero(contradicted(looks))
    if not found.size:
        return left_s
    low = float(looks[found[0] - 1]) if found[0] else 0.0
    high = float(looks[found[0]])
    while high - low > look_s * SHORTEST_LOOK:
        # Eight places at once cost hardly more than one.
        places = np.linspace(low, high, 10)[1:]
        first = int(np.argmax(contradicted(places)))
        low, high = (float(places[first - 1]) if first else low), float(places[first])
    return high


def _resistive_emf_v(network: Network) -> float:
    return sum(math.sqrt(2.0) * abs(b.emf_v) for b in network.circuit.branches if isinstance(b, Sine))


def _integral(exponent: Complexes, seconds: float) -> Complexes:
    """Return ∫ exp(s·τ) dτ over a span for each exponent s [1/s]."""
    turn = exponent * seconds
    small = np.abs(turn) < 1e-12
    safe = np.where(small, 1.0, turn)
    return np.asarray(seconds * np.where(small, 1.0, np.expm1(safe) / safe))


def _highest(weights: Complexes, span: Span) -> float:
    """Return the highest value in a span: looked for all along it, then closely about the best look."""
    low, high = 0.0, span.seconds
    best = -math.inf
    for _ in range(3):
        places = np.linspace(low, high, SAMPLES)
        seen = (weights @ np.exp(np.outer(span.rates, places))).real
        top = int(seen.argmax())
        best = max(best, float(seen[top]))
        low, high = float(places[max(top - 1, 0)]), float(places[min(top + 1, SAMPLES - 1)])
    return best


def _integrals(span: Span) -> Complexes:
    """Return ∫ exp((s + s')·τ) dτ for each pair of exponents, from which products of two quantities are summed."""
    return _integral(span.rates[:, None] + span.rates[None, :], span.seconds)
