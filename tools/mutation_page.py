"""The page of mutation testing: how many faults were seen, and every one that was not, with the reason why.

Reasons are written by hand in ``tools/mutation_reasons.toml``, each for the mutants of one module whose statement begins
with ``before`` (and becomes one that begins with ``after``, where that is given).
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

REASONS = Path(__file__).with_name("mutation_reasons.toml")
LONGEST_SHOWN = 110
NOT_EXPLAINED = "**not explained**"


def page_lines(outcomes: Sequence[dict], floors: Sequence[str]) -> Iterator[str]:  # type: ignore[type-arg]
    """Yield the page: how many of each floor were seen, and every one that was not."""
    counted = [item for item in outcomes if item["end"] != "not put in"]
    yield from (
        "# Mutation testing", "",
        "One small fault is put into the circuit, the plan or the diagnosis at a time: a comparison, a sign, a limit, a branch, a line",
        "left out. Then the tests that reach that line are run, quickest first, until one fails. A fault that none of them sees is a",
        "*survivor*. Each is listed below, with the reason why it may stay, or as not explained: then a test may be missing, or one that",
        "was not run sees it.", "",
        "A sample is tried, the same each time; `tools/mutation.py` says how. Of the tests that reach a line only the quickest are run,",
        "with few drawn examples, and those that never end in time are left out: the shares are lower bounds.", "",
        "| Floor | Tried | Seen by a test | Ran on, so seen | Not seen | Seen |", "|---|---|---|---|---|---|",
    )  # fmt: skip
    for floor in floors:
        ends = Counter(item["end"] for item in counted if item["mutant"]["module"].split(".")[1] == floor)
        tried = sum(ends.values())
        seen = ends["killed"] + ends["ran on"]
        yield f"| `{floor}` | {tried} | {ends['killed']} | {ends['ran on']} | {tried - seen} | {seen / max(1, tried):.1%} |"
    yield from ("", "## Not seen", "", "| Where | As it is | As it was made | Why it may stay |", "|---|---|---|---|")
    reasons = tomllib.loads(REASONS.read_text(encoding="utf-8"))["reason"]
    for item in sorted(counted, key=lambda item: (item["mutant"]["module"], item["mutant"]["line"])):
        if item["end"] in ("survived", "not reached"):
            of = item["mutant"]
            before, after = (_cell(of[which]) for which in ("before", "after"))
            module = of["module"].removeprefix("subbase.")
            yield f"| `{module}` | {before} | {after} | {_reason(reasons, module, of['before'], of['after'])} |"


def _reason(reasons: Sequence[dict[str, str]], module: str, before: str, after: str) -> str:
    for reason in reasons:
        if (
            reason["module"] == module
            and before.startswith(reason["before"])
            and after.startswith(reason.get("after", ""))
        ):
            return reason["why"]
    return NOT_EXPLAINED


def _cell(text: str) -> str:
    short = text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}..."
    return f"`{short}`".replace("|", "\\|")
