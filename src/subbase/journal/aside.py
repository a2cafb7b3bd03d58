"""What reading leaves behind: who saw a page, when a session was last used. A slow or full disk keeps nobody from reading."""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait

from subbase.journal.trouble import JournalTrouble

log = logging.getLogger("subbase.journal")
PATIENCE_S = 1.0
"""How long a reader waits for it; it is written all the same afterwards."""
MOST_WAITING = 1_000


class Aside:
    """Small things written in a thread of their own, in order; may be asked from any thread."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="subbase-aside")
        self._waiting: set[Future[None]] = set()
        self._guard = threading.Lock()

    def write(self, act: Callable[[], None], what: str) -> None:
        """Do this, and wait for it a little. What fails goes to the log as ``what``: it is no reason to show nothing."""
        # It may hold words out of an address.
        what = what.encode("unicode_escape").decode()
        with self._guard:
            if len(self._waiting) >= MOST_WAITING:
                log.warning("not written, too much waits for the disk: %s", what)
                return
            future = self._pool.submit(_tried, act, what)
            self._waiting.add(future)
        future.add_done_callback(self._over)
        wait((future,), PATIENCE_S)

    def settle(self) -> None:
        """Wait until all that was given is written."""
        with self._guard:
            given = tuple(self._waiting)
        wait(given)

    def _over(self, future: Future[None]) -> None:
        with self._guard:
            self._waiting.discard(future)


def _tried(act: Callable[[], None], what: str) -> None:
    try:
        act()
    except JournalTrouble as error:
        log.warning("not written: %s: %s", what, error)
    except Exception:
        log.exception("not written: %s", what)
