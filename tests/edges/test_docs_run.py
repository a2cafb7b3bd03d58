"""The Python in the pages runs as it stands, block after block, as a reader would paste it."""

from __future__ import annotations

import contextlib
import io
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = ("README.md", "docs/circuit-in-ten-minutes.md")
BLOCK = re.compile(r"^```python\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def run_page(page: str) -> list[str]:
    """Run every block of a page in one namespace; return what each printed."""
    text = (ROOT / page).read_text(encoding="utf-8")
    names: dict[str, object] = {"__name__": page}
    printed = []
    for block in BLOCK.finditer(text):
        # Empty lines before the block make an error name the line of the page.
        code = compile("\n" * text.count("\n", 0, block.start(1)) + block[1], page, "exec")
        with contextlib.redirect_stdout(io.StringIO()) as heard:
            exec(code, names)
        printed.append(heard.getvalue())
    return printed


@pytest.mark.parametrize("page", PAGES)
def test_every_block_runs(page: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the project's folder, no block fails, and the page has one."""
    monkeypatch.chdir(ROOT)
    assert any(run_page(page))


def test_the_ten_minute_page_shows_what_it_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """The relay pulls in when called and not when its wire is open, and the faults that stop the heat are named."""
    monkeypatch.chdir(ROOT)
    said = "".join(run_page("docs/circuit-in-ten-minutes.md"))
    assert "frozenset({'relay'})" in said
    assert "wire W open, relay in: False" in said
    no_heat = said.partition("no heat when: ")[2].splitlines()[0]
    assert {"fuse open", "wire W open", "relay contact open", "relay open"} <= set(no_heat.split(", "))
    assert "wall R to wall W" not in no_heat
