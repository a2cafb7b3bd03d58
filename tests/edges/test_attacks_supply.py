"""What is installed is what was locked: every package pinned with checksums, no addresses, and a bill that says so."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

from tools.sbom import LOCK, ROOT, RUNTIME, as_json, bill, pinned

LOCKS = sorted(ROOT.glob("requirements/*.txt"))


@pytest.mark.parametrize("lock", LOCKS, ids=lambda path: path.name)
def test_every_package_is_pinned_with_checksums_and_no_address(lock: Path) -> None:
    """pip then takes nothing else (``--require-hashes``), wherever it gets its files from."""
    found = list(pinned(lock))
    assert found
    assert [name for name, _version, sums in found if not sums] == []
    assert not re.search(r"https?:|--index-url|--extra-index-url|--find-links|file:", lock.read_text("utf-8"))


def test_packages_are_installed_by_their_checksums_only() -> None:
    """The one place that installs them asks for checksums and builds nothing from source."""
    script = (ROOT / "tools" / "venv.sh").read_text("utf-8")
    (line,) = [line for line in script.splitlines() if '-r "$lock"' in line]
    assert "--require-hashes" in line
    assert "--only-binary :all:" in line


def test_a_line_that_pins_nothing_is_told(tmp_path: Path) -> None:
    """A lock that somebody added a loose line to by hand is refused with the line."""
    lock = tmp_path / "run.txt"
    lock.write_text("numpy>=2\n")
    with pytest.raises(ValueError, match=r"run\.txt:1: neither a pinned package"):
        list(pinned(lock))


def test_a_run_needs_nothing_that_only_tests_need() -> None:
    """Test tools are in no user's installation."""
    names = {name for name, _version, _sums in pinned(LOCK)}
    assert names.isdisjoint({"pytest", "playwright", "hypothesis", "mypy", "schemathesis", "coverage"})


def test_the_bill_names_every_locked_package_and_nothing_else() -> None:
    """Each with its checksums, and the two things that a pocket folder ships besides."""
    told = {item["name"]: item for item in json.loads(as_json(bill()))["components"]}
    locked = {name: sums for name, _version, sums in pinned(LOCK)}
    assert set(told) == set(locked) | {"pyodide", "pydantic_core"}
    for name, sums in locked.items():
        assert {item["content"] for item in told[name]["hashes"]} == set(sums)
    assert all(item["purl"].startswith(("pkg:pypi/", "pkg:npm/")) for item in told.values())


def test_the_same_locks_give_the_same_bytes() -> None:
    """No time, no random number: two bills can be compared line by line."""
    assert as_json(bill()) == as_json(bill())
    assert RUNTIME.exists()
