"""A netlist and a solution to look at: plain-text tables and a small drawing, for a notebook or a terminal.

The same input always gives the same text. The drawing is a graph, not a schematic: nodes stand in columns by their
distance from the sources' heads, and the sources' tails, commons, stand at the bottom.
"""

from __future__ import annotations

import cmath
import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree import ElementTree as ET

from subbase.circuit.netlist import Branch, Coil, Contact, Impedance, Netlist, Node, Source, Switch
from subbase.circuit.solve import Solution

COLUMN_PX, ROW_PX, MARGIN_PX = 150, 56, 50
TURN_PX = 26
"""How far apart branches between the same two nodes bow."""
COLOURS: dict[type[Branch], str] = {
    Source: "#b3261e",
    Impedance: "#44474f",
    Coil: "#1a5fb4",
    Contact: "#7a4f00",
    Switch: "#26734d",
}
DASHED = (Contact, Switch)


@dataclass(frozen=True, slots=True)
class View:
    """What a notebook shows of a netlist: end a cell with ``View(netlist)``; as text it is the table of branches."""

    netlist: Netlist

    def _repr_svg_(self) -> str:
        return netlist_svg(self.netlist)

    def __str__(self) -> str:
        return netlist_table(self.netlist)


def netlist_table(netlist: Netlist) -> str:
    """Return the branches as text: kind, tag, ends, what it is."""
    rows = [
        (type(branch).__name__.lower(), branch.tag, branch.tail, branch.head, _nature(branch))
        for branch in netlist.branches
    ]
    return _table(("kind", "tag", "tail", "head", "is"), rows)


def solution_table(solution: Solution) -> str:
    """Return the nodes as text: volts and angle [degree] against the reference of the node's island, named beside.

    Then the branches: volts across, amperes and VA. A floating node has no voltage that means anything, so it has none here.
    """
    floating, island_of = solution.floating, solution.island_of
    nodes = [
        (node, "floating", "", "") if node in floating else (node, *_phasor(v, "V"), island_of[node])
        for node, v in solution.node_v.items()
    ]
    branches = [
        (
            branch.tag,
            *_phasor(solution.across(branch.tag), "V"),
            *_phasor(solution.current_a(branch.tag), "A"),
            f"{solution.va(branch.tag):.2f} VA",
        )
        for branch in solution.netlist.branches
    ]
    return "\n".join(
        (
            _table(("node", "volts", "angle", "against"), nodes, right=(1, 2)),
            "",
            _table(("branch", "across", "angle", "current", "angle", "power"), branches, right=(1, 2, 3, 4, 5)),
        )
    )


def netlist_svg(netlist: Netlist) -> str:
    """Return a drawing of the netlist as an SVG document."""
    places = _places(netlist)
    width = max((x for x, _ in places.values()), default=0) + MARGIN_PX + COLUMN_PX // 2
    height = max((y for _, y in places.values()), default=0) + MARGIN_PX
    size = {"width": f"{width}", "height": f"{height}", "viewBox": f"0 0 {width} {height}"}
    svg = ET.Element(
        "svg", {"xmlns": "http://www.w3.org/2000/svg", "font-family": "sans-serif", "font-size": "11", **size}
    )
    ET.SubElement(svg, "title").text = f"Circuit of {len(places)} nodes and {len(netlist.branches)} branches"
    beside: Counter[frozenset[Node]] = Counter()
    for branch in netlist.branches:
        ends = frozenset((branch.tail, branch.head))
        _draw_branch(svg, branch, (places[branch.tail], places[branch.head]), beside[ends])
        beside[ends] += 1
    for node, (x, y) in places.items():
        ET.SubElement(svg, "circle", {"cx": f"{x}", "cy": f"{y}", "r": "4", "fill": "#1c1b1f"})
        _draw_text(svg, _clean(node), (x, y - 9), {"font-weight": "bold"})
    return ET.tostring(svg, encoding="unicode")


def _places(netlist: Netlist) -> dict[Node, tuple[int, int]]:
    """Return where each node stands [px]: column by distance, row by where its neighbours to the left stand."""
    nodes, sources = netlist.nodes(), list(netlist.of(Source))
    tails = list(dict.fromkeys(source.tail for source in sources))
    neighbours: dict[Node, list[Node]] = {node: [] for node in nodes}
    for branch in netlist.branches:
        neighbours[branch.tail].append(branch.head)
        neighbours[branch.head].append(branch.tail)
    column: dict[Node, int] = {}
    # Commons are neighbours of nearly everything, so distance is counted without them.
    for first in (*(source.head for source in sources), *nodes):
        _count_from(first, neighbours, set(tails), column)
    columns: dict[int, list[Node]] = {}
    for node in nodes:
        if node not in tails:
            columns.setdefault(column[node], []).append(node)
    row: dict[Node, int] = {}
    for number in sorted(columns):
        ordered = sorted(
            columns[number],
            key=lambda node: (min((row[n] for n in neighbours[node] if n in row), default=0), nodes.index(node)),
        )
        row.update({node: i for i, node in enumerate(ordered)})
    bottom = max(row.values(), default=-1) + 2
    places: dict[Node, tuple[int, int]] = {}
    for node in nodes:
        if node in tails:
            # Commons stand between columns, so that what goes up from them does not run through a column.
            place = tails.index(node) * 2 * COLUMN_PX, bottom * ROW_PX
        else:
            # Columns are staggered for the same reason.
            place = column[node] * COLUMN_PX + COLUMN_PX // 2, row[node] * ROW_PX + column[node] % 2 * ROW_PX // 3
        places[node] = MARGIN_PX + place[0], MARGIN_PX + place[1]
    return places


def _count_from(first: Node, neighbours: dict[Node, list[Node]], apart: set[Node], column: dict[Node, int]) -> None:
    if first in column or first in apart:
        return
    column[first], reached = 0, [first]
    for node in reached:
        for other in neighbours[node]:
            if other not in column and other not in apart:
                column[other] = column[node] + 1
                reached.append(other)


def _draw_branch(svg: ET.Element, branch: Branch, ends: tuple[tuple[int, int], tuple[int, int]], beside: int) -> None:
    """Draw one branch as a bow, straight when it is the first between its nodes, with its tag on it."""
    (x1, y1), (x2, y2) = ends if ends[0] <= ends[1] else ends[::-1]
    length = math.hypot(x2 - x1, y2 - y1) or 1.0
    turn = TURN_PX * ((beside + 1) // 2) * (-1) ** beside
    bow_x, bow_y = (x1 + x2) / 2 - turn * (y2 - y1) / length, (y1 + y2) / 2 + turn * (x2 - x1) / length
    colour = COLOURS[type(branch)]
    path = {
        "d": f"M{x1} {y1}Q{2 * bow_x - (x1 + x2) / 2:.1f} {2 * bow_y - (y1 + y2) / 2:.1f} {x2} {y2}",
        "fill": "none",
    }
    dashed = {"stroke-dasharray": "5 3"} if isinstance(branch, DASHED) else {}
    line = ET.SubElement(svg, "path", {**path, "stroke": colour, "stroke-width": "1.5", **dashed})
    ET.SubElement(line, "title").text = _clean(f"{branch.tag}: {type(branch).__name__.lower()}, {_nature(branch)}")
    _draw_text(svg, _clean(branch.tag), (round(bow_x), round(bow_y) + 4), {"fill": colour})


def _draw_text(svg: ET.Element, text: str, at: tuple[int, int], style: dict[str, str]) -> None:
    # The white edge keeps letters readable where a line runs under them.
    edge = {"stroke": "#ffffff", "stroke-width": "3", "paint-order": "stroke", "text-anchor": "middle"}
    ET.SubElement(svg, "text", {"x": f"{at[0]}", "y": f"{at[1]}", **edge, **style}).text = text


def _clean(text: str) -> str:
    """Return a text without the characters that XML cannot hold."""
    return "".join(c if c.isprintable() and not "\ud800" <= c <= "\udfff" else "?" for c in text)


def _nature(branch: Branch) -> str:
    match branch:
        case Source():
            return f"{_polar(branch.emf_v, 'V')} behind {_ohm(branch.z_ohm)}"
        case Impedance():
            return _ohm(branch.z_ohm) + (f", fuse {branch.fuse_a:g} A" if branch.fuse_a else "")
        case Coil():
            limits = f"in at {branch.pull_in_v:g} V, out below {branch.drop_out_v:g} V"
            delay = f", after {branch.delay_s:g} s" if branch.delay_s else ""
            return f"{_ohm(branch.z_out_ohm)} out, {_ohm(branch.z_in_ohm)} in; {limits}{delay}"
        case Contact() | Switch():
            rest = "closed" if branch.normally_closed else "open"
            leak = "" if branch.z_open_ohm is None else f", {_ohm(branch.z_open_ohm)} when open"
            worker = f", worked by {' or '.join(branch.coils)}" if isinstance(branch, Contact) else ""
            return f"at rest {rest}{worker}; {_ohm(branch.r_closed_ohm)} when closed{leak}"


def _ohm(z_ohm: complex) -> str:
    z_ohm = complex(z_ohm)
    if z_ohm.imag == 0.0:
        return f"{z_ohm.real:.6g} ohm"
    return f"{z_ohm.real:.6g} {'+' if z_ohm.imag > 0 else '−'} j{abs(z_ohm.imag):.6g} ohm"


def _polar(phasor: complex, unit: str) -> str:
    modulus, angle = _phasor(phasor, unit)
    return modulus if angle == "0.0°" else f"{modulus} at {angle}"


def _phasor(phasor: complex, unit: str) -> tuple[str, str]:
    """Return modulus and angle, the angle as 0 where the modulus is too small to have one."""
    modulus, angle = cmath.polar(complex(phasor))
    shown_degree = math.degrees(angle) if modulus >= 1e-9 else 0.0
    return f"{modulus:.3f} {unit}", f"{round(shown_degree, 1) + 0.0:.1f}°"


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], *, right: tuple[int, ...] = ()) -> str:
    """Return rows under their heads, columns as wide as they need; numbers flush right."""
    lines = [list(heads), *([_clean(cell) for cell in row] for row in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(heads))]
    lines.insert(1, ["-" * width for width in widths])
    padded = (
        [cell.rjust(widths[i]) if i in right else cell.ljust(widths[i]) for i, cell in enumerate(line)]
        for line in lines
    )
    return "\n".join("  ".join(line).rstrip() for line in padded)
