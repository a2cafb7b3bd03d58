"""How a command ends that is told to end (SIGTERM): it clears away what it had begun, and then ends by that signal."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType


class Terminated(BaseException):
    """Somebody told the program to end; whatever is open is closed on the way out."""


@contextmanager
def clearing_away() -> Iterator[None]:
    """Run what is inside so that SIGTERM unwinds it like Ctrl-C does; the program still ends as SIGTERM ends it.

    Where somebody else listens to the signal already (a server does), or this is not the main thread, nothing is changed.
    """
    ours = threading.current_thread() is threading.main_thread() and signal.getsignal(signal.SIGTERM) == signal.SIG_DFL
    if not ours:
        yield
        return
    pid = os.getpid()

    def told(_number: int, _frame: FrameType | None) -> None:
        if os.getpid() == pid:
            raise Terminated
        _end()  # a worker that was forked from here has nothing to clear away

    signal.signal(signal.SIGTERM, told)
    try:
        yield
    except Terminated:
        _end()
    finally:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)


def _end() -> None:
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    os.kill(os.getpid(), signal.SIGTERM)
