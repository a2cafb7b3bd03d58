"""The order of the moves: one thing at a time, ending at the plan, harmless at every instant, with no walk too many."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.circuit import Impedance, settle
from subbase.circuit.netlist import Netlist
from subbase.plan import Plan
from subbase.survey import ConductorEnd, Survey, with_equipment, with_landing
from subbase.wiring import build_house
from subbase.work.slips import single_slips
from subbase.work.step_diff import Block, Move, apply, blocks_of, main_site
from subbase.work.step_order import ORDERS, Judge, MoveOrder, move_order, walks
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if name[:2] not in ("08", "10", "11", "16"))
"""Examples that have a plan; the others ask or stop."""

ONE_SUPPLY = tuple(name for name in PLANNED if name[:2] in ("01", "02", "06", "09", "12", "13", "17", "18"))


def _parts(survey: Survey) -> dict[str, object]:
    """Return everything of a house that a hand can change, each under its own name."""
    parts: dict[str, object] = {}
    for cable, _, name, conductor in survey.conductors():
        parts[f"{cable}/{name} from"], parts[f"{cable}/{name} to"] = conductor.from_, conductor.to
    for jumper in survey.jumpers:
        if jumper.present is True:
            parts[f"link {sorted(jumper.between)}"] = True
    parts |= {f"transformer {name}": item for name, item in survey.transformers.items()}
    parts |= {f"equipment {name}": item for name, item in survey.equipment.items()}
    return parts | {f"control {name}": item.old for name, item in survey.controls.items()}


def _changed(before: Survey, after: Survey) -> set[str]:
    a, b = _parts(before), _parts(after)
    return {name for name in a.keys() | b.keys() if a.get(name) != b.get(name)}


def _houses(order: MoveOrder) -> list[Survey]:
    return [order.found, *(move.after for move in order.moves if move.after is not None)]


@pytest.mark.parametrize("name", PLANNED)
def test_each_move_changes_one_thing_and_the_last_leaves_the_plan(name: str) -> None:
    """Between two moves one landing, link, device or control differs, so one end at most is bare; all done is the plan."""
    plan = plan_of(name)
    order = move_order(plan)
    houses = _houses(order)
    assert len(houses) == len(order.moves) + 1
    for move, (before, after) in zip(order.moves, pairwise(houses), strict=True):
        # A pulled cable is new with all its ends capped; everything else is one thing.
        assert len(_changed(before, after)) == 1 or move.kind == "cable"
    assert plan.left is not None
    assert _changed(houses[-1], plan.left) == set()


@pytest.mark.parametrize("name", PLANNED)
def test_hot_conductor_is_off_first_and_on_last_at_every_wall(name: str) -> None:
    """At a wall no other end is taken off before the hot one, and none is landed after it."""
    order = move_order(plan_of(name))
    for control in order.found.controls:
        off = [move.hot for move in order.moves if move.site == control and move.kind == "off"]
        on = [move.hot for move in order.moves if move.site == control and move.kind in ("on", "link in")]
        assert off == sorted(off, reverse=True)
        assert on == sorted(on)


@pytest.mark.parametrize("name", PLANNED)
def test_every_route_offered_has_an_order_that_is_safe_throughout(name: str) -> None:
    """Adapters, relays, new cables and own transformers too are put in one thing at a time, with no instant of harm."""
    plan = plan_of(name)
    for route in plan.controls[0].routes if len(plan.controls) == 1 else ():
        if not route.offered or route.left is None:
            continue
        as_chosen = replace(plan, controls=(replace(plan.controls[0], chosen=route),), left=route.left)
        order = move_order(as_chosen)
        houses = _houses(order)
        assert order.safe
        assert _changed(houses[-1], route.left) == set()
        for move, (before, after) in zip(order.moves, pairwise(houses), strict=True):
            assert len(_changed(before, after)) == 1 or move.kind == "cable"


def _most_fuse_share(netlist: Netlist) -> float:
    solution = settle(netlist).solution
    return max((abs(solution.current_a(b.tag)) / b.fuse_a for b in netlist.of(Impedance) if b.fuse_a), default=0.0)


@pytest.mark.parametrize("name", PLANNED)
def test_supply_that_comes_back_at_any_instant_opens_no_fuse(name: str) -> None:
    """Every half-done house, solved at rest, carries less through each fuse than its rating; the order says it is safe."""
    plan = plan_of(name)
    order = move_order(plan)
    assert order.safe
    assert plan.left is not None
    for house in _houses(order):
        missing = {n: item for n, item in plan.left.equipment.items() if n not in house.equipment}
        assert _most_fuse_share(build_house(with_equipment(house, missing), plan.catalog).netlist) < 1.0


@pytest.mark.parametrize("name", ONE_SUPPLY)
def test_with_the_only_supply_capped_no_bare_end_at_the_wall_can_do_damage(name: str) -> None:
    """In a house of one supply only the hot end itself must be kept off anything at the wall."""
    plan = plan_of(name)
    order = move_order(plan)
    assert plan.left is not None
    assert len(build_house(plan.left, plan.catalog).sources) == 1
    for move in order.moves:
        if move.site in order.found.controls and not move.hot:
            assert move.keep_off == ()


def _sequences(blocks: list[tuple[tuple[Move, ...], ...]]) -> list[list[Move]]:
    """Return every interleaving of queues of blocks."""
    slots = [index for index, queue in enumerate(blocks) for _ in queue]
    found = []
    for turns in dict.fromkeys(permutations(slots)):
        at = [0] * len(blocks)
        moves: list[Move] = []
        for turn in turns:
            moves += blocks[turn][at[turn]]
            at[turn] += 1
        found.append(moves)
    return found


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "02-four-conductors-all-used", "05-two-motor-valves", "14-oil-with-separate-cooling", "17-strips-need-the-fan"])  # fmt: skip
def test_no_safe_order_of_blocks_has_fewer_walks(name: str) -> None:
    """Every interleaving of the blocks is tried: none that the circuit allows walks less."""
    plan = plan_of(name)
    order = move_order(plan)
    assert plan.found is not None
    assert plan.left is not None
    judge = Judge(plan.found, plan.left, plan.catalog)
    of = [blocks_of(plan, item.control) for item in plan.controls]
    fewest = order.walks
    for ways in _products(len(of)):
        queues = [tuple(blocks[b] for b in way) for blocks, way in zip(of, ways, strict=True)]
        for moves in _sequences(queues):
            walked = walks(moves, main_site(plan))
            if walked < fewest and not any(move.risks for move in judge.risked(plan.found, moves)):
                fewest = walked
    assert fewest == order.walks


def _products(count: int) -> list[tuple[tuple[Block, ...], ...]]:
    found: list[tuple[tuple[Block, ...], ...]] = [()]
    for _ in range(count):
        found = [(*ways, order) for ways in found for order in ORDERS]
    return found


def test_the_circuit_refuses_the_shorter_way_where_strips_would_run_without_fan() -> None:
    """With the wall landed before the equipment, supply would run strips without fan there: one more walk is made."""
    plan = plan_of("17-strips-need-the-fan")
    assert plan.found is not None
    assert plan.left is not None
    blocks = blocks_of(plan, "hall")
    moves = [move for block in ORDERS[0] for move in blocks[block]]
    risked = Judge(plan.found, plan.left, plan.catalog).risked(plan.found, moves)
    assert any("without" in risk for move in risked for risk in move.risks)
    sites = [move.site for move in move_order(plan).moves]
    assert [a for a, b in pairwise([*sites, ""]) if a != b] == ["hall", "closet", "hall"]


def test_ends_that_take_each_others_terminals_are_parked_one_at_a_time() -> None:
    """Where two ends at the furnace are the wrong way round as found, one is capped until its terminal is free."""
    plan = plan_of("01-no-common-spare-blue")
    swapped = next(
        slip
        for slip in single_slips(plan)
        if slip.kind == "swapped" and slip.words.startswith("white of wall on Y and")
    )
    order = move_order(_as_found(plan, swapped.survey))
    parked = [move for move in order.moves if move.parked]
    assert [move.kind for move in parked if move.becomes == "loose"] == ["off"]
    assert {move.place for move in parked} == {"furnace"}
    assert order.safe


def _as_found(plan: Plan, wrong: Survey) -> Plan:
    """Return a plan whose house was found with the far landings of a wrong one, its old control still on the wall."""
    assert plan.found is not None
    found = plan.found
    for cable, _, name, conductor in wrong.conductors():
        found = with_landing(found, ConductorEnd(cable=cable, conductor=name, end="to"), str(conductor.to))
    return replace(plan, found=found)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.permutations(["furnace.R", "furnace.W", "furnace.Y", "furnace.G", "loose"]))
def test_any_wrong_landings_as_found_are_put_right_one_at_a_time(landings: list[str]) -> None:
    """From every permutation of the far ends the moves end at the plan, one thing at a time, and tell what they risk."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.found is not None
    assert plan.left is not None
    found = plan.found
    for name, landing in zip(("red", "white", "yellow", "green", "blue"), landings, strict=True):
        found = with_landing(found, ConductorEnd(cable="wall", conductor=name, end="to"), landing)
    order = move_order(replace(plan, found=found))
    houses = _houses(order)
    assert all(len(_changed(a, b)) == 1 for a, b in pairwise(houses))
    assert _changed(houses[-1], plan.left) == set()
    assert order.safe == (not any(move.risks for move in order.moves))
    survey = found
    for move in order.moves:
        if move.becomes.startswith("furnace."):
            there = [n for n, c in survey.cables["wall"].conductors.items() if c.to == move.becomes]
            assert all(plan.left.cables["wall"].conductors[n].to == move.becomes for n in there)
        survey = apply(survey, move, plan.left)
    assert survey == houses[-1]
