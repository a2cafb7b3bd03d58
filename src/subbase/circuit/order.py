"""The order in which nodes are eliminated: fewest neighbours first, references last (Tinney and Walker 1967)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def least_degree_order(node_count: int, pairs: Iterable[tuple[int, int]], last: Sequence[int]) -> tuple[int, ...]:
    """Return all nodes in elimination order.

    Parameters
    ----------
    node_count
        Nodes are 0 to ``node_count`` − 1.
    pairs
        Nodes joined by a branch that may conduct.
    last
        Nodes to be eliminated after all others, in this order.

    Notes
    -----
    The scheme known as Tinney's second: Tinney and Walker, Proc. IEEE 55 (1967) 1801-1809 (from memory).
    """
    neighbours: list[set[int]] = [set() for _ in range(node_count)]
    for a, b in pairs:
        neighbours[a].add(b)
        neighbours[b].add(a)
    kept_back = set(last)
    waiting = {node for node in range(node_count) if node not in kept_back}
    order: list[int] = []
    while waiting:
        node = min(waiting, key=lambda n: (len(neighbours[n]), n))
        waiting.remove(node)
        order.append(node)
        for a in neighbours[node]:
            neighbours[a] |= neighbours[node]
            neighbours[a] -= {a, node}
    return (*order, *last)
