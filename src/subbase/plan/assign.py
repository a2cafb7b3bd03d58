"""Exact least-cost assignment: the Hungarian method on whole numbers, standard library only.

Kuhn (1955), Munkres (1957); the shortest augmenting path form with potentials, O(rows² · columns).
"""

from __future__ import annotations

from collections.abc import Sequence

from subbase.words import _

FORBIDDEN = 10**12
"""Cost of a pair that must not be; a total at or above it means that no assignment exists."""


def least_assignment(cost: Sequence[Sequence[int]]) -> tuple[int, tuple[int, ...]]:
    """Return (total cost, column of each row) of a least-cost assignment of every row to its own column.

    Parameters
    ----------
    cost
        (n_row, n_column) whole numbers, n_row <= n_column; ``FORBIDDEN`` where a pair must not be.

    Raises
    ------
    ValueError
        With more rows than columns.
    """
    rows = len(cost)
    columns = len(cost[0]) if rows else 0
    if rows > columns:
        raise ValueError(_("{rows} rows cannot each have one of {columns} columns.").format(rows=rows, columns=columns))
    row_potential = [0] * (rows + 1)
    column_potential = [0] * (columns + 1)
    row_of = [0] * (columns + 1)
    for row in range(1, rows + 1):
        _augment(cost, row, row_of, row_potential, column_potential)
    column_of = [0] * rows
    for column in range(1, columns + 1):
        if row_of[column]:
            column_of[row_of[column] - 1] = column - 1
    return sum(cost[row][column] for row, column in enumerate(column_of)), tuple(column_of)


def _augment(
    cost: Sequence[Sequence[int]], row: int, row_of: list[int], row_potential: list[int], column_potential: list[int]
) -> None:
    """Find the cheapest way to give ``row`` a column, moving earlier rows where that is cheaper (1-based, in place)."""
    columns = len(column_potential) - 1
    row_of[0] = row
    least = [FORBIDDEN * 10] * (columns + 1)
    came_from = [0] * (columns + 1)
    done = [False] * (columns + 1)
    column = 0
    while row_of[column]:
        done[column] = True
        current = row_of[column]
        delta, following = FORBIDDEN * 100, 0
        for j in range(1, columns + 1):
            if done[j]:
                continue
            reduced = cost[current - 1][j - 1] - row_potential[current] - column_potential[j]
            if reduced < least[j]:
                least[j], came_from[j] = reduced, column
            if least[j] < delta:
                delta, following = least[j], j
        for j in range(columns + 1):
            if done[j]:
                row_potential[row_of[j]] += delta
                column_potential[j] -= delta
            else:
                least[j] -= delta
        column = following
    while column:
        row_of[column] = row_of[came_from[column]]
        column = came_from[column]
