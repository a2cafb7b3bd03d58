"""Plots of benches, as small SVG files that do not change from run to run but for the numbers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import matplotlib as mpl
from matplotlib.figure import Figure

from bench.report import Row

STYLE: dict[Any, Any] = {
    "svg.hashsalt": "subbase",
    "svg.fonttype": "none",
    "font.size": 9,
    "axes.grid": True,
    "grid.alpha": 0.3,
}


def save_growth(path: Path, single: Sequence[Row], growth: Sequence[Row], *, unit: str = "states") -> None:
    """Draw time against count: a line for the rows that grow, a point for each other row."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(6.0, 3.6), layout="constrained")
        axes = figure.subplots()
        axes.loglog(
            [row.count for row in growth], [row.median_s for row in growth], "o-", label="kernel in blocks, two threads"
        )
        for row, mark in zip(single, "s^D", strict=True):
            axes.loglog([row.count], [row.median_s], mark, label=row.what)
        axes.set_xlabel(unit)
        axes.set_ylabel("time [s]")
        axes.legend(frameon=False)
        figure.savefig(path, metadata={"Date": None, "Creator": None})


def save_lines(path: Path, lines: Mapping[str, Sequence[tuple[int, float]]], *, log_count: bool = False) -> None:
    """Draw time against count, one line for each thing that grows."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with mpl.rc_context(STYLE):
        figure = Figure(figsize=(6.0, 3.6), layout="constrained")
        axes = figure.subplots()
        for (what, points), mark in zip(lines.items(), "os^D", strict=False):
            draw = axes.loglog if log_count else axes.semilogy
            draw([n for n, _ in points], [seconds for _, seconds in points], f"{mark}-", label=what)
        axes.set_xlabel("count")
        axes.set_ylabel("time [s]")
        axes.legend(frameon=False)
        figure.savefig(path, metadata={"Date": None, "Creator": None})
