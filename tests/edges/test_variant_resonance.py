"""Parts that may change and that cancel while they do not: the variant without a change is refused as any other would be."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.circuit import Impedance, Netlist, Source
from subbase.circuit.changes import opened
from subbase.circuit.variants import compile_variants, settle_variants
from subbase.errors import NoSolution


def test_two_parts_that_may_fail_and_cancel_meanwhile_are_refused() -> None:
    """A choke and a capacitor without loss, each of which may open: with neither open nothing is divided by nought."""
    netlist = Netlist(
        (
            Impedance("choke", "mid", "R", 50j), Impedance("cap", "mid", "C", -50j),
            Source("supply", "C", "R", 24.0, 1.0), Impedance("load", "R", "C", 60.0),
        )
    )  # fmt: skip
    circuit, none = compile_variants(netlist, [opened("choke"), opened("cap")]), np.zeros(0, dtype=np.bool_)
    r, c = circuit.nodes.index("R"), circuit.nodes.index("C")
    for change in (0, 1):
        node_v = settle_variants(circuit, np.array([change]), operated=none).node_v[0]
        assert abs(node_v[r] - node_v[c]) == pytest.approx(24.0 * 60.0 / 61.0)
    with pytest.raises(NoSolution, match="in variant 0"):
        settle_variants(circuit, np.array([-1]), operated=none)
