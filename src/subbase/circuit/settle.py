"""Relay logic brought to rest: solve, let coils act, solve again, until no coil wants to change.

At each step the coils that want to change are found; those with the shortest delay act together, the others wait for
the next step. The rule has no clock, so a state always settles the same way, and the steps tell the order in which a
technician hears things happen.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Set
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass

from subbase.circuit.netlist import Coil, Netlist, Tag
from subbase.circuit.solve import NO_TAGS, Solution, solve
from subbase.errors import Chatter


@dataclass(frozen=True, slots=True)
class Step:
    """Coils that acted together."""

    pulled_in: tuple[Tag, ...]
    dropped_out: tuple[Tag, ...]
    delay_s: float
    pull_in_v: tuple[float, ...] = ()
    """Volts across each coil of ``pulled_in`` just before it pulled in, with its inrush current flowing."""
    pull_in_a: tuple[float, ...] = ()
    """Amperes through each coil of ``pulled_in`` at the same moment."""


@dataclass(frozen=True, slots=True)
class Settled:
    """A circuit at rest."""

    solution: Solution
    coils_in: frozenset[Tag]
    steps: tuple[Step, ...]

    def starved(self, fraction: float = 0.2) -> tuple[Tag, ...]:
        """Return coils that are out though more than ``fraction`` of their pull-in voltage is across them."""
        return tuple(
            coil.tag
            for coil in self.solution.netlist.of(Coil)
            if coil.tag not in self.coils_in and abs(self.solution.across(coil.tag)) > fraction * coil.pull_in_v
        )


@dataclass(frozen=True, slots=True)
class Settling:
    """One call of ``settle``: what was asked, every state on the way, and what came of it."""

    netlist: Netlist
    operated: Set[Tag]
    coils_in: frozenset[Tag]
    """At the start."""
    path: tuple[Solution, ...]
    settled: Settled | None
    """None where coils chatter."""


_watcher: ContextVar[Callable[[Settling], None] | None] = ContextVar("settle_watcher", default=None)


@contextmanager
def watched_settling(watcher: Callable[[Settling], None]) -> Iterator[None]:
    """Tell ``watcher`` of every call of ``settle`` inside a block."""
    token = _watcher.set(watcher)
    try:
        yield
    finally:
        _watcher.reset(token)


def settle(netlist: Netlist, *, operated: Set[Tag] = NO_TAGS, coils_in: Set[Tag] = NO_TAGS) -> Settled:
    """Return the state at rest that follows when ``operated`` switches act, starting from ``coils_in``.

    Raises
    ------
    Chatter
        When the coils never come to rest; it names those that keep changing.
    """
    coils = tuple(netlist.of(Coil))
    state = frozenset(coils_in)
    seen: dict[frozenset[Tag], int] = {}
    history: list[frozenset[Tag]] = []
    steps: list[Step] = []
    path: list[Solution] = []
    watcher = _watcher.get()
    while True:
        if state in seen:
            if watcher is not None:
                watcher(Settling(netlist, operated, frozenset(coils_in), tuple(path), None))
            cycle = history[seen[state] :]
            raise Chatter(tuple(sorted(frozenset.union(*cycle) - frozenset.intersection(*cycle))))
        seen[state] = len(history)
        history.append(state)
        solution = solve(netlist, operated=operated, coils_in=state)
        path.append(solution)
        wanting = [coil for coil in coils if wants_change(coil, solution, state)]
        if not wanting:
            settled = Settled(solution, state, tuple(steps))
            if watcher is not None:
                watcher(Settling(netlist, operated, frozenset(coils_in), tuple(path), settled))
            return settled
        delay_s = min(coil.delay_s for coil in wanting)
        acting = frozenset(coil.tag for coil in wanting if coil.delay_s == delay_s)
        pulled_in = tuple(sorted(acting - state))
        volts = tuple(abs(solution.across(tag)) for tag in pulled_in)
        amperes = tuple(abs(solution.current_a(tag)) for tag in pulled_in)
        steps.append(Step(pulled_in, tuple(sorted(acting & state)), delay_s, volts, amperes))
        state = state ^ acting


def wants_change(coil: Coil, solution: Solution, coils_in: Set[Tag]) -> bool:
    """Return whether a coil is to pull in or to drop out, by the voltage across it."""
    across_v = abs(solution.across(coil.tag))
    return across_v < coil.drop_out_v if coil.tag in coils_in else across_v >= coil.pull_in_v
