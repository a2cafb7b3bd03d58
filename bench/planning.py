"""Whole plans: the command from a cold start, and how planning grows with conductors, unknowns and controls."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from bench.plot import save_lines
from bench.report import Result, Row, timed
from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.survey import Survey, read_survey

ROOT = Path(__file__).parents[1]
LARGEST = "examples/15-zone-panel-three-controls.yaml"
PLAIN = "examples/01-no-common-spare-blue.yaml"
CONDUCTORS, UNKNOWNS, CONTROLS = (4, 6, 8, 10, 12, 16), (0, 1, 2, 3, 4), (1, 2, 3, 4, 6)


def run(docs: Path) -> Result:
    """Measure whole commands, then draw the growth of planning alone."""
    rows = [
        timed("an empty Python", 1, lambda: subprocess.run([sys.executable, "-c", ""], check=True)),
        timed("subbase --help", 1, lambda: command("--help")),
        timed("plan of the plain house, cold", 1, lambda: command("plan", PLAIN)),
        timed("plan of the largest house, cold", 1, lambda: command("plan", LARGEST)),
    ]
    growth = {
        "conductors in the cable": [(n, planned(f"{n} conductors", house(conductors=n))) for n in CONDUCTORS],
        "unknown facts": [(n, planned(f"{n} unknown facts", house(unknowns=n))) for n in UNKNOWNS],
        "controls on one supply": [(n, planned(f"{n} controls on one supply", house(controls=n))) for n in CONTROLS],
    }
    rows += [row for points in growth.values() for row in (points[0][1], points[-1][1])]
    lines = {what: [(n, row.median_s) for n, row in points] for what, points in growth.items()}
    save_lines(docs / "img" / "planning-growth.svg", lines)
    return Result(
        title="Whole plans",
        unit="plans",
        rows=rows,
        notes=(
            "Cold means a new process: Python's start, imports, reading survey and catalogue, every route, every proof.",
            "Each unknown landing has two candidates, so possibilities double with each unknown: growth there is "
            "exponential by nature and is cut off at 512 possibilities, beyond which a question is asked instead.",
        ),
        images=[("img/planning-growth.svg", "Time of planning against conductors, unknowns and controls")],
    )


def command(*words: str) -> None:
    """Run the command line once in a new process."""
    subprocess.run([sys.executable, "-m", "subbase.cli", *words], cwd=ROOT, check=True, stdout=subprocess.DEVNULL)


def planned(what: str, survey: Survey) -> Row:
    """Return the time of planning one house in this process."""
    catalog = load_catalog()
    return timed(f"plan in this process, {what}", 1, lambda: make_plan(survey, catalog), runs=3)


def house(*, conductors: int = 5, unknowns: int = 0, controls: int = 1) -> Survey:
    """Return a house with motor zone valves on one supply, as large as asked for."""
    names = [f"c{n}" for n in range(1, controls + 1)]
    lines = ["survey: 1", "name: bench", "transformers: {supply: {va: 75, at: boiler}}", "equipment:"]
    lines.append("  boiler: {kind: boiler-start-pair}")
    lines += [f"  valve {n}: {{kind: zone-valve-motor, at: boiler, serves: [{n}]}}" for n in names]
    lines.append("controls:")
    new = "{terminals: [R, C, W1], power: common, asleep_va: 0.5, awake_va: 2.5}"
    lines += [f"  {n}: {{old: {{terminals: [R, W]}}, new: {new}}}" for n in names]
    lines.append("cables:")
    for n in names:
        lines += [f"  to {n}:", f"    from: {n}", "    to: boiler", "    length: 30", "    conductors:"]
        lines += ["      red: {from: R, to: supply.hot}", f"      white: {{from: W, to: valve {n}.M1}}"]
        for spare in range(conductors - 2):
            far = "{either: [loose, supply.common]}" if spare < unknowns else "loose"
            lines.append(f"      spare {spare}: {{from: loose, to: {far}}}")
    lines.append("jumpers:")
    for n in names:
        lines += [
            f"  - [valve {n}.M2, supply.common]",
            f"  - [valve {n}.E1, boiler.T1]",
            f"  - [valve {n}.E2, boiler.T2]",
        ]
    return read_survey("\n".join(lines).encode())
