"""The same cover as an integer programme, for covers that branch and bound does not end soon: HiGHS, through SciPy."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol


class Priced(Protocol):
    """An offer's cost."""

    @property
    def seconds(self) -> int:
        """Its own cost."""

    @property
    def groups(self) -> tuple[tuple[str, int], ...]:
        """(cost that it shares with others, its seconds)."""


def least_by_programme(
    holders: Mapping[int, Sequence[int]], offers: Sequence[Priced], within: int
) -> tuple[int, ...] | None:
    """Return the positions of offers that hold every element at the least cost, proven; None when that is not below ``within``.

    Parameters
    ----------
    holders
        Element -> positions of the offers that hold it.

    Raises
    ------
    ImportError
        Where there is no SciPy, as in a browser.
    RuntimeError
        When the solver ends without a proof.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import lil_matrix

    used = sorted({i for by in holders.values() for i in by})
    names = sorted({name for i in used for name, _ in offers[i].groups})
    column = {i: k for k, i in enumerate(used)}
    paid = {name: len(used) + k for k, name in enumerate(names)}
    seconds_of = dict(group for i in used for group in offers[i].groups)
    cost = np.array([offers[i].seconds for i in used] + [seconds_of[name] for name in names], dtype=float)
    uses = [(column[i], paid[name]) for i in used for name, _ in offers[i].groups]
    rows = lil_matrix((len(holders) + len(uses), len(cost)))
    for row, by in enumerate(holders.values()):
        rows[row, [column[i] for i in by]] = 1.0
    for row, (offer, name_column) in enumerate(uses, start=len(holders)):
        rows[row, name_column], rows[row, offer] = 1.0, -1.0
    least = np.concatenate((np.ones(len(holders)), np.zeros(len(uses))))
    # Costs are whole seconds, so a gap below half of one is none.
    found = milp(
        cost,
        integrality=np.ones(len(cost)),
        bounds=Bounds(0.0, 1.0),
        constraints=LinearConstraint(rows.tocsr(), least, np.inf),
        options={"mip_rel_gap": 0.0},
    )
    if found.status != 0 or found.fun - found.mip_dual_bound > 0.5:
        raise RuntimeError(f"The integer programme of the cover ended without a proof: {found.message}")
    if round(found.fun) >= within:
        return None
    return tuple(i for i in used if found.x[column[i]] > 0.5)


__all__ = ["least_by_programme"]
