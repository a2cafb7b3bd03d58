"""The diode range of a meter against ngspice's operating point, and against what a bench meter is known to show."""

from __future__ import annotations

import math
import re
import shutil
import subprocess
from pathlib import Path
from random import Random

import pytest

from subbase.circuit.diode_range import MOST_V, TEST_OHM, TEST_V, diode_seen
from subbase.circuit.diodes import Diode, DiodeBranch, DiodeCircuit, Sine, Winding

NGSPICE = "ngspice 39, a circuit simulator grown from Berkeley SPICE 3: .op with each diode as the same straight line."
BRIDGE: tuple[DiodeBranch, ...] = (
    Sine("secondary", "a", "b", 24.0, 1.8),
    Diode("d1", "a", "+"),
    Diode("d2", "b", "+"),
    Diode("d3", "-", "a"),
    Diode("d4", "-", "b"),
    Winding("solenoid", "+", "-", 60.0, 0.35),
)


def volts_by_spice(folder: Path, circuit: DiodeCircuit, red: str, black: str) -> float:
    """Return ngspice's voltage between the leads, with each diode a current source of the same straight line."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail("ngspice is not installed, so nothing was checked against it: install the package 'ngspice'.")
    name = {node: "0" if node == black else f"n{i}" for i, node in enumerate(circuit.nodes(), start=1)}
    lines = ["* diode range", f"Vm m 0 {TEST_V}", f"Rm m {name[red]} {TEST_OHM}"]
    for i, branch in enumerate(circuit.branches):
        tail, head = name[branch.tail], name[branch.head]
        if isinstance(branch, Diode):
            v = f"(v({tail})-v({head}))"
            over = f"{branch.forward_v / branch.off_ohm!r}+({v}-{branch.forward_v})/{branch.on_ohm}"
            lines.append(f"B{i} {tail} {head} I = {v} > {branch.forward_v} ? {over} : {v}/{branch.off_ohm}")
        else:
            lines.append(f"R{i} {tail} {head} {branch.r_ohm}")
    lines += [".control", "set numdgt=12", "op", f"print v({name[red]})", "quit", ".endc", ".end"]
    path = folder / "deck.cir"
    path.write_text("\n".join(lines) + "\n")
    run = subprocess.run([program, "-b", str(path)], capture_output=True, text=True, check=False, timeout=60)
    found = re.search(r"^v\(\S+\) = (\S+)$", run.stdout, re.MULTILINE)
    if found is None:
        pytest.fail(f"ngspice printed no voltage; it said:\n{run.stdout}\n{run.stderr}")
    return float(found[1])


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize(("red", "black"), [("a", "+"), ("+", "a"), ("-", "b"), ("a", "b"), ("-", "+"), ("+", "-")])
def test_a_bridge_with_its_solenoid_reads_as_ngspice_says(red: str, black: str, tmp_path: Path) -> None:
    """Each pair of a bridge, both ways round, shows ngspice's voltage within a millivolt."""
    circuit = DiodeCircuit(BRIDGE)
    spice_v = volts_by_spice(tmp_path, circuit, red, black)
    seen_v = diode_seen(circuit, red, black).volts
    assert seen_v == pytest.approx(spice_v, abs=1e-3) if spice_v <= MOST_V else math.isinf(seen_v)


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_random_diodes_and_resistances_read_as_ngspice_says(tmp_path: Path) -> None:
    """Thirty random meshes of diodes and resistances show ngspice's voltage within a millivolt."""
    for seed in range(30):
        rng = Random(seed)
        nodes = [f"k{i}" for i in range(5)]
        parts: list[DiodeBranch] = [
            Winding(f"chain {i}", nodes[i], nodes[i + 1], rng.choice((30.0, 300.0, 5e3))) for i in range(4)
        ]
        for i in range(5):
            tail, head = rng.sample(nodes, 2)
            parts.append(Diode(f"diode {i}", tail, head))
        circuit = DiodeCircuit(tuple(parts))
        red, black = rng.sample(nodes, 2)
        spice_v = volts_by_spice(tmp_path, circuit, red, black)
        seen_v = diode_seen(circuit, red, black).volts
        assert seen_v == pytest.approx(spice_v, abs=1e-3) if spice_v <= MOST_V else math.isinf(seen_v), seed


@pytest.mark.outside(
    source="A bench meter's diode range shows a good silicon diode as about 0.5 to 0.8 V one way and OL the other.",
    how="common practice, no source",
)
def test_a_lone_silicon_diode_reads_one_way_only() -> None:
    """Red on the anode shows its forward drop; the leads exchanged show OL."""
    circuit = DiodeCircuit((Diode("diode", "anode", "cathode"),))
    assert 0.5 <= diode_seen(circuit, "anode", "cathode").volts <= 0.8
    assert diode_seen(circuit, "cathode", "anode").words == "OL"


def test_a_node_that_is_not_there_is_named() -> None:
    """A lead on an unknown node is refused by name."""
    with pytest.raises(ValueError, match="elsewhere"):
        diode_seen(DiodeCircuit(BRIDGE), "a", "elsewhere")
