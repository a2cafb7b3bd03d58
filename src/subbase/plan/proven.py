"""What a proof says: state by state what is on, what it draws and what it is fed with, and what failed."""

from __future__ import annotations

from dataclasses import dataclass

from subbase.circuit import Settled
from subbase.wiring.states import State


@dataclass(frozen=True, slots=True)
class LoadProof:
    """One load that a state brings on."""

    tag: str
    words: str
    sealed_v: float
    low_v: float
    high_v: float
    inrush_v: float
    """Volts as it pulls in, at the low corner."""
    sealed_a: float
    inrush_a: float
    pull_in_v: float


@dataclass(frozen=True, slots=True)
class SupplyProof:
    """One transformer in one state."""

    tag: str
    words: str
    draw_va: float
    rated_va: float


@dataclass(frozen=True, slots=True)
class ControlProof:
    """The supply of one control's own electronics in one state."""

    control: str
    awake_v: float
    low_v: float
    high_v: float
    least_v: float
    most_v: float


@dataclass(frozen=True, slots=True)
class StateProof:
    """One state of the house."""

    state: State
    words: str
    loads: tuple[LoadProof, ...]
    supplies: tuple[SupplyProof, ...]
    controls: tuple[ControlProof, ...]
    nominal: Settled
    waived: bool
    """Whether the state holds a call that is given up or was never wired."""


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that refuses a wiring."""

    rule: str
    """Short name of the rule: 'wrong load', 'missing load', 'starved', 'overload', 'fuse', 'class 2' ..."""
    text: str
    state: str = ""
    head: str = ""
    """The text without its numbers and reasons, where it has some: one cause, whatever the state."""

    @property
    def cause(self) -> str:
        """Return what is told once however many states it fails in."""
        return self.head or self.text


@dataclass(frozen=True, slots=True)
class Proof:
    """The table of states against loads, volts, amperes and VA, and what failed."""

    states: tuple[StateProof, ...]
    failures: tuple[Failure, ...]
    margin: float
    """Least relative distance to any limit: 0.1 means that every limit is at least 10 % away."""
    margin_words: str
    """Which limit is nearest."""

    @property
    def holds(self) -> bool:
        """Whether nothing failed."""
        return not self.failures
