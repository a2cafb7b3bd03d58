"""What a bench returns, how it is timed, and how it is printed."""

from __future__ import annotations

import os
import platform
import statistics
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

BEGIN, END = "<!-- bench: begin -->", "<!-- bench: end -->"
SKELETON = f"""# Performance

`make bench` measures what follows and writes it here. Times are medians; they hold for the machine named below and for
no other, and other work on it shows in them.

{BEGIN}
{END}
"""


@dataclass(frozen=True, slots=True)
class Row:
    """One thing measured."""

    what: str
    count: int
    """How many states, or whatever the bench counts, were done at once."""
    median_s: float
    runs: int

    @property
    def per_second(self) -> float:
        """How many were done in a second."""
        return self.count / self.median_s


@dataclass(frozen=True, slots=True)
class Result:
    """What one bench found; the first row is what all others are compared with."""

    title: str
    unit: str
    """What is counted, in the plural."""
    rows: Sequence[Row]
    notes: Sequence[str] = ()
    images: Sequence[tuple[str, str]] = ()
    """(path from docs/, what it shows)."""


def timed(what: str, count: int, work: Callable[[], object], *, runs: int = 5) -> Row:
    """Return the median time of several runs, after one that is not counted."""
    work()
    seconds = []
    for _ in range(runs):
        begun = time.perf_counter()
        work()
        seconds.append(time.perf_counter() - begun)
    return Row(what, count, statistics.median(seconds), runs)


def section(results: Iterable[Result]) -> str:
    """Return the results as Markdown."""
    lines = [f"Measured on {machine()}.", ""]
    for result in results:
        base = result.rows[0]
        lines += [
            f"## {result.title}",
            "",
            f"| Way | {result.unit.capitalize()} | Median of runs | {result.unit.capitalize()} a second | "
            f"Against {base.what} |",
            "|---|---:|---:|---:|---:|",
        ]
        for row in result.rows:
            ratio = row.per_second / base.per_second
            lines.append(
                f"| {row.what} | {row.count:,} | {_seconds(row.median_s)} of {row.runs} | {_rounded(row.per_second)} "
                f"| {_rounded(ratio)} × |"
            )
        lines += ["", *(f"- {note}" for note in result.notes), ""]
        for path, caption in result.images:
            lines += [f"![{caption}]({path})", ""]
    return "\n".join(lines)


def write(path: Path, text: str) -> None:
    """Put a text between the marks of a page, which is begun if it is missing."""
    page = path.read_text(encoding="utf-8") if path.exists() else SKELETON
    before, begin, rest = page.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not (begin and end):
        raise SystemExit(f"{path} has lost its marks {BEGIN} and {END}; put them back around the measured part.")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{before}{BEGIN}\n\n{text}\n{END}{after}", encoding="utf-8")


def machine() -> str:
    """Return what the times were measured on."""
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        lines = cpuinfo.read_text(encoding="utf-8").splitlines()
        model = next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), model)
    return f"{model}, {os.cpu_count()} cores, Python {platform.python_version()} on {platform.system()}"


def _seconds(value_s: float) -> str:
    return f"{value_s:.3g} s" if value_s >= 1.0 else f"{value_s * 1e3:.3g} ms"


def _rounded(value: float) -> str:
    """Return three digits, without an exponent."""
    if value >= 100.0:
        digits = len(str(int(value))) - 3
        return f"{round(value, -digits):,.0f}"
    return f"{value:.3g}"
