"""Mutation testing of the circuit, the plan and the diagnosis: does some test fail when the code is made wrong?

1. ``coverage run --branch -m pytest -p tools.mutation_plugin TESTS`` notes which test reaches which line (the map).
2. ``python -m tools.mutation run --map MAP --out FILE`` collects those tests once, then for each mutant of a seeded sample
   forks, puts one small fault into the loaded module (never on disk), and runs the quickest tests that reach the line,
   until one fails, under a limit of CPU time.
   With ``--tests FILE...`` and no map, all tests of these files are run for each mutant, in their order, with what tests keep
   between them kept: for floors whose tests share a house that takes long to work out.
3. ``python -m tools.mutation page FILE...`` writes docs/mutation.md; of a mutant that was run twice the last run counts.
   Why a survivor is none to worry about stands in ``tools/mutation_reasons.toml``.

Compiled kernels are run as plain Python (NUMBA_DISABLE_JIT=1): a compiled one would come from its cache, fault left out.
"""

from __future__ import annotations

import json
import os
import random
import resource
import signal
import time
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path

import click
import pytest
from _pytest.runner import runtestprotocol

from tools.mutants import Mutant, module_name, mutants_of
from tools.mutation_apply import apply
from tools.mutation_page import page_lines
from tools.mutation_plugin import forget, load_floors

ROOT = Path(__file__).parents[1]
SRC = ROOT / "src"
FLOORS = ("circuit", "plan", "diagnose")
LEAST_OF_A_MODULE = 6
BUDGET_S = float(os.environ.get("MUTATION_BUDGET_S", "10"))
"""CPU time of the tests picked for one mutant, as they took with coverage on and without the mutant."""
MOST_TESTS = int(os.environ.get("MUTATION_MOST_TESTS", "25"))
ALL_LIMIT_S = 120.0
"""CPU time of all tests for one mutant, where all are run."""
MOST_OF_A_FILE = max(8, MOST_TESTS // 3)
MEMORY_BYTES = 6 << 30
KILLED, SURVIVED, RAN_ON, NOT_PUT_IN = 10, 0, 11, 12
ENDS = {KILLED: "killed", SURVIVED: "survived", RAN_ON: "ran on", NOT_PUT_IN: "not put in"}


@dataclass(frozen=True, slots=True)
class Outcome:
    """One mutant after its tests.

    killed, ran on: seen; survived; not reached by any test; not put in: happens at import, not counted.
    """

    mutant: Mutant
    end: str
    tests: int
    took_s: float
    killer: str = ""


class ReachMap:
    """Which tests reach which line, and what each takes."""

    def __init__(self, files: Sequence[Path]) -> None:
        from coverage import CoverageData

        self.took_s: dict[str, float] = {}
        self.lines: dict[str, dict[int, set[str]]] = defaultdict(lambda: defaultdict(set))
        for file in files:
            self.took_s |= json.loads(file.with_suffix(".times.json").read_text(encoding="utf-8"))
            data = CoverageData(str(file))
            data.read()
            for measured in data.measured_files():
                name = measured.rpartition("/src/")[2].removesuffix(".py").replace("/", ".")
                for line, contexts in data.contexts_by_lineno(measured).items():
                    self.lines[name][line] |= {test for test in contexts if test in self.took_s}

    def tests_for(self, mutant: Mutant) -> list[str]:
        """Return the tests to run, quickest first, not too many of one file."""
        lines = self.lines[mutant.module]
        reached = lines.get(mutant.line) or lines.get(mutant.start) or set()
        if not reached and _runs_at_import(mutant):
            reached = set().union(*lines.values())
        picked: list[str] = []
        left_s = BUDGET_S
        from_file: Counter[str] = Counter()
        for test in sorted(reached, key=lambda test: (self.took_s[test], test)):
            file = test.partition("::")[0]
            if self.took_s[test] <= left_s and len(picked) < MOST_TESTS and from_file[file] < MOST_OF_A_FILE:
                picked.append(test)
                from_file[file] += 1
                left_s -= self.took_s[test]
        return picked


def _runs_at_import(mutant: Mutant) -> bool:
    line = source_of(mutant.module).splitlines()[mutant.start - 1]
    return not line.startswith("        ")


def source_of(module: str) -> str:
    """Return the source of a module below ``src``."""
    return (SRC / (module.replace(".", "/") + ".py")).read_text(encoding="utf-8")


def sampled(share: float, seed: int, floors: Sequence[str]) -> list[Mutant]:
    """Return a sample of the mutants of every module: its share, and at least six of each that has as many."""
    chosen: list[Mutant] = []
    for floor in floors:
        for path in sorted((SRC / "subbase" / floor).glob("*.py")):
            name = module_name(path, SRC)
            found = mutants_of(name, path.read_text(encoding="utf-8"))
            size = min(len(found), max(LEAST_OF_A_MODULE, round(share * len(found))))
            chosen += random.Random(f"{seed} {name}").sample(found, size)
    random.Random(seed).shuffle(chosen)
    return chosen


class Loop:
    """The pytest plugin that runs mutants instead of tests."""

    def __init__(self, work: Sequence[tuple[Mutant, list[str] | None]], reach: ReachMap, out: Path) -> None:
        """``None`` in place of a mutant's tests stands for all."""
        self.work, self.reach, self.out = work, reach, out

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Fork once for each mutant."""
        items = {item.nodeid: item for item in session.items}
        load_floors()
        for nodeid in filter(None, os.environ.get("MUTATION_WARM", "").split(",")):
            runtestprotocol(items[nodeid], log=False, nextitem=None)
        for mutant, tests in self.work:
            began_s = time.monotonic()
            if tests == []:
                keep(self.out, Outcome(mutant, "not reached", 0, 0.0))
                continue
            limit_s = ALL_LIMIT_S if tests is None else 4 + 1.5 * sum(self.reach.took_s[test] for test in tests)
            picked = session.items if tests is None else [items[test] for test in tests if test in items]
            end, killer = run_one(mutant, picked, limit_s)
            keep(self.out, Outcome(mutant, end, len(picked), round(time.monotonic() - began_s, 1), killer))
        return True


def run_one(mutant: Mutant, tests: Sequence[pytest.Item], limit_s: float) -> tuple[str, str]:
    """Run tests in a forked process with a mutant in place; return how it ended and the test that saw it."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(read)
        _in_child(mutant, tests, limit_s, write)
    os.close(write)
    with os.fdopen(read, encoding="utf-8") as pipe:
        signal.signal(signal.SIGALRM, lambda *_: os.kill(child, signal.SIGKILL))
        signal.alarm(int(15 * limit_s))
        killer = pipe.read()
        _, status = os.waitpid(child, 0)
        signal.alarm(0)
    if os.WIFSIGNALED(status):
        return ENDS[RAN_ON if os.WTERMSIG(status) in {signal.SIGXCPU, signal.SIGKILL} else KILLED], killer
    return ENDS[os.WEXITSTATUS(status)], killer


def _in_child(mutant: Mutant, tests: Sequence[pytest.Item], limit_s: float, write: int) -> None:
    code = KILLED
    try:
        silent = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silent, 1)
        os.dup2(silent, 2)
        resource.setrlimit(resource.RLIMIT_CPU, (int(limit_s) + 1, int(limit_s) + 3))
        resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
        if mutant.number >= 0 and not apply(mutant, source_of(mutant.module)):
            os._exit(NOT_PUT_IN)
        forget()
        for test in tests:
            reports = runtestprotocol(test, log=False, nextitem=None)
            if any(report.failed for report in reports):
                os.write(write, test.nodeid.encode())
                break
        else:
            code = SURVIVED
    except BaseException as error:
        os.write(write, repr(error).encode()[:500])
    finally:
        os._exit(code)


@click.group()
def main() -> None:
    """Make the code wrong and see whether a test minds."""


@main.command()
@click.option("--map", "maps", type=click.Path(path_type=Path), multiple=True)
@click.option("--tests", "every", multiple=True, help="A file of tests, all of them run for each mutant.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="One line of JSON for each mutant.")
@click.option("--floor", "floors", multiple=True, default=FLOORS)
@click.option("--share", default=0.1, show_default=True, help="The part of all mutants that is tried.")
@click.option("--part", default="0/1", show_default=True, help="This process's part of the sample, as 0/2.")
@click.option("--again", type=click.Path(path_type=Path), help="Run only what survived in this earlier file.")
def run(  # noqa: PLR0913, PLR0917 -- click gives every option as an argument
    maps: tuple[Path, ...], every: tuple[str, ...], out: Path, floors: tuple[str, ...], share: float, part: str,
    again: Path | None,
) -> None:  # fmt: skip
    """Run a sample of mutants, going on where the file ends."""
    reach = ReachMap(maps)
    own, parts = (int(number) for number in part.split("/"))
    mutants = sampled(share, 11, floors)
    if again is not None:
        left = {item["mutant"]["key"] for item in read_outcomes(again) if item["end"] in {"survived", "not reached"}}
        mutants = [mutant for mutant in mutants if mutant.key in left]
    done = {item["mutant"]["key"] for item in read_outcomes(out)} if out.exists() else set()
    work = [
        (mutant, None if every else reach.tests_for(mutant))
        for place, mutant in enumerate(mutants)
        if place % parts == own and mutant.key not in done
    ]
    files = every or sorted({test.partition("::")[0] for _, tests in work for test in tests or ()})
    print(f"{len(work)} mutants, {len(files)} files of tests", flush=True)
    loop = Loop(work, reach, out)
    pytest.main(["-q", "--tb=line", "-p", "no:cacheprovider", "-p", "tools.mutation_few", *files], plugins=[loop])


@main.command()
@click.argument("files", type=click.Path(path_type=Path, exists=True), nargs=-1, required=True)
def page(files: tuple[Path, ...]) -> None:
    """Write docs/mutation.md from the outcomes in FILES."""
    last = {item["mutant"]["key"]: item for file in files for item in read_outcomes(file)}
    lines = page_lines(list(last.values()), FLOORS)
    (ROOT / "docs" / "mutation.md").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"{len(last)} mutants")


def keep(out: Path, outcome: Outcome) -> None:
    """Add one outcome to a file of JSON lines."""
    row = asdict(outcome)
    row["mutant"]["key"] = outcome.mutant.key
    with out.open("a", encoding="utf-8") as file:
        file.write(json.dumps(row) + "\n")


def read_outcomes(path: Path) -> list[dict]:  # type: ignore[type-arg]
    """Return the outcomes of a file of JSON lines."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


if __name__ == "__main__":
    main()
