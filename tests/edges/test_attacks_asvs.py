"""The security list names tests; each of them is there, and no row says 'met' with nothing to show."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "asvs.md").read_text("utf-8")
ROWS = [
    tuple(cell.strip() for cell in line.split("|")[1:-1]) for line in PAGE.splitlines() if re.match(r"\| [\d(]", line)
]


@cache
def names_in(file: str) -> frozenset[str]:
    """Return the names of the tests in a file."""
    tree = ast.parse((ROOT / file).read_text("utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]} {row[1]}")
def test_every_row_shows_what_it_says(row: tuple[str, ...]) -> None:
    """A test that is named exists; a row that is met says where, or names the test."""
    _number, asked, stands, where, shown = row
    assert asked
    assert stands in {"met", "partly", "not met", "by hand", "does not apply"}
    if shown:
        file, _, test = shown.strip("`").partition("::")
        assert test in names_in(file)
    else:
        assert where or stands == "met"


def test_the_list_is_the_whole_of_level_two_that_applies() -> None:
    """Every chapter that has to do with such a program has its rows."""
    chapters = {number.partition(".")[0] for row in ROWS for number in row[0].split(", ") if number[:1].isdecimal()}
    assert chapters == {str(chapter) for chapter in range(1, 15)}
