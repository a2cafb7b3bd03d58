"""Rectified and half-wave circuits against time-stepping in ngspice, and against textbook figures."""

from __future__ import annotations

import cmath
import math
import re
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from subbase.circuit.conductor import conductor_ohm
from subbase.circuit.diodes import Diode, DiodeBranch, DiodeCircuit, Sine, Winding
from subbase.circuit.halfwave import Waveform, steady_state

NGSPICE = "ngspice 39, a circuit simulator grown from Berkeley SPICE 3, `.tran` with steps of at most 5 µs"
RELATIVE = 0.01
SETTLED_S, PERIODS = 0.5, 3
TERMS = re.compile(r"^(mean|rms)(\d+)\s*=\s*(\S+)", re.MULTILINE)
SHARP, SHARP_V = ".model sharp D(IS=1e-14 N=0.05)", 0.039
"""Drops 39 mV at 0.1 A and 42 mV at 1 A; the rest of our drop, and our resistance, stand in series with it."""
SILICON = ".model silicon D(IS=7e-9 N=1.8 RS=0.034 CJO=25p)"
"""A common 1 A rectifier (parameters from memory)."""
OHM_PER_M = conductor_ohm(gauge_awg=18, length_m=1.0)

SUPPLY = Sine("supply", "C", "R", 27.0, 1.8)
LEAKY_SUPPLY = Sine("supply", "C", "R", 27.0, 1.8, 1.5e-3)
"""With leakage inductance, so that current passes from one diode to the next over some time."""
SOLENOID = Winding("solenoid", "+", "-", 60.0, 0.35)


def bridge(a: str, b: str) -> tuple[DiodeBranch, ...]:
    """Return four diodes that feed ``+`` and ``-`` from two nodes."""
    return Diode("d1", a, "+"), Diode("d2", b, "+"), Diode("d3", "-", a), Diode("d4", "-", b)


CIRCUITS: dict[str, tuple[DiodeBranch, ...]] = {
    "half-wave resistor": (SUPPLY, Diode("d", "R", "k"), Winding("load", "k", "C", 100.0)),
    "half-wave coil": (SUPPLY, Diode("d", "R", "k"), Winding("coil", "k", "C", 60.0, 0.35)),
    "half-wave coil with a diode across it": (
        LEAKY_SUPPLY,
        Diode("d", "R", "k"),
        Diode("freewheel", "C", "k"),
        Winding("coil", "k", "C", 60.0, 0.35),
    ),
    "solenoid behind a bridge": (LEAKY_SUPPLY, *bridge("R", "C"), SOLENOID),
    "solenoid behind a bridge at the end of 18 AWG conductors": (
        LEAKY_SUPPLY,
        Winding("out", "R", "far R", 30.0 * OHM_PER_M),
        Winding("back", "far C", "C", 30.0 * OHM_PER_M),
        *bridge("far R", "far C"),
        SOLENOID,
    ),
    "two calls on one conductor as opposite half-waves": (
        SUPPLY,
        Diode("wall +", "R", "at wall"),
        Diode("wall -", "at wall", "R"),
        Winding("shared", "at wall", "far", 30.0 * OHM_PER_M),
        Diode("far +", "far", "Y"),
        Diode("far -", "G", "far"),
        Winding("cool", "Y", "C", 300.0),
        Winding("fan", "G", "C", 120.0),
    ),
    "one call on a shared conductor, into two coils": (
        LEAKY_SUPPLY,
        Diode("wall +", "R", "at wall"),
        Winding("shared", "at wall", "far", 30.0 * OHM_PER_M),
        Diode("far +", "far", "Y"),
        Diode("far -", "G", "far"),
        Winding("cool", "Y", "C", 120.0, 0.6),
        Winding("fan", "G", "C", 120.0, 0.6),
        Winding("bleed", "far", "C", 2000.0),
    ),
}


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize("name", CIRCUITS)
def test_means_and_rms_are_those_of_ngspice(name: str) -> None:
    """Every branch's voltage and current has the mean and rms that time-stepping finds, with the same diode line."""
    against_ngspice(DiodeCircuit(CIRCUITS[name]), silicon=False)


@pytest.mark.outside(source=NGSPICE + ", with diodes of exponential current", how="ran ngspice")
@pytest.mark.parametrize(
    "branches",
    [
        (SUPPLY, Diode("d", "R", "k"), Winding("coil", "k", "C", 60.0, 0.35), Winding("iron", "k", "C", 5e3)),
        (SUPPLY, *bridge("R", "C"), SOLENOID),
    ],
    ids=["half-wave coil with iron losses", "solenoid behind a bridge"],
)
def test_a_straight_diode_line_stands_for_a_real_rectifier(branches: tuple[DiodeBranch, ...]) -> None:
    """Loads behind real rectifiers get the mean and rms that our diodes of their usual drop give them."""
    against_ngspice(DiodeCircuit(branches), silicon=True)


@pytest.mark.outside(
    source="Half-wave and full-wave rectified sine of 24 V rms, any textbook of power electronics: peak 33.941 V, "
    "mean 10.804 V (peak/π), rms 16.971 V (peak/2); full wave: mean 21.608 V.",
    how="computed from the textbook formulas",
)
def test_textbook_rectifiers() -> None:
    """With nearly ideal diodes, a resistor gets the textbook mean, rms and peak."""
    supply, load = Sine("supply", "C", "R", 24.0, 1e-4), Winding("load", "+", "-", 100.0)
    one = Diode("d", "R", "+", 0.0, 1e-4, 1e8)
    half = steady_state(DiodeCircuit((supply, one, Winding("load", "+", "C", 100.0)))).across("load")
    assert (half.highest, half.mean, half.rms) == pytest.approx((33.941, 10.804, 16.971), abs=0.0005)
    four = (Diode(b.tag, b.tail, b.head, 0.0, 1e-4, 1e8) for b in bridge("R", "C"))
    full = steady_state(DiodeCircuit((supply, *four, load))).across("load")
    assert (full.mean, full.rms) == pytest.approx((21.608, 24.0), abs=0.0005)


@pytest.mark.outside(
    source="Half-wave rectifier with a resistance and an inductance, textbooks of power electronics (e.g. Rashid, "
    "controlled by sin(β − φ) + sin φ·exp(−β/tan φ) = 0; mean voltage peak·(1 − cos β)/2π).",
    how="formula from memory, solved here by bisection",
)
@pytest.mark.parametrize("ratio", [0.2, 1.0, 5.0])
def test_a_half_wave_coil_conducts_as_long_as_textbooks_say(ratio: float) -> None:
    """The mean over a coil falls with its inductance, because current goes on after the supply has turned."""
    phi = math.atan(ratio)

    def left(beta: float) -> float:
        return math.sin(beta - phi) + math.sin(phi) * math.exp(-beta / ratio)

    low, high = math.pi, 2.0 * math.pi
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if left(middle) > 0.0 else (low, middle)
    coil = Winding("coil", "k", "C", 100.0, ratio * 100.0 / (2.0 * math.pi * 60.0))
    ideal = Diode("d", "R", "k", 0.0, 1e-4, 1e8)
    found = steady_state(DiodeCircuit((Sine("supply", "C", "R", 24.0, 1e-4), ideal, coil)))
    expected_v = 24.0 * math.sqrt(2.0) * (1.0 - math.cos(low)) / (2.0 * math.pi)
    assert found.across("coil").mean == pytest.approx(expected_v, rel=1e-4)
    assert found.current_a("coil").mean == pytest.approx(expected_v / 100.0, rel=1e-4)


def against_ngspice(circuit: DiodeCircuit, *, silicon: bool) -> None:
    """Compare every branch's voltage and current; small ones against the largest of their kind.

    A real diode's own voltage is not compared with our straight line: that is what the line leaves out.
    """
    theirs = measured(circuit, silicon=silicon)
    found = steady_state(circuit)
    for kind in ("V", "A"):
        ours = {tag: found.across(tag) if kind == "V" else found.current_a(tag) for tag, k in theirs if k == kind}
        largest = max(theirs[tag, kind][1] for tag in ours)
        for tag, waveform in ours.items():
            if silicon and kind == "V" and tag.startswith("d"):
                continue
            assert_close(waveform, theirs[tag, kind], largest, f"{tag} [{kind}]")


def assert_close(waveform: Waveform, theirs: tuple[float, float], largest: float, what: str) -> None:
    """Within 1 % of mean and of rms; what is under 5 % of the largest, within 1 % of that 5 %."""
    mean, rms = theirs
    assert abs(waveform.rms - rms) <= RELATIVE * max(rms, 0.05 * largest), f"{what}: rms {waveform.rms}, ngspice {rms}"
    # A mean that is zero by symmetry has no size of its own: it is held against a tenth of its rms.
    assert abs(waveform.mean - mean) <= RELATIVE * max(abs(mean), 0.1 * rms, 0.05 * largest), (
        f"{what}: mean {waveform.mean}, ngspice {mean}"
    )


def measured(circuit: DiodeCircuit, *, silicon: bool) -> dict[tuple[str, str], tuple[float, float]]:
    """Return (mean, rms) of every branch's voltage and current, as ``ngspice -b`` finds them after half a second."""
    program = shutil.which("ngspice")
    if program is None:
        pytest.fail("ngspice is not installed, so nothing was checked against it: install the package 'ngspice'.")
    deck, wanted = tran_deck(circuit, silicon=silicon)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "deck.cir"
        path.write_text(deck, encoding="utf-8")
        run = subprocess.run([program, "-b", str(path)], capture_output=True, text=True, check=False, timeout=60)
    read = {(what, int(n)): float(value) for what, n, value in TERMS.findall(run.stdout)}
    if len(read) != 2 * len(wanted):
        pytest.fail(f"ngspice measured {len(read)} of {2 * len(wanted)} values; it said:\n{run.stdout}\n{run.stderr}")
    return {key: (read["mean", n], read["rms", n]) for n, key in enumerate(wanted)}


def tran_deck(circuit: DiodeCircuit, *, silicon: bool) -> tuple[str, list[tuple[str, str]]]:
    """Return (deck, the branch and kind of each numbered measurement)."""
    # Common is ground, as in every circuit here.
    names = {node: "0" if node == "C" else f"n{i}" for i, node in enumerate(circuit.nodes())}
    lines, lets = [SHARP, SILICON], list[str]()
    wanted: list[tuple[str, str]] = []
    for i, branch in enumerate(circuit.branches):
        lines += branch_lines(f"{i}", branch, names, circuit.hertz, silicon)
        ends = [f"v({names[node]})" if names[node] != "0" else "0" for node in (branch.tail, branch.head)]
        lets += [f"let x{len(wanted)} = {ends[0]} - {ends[1]}", f"let x{len(wanted) + 1} = i(vm{i})"]
        wanted += [(branch.tag, "V"), (branch.tag, "A")]
    window = f"from={SETTLED_S - PERIODS / circuit.hertz!r} to={SETTLED_S!r}"
    measures = [
        f"meas tran {word}{n} {function} x{n} {window}"
        for n in range(len(wanted))
        for word, function in (("mean", "AVG"), ("rms", "RMS"))
    ]
    # Trapezoids ring for ever when a diode stops the current of an inductance; Gear's steps die away.
    body = [
        *lines,
        ".options method=gear reltol=1e-4",
        f".tran 5u {SETTLED_S!r} {SETTLED_S - (PERIODS + 1) / circuit.hertz!r} 5u",
    ]
    control = [".control", "run", *lets, *measures, "quit", ".endc", ".end"]
    return "\n".join(["Diodes", *body, *control]) + "\n", wanted


def branch_lines(label: str, branch: DiodeBranch, names: dict[str, str], hertz: float, silicon: bool) -> Iterator[str]:
    """Write one branch behind an ammeter ``vm``, which carries the current from tail to head."""
    tail, head = f"a{label}", names[branch.head]
    yield f"vm{label} {names[branch.tail]} {tail} DC 0"
    if isinstance(branch, Diode) and silicon:
        yield f"D{label} {tail} {head} silicon"
        return
    if isinstance(branch, Diode):
        yield f"D{label} {tail} b{label} sharp"
        yield f"V{label} b{label} c{label} DC {branch.forward_v - SHARP_V!r}"
        yield f"R{label} c{label} {head} {branch.on_ohm!r}"
        yield f"Rb{label} {tail} {head} {branch.off_ohm!r}"
        return
    if isinstance(branch, Sine):
        peak_v, phase = math.sqrt(2.0) * abs(branch.emf_v), math.degrees(cmath.phase(branch.emf_v))
        yield f"V{label} b{label} {tail} SIN(0 {peak_v!r} {hertz!r} 0 0 {phase!r})"
        tail = f"b{label}"
    middle = f"c{label}" if branch.l_h else head
    yield f"R{label} {tail} {middle} {branch.r_ohm!r}"
    if branch.l_h:
        yield f"L{label} {middle} {head} {branch.l_h!r}"
