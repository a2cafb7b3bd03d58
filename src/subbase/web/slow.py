"""What takes longer than a page may: made in the background, remembered, and said to be on its way until it is there."""

from __future__ import annotations

import contextvars
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotInTime
from dataclasses import dataclass, field
from typing import Any, TypeVar

T = TypeVar("T")
Told = Callable[[str], None]
WORKERS = 2
PATIENCE_S = 1.0
"""How long a page waits before it says that something is being worked out."""
MOST = {"diagnosis": 6}
"""Results kept of a kind; a house's predictions take tens of megabytes."""
MOST_OTHERS = 64


class NotYet(Exception):
    """It is being worked out; the page that asked says so and looks again."""

    def __init__(self, what: str, seconds: float, said: str) -> None:
        super().__init__(what)
        self.what = what
        """In a few words, in the reader's language."""
        self.seconds = seconds
        """Since it was begun."""
        self.said = said
        """What is being done at the moment, if known."""


@dataclass
class _Work:
    future: Future[Any]
    began: float = field(default_factory=time.monotonic)
    said: str = ""


class Slow:
    """Results by kind and key, made by a few threads; may be asked from any thread."""

    def __init__(self, workers: int = WORKERS) -> None:
        self._pool = ThreadPoolExecutor(workers, thread_name_prefix="subbase-slow")
        self._kept: dict[str, OrderedDict[str, _Work]] = {}
        self._guard = threading.Lock()

    def get(
        self, kind: str, key: str, make: Callable[[Told], T], *, what: str, patience_s: float | None = PATIENCE_S
    ) -> T:
        """Return what is remembered, or begin to make it and wait for it.

        Parameters
        ----------
        make
            Called once, in another thread; what it gives its argument is shown to those who wait.
        patience_s
            None to wait until it is there.

        Raises
        ------
        NotYet
            When it is not there in that time.
        """
        work = self._work(kind, key, make)
        try:
            made: T = work.future.result(patience_s)
        except NotInTime:
            raise NotYet(what, time.monotonic() - work.began, work.said) from None
        except Exception:
            with self._guard:
                self._kept[kind].pop(key, None)
            raise
        return made

    def _work(self, kind: str, key: str, make: Callable[[Told], T]) -> _Work:
        with self._guard:
            kept = self._kept.setdefault(kind, OrderedDict())
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
            future: Future[Any] = Future()
            work = kept[key] = _Work(future)
            done = [old for old, item in kept.items() if item.future.done()]
            for old in done[: max(0, len(kept) - MOST.get(kind, MOST_OTHERS))]:
                del kept[old]
        # The language is held in a context variable; the thread gets the asker's.
        self._pool.submit(contextvars.copy_context().run, _run, work, make)
        return work


def _run(work: _Work, make: Callable[[Told], Any]) -> None:
    def told(text: str) -> None:
        work.said = text

    try:
        work.future.set_result(make(told))
    except BaseException as error:
        # Handed on to whoever asked.
        work.future.set_exception(error)


__all__ = ["PATIENCE_S", "NotYet", "Slow", "Told"]
