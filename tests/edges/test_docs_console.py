"""Commands in the pages are run as a reader would type them, and what they print is what the page shows.

A ``yaml file=NAME`` block is a file that the reader makes. In a ``console`` block a line that begins with ``$`` is typed; what
follows is what comes, where ``...`` stands for any lines and within a line for any text; ``[exit N]`` is the exit code when it
is not 0.
"""

from __future__ import annotations

import re
import subprocess
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = tuple(
    path.relative_to(ROOT).as_posix()
    for path in sorted(ROOT.glob("docs/**/*.md"))
    if "```console\n" in path.read_text("utf-8")
)
FENCE = re.compile(r"^```(console|yaml file=(\S+))\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@dataclass(frozen=True, slots=True)
class Typed:
    """One command of a page with what it must print."""

    line: int
    command: str
    shown: str
    exit_code: int


def typed(block: str, line: int) -> list[Typed]:
    """Return the commands of a console block."""
    found = []
    for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command, _, shown = part.partition("\n")
        code = re.search(r"^\[exit (\d+)\]\n?\Z", shown, re.MULTILINE)
        found.append(Typed(line, command, shown[: code.start()] if code else shown, int(code[1]) if code else 0))
        line += part.count("\n")
    return found


def pattern(shown: str) -> re.Pattern[str]:
    """Return what a page shows as a pattern: ``...`` alone stands for any lines, within a line for any text."""
    said = [
        r"(?:.*\n)*?" if line == "..." else re.escape(line).replace(re.escape("..."), ".*") + r"\n"
        for line in shown.strip("\n").splitlines()
    ]
    return re.compile("".join(said) + r"\Z")


@pytest.mark.parametrize("page", PAGES)
def test_what_a_page_shows_is_what_comes(page: str, tmp_path: Path) -> None:
    """From an empty folder, block after block."""
    text = (ROOT / page).read_text("utf-8")
    path = f"{ROOT / '.venv' / 'bin'}:/usr/bin:/bin"
    ran = 0
    (tmp_path / "examples").symlink_to(ROOT / "examples")
    for block in FENCE.finditer(text):
        if block[2]:
            (tmp_path / block[2]).write_text(block[3], encoding="utf-8")
            continue
        for item in typed(block[3], text.count("\n", 0, block.start(3)) + 1):
            done = subprocess.run(
                ["bash", "-c", item.command],
                cwd=tmp_path, env={"PATH": path, "HOME": str(tmp_path), "LANG": "C.UTF-8"},
                capture_output=True, text=True, check=False,
            )  # fmt: skip
            came = (done.stdout or done.stderr).strip("\n")
            came = f"{came}\n" if came else ""
            assert done.returncode == item.exit_code, f"{page}:{item.line}: {item.command}\n{done.stdout}{done.stderr}"
            assert pattern(item.shown).match(came), f"{page}:{item.line}: {item.command}\n{came}"
            ran += 1
    assert ran


def test_a_page_that_shows_something_else_is_caught() -> None:
    """Lines left out are left out; a line that is there must be right, and nothing may come after the end."""
    assert pattern("one\n...\nfour\n").match("one\ntwo\nthree\nfour\n")
    assert pattern("on... (a.b)\n").match("one (a.b)\n")
    assert not pattern("one\n...\nfour\n").match("one\ntwo\nfive\n")
    assert not pattern("one\n").match("one\ntwo\n")
    assert not pattern("a.b\n").match("axb\n")
