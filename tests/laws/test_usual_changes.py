"""What commonly goes wrong with a circuit, branch by branch: nothing left out, nothing twice."""

from __future__ import annotations

import math
from itertools import combinations

from hypothesis import given

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, solve
from subbase.circuit.changes import Change, changed, usual_changes
from tests.laws.circuits import LAWS, circuits


def of(found: list[Change], tag: str) -> list[Change]:
    """Return the changes of one branch."""
    return [change for change in found if change.tag == tag]


@LAWS
@given(circuits)
def test_each_branch_opens_and_goes_wrong_in_its_own_way(netlist: Netlist) -> None:
    """Each opens; impedances turn poor, coils and contacts turn into next to nothing, sources weak; each two nodes may touch."""
    nodes = netlist.nodes()[:4]
    found = list(usual_changes(netlist, touching=nodes, poor_ohm=75.0))
    assert len(found) == len(set(found)) == 2 * len(netlist.branches) + math.comb(len(nodes), 2)
    for branch in netlist.branches:
        opens, other = of(found, branch.tag)
        assert opens.becomes is None
        match branch, other.becomes:
            case Source(), Source() as weak:
                assert (abs(weak.emf_v), weak.z_ohm) == (0.8 * abs(branch.emf_v), 2.0 * branch.z_ohm)
            case Impedance(), Impedance() as poor:
                assert poor.z_ohm == branch.z_ohm + 75.0
            case ((Coil() | Contact() | Switch()), Impedance() as joined):
                assert 0.0 < abs(joined.z_ohm) < 0.2
            case _:
                raise AssertionError(f"{branch} became {other.becomes}")
    touching = {frozenset((c.becomes.tail, c.becomes.head)) for c in found if c.tag not in netlist.by_tag and c.becomes}
    assert touching == {frozenset(pair) for pair in combinations(nodes, 2)}


def test_a_welded_contact_feeds_its_load_without_a_call() -> None:
    """The change is what it says: with the relay out its load runs."""
    netlist = Netlist(
        (Source("T", "C", "R", 24.0, 1.0), Switch("call", "R", "Y"), Coil("K", "Y", "C", 90.0, 200.0, 18.0, 9.0),
         Contact("k", "R", "fan", ("K",)), Impedance("load", "fan", "C", 60.0))
    )  # fmt: skip
    welded = of(list(usual_changes(netlist)), "k")[1]
    assert abs(solve(netlist).across("load")) == 0.0
    assert abs(solve(changed(netlist, [welded])).across("load")) > 23.0
