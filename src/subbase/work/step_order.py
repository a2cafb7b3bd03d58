"""In which order things are moved: one at a time, the hot conductor off first and on last, with the fewest walks.

Work is done dead. Even so the order is held against the circuit as if supply came back at any instant: after every move
the house that stands there is built and solved at rest and in every single call, and nothing may be damaged that the
house as found did not damage already. Rules propose an order; the circuit refuses it. When every order is refused the
least bad one is given, and what it risks is told: then only the lock stands between.

For every control there are three blocks: its ends off the old plate; the new one on; its part of the work at the
equipment. What is off is capped, so that never more than the one end in the hand is bare.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush
from itertools import chain, count, pairwise, product

from subbase.catalog import Catalog
from subbase.plan import Plan
from subbase.survey import LOOSE, NOWHERE, Survey, split_terminal, with_equipment, with_landing
from subbase.work.calls import Electrical, SlipCircuits, slip_circuits
from subbase.work.outcomes import DAMAGING, Bench, Outcome, Severity, bench_of, outcome_among
from subbase.work.slips import Slip
from subbase.work.step_diff import Block, Move, apply, blocks_of, houses_of, main_site

MOST_SEARCHED = 6
"""Moves of one block up to which every order is tried when the rule's own is refused."""
ORDERS: tuple[tuple[Block, ...], ...] = (
    ("away", "fitted", "equipment"),
    ("equipment", "away", "fitted"),
    ("away", "equipment", "fitted"),
)
"""A control's blocks in turn; of those that the circuit allows the walks decide, then this order."""


Known = dict[Electrical, Outcome]
"""What was solved already: at rest, or in every call."""


@dataclass(frozen=True, slots=True)
class MoveOrder:
    """All moves in a safe order."""

    found: Survey
    moves: tuple[Move, ...]
    walks: int
    """From site to site while moving, the way to the main equipment at the end included."""
    safe: bool
    """Whether supply that comes back at any instant damages nothing that the house as found did not."""


def move_order(plan: Plan) -> MoveOrder:
    """Return the moves of a plan in the order with the fewest walks among those that the circuit allows.

    Raises
    ------
    ValueError
        When the plan leaves no house.
    """
    found, left = houses_of(plan)
    judge = Judge(found, left, plan.catalog)
    blocks = {item.control: blocks_of(plan, item.control) for item in plan.controls}
    allowed = {control: _allowed(judge, found, of) for control, of in blocks.items()}
    best: MoveOrder | None = None
    for way in (_fewest_walks(allowed, main_site(plan)), _one_by_one(allowed)):
        moves = judge.risked(found, way)
        order = MoveOrder(found, moves, walks(moves, main_site(plan)), all(not m.risks for m in moves))
        if best is None or _risk(order.moves) < _risk(best.moves):
            best = order
    return replace(best, moves=tuple(_kept_off(judge, found, best.moves))) if best else MoveOrder(found, (), 0, True)


def _kept_off(judge: Judge, found: Survey, moves: Iterable[Move]) -> Iterator[Move]:
    before = found
    for move in moves:
        yield replace(move, keep_off=touching(judge, before, move))
        before = move.after or before


def walks(moves: Sequence[Move], last: str) -> int:
    """Return how often moves go from one site to another, and to the last one at the end."""
    return sum(1 for a, b in pairwise([*(move.site for move in moves), last]) if a != b)


def _risk(moves: Iterable[Move]) -> int:
    return sum(len(move.risks) for move in moves)


# What the circuit says.


class Judge:
    """Holds half-done houses against the circuit; what it has solved it remembers."""

    def __init__(self, found: Survey, left: Survey, catalog: Catalog) -> None:
        self.left = left
        self._bench = replace(
            bench_of(left, catalog), guarded=()
        )  # a bypassed limit damages nothing while work goes on
        self._rest = rest_only(self._bench)
        self._known: dict[tuple[str, bool], frozenset[tuple[Severity, str, str]]] = {}
        self._kept: list[tuple[SlipCircuits, Known, Known]] = []
        self._found = frozenset((severity, call) for severity, call, _ in self._damage(found, rest=False))

    def risks(self, survey: Survey, *, rest: bool = False) -> tuple[str, ...]:
        """Return what would be damaged if supply came on now, that the house as found does not damage."""
        new = [item for item in self._damage(survey, rest=rest) if (item[0], item[1]) not in self._found]
        return tuple(sorted(f"{severity}: {text} ({call})" for severity, call, text in new))

    def risked(self, survey: Survey, moves: Iterable[Move]) -> tuple[Move, ...]:
        """Return moves with the house after each, and what it risks."""
        done = []
        for move in moves:
            survey = apply(survey, move, self.left)
            done.append(replace(move, after=survey, risks=self.risks(survey)))
        return tuple(done)

    def _damage(self, survey: Survey, *, rest: bool) -> frozenset[tuple[Severity, str, str]]:
        # Devices that are still in the bag are there without wires, so that every house has the same loads.
        missing = {name: item for name, item in self.left.equipment.items() if name not in survey.equipment}
        whole = with_equipment(survey, missing)
        key = (whole.model_dump_json(include={"controls", "cables", "jumpers", "transformers", "equipment"}), rest)
        if key not in self._known:
            findings = self._outcome(Slip("left loose", "half done", "", whole), rest=rest).findings
            self._known[key] = frozenset((f.severity, f.call, f.text) for f in findings if f.severity in DAMAGING)
        return self._known[key]

    def _outcome(self, half_done: Slip, *, rest: bool) -> Outcome:
        """Return what a half-done house does, from one of the same parts that was solved before where there is one."""
        bench = self._rest if rest else self._bench
        for circuits, at_rest, in_calls in self._kept:
            try:
                circuits.of(half_done.survey)
            except ValueError:
                continue  # other parts: a device or a control came between
            return outcome_among(at_rest if rest else in_calls, half_done, bench, circuits)
        known: Known = {}
        circuits = slip_circuits(half_done.survey, bench.catalog)
        self._kept.append((circuits, known, {}) if rest else (circuits, {}, known))
        return outcome_among(known, half_done, bench, circuits)


def rest_only(bench: Bench) -> Bench:
    """Return a bench that asks only what happens with nothing called."""
    at = next(i for i, state in enumerate(bench.states) if not state.calls)
    return replace(
        bench, states=(bench.states[at],), calls=(bench.calls[at],), needs=(bench.needs[at],), tied=(bench.tied[at],),
        guarded=(),
    )  # fmt: skip


def touching(judge: Judge, before: Survey, move: Move) -> tuple[str, ...]:
    """Return the terminals of its place that a bare end may not touch, were supply to come back with it in the hand."""
    if move.end is None:
        return ()
    in_hand = with_landing(before, move.end, LOOSE)
    landed = {str(end) for _, _, _, c in in_hand.conductors() for end in (c.from_, c.to) if end not in NOWHERE}
    here = sorted(point for point in landed if split_terminal(point)[0] == move.place)
    return tuple(point for point in here if judge.risks(with_landing(in_hand, move.end, point), rest=True))


# Which order.


Blocks = Mapping[Block, tuple[Move, ...]]
Allowed = Mapping[str, list[tuple[tuple[Move, ...], ...]]]


def _allowed(judge: Judge, found: Survey, blocks: Blocks) -> list[tuple[tuple[Move, ...], ...]]:
    """Return the orders of a control's blocks that the circuit allows while the rest of the house is as found."""
    pulled = any(move.kind == "cable" for move in blocks["away"])
    orders = [tuple(blocks[b] for b in order) for order in ORDERS if not pulled or order[0] == "away"]
    tried = [(order, _risk(judge.risked(found, chain(*order)))) for order in orders]
    least = min(risk for _, risk in tried)
    if least > 0:
        searched = [_searched(judge, found, order) for order in orders]
        tried += [(order, _risk(judge.risked(found, chain(*order)))) for order in searched]
        least = min(risk for _, risk in tried)
    return [order for order, risk in tried if risk == least]


def _searched(judge: Judge, found: Survey, order: Sequence[tuple[Move, ...]]) -> tuple[tuple[Move, ...], ...]:
    """Return an order with each block sorted anew so that no step of it risks anything, where there is such a one."""
    survey, done = found, []
    for block in order:
        best = _without_risk(judge, survey, block) if len(block) <= MOST_SEARCHED else None
        done.append(best or block)
        for move in done[-1]:
            survey = apply(survey, move, judge.left)
    return tuple(done)


def _without_risk(judge: Judge, survey: Survey, block: tuple[Move, ...]) -> tuple[Move, ...] | None:
    """Return the first order of a block in which no move risks anything; what is new is brought before it is wired."""
    if not block:
        return ()
    for index, move in enumerate(block):
        rest = (*block[:index], *block[index + 1 :])
        if any(_must_wait(move, other) for other in rest):
            continue
        after = apply(survey, move, judge.left)
        further = None if judge.risks(after) else _without_risk(judge, after, rest)
        if further is not None:
            return (move, *further)
    return None


def _must_wait(move: Move, other: Move) -> bool:
    brought = other.kind in ("fit", "change", "cable", "control") and move.kind not in ("fit", "change", "cable")
    return brought or (move.end is not None and move.end == other.end and move.kind == "on" and other.kind == "off")


def _one_by_one(allowed: Allowed) -> list[Move]:
    return [move for orders in allowed.values() for block in orders[0] for move in block]


def _fewest_walks(allowed: Allowed, last: str) -> list[Move]:
    """Return all blocks with the fewest walks: a shortest path over how far each control is, and where one stands."""
    ways = (_shortest(queues, last) for queues in product(*allowed.values()))
    return min(ways, key=lambda way: walks(way, last))


def _shortest(queues: Sequence[Sequence[tuple[Move, ...]]], last: str) -> list[Move]:
    tick = count()
    ends = tuple(len(queue) for queue in queues)
    heap: list[tuple[int, int, tuple[int, ...], list[Move]]] = [(0, next(tick), (0,) * len(queues), [])]
    seen: set[tuple[tuple[int, ...], str]] = set()
    while heap:
        _, _, progress, moves = heappop(heap)
        here = progress, moves[-1].site if moves else ""
        if progress == ends:
            return moves
        if here in seen:
            continue
        seen.add(here)
        for i, queue in enumerate(queues):
            if progress[i] < ends[i]:
                further = (*progress[:i], progress[i] + 1, *progress[i + 1 :])
                longer = [*moves, *queue[progress[i]]]
                to = last if further == ends else longer[-1].site if longer else ""
                heappush(heap, (walks(longer, to), next(tick), further, longer))
    return []


__all__ = ["ORDERS", "Judge", "MoveOrder", "move_order", "rest_only", "touching", "walks"]
