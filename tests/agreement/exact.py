"""Nodal equations solved in fractions, which never round: dense, slow, and alike to neither solver."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from fractions import Fraction

from subbase.circuit.netlist import Branch, Node, Source


@dataclass(frozen=True, slots=True)
class Exact:
    """A complex number of two fractions."""

    re: Fraction
    im: Fraction

    @staticmethod
    def of(number: complex) -> Exact:
        """Return a number without rounding it."""
        return Exact(Fraction(complex(number).real), Fraction(complex(number).imag))

    def __add__(self, other: Exact) -> Exact:
        return Exact(self.re + other.re, self.im + other.im)

    def __sub__(self, other: Exact) -> Exact:
        return Exact(self.re - other.re, self.im - other.im)

    def __mul__(self, other: Exact) -> Exact:
        return Exact(self.re * other.re - self.im * other.im, self.re * other.im + self.im * other.re)

    def __truediv__(self, other: Exact) -> Exact:
        size = other.re**2 + other.im**2
        return self * Exact(other.re / size, -other.im / size)

    def __bool__(self) -> bool:
        return bool(self.re or self.im)


ZERO = Exact(Fraction(0), Fraction(0))


def exact_node_voltages(
    branches: Iterable[tuple[Branch, complex]], nodes: Sequence[Node], references: Set[Node]
) -> dict[Node, complex]:
    """Return node voltages of branches that conduct, each with its impedance; references are at 0 V."""
    unknown = [node for node in nodes if node not in references]
    row_of = {node: i for i, node in enumerate(unknown)}
    rows = [[ZERO] * (len(unknown) + 1) for _ in unknown]
    for branch, z_ohm in branches:
        y = Exact.of(1.0) / Exact.of(z_ohm)
        injected = y * Exact.of(branch.emf_v) if isinstance(branch, Source) else ZERO
        for node, other, current in (
            (branch.head, branch.tail, injected),
            (branch.tail, branch.head, ZERO - injected),
        ):
            if node in row_of:
                row = rows[row_of[node]]
                row[row_of[node]] += y
                row[-1] += current
                if other in row_of:
                    row[row_of[other]] -= y
    _reduce(rows)
    found = {node: complex(float(row[-1].re), float(row[-1].im)) for node, row in zip(unknown, rows, strict=True)}
    return {node: found.get(node, 0j) for node in nodes}


def _reduce(rows: list[list[Exact]]) -> None:
    """Bring rows to the unit matrix (Gauss and Jordan), right side last."""
    for k in range(len(rows)):
        pivot = next(i for i in range(k, len(rows)) if rows[i][k])
        rows[k], rows[pivot] = rows[pivot], rows[k]
        rows[k] = [value / rows[k][k] if value else value for value in rows[k]]
        for i, row in enumerate(rows):
            if i != k and row[k]:
                factor = row[k]
                rows[i] = [value - factor * own if own else value for value, own in zip(row, rows[k], strict=True)]
