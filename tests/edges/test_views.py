"""Tables and drawings of a circuit: complete, alike every time, and sound whatever the names."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

from hypothesis import given
from hypothesis import strategies as st

from subbase.circuit import Coil, Contact, Impedance, Netlist, Source, Switch, settle, solve
from subbase.circuit.views import View, netlist_svg, netlist_table, solution_table
from tests.laws.circuits import LAWS, circuits

SVG = "{http://www.w3.org/2000/svg}"


def circuit() -> Netlist:
    """Return a call, a relay and its load, and a wire that hangs on nothing."""
    return Netlist(
        (
            Source("transformer", "C", "R", 24.0, 1.5),
            Switch("call", "R", "W"),
            Coil("relay", "W", "C", 100 + 80j, 200 + 150j, 18.0, 9.0),
            Contact("contact", "R", "valve", ("relay",), z_open_ohm=1e6),
            Impedance("valve coil", "valve", "C", 60 + 40j),
            Impedance("fuse", "loose", "looser", 0.02, fuse_a=3.0),
        )
    )


def test_a_netlist_table_has_a_line_for_each_branch() -> None:
    """Kind, tag, ends and nature stand in one line each, under heads."""
    lines = netlist_table(circuit()).splitlines()
    assert [line.split()[0] for line in lines[2:]] == ["source", "switch", "coil", "contact", "impedance", "impedance"]
    assert lines[4].split("  ")[-1].strip() == "100 + j80 ohm out, 200 + j150 ohm in; in at 18 V, out below 9 V"
    assert "worked by relay" in lines[5]
    assert lines[7].endswith("0.02 ohm, fuse 3 A")


def test_a_solution_shows_volts_angles_and_what_floats() -> None:
    """The text of a solution has the solver's own numbers, and none for a floating node."""
    solution = settle(circuit(), operated={"call"}).solution
    text = solution_table(solution)
    assert re.search(rf"^W +{abs(solution.node_v['W']):.3f} V", text, re.MULTILINE)
    assert re.search(rf"^valve coil .* {abs(solution.current_a('valve coil')):.3f} A", text, re.MULTILINE)
    assert re.search(r"^loose +floating$", text, re.MULTILINE)


def test_a_drawing_has_every_node_and_branch_once() -> None:
    """A notebook shows each node as a dot, each branch as a line with its tag, inside the picture."""
    netlist = circuit()
    drawing = View(netlist)._repr_svg_()
    root = ET.fromstring(drawing)
    texts = [text.text for text in root.iter(f"{SVG}text")]
    assert len(list(root.iter(f"{SVG}circle"))) == len(netlist.nodes())
    assert len(list(root.iter(f"{SVG}path"))) == len(netlist.branches)
    assert sorted(texts, key=str) == sorted([*netlist.nodes(), *netlist.by_tag])
    width, height = float(root.attrib["width"]), float(root.attrib["height"])
    for dot in root.iter(f"{SVG}circle"):
        assert 0 < float(dot.attrib["cx"]) < width
        assert 0 < float(dot.attrib["cy"]) < height


def test_what_may_be_open_is_dashed_and_what_lies_beside_another_bows_away() -> None:
    """Contacts and switches are dashed, nothing else; two branches between the same nodes are two lines apart."""
    netlist = circuit().with_branches((Impedance("beside", "valve", "C", 9.0), Impedance("third", "valve", "C", 9.0)))
    paths = list(ET.fromstring(netlist_svg(netlist)).iter(f"{SVG}path"))
    dashed = {path.find(f"{SVG}title").text.partition(":")[0] for path in paths if "stroke-dasharray" in path.attrib}  # type: ignore[union-attr]
    assert dashed == {"call", "contact"}
    assert len({path.attrib["d"] for path in paths}) == len(netlist.branches)


def test_nothing_can_be_drawn_too() -> None:
    """An empty netlist has an empty drawing and a table of heads alone."""
    assert list(ET.fromstring(netlist_svg(Netlist(()))).iter(f"{SVG}circle")) == []
    assert len(netlist_table(Netlist(())).splitlines()) == 2
    assert "node" in solution_table(solve(Netlist(())))


@LAWS
@given(circuits)
def test_random_circuits_are_drawn_alike_with_no_two_nodes_in_one_place(netlist: Netlist) -> None:
    """The drawing depends on the netlist alone, and every node has a place of its own."""
    drawing = netlist_svg(netlist)
    assert drawing == netlist_svg(Netlist(netlist.branches))
    dots = [(dot.attrib["cx"], dot.attrib["cy"]) for dot in ET.fromstring(drawing).iter(f"{SVG}circle")]
    assert len(set(dots)) == len(netlist.nodes())


@LAWS
@given(st.lists(st.text(), min_size=2, max_size=2, unique=True), st.text())
def test_any_names_can_be_shown(nodes: list[str], tag: str) -> None:
    """Control characters, half a surrogate pair and markup in names break neither drawing nor table."""
    tail, head = nodes
    netlist = Netlist((Impedance(tag, tail, head, 3.0),))
    assert ET.fromstring(netlist_svg(netlist)) is not None
    assert len(netlist_table(netlist).splitlines()) == 3
