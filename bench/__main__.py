"""Run every bench, print its table and write docs/performance.md."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bench import (
    circuit_states,
    comfort,
    comfort_logs,
    diagnosis,
    fleet,
    load,
    planning,
    report,
    siting,
    slips,
    variants,
)

DOCS = Path(__file__).parents[1] / "docs"
BENCHES: tuple[Callable[[Path], report.Result], ...] = (
    circuit_states.run,
    variants.run,
    planning.run,
    slips.run,
    diagnosis.run,
    siting.run,
    comfort.run,
    comfort_logs.run,
    fleet.run,
    load.run,
)


def main() -> None:
    """Run everything."""
    text = report.section([bench(DOCS) for bench in BENCHES])
    print(text)
    report.write(DOCS / "performance.md", text)


if __name__ == "__main__":
    main()
