"""What two slips at once do, whether the checks chosen for single slips show them, and which further checks would.

Two slips can hide each other: what passes every chosen check though something goes wrong is reported as such, and for
it further checks are chosen, again the least work, proven.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from subbase.plan import Plan
from subbase.work.check_bounds import Check
from subbase.work.checks import CheckPlan, ChosenCheck, dead_checks, live_checks
from subbase.work.cover import Offer, cover_seconds, least_cover
from subbase.work.double_slips import DoubleSlip, double_slips, pair_count
from subbase.work.outcomes import DAMAGING, Outcome, bench_of, judged, workbench_of
from subbase.work.slips import Slip
from subbase.work.telling import Teller, teller


@dataclass(frozen=True, slots=True)
class DoubleOutcome:
    """What two slips do together, and the first chosen check that shows it."""

    double: DoubleSlip
    outcome: Outcome
    shown_by: Check | None
    """In the order of work; None when the two pass every chosen check, or do nothing."""

    @property
    def does_something(self) -> bool:
        """Return whether anything goes wrong in any single call."""
        return self.outcome.severity != "nothing"

    @property
    def damaging(self) -> bool:
        """Return whether it must be caught before supply is put on, wherever a dead check can."""
        return self.outcome.severity in DAMAGING


@dataclass(frozen=True, slots=True)
class DoubleReport:
    """The likely double slips of a plan, held against the checks chosen for its single slips."""

    doubles: tuple[DoubleOutcome, ...]
    pairs: int
    """How many pairs of single slips there are, likely or not; only the likely ones were looked at."""
    masked: tuple[DoubleOutcome, ...]
    """They do something and yet pass every chosen check."""
    shown_live: tuple[DoubleOutcome, ...]
    """They do damage, and no chosen check shows it before supply is on."""
    extra: tuple[ChosenCheck, ...]
    """The least further checks that show what is in ``masked`` and ``shown_live``, as far as any check can."""
    extra_seconds: int
    untold: tuple[DoubleOutcome, ...]
    """Of ``masked``: those that no check at all can tell from the good house."""
    only_live: tuple[DoubleOutcome, ...]
    """They do damage, and no dead check at all shows it, though a live one does."""

    @property
    def harmless(self) -> int:
        """Return how many do nothing in any single call."""
        return sum(not double.does_something for double in self.doubles)

    @property
    def told(self) -> int:
        """Return how many that do something the chosen checks show."""
        return len(self.doubles) - self.harmless - len(self.masked)


def doubles_for(plan: Plan, chosen: CheckPlan) -> DoubleReport:
    """Return what the likely double slips of a plan do, and how the checks chosen for it fare against them.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    doubles = double_slips(plan)
    if plan.left is None:
        raise ValueError("The plan leaves no house, so there is nothing to check; answer what it asks.")
    bench = bench_of(plan.left, plan.catalog)
    made = [each.check for each in chosen.checks]
    dead = [check for check in made if check.state is None]
    live = [check for check in made if check.state is not None]
    tell = teller(plan.left, plan.catalog, dead, live)
    found = []
    for double in doubles:
        calls = tell.nominal.calls(double.both, bench.states)
        outcome = judged(double.both, bench, calls, workbench_of(tell.nominal, double.both))
        shown = None if outcome.severity == "nothing" else _first_shown(tell, double.both)
        found.append(DoubleOutcome(double, outcome, shown))
    masked = tuple(each for each in found if each.does_something and each.shown_by is None)
    shown_live = tuple(each for each in found if each.damaging and each.shown_by and each.shown_by.state is not None)
    return _with_extra(plan, made, (tuple(found), masked, shown_live))


def _first_shown(tell: Teller, slip: Slip) -> Check | None:
    for i in range(len(tell.dead)):
        if tell.by_dead(slip, (i,)):
            return tell.dead[i]
    shown = tell.by_live(slip)
    return tell.live[shown[0]] if shown else None


Found = tuple[tuple[DoubleOutcome, ...], tuple[DoubleOutcome, ...], tuple[DoubleOutcome, ...]]
"""All doubles, those masked, those of which damage shows only live."""


def _with_extra(plan: Plan, made: Sequence[Check], found: Found) -> DoubleReport:
    """Choose the further checks: damage dead wherever a dead check can, the rest by whatever is cheapest."""
    doubles, masked, shown_live = found
    assert plan.left is not None
    taken = set(made)
    dead = [check for check in dead_checks(plan.left, plan.catalog) if check not in taken]
    live = [check for check in live_checks(plan.left, plan.catalog) if check not in taken]
    tell = teller(plan.left, plan.catalog, dead, live)
    checks = (*dead, *live)
    tells: list[set[int]] = [set() for _ in checks]
    wanted, untold, only_live = set(), [], []
    asked = (*masked, *shown_live)
    for index, each in enumerate(asked):
        seen = tell.by_dead(each.double.both)
        if not (seen and each.damaging):
            only_live += [each] if each.damaging else []
            if each.shown_by is not None:
                continue  # a live check that is made anyway shows it
            seen = (*seen, *(len(dead) + i for i in tell.by_live(each.double.both)))
        if seen:
            wanted.add(index)
        else:
            untold.append(each)
        for check in seen:
            tells[check].add(index)
    paid = {name for check in made for name, _ in check.groups}
    offers = [
        Offer(frozenset(told), check.seconds, tuple(group for group in check.groups if group[0] not in paid))
        for check, told in zip(checks, tells, strict=True)
    ]
    extra = sorted(least_cover(frozenset(wanted), offers))
    return DoubleReport(
        doubles,
        pair_count(plan),
        masked,
        shown_live,
        tuple(ChosenCheck(checks[i], tuple(asked[k].double.both for k in sorted(tells[i]))) for i in extra),
        cover_seconds([offers[i] for i in extra]),
        tuple(untold),
        tuple(each for each in only_live if each not in untold),
    )


__all__ = ["DoubleOutcome", "DoubleReport", "doubles_for"]
