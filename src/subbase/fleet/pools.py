"""Who does the pieces: this process, this machine's cores, or a Dask cluster. What comes out is the same, byte for byte.

Pieces are handed out a few at a time, so that neither a million homes nor their results wait in memory.
"""

from __future__ import annotations

import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

from subbase.errors import Fault, InputError
from subbase.words import _

Result = TypeVar("Result")
Job = tuple[str, tuple[Any, ...]]
"""(name of the piece, arguments of the function)."""
IN_FLIGHT = 3
"""Pieces handed out for each worker: one at work, the others on the way."""
CONNECT_S = 20
RETRIES = 20
"""How often a cluster begins a piece anew whose worker died."""


class Pool(Protocol):
    """Somebody who does pieces."""

    @property
    def workers(self) -> int:
        """How many pieces are done side by side."""

    def done(self, function: Callable[..., Result], jobs: Iterator[Job]) -> Iterator[tuple[str, Result]]:
        """Yield (name, result) of every job, in whatever order they are done."""


class Here:
    """This process, one piece after the other."""

    workers = 1

    def done(self, function: Callable[..., Result], jobs: Iterator[Job]) -> Iterator[tuple[str, Result]]:
        """Yield (name, result) of every job, in their order."""
        for name, arguments in jobs:
            yield name, function(*arguments)


class Cores:
    """Processes on this machine."""

    def __init__(self, executor: ProcessPoolExecutor, workers: int) -> None:
        self.executor, self.workers = executor, workers

    def done(self, function: Callable[..., Result], jobs: Iterator[Job]) -> Iterator[tuple[str, Result]]:
        """Yield (name, result) of every job as they are done."""
        waiting: dict[Future[Result], str] = {}
        try:
            for name, arguments in jobs:
                waiting[self.executor.submit(function, *arguments)] = name
                if len(waiting) >= IN_FLIGHT * self.workers:
                    yield from _finished(waiting)
            while waiting:
                yield from _finished(waiting)
        except BrokenProcessPool:
            message = _(
                "A worker process died, most likely for lack of memory; start the run again, it goes on from here."
            )
            raise InputError((Fault(message),)) from None


def _finished(waiting: dict[Future[Result], str]) -> Iterator[tuple[str, Result]]:
    for future in wait(waiting, return_when=FIRST_COMPLETED).done:
        yield waiting.pop(future), future.result()


class Cluster:
    """A Dask cluster, by its scheduler's address."""

    def __init__(self, client: Any) -> None:
        self.client = client

    @property
    def workers(self) -> int:
        """How many threads the cluster's workers have together."""
        return max(1, int(sum(self.client.nthreads().values())))

    def done(self, function: Callable[..., Result], jobs: Iterator[Job]) -> Iterator[tuple[str, Result]]:
        """Yield (name, result) of every job as they are done; a piece whose worker dies is begun anew elsewhere."""
        from distributed import as_completed

        gather: Any = as_completed
        names: dict[str, str] = {}
        flow = gather(loop=self.client.loop)
        for name, arguments in jobs:
            # A piece is a pure function, but nothing of an earlier run may answer for it.
            future = self.client.submit(function, *arguments, pure=False, retries=RETRIES)
            names[future.key] = name
            flow.add(future)
            del future
            if len(names) >= IN_FLIGHT * self.workers:
                yield self._next(flow, names)
        while names:
            yield self._next(flow, names)

    def _next(self, flow: Any, names: dict[str, str]) -> tuple[str, Any]:
        future = next(flow)
        name = names.pop(future.key)
        result = future.result()
        future.release()
        return name, result


@contextmanager
def pool_of(*, workers: int | None, scheduler: str | None) -> Iterator[Pool]:
    """Yield who does the pieces.

    Raises
    ------
    InputError
        When no scheduler answers at the address.
    """
    if scheduler is not None:
        with _cluster(scheduler) as cluster:
            yield cluster
        return
    workers = workers or os.cpu_count() or 1
    if workers == 1:
        yield Here()
        return
    # A server that forks begins quickly and, unlike a plain fork, takes over no threads.
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["subbase.fleet.chunks"])
    executor = ProcessPoolExecutor(workers, mp_context=context, initializer=_end_with_parent)
    try:
        yield Cores(executor, workers)
    finally:
        executor.shutdown(wait=True, cancel_futures=True)


def _end_with_parent() -> None:
    """Let this worker end when the run is killed: nobody would take its result, and it would wait for ever."""
    parent = multiprocessing.parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    threading.Thread(target=watch, daemon=True).start()
    # Ctrl-C reaches every process of a terminal: the run says one line, and its workers say nothing.
    signal.signal(signal.SIGINT, lambda _number, _frame: os._exit(1))


@contextmanager
def _cluster(address: str) -> Iterator[Cluster]:
    import dask
    import distributed

    # A worker that dies fills the screen with what every other part of the cluster thinks of it.
    for name in ("distributed", "distributed.client", "distributed.scheduler"):
        logging.getLogger(name).setLevel(logging.ERROR)
    dask.config.set({"distributed.admin.large-graph-warning-threshold": "100MB"})
    try:
        connect: Any = distributed.Client
        client = connect(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        message = _("No scheduler answers at {address}: {error}.").format(address=address, error=error)
        raise InputError((Fault(message, file=address),)) from None
    try:
        yield Cluster(client)
    finally:
        client.close()
