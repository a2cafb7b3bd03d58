"""A circuit written for ngspice, so that anybody can check it with a program that was not made here.

The deck runs unchanged with ``ngspice -b``: it finds the phasors at 60 Hz and prints every node's voltage. Comments
name the nodes and branches as on the diagram. The reference of each island is joined to ground by a source of 0 V;
an island has one such joint only, so no current flows in it and no voltage within the island changes.
"""

from __future__ import annotations

import cmath
import json
import math
import re
from collections.abc import Iterator, Mapping, Set

from subbase.circuit.netlist import Netlist, Node, Source, Tag
from subbase.circuit.solve import NO_TAGS, branch_impedances, solve

FREQUENCY_HZ = 60.0
# The operating point that ngspice finds first fails where inductors close a loop; phasors need none.
ANALYSIS = (
    ".options noopac",
    f".ac lin 1 {FREQUENCY_HZ:g} {FREQUENCY_HZ:g}",
    ".control",
    "set numdgt=15",
    "run",
)
"""Lines of every deck between its parts and what it prints."""
ENDING = ("quit", ".endc", ".end")


def spice_deck(
    netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS, title: str = "Control circuit"
) -> str:
    """Return one switch state as a deck that ``ngspice -b`` runs.

    Parameters
    ----------
    operated
        Tags of switches that are not in their normal position.
    coils_in
        Tags of coils that are pulled in.
    title
        First line of the deck.
    """
    names = spice_node_names(netlist)
    conducting = {branch.tag: z_ohm for branch, z_ohm in branch_impedances(netlist, operated, coils_in)}
    references = dict.fromkeys(solve(netlist, operated=operated, coils_in=coils_in).island_of.values())
    lines = [
        " ".join(title.split()),
        *(f"* node {name} is {json.dumps(node)}" for node, name in names.items()),
        *_branch_lines(netlist, names, conducting),
        *(f"Vref{i} {names[reference]} 0 DC 0 AC 0" for i, reference in enumerate(references, start=1)),
        *ANALYSIS,
        *(f"print v({name})" for name in names.values()),
        *ENDING,
    ]
    return "\n".join(lines) + "\n"


def spice_node_names(netlist: Netlist) -> dict[Node, str]:
    """Return what each node is called in the deck: numbered in order of appearance, so no two are alike."""
    return {node: f"n{i}_{_plain(node)}" for i, node in enumerate(netlist.nodes(), start=1)}


def _branch_lines(netlist: Netlist, names: Mapping[Node, str], conducting: Mapping[Tag, complex]) -> Iterator[str]:
    for i, branch in enumerate(netlist.branches, start=1):
        label, tail, head = f"{i}_{_plain(branch.tag)}", names[branch.tail], names[branch.head]
        if branch.tag not in conducting:
            yield f"* {json.dumps(branch.tag)} is open between {tail} and {head}"
            continue
        yield f"* {json.dumps(branch.tag)}"
        if isinstance(branch, Source):
            yield f"V{label} e{label} {tail} DC 0 AC {_phasor(branch)}"
            tail = f"e{label}"
        yield from _impedance_lines(label, (tail, head), conducting[branch.tag])


def _impedance_lines(label: str, ends: tuple[str, str], z_ohm: complex) -> Iterator[str]:
    """Iterate over a resistor, an inductor, a capacitor, or a resistor in series with one of them."""
    tail, head = ends
    resistance_ohm, reactance_ohm = complex(z_ohm).real, complex(z_ohm).imag
    if resistance_ohm != 0.0:
        middle = f"m{label}" if reactance_ohm else head
        yield f"R{label} {tail} {middle} {resistance_ohm!r}"
        tail = middle
    angular_frequency = 2.0 * math.pi * FREQUENCY_HZ
    if reactance_ohm > 0.0:
        yield f"L{label} {tail} {head} {reactance_ohm / angular_frequency!r}"
    elif reactance_ohm < 0.0:
        yield f"C{label} {tail} {head} {-1.0 / (angular_frequency * reactance_ohm)!r}"


def _phasor(source: Source) -> str:
    """Return magnitude and phase [degree] as ngspice reads them."""
    magnitude_v, phase = cmath.polar(source.emf_v)
    return f"{magnitude_v!r} {math.degrees(phase)!r}"


def _plain(name: str) -> str:
    """Return a name with nothing but small letters, digits and underscores, since ngspice folds case."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")
