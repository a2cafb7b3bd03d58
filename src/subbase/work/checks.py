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
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import reduce
from itertools import combinations
from typing import Literal

from subbase.catalog import Catalog
from subbase.circuit import Coil, Impedance, Netlist, Source
from subbase.circuit.meters import GOOD_LEADS_OHM, MOST_OHM, dead_netlist
from subbase.plan import Plan
from subbase.plan.readings import METER_SHARE, METER_V
from subbase.survey import NOWHERE, Survey, split_terminal
from subbase.wiring import House, State, build_house
from subbase.wiring.build import CORNERS, Corner
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
            by_clip[clip] = ohms_between(dead, pairs, clip=clip)
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


def ohms_between(dead: Netlist, pairs: Iterable[Pair], *, clip: Pair | None = None) -> dict[Pair, float]:
    """Return the resistance between nodes of a dead circuit [ohm], infinite where no path joins them.

    One elimination serves all pairs: with a unit current in at one node and out at the other, the power in the circuit
    is the sum of (current at the eliminated node)² over its conductance, and power over current² is the resistance.
    Without a clip it agrees with ``circuit.meters.ohms_seen`` without leads.
    """
    index = dead.index
    rows = [{node: complex(y).real for node, y in row.items()} for row in dead.fixed_rows]
    if clip is not None and set(clip) <= index.keys():
        a, b = index[clip[0]], index[clip[1]]
        rows[a][b] = rows[b][a] = rows[a].get(b, 0.0) + 1.0 / CLIP_OHM
    eliminated = [(node, *_eliminated(rows, node)) for node in dead.elimination]
    return {pair: _ohms(index, eliminated, *pair) for pair in pairs}


def _eliminated(rows: list[dict[int, float]], node: int) -> tuple[float, tuple[tuple[int, float], ...]]:
    """Take a node out by the star-mesh transform; return (conductance, (neighbour, share of what is injected) ...)."""
    row = rows[node]
    total = sum(row.values())
    shares = tuple((neighbour, y / total) for neighbour, y in row.items())
    for i, (a, share) in enumerate(shares):
        del rows[a][node]
        for b, _ in shares[:i]:
            rows[a][b] = rows[b][a] = rows[a].get(b, 0.0) + share * row[b]
    return total, shares


def _ohms(
    index: Mapping[str, int],
    eliminated: Sequence[tuple[int, float, tuple[tuple[int, float], ...]]],
    a: str,
    b: str,
) -> float:
    if a == b:
        return 0.0
    if a not in index or b not in index:
        return math.inf
    injected = {index[a]: 1.0, index[b]: -1.0}
    ohm = 0.0
    for node, total, shares in eliminated:
        current = injected.pop(node, 0.0)
        if current == 0.0:
            continue
        if not shares:
            if abs(current) > 0.5:  # the last of an island keeps what another island should have taken
                return math.inf
            continue
        ohm += current * current / total
        for neighbour, share in shares:
            injected[neighbour] = injected.get(neighbour, 0.0) + share * current
    return ohm


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


@dataclass(frozen=True, slots=True)
class Offer:
    """One set of a cover: what it holds, its own cost, and the fixed costs that it shares with others."""

    holds: frozenset[int]
    seconds: int
    groups: tuple[tuple[str, int], ...] = ()


def _offer(check: Check, told: Iterable[int]) -> Offer:
    return Offer(frozenset(told), check.seconds, check.groups)


def cover_seconds(offers: Iterable[Offer]) -> int:
    """Return what offers cost together, each shared cost once [s]."""
    taken = list(offers)
    shared = {name: seconds for offer in taken for name, seconds in offer.groups}
    return sum(offer.seconds for offer in taken) + sum(shared.values())


def least_cover(wanted: frozenset[int], offers: Sequence[Offer]) -> tuple[int, ...]:
    """Return the positions of the offers that together hold all of ``wanted`` at the least cost, proven.

    Branch and bound on the element with the fewest offers left. The bound is a dual ascent of the linear relaxation in
    which shared costs are pools that elements draw from (in the manner of Erlenkotter, Operations Research 26
    (1978) 992-1009; from memory), rounded up to the greatest common divisor of all costs.

    Raises
    ------
    ValueError
        When some element is in no offer, or a cost is negative.
    """
    if any(cost < 0 for offer in offers for cost in (offer.seconds, *(s for _, s in offer.groups))):
        raise ValueError("A check cannot cost less than nothing.")
    missing = sorted(wanted.difference(*(offer.holds for offer in offers)))
    if missing:
        raise ValueError(f"No check holds: {', '.join(map(str, missing))}.")
    return _Search(wanted, offers).best


class _Search:
    """The state of one branch and bound; built, run and thrown away by ``least_cover``."""

    def __init__(self, wanted: frozenset[int], offers: Sequence[Offer]) -> None:
        kept = _undominated(wanted, offers)
        self.offers = offers
        self.by_element = _hardest({e: frozenset(i for i in kept if e in offers[i].holds) for e in sorted(wanted)})
        self.holds = {i: frozenset(e for e, by in self.by_element.items() if i in by) for i in kept}
        costs = [c for offer in offers for c in (offer.seconds, *(s for _, s in offer.groups))]
        self.step = reduce(math.gcd, costs, 0) or 1
        self.best = self._greedy()
        self.best_cost = cover_seconds(offers[i] for i in self.best)
        self._branch((), frozenset(self.by_element), frozenset())

    def _extra(self, offer: int, opened: frozenset[str]) -> int:
        item = self.offers[offer]
        return item.seconds + sum(seconds for name, seconds in item.groups if name not in opened)

    def _opened(self, chosen: Iterable[int]) -> frozenset[str]:
        return frozenset(name for i in chosen for name, _ in self.offers[i].groups)

    def _greedy(self) -> tuple[int, ...]:
        chosen: list[int] = []
        left = set(self.by_element)
        while left:
            opened = self._opened(chosen)
            useful = [i for i in self.holds if self.holds[i] & left]
            chosen.append(min(useful, key=lambda i: (self._extra(i, opened) / len(self.holds[i] & left), i)))
            left -= self.holds[chosen[-1]]
        for i in sorted(chosen, key=lambda i: -self.offers[i].seconds):
            if all(any(e in self.holds[k] for k in chosen if k != i) for e in self.holds[i]):
                chosen.remove(i)
        return tuple(sorted(chosen))

    def _branch(self, chosen: tuple[int, ...], left: frozenset[int], banned: frozenset[int]) -> None:
        cost = cover_seconds(self.offers[i] for i in chosen)
        if not left:
            if cost < self.best_cost:
                self.best, self.best_cost = tuple(sorted(chosen)), cost
            return
        opened = self._opened(chosen)
        options = {e: self.by_element[e] - banned for e in left}
        bound, beyond = self._bound(options, opened)
        if not self._may_improve(cost + bound):
            return
        banned |= {i for i, extra in beyond.items() if not self._may_improve(cost + bound + extra)}
        options = {e: self.by_element[e] - banned for e in left}
        element = min(options, key=lambda e: (len(options[e]), e))
        ranked = sorted(options[element], key=lambda i: (self._extra(i, opened) / len(self.holds[i] & left), i))
        for offer in ranked:
            self._branch((*chosen, offer), left - self.holds[offer], banned)
            banned |= {offer}

    def _may_improve(self, least: float) -> bool:
        """Tell whether a cover of at least so many seconds can still beat the best one."""
        return math.isfinite(least) and math.ceil(least / self.step - 1e-6) * self.step < self.best_cost

    def _bound(self, options: Mapping[int, frozenset[int]], opened: frozenset[str]) -> tuple[float, dict[int, float]]:
        """Return (seconds that any cover still costs at least, offer -> how much more any cover with it does)."""
        slack: dict[int, float] = {}
        pools: dict[str, float] = {}
        for offer in frozenset().union(*options.values()):
            slack[offer] = float(self.offers[offer].seconds)
            pools.update((name, float(s)) for name, s in self.offers[offer].groups if name not in opened)
        total = 0.0
        for element in sorted(options, key=lambda e: (len(options[e]), e)):
            if not options[element]:
                return math.inf, {}
            total += self._raised(sorted(options[element]), slack, pools)
        return total, {i: slack[i] + sum(pools.get(name, 0.0) for name, _ in self.offers[i].groups) for i in slack}

    def _raised(self, offers: Sequence[int], slack: dict[int, float], pools: dict[str, float]) -> float:
        """Raise one element's price until some offer that holds it has neither slack nor a pool left.

        Of the offers that share a cost an element needs one, so it draws once on the pool for all of them.
        """
        price = 0.0
        while True:
            drawn: set[str] = set()
            for i in offers:
                names = [name for name, _ in self.offers[i].groups]
                if slack[i] > 1e-9 or not drawn.isdisjoint(names):
                    continue
                pool = max(names, key=lambda name: pools.get(name, 0.0), default="")
                if pools.get(pool, 0.0) <= 1e-9:
                    return price
                drawn.add(pool)
            paying = [i for i in offers if drawn.isdisjoint(name for name, _ in self.offers[i].groups)]
            step = min([slack[i] for i in paying] + [pools[name] for name in drawn])
            for i in paying:
                slack[i] -= step
            for name in drawn:
                pools[name] -= step
            price += step


def _undominated(wanted: frozenset[int], offers: Sequence[Offer]) -> tuple[int, ...]:
    """Return the offers that no other matches in all it holds, at no more cost and no shared cost beside its own."""
    kept: list[int] = []
    for i in sorted(range(len(offers)), key=lambda i: (-len(offers[i].holds & wanted), offers[i].seconds, i)):
        held = offers[i].holds & wanted
        if held and not any(
            held <= offers[k].holds
            and offers[k].seconds <= offers[i].seconds
            and set(offers[k].groups) <= set(offers[i].groups)
            for k in kept
        ):
            kept.append(i)
    return tuple(sorted(kept))


def _hardest(by_element: Mapping[int, frozenset[int]]) -> dict[int, frozenset[int]]:
    """Return the elements whose offers include no other element's: to hold those is to hold all."""
    kept: dict[int, frozenset[int]] = {}
    for element, offers in sorted(by_element.items(), key=lambda item: (len(item[1]), item[0])):
        if not any(other <= offers for other in kept.values()):
            kept[element] = offers
    return kept


__all__ = [
    "Check",
    "CheckPlan",
    "ChosenCheck",
    "Offer",
    "apart",
    "checks_for",
    "cover_seconds",
    "dead_checks",
    "least_cover",
    "live_checks",
    "ohm_bounds",
    "ohms_between",
    "site_of",
    "telling",
    "volt_bounds",
]
