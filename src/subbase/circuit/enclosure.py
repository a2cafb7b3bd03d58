"""Discs that hold every current and voltage of a network while its impedances and emfs move within a box.

Let each driven branch e have z_e = z̄_e + δ_e and its emf in series. By the compensation theorem a change of impedance is
an emf −δ·i in series, so with the influences Y (amperes in e per volt in f) and t (reading per volt in f) at the middle
of the box,

    i = Y(u − δ·i),    reading = t(u − δ·i).

With |δ_e| ≤ d_e and M = |Y|·diag(d), Y at any point of the box is within M(I − M)⁻¹|Y| of the middle one, entry by
entry, whenever I − M is an M-matrix; that is certain when some x > 0 has (I − M)x > 0. It is an interval linear system
preconditioned by the inverse of its middle, in the branches that vary rather than in the nodes (Neumaier, Interval
Methods for Systems of Equations, 1990, chapter 4; Rump, Acta Numerica 19 (2010) 287-449; both from memory). Branches
suit better than nodes: a contact that varies tenfold hardly moves the current of the load behind it, while it would move
the conductance of its node tenfold.

The same gives slopes. A factor s on z_e changes the reading V by dV/ds = −z_e·t_e·i_e, all three at the point itself, so
the slope of |V|² is enclosed too, and where its sign is sure the extreme stands on that face of the box.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from subbase.circuit.influence import Complexes, Shape, influence

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

DIRECTIONS = 25
"""Along which a reading's modulus is seen; any number from 4 is safe, more see closer."""


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """A network whose driven branches may vary: by factors on the impedance, and on the emf of sources.

    There are 2·n_driven factors, those on impedances first. Each goes from its low to its high as the parameter that it
    follows goes from 0 to 1; several may follow one.
    """

    shape: Shape
    z_ohm: Complexes
    """(n_branch,) as given, of every branch that conducts."""
    emf_v: Complexes
    """(n_driven,) as given; 0 where the branch is no source."""
    factor_low: Floats
    factor_high: Floats
    """(2·n_driven,) all above 0."""
    follows: Ints
    """(2·n_driven,) parameter of each factor, counted from 0 without a gap."""

    @property
    def parameter_count(self) -> int:
        """How many parameters there are; at least one where anything is driven."""
        return int(self.follows.max(initial=0)) + 1

    @property
    def factor_per_parameter(self) -> Floats:
        """(n_parameter, 2·n_driven) what each parameter adds to each factor on its way from 0 to 1."""
        per_parameter = np.zeros((self.parameter_count, len(self.follows)))
        per_parameter[self.follows, np.arange(len(self.follows))] = self.factor_high - self.factor_low
        return per_parameter

    @property
    def driven_z_ohm(self) -> Complexes:
        """Impedance as given of the driven branches."""
        driven: Complexes = self.z_ohm[list(self.shape.driven)]
        return driven


@dataclass(frozen=True, slots=True, eq=False)
class Enclosure:
    """What is known of one reading V in each box."""

    middle2: Floats
    """(n_box,) |V|² in the middle of the box."""
    low2: Floats
    """(n_box,) at most the least |V|²; not a number where nothing is proven."""
    high2: Floats
    """(n_box,) at least the largest |V|²; not a number where nothing is proven."""
    slope: Floats
    """(n_box, n_parameter) slope of |V|² along each parameter in the middle."""
    slope_radius: Floats
    """(n_box, n_parameter) how far the slope may be from that anywhere in the box."""
    proven: Bools
    """(n_box,) whether the discs hold."""
    unruly: Ints
    """(n_box,) the parameter that spoils the proof most."""


def enclose(network: Network, low: Floats, high: Floats, port: Ints) -> Enclosure:
    """Return bounds of one reading for each box.

    Parameters
    ----------
    low, high : (n_box, n_parameter)
        Ends of each parameter, within 0 to 1.
    port : (n_box,)
        Which reading: ports first, then currents of the driven branches.

    Raises
    ------
    NoSolution
        When inductance and capacitance cancel exactly at a node in the middle of some box.
    """
    n_box, n_driven = len(low), len(network.shape.driven)
    per_parameter = network.factor_per_parameter
    half_parameter = (high - low) / 2.0
    middle, half = network.factor_low + (low + high) / 2.0 @ per_parameter, half_parameter @ per_parameter
    z_ohm = np.repeat(network.z_ohm[None, :], n_box, axis=0)
    z_ohm[:, list(network.shape.driven)] *= middle[:, :n_driven]
    current_s, port_share = influence(network.shape, z_ohm)
    row = np.concatenate((port_share, current_s), axis=1)[np.arange(n_box), port]

    z0_ohm = np.abs(network.driven_z_ohm)
    moved_ohm = z0_ohm * half[:, :n_driven]
    reach, proven, unruly = _reach(current_s, moved_ohm)

    emf_v, emf_half_v = network.emf_v * middle[:, n_driven:], np.abs(network.emf_v) * half[:, n_driven:]
    largest_v = np.abs(emf_v) + emf_half_v
    row_radius = _bound_through(np.swapaxes(reach, 1, 2), np.abs(row) * moved_ohm)
    amperes = _through(current_s, emf_v)
    pushed_v = emf_half_v + moved_ohm * _bound_through(reach, largest_v)
    amperes_radius = _bound_through(np.abs(current_s), pushed_v)
    reading = np.sum(row * emf_v, axis=1)
    reading_radius = np.sum(np.abs(row) * emf_half_v + row_radius * largest_v, axis=1)

    # How the reading moves with each parameter, as discs; then how its square does.
    moves = np.concatenate((-network.driven_z_ohm * row * amperes, network.emf_v * row), axis=1) @ per_parameter.T
    factor_radius = (
        z0_ohm * _product_radius((np.abs(row), row_radius), (np.abs(amperes), amperes_radius)),
        np.abs(network.emf_v) * row_radius,
    )
    moves_radius = np.concatenate(factor_radius, axis=1) @ per_parameter.T
    size = np.abs(reading)
    reading_disc = size[:, None], reading_radius[:, None]
    slope = 2.0 * np.real(moves * np.conj(reading)[:, None])
    slope_radius = 2.0 * _product_radius((np.abs(moves), moves_radius), reading_disc)

    middle2 = size**2
    spread2 = np.sum((np.abs(slope) + slope_radius) * half_parameter, axis=1)
    # A disc that holds 0 may have V at any angle.
    within = np.full_like(size, np.pi)
    clear = reading_radius < size
    within[clear] = np.arcsin(reading_radius[clear] / size[clear])
    least, largest = _along(reading, moves * half_parameter, moves_radius * half_parameter, within)
    low2 = np.maximum(np.maximum(np.maximum(size - reading_radius, least), 0.0) ** 2, middle2 - spread2)
    high2 = np.minimum(np.minimum(size + reading_radius, largest) ** 2, middle2 + spread2)
    return Enclosure(
        middle2,
        np.where(proven, low2, np.nan),
        np.where(proven, high2, np.nan),
        slope,
        slope_radius,
        proven,
        network.follows[unruly],
    )


def _reach(current_s: Complexes, moved_ohm: Floats) -> tuple[Floats, Bools, Ints]:
    """Return ((I − M)⁻¹|Y|, 0 where not proven, which bounds |Y| in the whole box; whether that is proven; the branch that spoils it most)."""
    size = np.abs(current_s)
    spoilt = size * moved_ohm[:, None, :]
    unit = np.eye(size.shape[1])
    proven = np.zeros(len(size), dtype=np.bool_)
    reach = np.zeros_like(size)
    for box, matrix in enumerate(unit - spoilt):
        try:
            found = np.linalg.solve(matrix, np.concatenate((size[box], np.ones((len(unit), 1))), axis=1))
        except np.linalg.LinAlgError:
            continue
        positive = found[:, -1]
        proven[box] = bool((positive > 0.0).all() and (matrix @ positive > 0.5).all())
        if proven[box]:
            reach[box] = np.maximum(found[:, :-1], 0.0)
    # Diagonal entries say how much a branch's own change is felt in its own current, whatever the units.
    weight = np.einsum("bee->be", spoilt)
    return reach, proven, np.argmax(weight, axis=1)


def _along(reading: Complexes, moves: Complexes, radius: Floats, within: Floats) -> tuple[Floats, Floats]:
    """Return (least, largest) modulus as seen along a few directions about the middle's own.

    The part of V along any direction is at most |V|; and where V is within an angle of the middle, some direction is
    within half a step of V, which sees at least cos(step/2) of it.

    Parameters
    ----------
    moves, radius : (n_box, n_parameter)
        Discs of how far each parameter moves the reading to either side.
    within : (n_box,)
        Angle that V stays within [rad].
    """
    turned = within[:, None] * np.linspace(-1.0, 1.0, DIRECTIONS)
    toward = np.exp(1j * (np.angle(reading)[:, None] + turned))
    along = np.real(reading[:, None] * np.conj(toward))
    moved = np.sum(np.abs(np.real(moves[:, None, :] * np.conj(toward)[:, :, None])), axis=2)
    moved += radius.sum(axis=1)[:, None]
    step = 2.0 * within / (DIRECTIONS - 1)
    least: Floats = (along - moved).max(axis=1)
    largest: Floats = (along + moved).max(axis=1) / np.cos(step / 2.0)
    return least, largest


def _through(matrices: Complexes, vectors: Complexes) -> Complexes:
    """Return each box's matrix times its vector."""
    product: Complexes = (matrices @ vectors[..., None])[..., 0]
    return product


def _bound_through(matrices: Floats, vectors: Floats) -> Floats:
    """Return the same for sizes."""
    product: Floats = (matrices @ vectors[..., None])[..., 0]
    return product


def _product_radius(*discs: tuple[Floats, Floats]) -> Floats:
    """Return the radius of a product of discs, each given as (size of its centre, radius)."""
    size, radius = discs[0]
    for other, other_radius in discs[1:]:
        size, radius = size * other, radius * (other + other_radius) + size * other_radius
    return radius
