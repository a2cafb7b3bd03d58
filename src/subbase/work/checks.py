"""The least work with a meter that tells the good house from every slip: dead first, then live, chosen exactly.

What must be told, by whom it may be told, and what each reading and each walk costs make a set cover with shared fixed
costs, solved to proven optimality by branch and bound.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from subbase.catalog import Catalog
from subbase.plan import Plan
from subbase.survey import NOWHERE, Survey, split_terminal
from subbase.wiring import State, single_calls
from subbase.work.call_sequences import call_sequences
from subbase.work.calls import Electrical
from subbase.work.check_bounds import Check, Pair, ohm_bounds, volt_bounds
from subbase.work.cover import Offer, cover_seconds, least_cover
from subbase.work.outcomes import DAMAGING, Outcome, bench_of, outcome_among
from subbase.work.slips import Slip, single_slips
from subbase.work.telling import teller

DEAD_S, CLIPPED_S, LIVE_S = 20, 40, 30
"""One reading [s] (judgement), and below: a walk, and setting one call and waiting out its delays."""
WALK_S, CALL_S = 120, 60


@dataclass(frozen=True, slots=True)
class ChosenCheck:
    """A check that is to be made, with the slips that it tells."""

    check: Check
    tells: tuple[Slip, ...]


@dataclass(frozen=True, slots=True)
class CheckPlan:
    """The checks to make, in order, and what they can and cannot tell."""

    checks: tuple[ChosenCheck, ...]
    """Dead ones first."""
    seconds: int
    outcomes: tuple[Outcome, ...]
    """Of every slip."""
    untold: tuple[Outcome, ...]
    """Slips that do something, which no check can tell from the good house."""
    only_live: tuple[Outcome, ...]
    """Damaging slips that no dead check can tell: supply goes on before they show."""
    offered: int
    """How many checks there were to choose from."""

    @property
    def harmless(self) -> tuple[Slip, ...]:
        """Return the slips that do nothing in any single call; no check is asked to tell them."""
        return tuple(outcome.slip for outcome in self.outcomes if outcome.severity == "nothing")

    @property
    def first_shown_by(self) -> dict[str, ChosenCheck]:
        """Return slip in words -> the first check, in the order of work, that tells it; slips told by none are left out."""
        found: dict[str, ChosenCheck] = {}
        for chosen in self.checks:
            for slip in chosen.tells:
                found.setdefault(slip.words, chosen)
        return found

    @property
    def told(self) -> int:
        """Return how many slips that do something the checks tell."""
        return len(self.outcomes) - len(self.harmless) - len(self.untold)


def checks_for(plan: Plan) -> CheckPlan:
    """Return the least checks that tell the house as planned from every slip that does something.

    A damaging slip must be told dead wherever a dead check can; every other slip by whatever is cheapest.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    slips = single_slips(plan)
    if plan.left is None:
        raise ValueError("The plan leaves no house, so there is nothing to check; answer what it asks.")
    bench = bench_of(plan.left, plan.catalog)
    dead, live = dead_checks(plan.left, plan.catalog), live_checks(plan.left, plan.catalog)
    tell = teller(plan.left, plan.catalog, dead, live)
    checks = (*dead, *live)
    tells: list[set[int]] = [set() for _check in checks]
    found: list[Outcome] = []
    untold, only_live, wanted = [], [], set()
    known: dict[Electrical, Outcome] = {}
    shown: dict[Electrical, tuple[int, ...]] = {}
    for index, slip in enumerate(slips):
        outcome = outcome_among(known, slip, bench, tell.nominal)
        found.append(outcome)
        if outcome.severity == "nothing":
            continue
        same = tell.nominal.electrical(slip)
        if same not in shown:
            seen = tell.by_dead(slip)
            must_be_dead = seen and outcome.severity in DAMAGING
            shown[same] = seen if must_be_dead else (*seen, *(len(dead) + i for i in tell.by_live(slip)))
        seen = shown[same]
        if outcome.severity in DAMAGING and not (seen and seen[0] < len(dead)):
            only_live.append(outcome)
        if seen:
            wanted.add(index)
        else:
            untold.append(outcome)
        for check in seen:
            tells[check].add(index)
    chosen = least_cover(frozenset(wanted), [_offer(check, told) for check, told in zip(checks, tells, strict=True)])
    return CheckPlan(
        tuple(ChosenCheck(checks[i], tuple(slips[s] for s in sorted(tells[i]))) for i in sorted(chosen)),
        cover_seconds([_offer(checks[i], tells[i]) for i in chosen]),
        tuple(found), tuple(untold), tuple(only_live), len(checks),
    )  # fmt: skip


def dead_checks(left: Survey, catalog: Catalog) -> tuple[Check, ...]:
    """Return every dead check of a house: between terminals of one place, and through a cable clipped at its far end.

    They are for circuits locked out and proven dead, as ``circuit.meters`` says, and every clip must come off again
    before supply is put on.
    """
    plain = [
        Check("dead", pair, 0.0, 0.0, "ohm", site, seconds=DEAD_S, groups=((f"dead at {site}", WALK_S),))
        for site, pair in _pairs(left, catalog)
    ]
    clipped = [
        Check(
            "dead, clipped", pair, 0.0, 0.0, "ohm", site, clip, seconds=CLIPPED_S,
            groups=((f"dead at {site}", WALK_S), (f"clip {clip[0]} {clip[1]}", WALK_S)),
        )
        for site, pair, clip in _clipped_pairs(left, catalog)
    ]  # fmt: skip
    checks = (*plain, *clipped)
    return tuple(
        replace(check, low=low, high=high)
        for check, (low, high) in zip(checks, ohm_bounds(left, catalog, checks), strict=True)
    )


def live_checks(left: Survey, catalog: Catalog) -> tuple[Check, ...]:
    """Return every live check of a house: each pair of terminals in each single call in which its volts are defined."""
    checks = [
        Check("live", pair, 0.0, 0.0, "V", site, state=state, seconds=LIVE_S, groups=tuple(_live_groups(site, state)))
        for state in single_calls(left, catalog)
        if state.condition is None  # nobody can call for a defrost
        for site, pair in _pairs(left, catalog)
    ]
    return _with_defined_volts(left, catalog, checks)


def supply_checks(left: Survey, catalog: Catalog) -> tuple[Check, ...]:
    """Return the supply at each control under load: its R to its C in each single call in which both are fed."""
    checks = [
        Check("live", (f"{name}.{power}", f"{name}.C"), 0.0, 0.0, "V", name, state=sequence.state)
        for name, control in left.controls.items()
        if control.old.power == "common" and (power := control.old.power_terminal()) is not None
        for sequence in call_sequences(left, catalog)
        if sequence.state.condition is None and name in dict(sequence.state.calls)
    ]
    return _with_defined_volts(left, catalog, checks) if checks else ()


def _with_defined_volts(left: Survey, catalog: Catalog, checks: Sequence[Check]) -> tuple[Check, ...]:
    """Return live checks with their bounds, without those whose volts nothing holds."""
    bounds = volt_bounds(left, catalog, checks)
    return tuple(
        replace(check, low=low, high=high)
        for check, (low, high) in zip(checks, bounds, strict=True)
        if math.isfinite(high)
    )


def _live_groups(site: str, state: State) -> Iterator[tuple[str, int]]:
    """Yield the walk and the call that a live check shares with others; a call is set at its control's wall."""
    callers = [control for control, _calls in state.calls]
    words = state.name(name_controls=True)
    if callers:
        yield f"call {words}", CALL_S
    if site in callers:
        yield f"live at {site}", WALK_S
    else:
        yield f"live at {site}, {words}", WALK_S


def room_of(survey: Survey, place: str) -> str:
    """Return the room or wall in which a person stands to reach a place; walks are counted between these."""
    seen = set()
    while place not in survey.controls and place not in seen:
        seen.add(place)
        item = survey.equipment.get(place) or survey.transformers.get(place)
        if item is None or not item.at:
            return place
        place = item.at
    return place


def _pairs(left: Survey, catalog: Catalog) -> Iterator[tuple[str, Pair]]:
    """Yield (site, two landed terminals): of a place against its common and supply, or each with each; of a link."""
    linked = [jumper.between for jumper in left.jumpers if jumper.present is True]
    yield from ((room_of(left, split_terminal(a)[0]), (a, b)) for a, b in linked)
    landed = dict.fromkeys(end for jumper in left.jumpers for end in jumper.between)
    landed |= dict.fromkeys(
        str(end) for _cable, _held, _name, c in left.conductors() for end in (c.from_, c.to) if end not in NOWHERE
    )
    for place in left.places():
        points = [point for point in landed if split_terminal(point)[0] == place]
        if place in left.controls:
            references = [f"{place}.{terminal}" for terminal in ("C", "R", "Rc", "Rh")]
        elif place in left.equipment:
            kind = catalog[str(left.equipment[place].kind)]
            references = [f"{place}.{terminal}" for terminal in (kind.common, kind.supply) if terminal]
        else:
            references = []
        references = [reference for reference in references if reference in points]
        for a, b in combinations(points, 2):
            asked = not references or a in references or b in references
            if asked and not {(a, b), (b, a)} & set(linked):
                yield room_of(left, place), (a, b) if b in references else (b, a)


def _clipped_pairs(left: Survey, catalog: Catalog) -> Iterator[tuple[str, Pair, Pair]]:
    """Yield (site, two terminals at one end of a cable, the two at its other end): each conductor with its common."""
    for cable in left.cables.values():
        near_first = cable.to not in left.controls
        ends = [
            (str(c.from_), str(c.to)) if near_first else (str(c.to), str(c.from_))
            for c in cable.conductors.values()
            if c.from_ not in NOWHERE and c.to not in NOWHERE
        ]
        far_place = cable.to if near_first else cable.from_
        reference = next((end for end in ends if _is_common(left, catalog, end)), ends[0] if ends else None)
        for near, far in ends:
            if reference is not None and near != reference[0] and far != reference[1]:
                yield room_of(left, far_place), (far, reference[1]), (near, reference[0])


def _is_common(left: Survey, catalog: Catalog, ends: Pair) -> bool:
    for place, terminal in map(split_terminal, ends):
        if place in left.controls and terminal == "C":
            return True
        if place in left.equipment and catalog[str(left.equipment[place].kind)].common == terminal:
            return True
    return False


def _offer(check: Check, told: Iterable[int]) -> Offer:
    return Offer(frozenset(told), check.seconds, check.groups)


__all__ = [
    "CheckPlan",
    "ChosenCheck",
    "checks_for",
    "dead_checks",
    "live_checks",
    "room_of",
]
