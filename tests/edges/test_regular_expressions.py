"""Regular expressions under growing input: none of the program's takes more than about linear work, whatever it is fed."""

from __future__ import annotations

import json
import resource
import signal
import subprocess
import sys
from dataclasses import asdict
from functools import cache
from importlib.resources import files
from pathlib import Path

import pytest

from tests.regular_expressions import (
    SOURCE,
    Expression,
    as_python,
    exponential,
    positions,
    pumps,
    python_expressions,
    quadratic,
    script_expressions,
)

LENGTH = 100_000
"""Characters. Quadratic work on them is some ten thousand million steps: minutes where a linear one takes a millisecond."""
CPU_S, SCRIPTS_CPU_S = 3, 12
"""Of the processor: for one text; for all texts of all scripts together."""
TAILS = ("\n\x00", "/{\n", "")
EXPLAINED = {
    r"<section class=": "looks only at a page that this program made, whose markup nobody's words can write",
    r"<main[^>]*>": "as above; a page of ours has one main part",
}
"""Beginning of an expression -> why it may take quadratic work."""
_PYTHON = """
import json, re, signal, sys
from typing import Annotated
from pydantic import StringConstraints, TypeAdapter, ValidationError

cpu_s, length = int(sys.argv[1]), int(sys.argv[2])
for number, (told, texts) in enumerate(json.load(sys.stdin)):
    if told["how"] == "pydantic":
        check = TypeAdapter(Annotated[str, StringConstraints(pattern=told["pattern"])]).validate_python
    else:
        check = {
            "sub": lambda text, found=re.compile(told["pattern"], told["flags"]): found.sub("", text),
            "split": re.compile(told["pattern"], told["flags"]).split,
            "findall": re.compile(told["pattern"], told["flags"]).findall,
            "finditer": re.compile(told["pattern"], told["flags"]).findall,
        }.get(told["how"]) or getattr(re.compile(told["pattern"], told["flags"]), told["how"])
    for begin, pump, tail in texts:
        text = begin + pump * (length // len(pump)) + tail
        # One write, and gone from here: what is on its way is known when the system ends this process.
        print(number, repr(begin), repr(pump), repr(tail), flush=True)
        signal.setitimer(signal.ITIMER_PROF, cpu_s)
        try:
            check(text)
        except ValidationError:
            pass
        signal.setitimer(signal.ITIMER_PROF, 0)
print("done", flush=True)
"""
_SCRIPT = """
const fs = require("node:fs");
const length = Number(process.argv.at(-1));
JSON.parse(fs.readFileSync(0, "utf-8")).forEach(([told, texts], number) => {
  const expression = new RegExp(told.pattern, told.marks);
  for (const [begin, pump, tail] of texts) {
    const text = begin + pump.repeat(Math.floor(length / pump.length)) + tail;
    fs.writeSync(1, `${number} ${JSON.stringify([begin, pump, tail])}\\n`);
    if (expression.global) text.replace(expression, "");
    else expression.exec(text);
  }
});
fs.writeSync(1, "done\\n");
"""


@cache
def every() -> tuple[Expression, ...]:
    """Return all of the program."""
    return (*python_expressions(), *script_expressions())


def explained(expression: Expression) -> bool:
    """Return whether it is known why this one may take more."""
    return any(expression.pattern.startswith(begin) for begin in EXPLAINED)


def texts(expression: Expression) -> list[tuple[str, str, str]]:
    """Return what to feed an expression: a beginning, what is repeated, and an end that does not fit."""
    spelled = as_python(expression) if expression.how == "javascript" else expression
    fed = pumps(spelled) or (("", "a"), ("", " "))
    return [(begin, pump, tail) for begin, pump in fed for tail in TAILS]


def in_python(expressions: tuple[Expression, ...], length: int = LENGTH) -> str:
    """Return the last line of a process that runs them; it is ended when one text takes too long."""
    told = json.dumps([(asdict(each), texts(each)) for each in expressions])
    done = subprocess.run(
        [sys.executable, "-c", _PYTHON, str(CPU_S), str(length)],
        input=told,
        capture_output=True,
        text=True,
        check=False,
    )
    last = done.stdout.splitlines()[-1]
    assert done.returncode in (0, -signal.SIGPROF), done.stderr
    assert (last == "done") == (done.returncode == 0)
    return last if last == "done" else f"{expressions[int(last.split()[0])]}: {last}"


def in_a_browser(expressions: tuple[Expression, ...], length: int = LENGTH, cpu_s: int = SCRIPTS_CPU_S) -> str:
    """Return the same of the engine that browsers use, as it comes with the browser of the tests."""
    told = json.dumps([(asdict(each), texts(each)) for each in expressions])
    node = Path(str(files("playwright"))) / "driver" / "node"
    done = subprocess.run(
        [node, "-e", _SCRIPT, "--", str(length)], input=told, capture_output=True, text=True, check=False,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s)),
    )  # fmt: skip
    last = done.stdout.splitlines()[-1]
    assert done.returncode in (0, -signal.SIGXCPU, -signal.SIGKILL), done.stderr
    return last if last == "done" else f"{expressions[int(last.split()[0])]}: {last}"


def test_all_are_looked_at() -> None:
    """What is made in a way that cannot be read here fails; a few that are known to be there are found."""
    found = {(each.where.partition(":")[0].rpartition("/")[2], each.how) for each in every()}
    assert len(every()) >= 90
    assert found >= {
        ("shorthand.py", "fullmatch"), ("model.py", "pydantic"), ("call_sequences.py", "search"),
        ("yaml_tree.py", "sub"), ("records.py", "split"), ("field.js", "javascript"), ("sw.js", "javascript"),
    }  # fmt: skip
    assert [path for path in (SOURCE / "subbase").rglob("*.html") if 'pattern="' in path.read_text("utf-8")] == []


@pytest.mark.parametrize(
    ("pattern", "how", "which"),
    [
        ("(a+)+b", "match", "exponential"), (r"(\w+\s?)*$", "match", "exponential"), ("(a|b|ab)*c", "match", "exponential"),
        ("a*a*b", "match", "quadratic"), ("a*b", "search", "quadratic"), (r"\d+\.?\d*", "fullmatch", "quadratic"),
        (r"\s*(ft|)\s*", "fullmatch", "quadratic"), ("x[^y]*y", "findall", "quadratic"),
        ("a*b", "match", ""), ("(a+b)*c", "fullmatch", ""), ("[ab]+", "split", ""), ("(?<!a)a*b", "search", ""),
        (r"\d+(\.\d*)?", "fullmatch", ""), (r"\s*(ft\s*)?", "fullmatch", ""), ("x[^xy]*y", "findall", ""),
    ],
)  # fmt: skip
def test_the_graph_tells_slow_from_quick(pattern: str, how: str, which: str) -> None:
    """Expressions that are known to be slow are called so, and their quick forms are not."""
    graph = positions(Expression("here", pattern, how))
    assert exponential(graph) == (which == "exponential")
    assert quadratic(graph) == bool(which) or which == "exponential"


def test_a_slow_one_is_ended() -> None:
    """The two ways of running one end what takes too long, and name it; so a slow one cannot pass unseen."""
    slow = r"\d+\.?\d*"
    assert in_python((Expression("here", slow, "fullmatch"),)).startswith(f"here fullmatch {slow!r}")
    script = Expression("here", "(a|b|ab)*c", "javascript")
    assert in_a_browser((script,), cpu_s=3).startswith("here javascript")


def test_no_two_loops_share_a_text() -> None:
    """No text goes round in a loop in two ways, or in two loops one after the other: work grows with the text's length."""
    slow = []
    for each in every():
        graph = positions(as_python(each) if each.how == "javascript" else each)
        assert not exponential(graph), each
        if quadratic(graph) and not explained(each):
            slow.append(str(each))
    assert slow == []


def test_every_explanation_is_of_one_that_is_there() -> None:
    """An expression that was mended or removed leaves no explanation behind."""
    for begin in EXPLAINED:
        assert [each for each in every() if each.pattern.startswith(begin)], begin


def test_long_texts_that_do_not_fit_are_done_at_once() -> None:
    """Each is run by its own engine on 100,000 characters made to keep its loops busy, with a limit on the processor."""
    quick = tuple(each for each in every() if not explained(each))
    assert in_python(tuple(each for each in quick if each.how != "javascript")) == "done"
    assert in_a_browser(tuple(each for each in quick if each.how == "javascript")) == "done"
    assert in_a_browser(tuple(each for each in every() if explained(each)), length=3000) == "done"
