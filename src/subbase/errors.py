"""Every error of our own, in two branches: bad input and no solution (a stop is no error: it is a plan's verdict).

Each carries its data as attributes and survives pickling, so a worker process can hand it back whole.
"""

from __future__ import annotations

from dataclasses import dataclass


class SubbaseError(Exception):
    """Root of all errors that this package raises on purpose."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with an input, told in one sentence."""

    message: str
    """What is wrong and what would put it right."""
    where: str = ""
    """The field, written as in the file: ``cables.wall.conductors.red.to``."""
    file: str = ""
    line: int = 0
    """Counted from 1; 0 when the place is not known."""
    column: int = 0

    def __str__(self) -> str:
        place = self.file
        if self.line:
            place = f"{place}:{self.line}:{self.column}"
        parts = [part for part in (place, self.where, self.message) if part]
        return ": ".join(parts)


class InputError(SubbaseError):
    """An input cannot be read; ``faults`` holds every fault found, in the file's order."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        super().__init__(faults)
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


class NoSolution(SubbaseError):
    """A circuit or a search has no answer; subclasses say what clashes."""


class FloatingNodes(NoSolution):
    """Some nodes have no path to any supply; ``nodes`` names them as on the diagram."""

    def __init__(self, nodes: tuple[str, ...]) -> None:
        super().__init__(nodes)
        self.nodes = nodes

    def __str__(self) -> str:
        return f"No path to any supply from: {', '.join(self.nodes)}."


class Chatter(NoSolution):
    """Relay logic never comes to rest; ``coils`` names those that pull in and fall out by turns."""

    def __init__(self, coils: tuple[str, ...]) -> None:
        super().__init__(coils)
        self.coils = coils

    def __str__(self) -> str:
        return f"These coils pull in and fall out by turns and never settle: {', '.join(self.coils)}."
