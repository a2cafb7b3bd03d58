"""A circuit with diodes, as data: windings, diodes and sine sources between named nodes.

Rectified solenoids, half-wave fed coils and conductors that carry two calls as opposite half-waves cannot be told in
phasors; ``halfwave`` finds their repeating waveforms. Nothing here needs more than the standard library.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Set
from dataclasses import dataclass

from subbase.circuit.netlist import Netlist, Node, Source, Tag
from subbase.circuit.solve import NO_TAGS, branch_impedances
from subbase.circuit.spice import FREQUENCY_HZ


@dataclass(frozen=True, slots=True)
class Winding:
    """Resistance and inductance in a row: a coil, a solenoid; a conductor or a resistor when ``l_h`` is 0."""

    tag: Tag
    tail: Node
    head: Node
    r_ohm: float
    l_h: float = 0.0

    @staticmethod
    def of(z_ohm: complex, *, hertz: float = FREQUENCY_HZ) -> tuple[float, float]:
        """Return (resistance [ohm], inductance [H]) that show ``z_ohm`` at a frequency.

        A coil's losses in iron are counted as resistance, so on direct current the real coil draws more than this.

        Raises
        ------
        ValueError
            When the impedance is capacitive or has no resistance.
        """
        resistance_ohm, reactance_ohm = complex(z_ohm).real, complex(z_ohm).imag
        if reactance_ohm < 0.0 or resistance_ohm <= 0.0:
            raise ValueError(
                f"{z_ohm} ohm is not a resistance and an inductance in a row; only those are modelled here."
            )
        return resistance_ohm, reactance_ohm / (2.0 * math.pi * hertz)


@dataclass(frozen=True, slots=True)
class Diode:
    """Conducts from ``tail`` (anode) to ``head`` (cathode).

    Below ``forward_v`` it is a resistance of ``off_ohm``; above it the current grows by 1/``on_ohm`` for each volt more,
    so current is one continuous function of voltage. The values to begin with are those of a common 1 A silicon
    rectifier, which drops some 0.77 V at 0.1 A and 0.93 V at 1 A (from memory; its data sheet overrides them).
    """

    tag: Tag
    tail: Node
    head: Node
    forward_v: float = 0.75
    on_ohm: float = 0.2
    off_ohm: float = 1e7


@dataclass(frozen=True, slots=True)
class Sine:
    """A transformer secondary: ``head`` is √2·|emf_v|·sin(ωt + arg emf_v) above ``tail`` on no load."""

    tag: Tag
    tail: Node
    head: Node
    emf_v: complex
    """Phasor [V rms], as in ``Source``."""
    r_ohm: float
    l_h: float = 0.0


DiodeBranch = Winding | Diode | Sine


@dataclass(frozen=True, slots=True)
class DiodeCircuit:
    """Windings, diodes and sources of one frequency; tags are unique and every part has some resistance.

    Raises
    ------
    ValueError
        On a repeated tag, a branch from a node to itself, a resistance that is not positive, a negative inductance or
        forward drop, or a diode that conducts no better than it blocks.
    """

    branches: tuple[DiodeBranch, ...]
    hertz: float = FREQUENCY_HZ

    def __post_init__(self) -> None:
        repeated = [tag for tag, count in Counter(b.tag for b in self.branches).items() if count > 1]
        if repeated:
            raise ValueError(f"Tags must be unique; repeated: {', '.join(sorted(repeated))}.")
        if not self.hertz > 0.0:
            raise ValueError(f"A frequency of {self.hertz} Hz has no period; give one above 0.")
        for branch in self.branches:
            if branch.tail == branch.head:
                raise ValueError(f"{branch.tag} joins node {branch.tail} to itself.")
            _require_sound(branch)

    def nodes(self) -> tuple[Node, ...]:
        """Return every node once, in order of first appearance."""
        return tuple(dict.fromkeys(node for branch in self.branches for node in (branch.tail, branch.head)))


def _require_sound(branch: DiodeBranch) -> None:
    if isinstance(branch, Diode):
        if not 0.0 < branch.on_ohm < branch.off_ohm:
            raise ValueError(f"{branch.tag} must have 0 < on_ohm < off_ohm.")
        if not branch.forward_v >= 0.0:
            raise ValueError(f"{branch.tag} has a forward drop of {branch.forward_v} V; it cannot be under 0.")
    elif not (branch.r_ohm > 0.0 and branch.l_h >= 0.0):
        raise ValueError(f"{branch.tag} must have a resistance above 0 and an inductance of 0 or more.")


def with_diodes(
    netlist: Netlist,
    diodes: Iterable[Diode],
    *,
    operated: Set[Tag] = NO_TAGS,
    coils_in: Set[Tag] = NO_TAGS,
    hertz: float = FREQUENCY_HZ,
) -> DiodeCircuit:
    """Return one switch state of a netlist with diodes added between its nodes.

    Coils keep the impedance of that state whatever the diodes do to their current; whether they stay in is for the
    caller to judge by mean or rms current.

    Raises
    ------
    ValueError
        When a branch is capacitive or purely inductive; it names the branch.
    """
    branches: list[DiodeBranch] = []
    for branch, z_ohm in branch_impedances(netlist, operated, coils_in):
        try:
            r_ohm, l_h = Winding.of(z_ohm, hertz=hertz)
        except ValueError as error:
            raise ValueError(f"{branch.tag}: {error}") from None
        if isinstance(branch, Source):
            branches.append(Sine(branch.tag, branch.tail, branch.head, branch.emf_v, r_ohm, l_h))
        else:
            branches.append(Winding(branch.tag, branch.tail, branch.head, r_ohm, l_h))
    return DiodeCircuit((*branches, *diodes), hertz)
