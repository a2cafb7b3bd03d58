"""The same covers written as integer programmes and solved by HiGHS."""

from __future__ import annotations

from collections.abc import Sequence

import highspy

from subbase.work.cover import Offer


def least_by_highs(wanted: frozenset[int], offers: Sequence[Offer]) -> int:
    """Return the least cost of a cover, proven by HiGHS [s of work]."""
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("mip_rel_gap", 0.0)
    used = [solver.addBinary() for _ in offers]
    shared = dict(group for offer in offers for group in offer.groups)
    paid = {name: solver.addBinary() for name in shared}
    for element in wanted:
        holding = [used[i] for i, offer in enumerate(offers) if element in offer.holds]
        solver.addConstr(highspy.Highs.qsum(holding) >= 1)
    for i, offer in enumerate(offers):
        for name, _ in offer.groups:
            solver.addConstr(paid[name] >= used[i])
    costs = [offer.seconds * used[i] for i, offer in enumerate(offers)]
    costs += [seconds * paid[name] for name, seconds in shared.items()]
    solver.minimize(highspy.Highs.qsum(costs))
    assert solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
    return round(solver.getObjectiveValue())
