"""The usual way to solve many small networks at once: assemble dense matrices, then ``numpy.linalg.solve``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from subbase.circuit import Coil, Contact, Netlist, Source, Switch
from subbase.circuit.batch import Bools
from subbase.circuit.netlist import Branch

FLOATING_S = 1e-12
"""From every node to the reference, since a dense solver cannot have floating nodes."""
CHUNK = 1_000


class DenseCircuit:
    """A netlist whose one source's tail is the reference."""

    def __init__(self, netlist: Netlist) -> None:
        nodes = netlist.nodes()
        supplies = list(netlist.of(Source))
        index = {node: i for i, node in enumerate(nodes)}
        incidence = np.zeros((len(netlist.branches), len(nodes)))
        for row, branch in enumerate(netlist.branches):
            incidence[row, index[branch.tail]], incidence[row, index[branch.head]] = 1.0, -1.0
        self.kept = [i for i in range(len(nodes)) if i != index[supplies[0].tail]]
        self.n_node = len(nodes)
        incidence = incidence[:, self.kept]
        self.stamps = np.einsum("bi,bj->bij", incidence, incidence).reshape(len(netlist.branches), -1)
        self.y_rest, self.y_acted = (
            np.array([_admittance(branch, acted) for branch in netlist.branches]) for acted in (False, True)
        )
        flags = [*(switch.tag for switch in netlist.of(Switch)), *(coil.tag for coil in netlist.of(Coil))]
        self.acts = np.array([[tag in _workers(branch) for branch in netlist.branches] for tag in flags], dtype=float)
        injected = [-incidence[k] * b.emf_v / b.z_ohm for k, b in enumerate(netlist.branches) if isinstance(b, Source)]
        self.injected = np.sum(injected, axis=0)

    def solve(self, operated: Bools, coils_in: Bools) -> NDArray[np.complex128]:
        """Return (n_state, n_node) voltages."""
        node_v = np.zeros((len(operated), self.n_node), dtype=np.complex128)
        size = len(self.kept)
        for first in range(0, len(operated), CHUNK):
            part = slice(first, first + CHUNK)
            acted = np.hstack((operated[part], coils_in[part])) @ self.acts > 0
            y = np.where(acted, self.y_acted, self.y_rest)
            matrices = (y @ self.stamps).reshape(-1, size, size) + FLOATING_S * np.eye(size)
            node_v[part, self.kept] = np.linalg.solve(matrices, self.injected[:, None])[..., 0]
        return node_v


def _workers(branch: Branch) -> tuple[str, ...]:
    match branch:
        case Switch() | Coil():
            return (branch.tag,)
        case Contact():
            return branch.coils
    return ()


def _admittance(branch: Branch, acted: bool) -> complex:
    match branch:
        case Coil():
            return 1.0 / (branch.z_in_ohm if acted else branch.z_out_ohm)
        case Switch() | Contact():
            if acted != branch.normally_closed:
                return 1.0 / branch.r_closed_ohm
            return 0.0 if branch.z_open_ohm is None else 1.0 / branch.z_open_ohm
    return 1.0 / branch.z_ohm
