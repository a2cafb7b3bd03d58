"""A pytest plugin that notes which test runs which lines of the code under mutation, and how long each takes by CPU time.

Run with ``coverage`` and dynamic contexts by ``tools.mutation map``. What tests keep between them (the plans of the
examples) is forgotten before each test, so that a line counts for every test that needs it.
"""

from __future__ import annotations

import functools
import gc
import importlib
import json
import os
import pkgutil
import signal
import sys
import time
from collections.abc import Generator, Iterator
from types import FrameType
from typing import Any

import pytest

FLOORS = ("circuit", "plan", "diagnose")
LIMIT_S = float(os.environ.get("MUTATION_TEST_LIMIT_S", "45"))
_took_s: dict[str, float] = {}
_failed: set[str] = set()


class TooLong(BaseException):
    """A test took more CPU time than tests worth running for each mutant may."""


def load_floors() -> None:
    """Import every module under mutation, so that lines run at import belong to no test."""
    for floor in FLOORS:
        package = importlib.import_module(f"subbase.{floor}")
        for found in pkgutil.iter_modules(package.__path__):
            importlib.import_module(f"{package.__name__}.{found.name}")


def forget() -> None:
    """Empty every cache that tests and code keep, so that each test stands alone."""
    for kept in gc.get_objects():
        if isinstance(kept, functools._lru_cache_wrapper) and (
            kept.__module__.startswith("tests.") or kept.__module__.startswith("subbase.plan")
        ):
            kept.cache_clear()


def _coverage() -> Any:
    """Return the running coverage, if there is one; it is no dependency of the project's own tests."""
    return sys.modules["coverage"].Coverage.current() if "coverage" in sys.modules else None


def _stop(_number: int, _frame: FrameType | None) -> None:
    raise TooLong


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    """Run one test alone, under a limit of CPU time, and note what it took."""
    forget()
    current = _coverage()
    if current is not None:
        current.switch_context(item.nodeid)
    signal.signal(signal.SIGPROF, _stop)
    signal.setitimer(signal.ITIMER_PROF, LIMIT_S)
    began_s = time.process_time()
    try:
        return (yield)
    except TooLong:
        _failed.add(item.nodeid)
        print(f"\ntoo long: {item.nodeid}")
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        if current is not None:
            current.switch_context("")
        if item.nodeid not in _failed:
            _took_s[item.nodeid] = round(time.process_time() - began_s, 2)
            if len(_took_s) % 5 == 0:
                write_times()


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> Generator[None, Any, Any]:
    """Drop tests that do not pass here: they cannot kill anything."""
    report = yield
    if call.excinfo is not None:
        _failed.add(item.nodeid)
    return report


def pytest_sessionstart() -> None:
    """Load everything before the first test."""
    load_floors()


def pytest_sessionfinish() -> None:
    """Write the last times."""
    write_times()


def write_times() -> None:
    """Write what each test took, beside the coverage data."""
    with open(os.environ["MUTATION_TIMES"], "w", encoding="utf-8") as file:
        json.dump(_took_s, file, indent=0)
