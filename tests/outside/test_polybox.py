"""The published polybox: three multipliers, two adders, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction

import numpy as np
import pytest

from subbase.diagnose.information import expected_entropy_bits
from subbase.diagnose.minimal import minimal_diagnoses

SOURCE = "de Kleer and Williams, Artificial Intelligence 32 (1987) 97-130"
A, B, C, D, E = 3, 2, 2, 3, 3
PARTS = frozenset({"M1", "M2", "M3", "A1", "A2"})
ROWS: Mapping[str, tuple[tuple[int, int, int], int]] = {
    # Coefficients of X, Y, Z, and what they add up to while the part is sound; F was seen as 10, G as 12.
    "M1": ((1, 0, 0), A * C),
    "M2": ((0, 1, 0), B * D),
    "M3": ((0, 0, 1), C * E),
    "A1": ((1, 1, 0), 10),
    "A2": ((0, 1, 1), 12),
}


def consistent(sound: frozenset[str]) -> bool:
    """Tell by Gaussian elimination in fractions whether the equations of the sound parts have a solution."""
    rows = [[Fraction(c) for c in (*ROWS[part][0], ROWS[part][1])] for part in sorted(sound)]
    for column in range(3):
        pivot = next((row for row in rows if row[column] != 0 and all(x == 0 for x in row[:column])), None)
        if pivot is None:
            continue
        rows = [
            row if row is pivot else [x - row[column] / pivot[column] * y for x, y in zip(row, pivot, strict=True)]
            for row in rows
        ]
    return not any(all(x == 0 for x in row[:3]) and row[3] != 0 for row in rows)


@pytest.mark.outside(source=SOURCE, how="its minimal conflicts and candidates for F = 10, G = 12, as printed")
def test_the_polybox_has_the_published_conflicts_and_diagnoses() -> None:
    """Two minimal conflicts, and from them the four minimal diagnoses."""
    diagnoses, conflicts = minimal_diagnoses(PARTS, consistent)
    assert set(conflicts) == {frozenset({"A1", "M1", "M2"}), frozenset({"A1", "A2", "M1", "M3"})}
    assert set(diagnoses) == {
        frozenset({"M1"}), frozenset({"A1"}), frozenset({"M2", "M3"}), frozenset({"A2", "M2"}),
    }  # fmt: skip


@pytest.mark.outside(source=SOURCE, how="X is its best probe; expected entropies computed by hand from p = 0.01 a part")
def test_the_best_probe_of_the_polybox_is_x() -> None:
    """Each diagnosis gives X, Y and Z a value; X parts them best."""
    values = {"M1": (4, 6, 6), "A1": (6, 6, 6), "M2 M3": (6, 4, 8), "A2 M2": (6, 4, 6)}
    p = np.array([0.01**k * 0.99 ** (5 - k) for k in (1, 1, 2, 2)])
    weight = p / p.sum()
    expected = {}
    for place, name in enumerate("XYZ"):
        seen = [item[place] for item in values.values()]
        outcome = np.array([[float(value == other) for other in (4, 6, 8)] for value in seen])
        expected[name] = float(expected_entropy_bits(weight, outcome))
    assert min(expected, key=expected.__getitem__) == "X"
    assert [round(expected[name], 4) for name in "XYZ"] == [0.0809, 1.0, 1.0354]
