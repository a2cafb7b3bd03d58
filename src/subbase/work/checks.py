"""The least work with a meter that tells the good house from every slip: dead first, then live, chosen exactly.

A check is a reading with bounds. It tells a slip when the bounds under the slip do not touch the bounds of the good
house. What must be told, by whom it may be told, and what each reading and each walk costs make a set cover with shared
fixed costs, solved to proven optimality by branch and bound.

Bounds of volts are those of the corners that the proof solves, no guarantee. Bounds of ohms hold for any resistances
within the stated ranges, because the resistance between two points never falls when one inside rises (Rayleigh's
monotonicity law; Doyle and Snell, Random Walks and Electric Networks, 1984; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Literal

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Netlist, Source
from subbase.circuit.many_ohms import ohms_between
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.plan import Plan
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import NOWHERE, Survey, split_terminal
from subbase.wiring import House, State, build_house
from subbase.wiring.build import CORNERS, Corner
from subbase.work.cover import Offer, cover_seconds, least_cover
from subbase.work.outcomes import DAMAGING, Outcome, bench_of, outcomes, single_calls, solved_calls
from subbase.work.slips import Slip, single_slips

CLIP_OHM = 0.05
"""A clip lead between two terminals (judgement)."""
COIL_SHARE = (0.2, 1.0)
"""Direct-current resistance of a winding, over what its sealed impedance shows (judgement)."""
SUPPLY_SHARE = (0.2, 1.0)
"""The same of a transformer's secondary, over its series resistance at rated load (judgement)."""
ELECTRONICS_LEAST = 0.2
"""Electronics show at least this share of the resistance of their draw, and at most OL, to under a volt (judgement)."""
OHM_SHARE, OHM_OFFSET = 0.02, 0.3
"""An ohmmeter and its leads: 2 % of reading plus 0.3 ohm either way (judgement)."""
COLD_AND_WARM = (Corner("cold copper", conductor_c=0.0), Corner("warm copper", conductor_c=50.0))

DEAD_S, CLIPPED_S, LIVE_S = 20, 40, 30
"""One reading [s] (judgement), and below: a walk, and setting one call and waiting out its delays."""
WALK_S, CALL_S = 120, 60

Pair = tuple[str, str]
Bounds = tuple[float, float]
"""Least and most of a reading; infinite ohms are OL."""
NOTHING_KNOWN: Bounds = (0.0, math.inf)


@dataclass(frozen=True, slots=True)
class Check:
    """One reading, and what it must be in the house as planned."""

    kind: Literal["dead", "dead, clipped", "live"]
    between: Pair
    low: float
    high: float
    unit: Literal["ohm", "V"]
    site: str
    """Where the probes are held."""
    clip: Pair | None = None
    """Terminals at the other end of the cable that a clip lead joins meanwhile."""
    state: State | None = None
    """What is called, of live checks."""
    seconds: int = 0
    """Of the reading itself."""
    groups: tuple[tuple[str, int], ...] = ()
    """(walk or call that it shares with others, its seconds)."""

    def words(self) -> str:
        """Return the check as people say it."""
        a, b = self.between
        if self.state is not None:
            return f"{a} to {b} at {self.state.words(name_controls=True)}: {self.low:.1f} to {self.high:.1f} V"
        clipped = f" with {self.clip[0]} and {self.clip[1]} clipped together" if self.clip else ""
        if math.isinf(self.low):
            return f"{a} to {b} dead{clipped}: OL"
        most = "OL" if math.isinf(self.high) else f"{self.high:.1f} ohm"
        return f"{a} to {b} dead{clipped}: {self.low:.1f} ohm to {most}"


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
    found = outcomes(slips, bench_of(plan.left, plan.catalog))
    dead, live = dead_checks(plan.left, plan.catalog), live_checks(plan.left, plan.catalog)
    checks = (*dead, *live)
    tells: list[set[int]] = [set() for _ in checks]
    untold, only_live, wanted = [], [], set()
    for index, outcome in enumerate(found):
        if outcome.severity == "nothing":
            continue
        seen = telling(outcome.slip, plan.catalog, dead)
        if not (seen and outcome.severity in DAMAGING):
            if outcome.severity in DAMAGING:
                only_live.append(outcome)
            seen = (*seen, *(len(dead) + i for i in telling(outcome.slip, plan.catalog, live)))
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
        found, tuple(untold), tuple(only_live), len(checks),
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
    bounds = volt_bounds(left, catalog, checks)
    return tuple(
        replace(check, low=low, high=high)
        for check, (low, high) in zip(checks, bounds, strict=True)
        if math.isfinite(high)
    )


def telling(slip: Slip, catalog: Catalog, checks: Sequence[Check]) -> tuple[int, ...]:
    """Return the positions of the checks, all dead or all live, that tell a slip from the good house."""
    if checks and checks[0].state is not None:
        return tuple(_telling_live(slip, catalog, checks))
    bounds = ohm_bounds(slip.survey, catalog, checks)
    return tuple(
        i for i, (check, (low, high)) in enumerate(zip(checks, bounds, strict=True)) if apart(check, low, high)
    )


def _telling_live(slip: Slip, catalog: Catalog, checks: Sequence[Check]) -> Iterator[int]:
    """Yield what ``volt_bounds`` and ``apart`` would find, leaving a check at the first corner that reads as it should."""
    read: dict[int, list[float]] = {i: [] for i in range(len(checks))}
    for corner in CORNERS:
        house = build_house(slip.survey, catalog, corner=corner, awake=corner.name != "high")
        states = tuple(dict.fromkeys(state for i in read if (state := checks[i].state) is not None))
        calls = dict(zip(states, solved_calls(house, states, dict(slip.settings)), strict=True))
        for i in tuple(read):
            check = checks[i]
            call = calls[check.state] if check.state is not None else None
            volts = call.solutions[0].between(*check.between) if call is not None and not call.chattering else None
            if volts is None or check.low <= abs(volts) <= check.high:
                del read[i]
            else:
                read[i].append(abs(volts))
    yield from (i for i, volts in read.items() if apart(checks[i], *_read_volts(min(volts), max(volts))))


def apart(check: Check, low: float, high: float) -> bool:
    """Return whether bounds do not touch a check's own; OL on both sides touches."""
    return high < check.low or low > check.high


def volt_bounds(
    survey: Survey, catalog: Catalog, checks: Sequence[Check], slip: Slip | None = None
) -> tuple[Bounds, ...]:
    """Return the bounds of what live checks read in a house, a common meter's error included.

    Where no path defines a reading, or a relay chatters, nothing is known of it: a meter of high input impedance can
    show anything there up to the supply (ghost voltage).
    """
    states = tuple(dict.fromkeys(check.state for check in checks if check.state is not None))
    settings = dict(slip.settings) if slip else {}
    houses = [build_house(survey, catalog, corner=corner, awake=corner.name != "high") for corner in CORNERS]
    solved = [dict(zip(states, solved_calls(house, states, settings), strict=True)) for house in houses]
    found = []
    for check in checks:
        calls = [corner[check.state] for corner in solved if check.state is not None]
        volts = [call.solutions[0].between(*check.between) for call in calls if not call.chattering]
        sure = [abs(v) for v in volts if v is not None]
        found.append(_read_volts(min(sure), max(sure)) if len(sure) == len(CORNERS) else NOTHING_KNOWN)
    return tuple(found)


def _read_volts(low: float, high: float) -> Bounds:
    return max(0.0, low - METER_SHARE * low - METER_V), high + METER_SHARE * high + METER_V


def ohm_bounds(survey: Survey, catalog: Catalog, checks: Sequence[Check]) -> tuple[Bounds, ...]:
    """Return the bounds of what dead checks read in a house, the ohmmeter's error included."""
    found: list[list[float]] = []
    for least, corner in zip((True, False), COLD_AND_WARM, strict=True):
        dead = _dead(build_house(survey, catalog, corner=corner), least=least)
        by_clip: dict[Pair | None, dict[Pair, float]] = {}
        for clip in dict.fromkeys(check.clip for check in checks):
            pairs = [check.between for check in checks if check.clip == clip]
            by_clip[clip] = ohms_between(dead, pairs, clip=clip, clip_ohm=CLIP_OHM)
        found.append([by_clip[check.clip][check.between] for check in checks])
    return tuple(_read_ohms(low, high) for low, high in zip(*found, strict=True))


def _read_ohms(low: float, high: float) -> Bounds:
    least = max(0.0, (low + GOOD_LEADS_OHM) * (1.0 - OHM_SHARE) - OHM_OFFSET)
    most = (high + GOOD_LEADS_OHM) * (1.0 + OHM_SHARE) + OHM_OFFSET
    return (least if least <= MOST_OHM else math.inf), (most if most <= MOST_OHM else math.inf)


def _dead(house: House, *, least: bool) -> Netlist:
    """Return what direct current sees at the least, or the most, of every resistance that is not copper."""
    side = 0 if least else 1
    known: dict[str, float] = {}
    for branch in house.netlist.branches:
        if isinstance(branch, Source):
            known[branch.tag] = complex(branch.z_ohm).real * SUPPLY_SHARE[side]
        elif isinstance(branch, Coil):
            z_ohm = complex(branch.z_in_ohm)
            winding_ohm = z_ohm.real * COIL_SHARE[side]
            electronics_ohm = z_ohm.real * ELECTRONICS_LEAST if least else math.inf
            known[branch.tag] = winding_ohm if z_ohm.imag > 0.0 else electronics_ohm
        elif isinstance(branch, Impedance) and branch.tag.endswith("/own draw"):
            known[branch.tag] = complex(branch.z_ohm).real * ELECTRONICS_LEAST if least else math.inf
    return dead_netlist(house.netlist, dc_ohm=known)


def _live_groups(site: str, state: State) -> Iterator[tuple[str, int]]:
    """Yield the walk and the call that a live check shares with others; a call is set at its control's wall."""
    callers = [control for control, _ in state.calls]
    words = state.words(name_controls=True)
    if callers:
        yield f"call {words}", CALL_S
    if site in callers:
        yield f"live at {site}", WALK_S
    else:
        yield f"live at {site}, {words}", WALK_S


def site_of(survey: Survey, place: str) -> str:
    """Return where a person stands to reach a place: a control's own wall, or the outermost cabinet that it is in."""
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
    yield from ((site_of(left, split_terminal(a)[0]), (a, b)) for a, b in linked)
    landed = dict.fromkeys(end for jumper in left.jumpers for end in jumper.between)
    landed |= dict.fromkeys(
        str(end) for _, _, _, c in left.conductors() for end in (c.from_, c.to) if end not in NOWHERE
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
                yield site_of(left, place), (a, b) if b in references else (b, a)


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
                yield site_of(left, far_place), (far, reference[1]), (near, reference[0])


def _is_common(left: Survey, catalog: Catalog, ends: Pair) -> bool:
    for place, terminal in map(split_terminal, ends):
        if place in left.controls and terminal == "C":
            return True
        if place in left.equipment and catalog[str(left.equipment[place].kind)].common == terminal:
            return True
    return False


def _offer(check: Check, told: Iterable[int]) -> Offer:
    return Offer(frozenset(told), check.seconds, check.groups)
