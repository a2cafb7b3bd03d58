"""The choice of conductors against trying every choice, and the assignment under it against independent solvers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from itertools import permutations
from random import Random

import highspy
import numpy as np
import pytest
from scipy.optimize import linear_sum_assignment

from subbase.catalog import load_catalog
from subbase.plan.assign import FORBIDDEN, least_assignment
from subbase.plan.landings import Chosen, Want, Wire, choose_landings, margin_step, wires_of
from subbase.plan.nets import Nets
from subbase.plan.proof import prove
from subbase.plan.proposal import Case, Proposal, Refused, case_of
from subbase.plan.routes import ROUTES
from subbase.survey import CUT_SHORT, LOOSE, NOWHERE, ConductorEnd, Survey, with_landing
from tests.agreement.random_houses import CONTROL, random_house
from tests.houses import BUILDABLE, plan_of

FEW_CONDUCTORS = range(170)
"""Seeds of houses with at most four conductors: every choice is proved."""
MANY_CONDUCTORS = range(1000, 1110)
"""Seeds of houses with up to seven: choices alike in gauge and length, want by want, share a proof."""
MOST_WANTS = 6
"""Beyond this a new cable's many conductors have too many orders to try."""
Key = tuple[int, int]


def proposals(house: Survey, control: str = CONTROL) -> Iterator[tuple[Case, Proposal]]:
    """Yield what each route proposes for a house."""
    case = case_of(house, load_catalog(), control)
    for _, _, propose in ROUTES:
        with suppress(Refused):
            yield case, propose(case)


def chosen_by_planner(case: Case, proposal: Proposal) -> Chosen | None:
    """Return the planner's choice, or None when it says that there is none."""
    found = choose_landings(
        proposal.base, case.catalog, case.control, proposal.wants, lost=proposal.lost, found=case.survey
    )
    return None if isinstance(found, str) else found


class EveryChoice:
    """Every way to give each want a conductor of its own, by the words of ``plan/landings.py`` and nothing else."""

    def __init__(self, case: Case, proposal: Proposal) -> None:
        self.case, self.proposal = case, proposal
        self.nets = Nets(proposal.base, case.catalog, case.control)
        self.wires = wires_of(proposal.base, case.control)
        self.parked_moves = {w: int(self.was(w.far_end) != self.parked(w.far_end)) for w in self.wires}
        self.cut = [ends for ends in self.ends() if CUT_SHORT in (end.landing(proposal.base) for end in ends)]
        self.cut_moves = sum(self.was(far) != self.parked(far) for _, far in self.cut)
        self.able = [[w for w in self.wires if self.landing(w, want)] for want in proposal.wants]

    def best(self, *, share_proofs: bool) -> Key | None:
        """Return (-margin step, moved) of the best choice; None when no choice is possible."""
        proved: dict[tuple[object, ...], int] = {}
        best: Key | None = None
        for moved, wires in sorted(self.choices(self.cut_moves, ()), key=lambda item: item[0]):
            kind = tuple(wire.electrical_class for wire in wires) if share_proofs else wires
            if kind not in proved:
                proved[kind] = self.step(wires)
            key = (-proved[kind], moved)
            best = key if best is None else min(best, key)
            if proved[kind] == 1:
                break
        return best

    def choices(self, moved: int, wires: tuple[Wire, ...]) -> Iterator[tuple[int, tuple[Wire, ...]]]:
        """Yield (conductors moved, conductor of each want) of every choice that begins with ``wires``."""
        if len(wires) == len(self.proposal.wants):
            yield moved + sum(moves for wire, moves in self.parked_moves.items() if wire not in wires), wires
            return
        want = self.proposal.wants[len(wires)]
        for wire in self.able[len(wires)]:
            if wire not in wires:
                yield from self.choices(moved + (self.was(wire.far_end) != self.landing(wire, want)), (*wires, wire))

    def step(self, wires: tuple[Wire, ...]) -> int:
        """Return how the proof of a choice counts."""
        left = self.proposal.base
        for wall, far in self.ends():
            free = CUT_SHORT if wall.landing(left) == CUT_SHORT else LOOSE
            left = with_landing(with_landing(left, wall, free), far, self.parked(far))
        for want, wire in zip(self.proposal.wants, wires, strict=True):
            left = with_landing(
                with_landing(left, wire.wall_end, want.wall), wire.far_end, self.landing(wire, want) or LOOSE
            )
        proof = prove(left, self.case.catalog, lost=self.proposal.lost, about=self.case.control, patient=False)
        return margin_step(proof)

    def ends(self) -> Iterator[tuple[ConductorEnd, ConductorEnd]]:
        """Yield (wall end, far end) of every conductor of the control's cables."""
        for name, cable in self.proposal.base.cables.items():
            if self.case.control in (cable.from_, cable.to):
                for conductor in cable.conductors:
                    one = ConductorEnd(cable=name, conductor=conductor, end="from")
                    other = ConductorEnd(cable=name, conductor=conductor, end="to")
                    yield (one, other) if cable.from_ == self.case.control else (other, one)

    def parked(self, far: ConductorEnd) -> str:
        """Return where the far end of an unused conductor stays: taken off what would make its wall end live."""
        found = str(far.landing(self.proposal.base))
        hot = found not in NOWHERE and any(supply.hot == self.nets.net(found) for supply in self.nets.supplies)
        return LOOSE if hot else found

    def landing(self, wire: Wire, want: Want) -> str | None:
        """Return where a conductor carries a want at its far end: where it is, if that is right, else anywhere on the net."""
        if want.only is not None and wire.name not in want.only:
            return None
        if wire.far_found != LOOSE and self.nets.net(wire.far_found) == want.net:
            return wire.far_found
        # The last point, where the planner takes the first: which one it is must make no difference.
        return max(self.nets.points_at(want.net, wire.far_place), default=None)

    def was(self, far: ConductorEnd) -> str:
        """Return where a conductor's far end was found."""
        return str(far.landing(self.case.survey if far.cable in self.case.survey.cables else self.proposal.base))


@pytest.mark.parametrize("first", range(FEW_CONDUCTORS.start, FEW_CONDUCTORS.stop, 10))
def test_no_choice_of_conductors_is_better_than_the_planners(first: int) -> None:
    """Every choice proved: the planner's has the best margin step, and of those the fewest conductors moved."""
    for seed in range(first, first + 10):
        for case, proposal in proposals(random_house(Random(seed), most_conductors=4)):
            # The conductors of a new cable are all alike; the next test has them.
            if proposal.name != "new cable":
                assert key_of(chosen_by_planner(case, proposal)) == EveryChoice(case, proposal).best(share_proofs=False)


@pytest.mark.parametrize("first", range(MANY_CONDUCTORS.start, MANY_CONDUCTORS.stop, 10))
def test_no_choice_among_many_conductors_is_better_than_the_planners(first: int) -> None:
    """The same with up to seven conductors in cables of different length and gauge."""
    for seed in range(first, first + 10):
        for case, proposal in proposals(random_house(Random(seed))):
            assert key_of(chosen_by_planner(case, proposal)) == EveryChoice(case, proposal).best(share_proofs=True)


@pytest.mark.parametrize("name", BUILDABLE)
def test_no_choice_is_better_than_the_planners_in_the_examples(name: str) -> None:
    """The same in the invented houses, with zone valves, start pairs, two supplies and a zone panel."""
    house = plan_of(name).found
    assert house is not None or plan_of(name).verdict == "question"
    for control in house.controls if house else ():
        if house and house.controls[control].new is not None:
            for case, proposal in proposals(house, control):
                if len(proposal.wants) > MOST_WANTS:
                    continue
                assert key_of(chosen_by_planner(case, proposal)) == EveryChoice(case, proposal).best(share_proofs=True)


def test_the_random_houses_put_the_choice_to_the_test() -> None:
    """Among the houses there are choices that hold well, barely and not at all, that move much, and that are impossible."""
    houses = (random_house(Random(seed)) for seed in range(MANY_CONDUCTORS.start, MANY_CONDUCTORS.start + 60))
    keys = [key_of(chosen_by_planner(case, proposal)) for house in houses for case, proposal in proposals(house)]
    assert {key[0] for key in keys if key is not None} == {-1, 0, 1}
    assert max(key[1] for key in keys if key is not None) >= 4
    assert None in keys


def key_of(chosen: Chosen | None) -> Key | None:
    """Return (-margin step, moved) of a choice."""
    return None if chosen is None else (-margin_step(chosen.proof), chosen.moved)


def random_costs(rng: Random) -> list[list[int]]:
    """Return a random cost matrix as the planner makes them: wide, with ties, with pairs that must not be."""
    rows = rng.randint(1, 6)
    columns = rows + rng.randint(0, 4)
    forbidden, most = rng.choice((0.0, 0.2, 0.6)), rng.choice((3, 100, 1_010_009))
    return [
        [FORBIDDEN if rng.random() < forbidden else rng.randint(0, most) for _ in range(columns)] for _ in range(rows)
    ]


def test_the_least_assignment_costs_what_scipy_says() -> None:
    """On random matrices the total is that of SciPy's assignment solver, and each row has a column of its own."""
    for seed in range(2000):
        costs = random_costs(Random(seed))
        total, columns = least_assignment(costs)
        rows, theirs = linear_sum_assignment(np.array(costs))
        assert total == sum(costs[row][column] for row, column in zip(rows, theirs, strict=True))
        assert total == sum(costs[row][column] for row, column in enumerate(columns))
        assert len(set(columns)) == len(costs)


def test_the_least_assignment_costs_what_trying_all_says() -> None:
    """On small random matrices no assignment at all is cheaper."""
    for seed in range(400):
        costs = [row[:5] for row in random_costs(Random(seed))][:4]
        costs = costs[: len(costs[0])]
        every = permutations(range(len(costs[0])), len(costs))
        assert least_assignment(costs)[0] == min(sum(map(list.__getitem__, costs, columns)) for columns in every)


def test_the_least_assignment_costs_what_an_integer_programme_says() -> None:
    """On random matrices the optimum is that of the assignment written as an integer programme and solved by HiGHS."""
    for seed in range(60):
        costs = random_costs(Random(seed))
        solver = highspy.Highs()
        solver.silent()
        allowed = [(r, c) for r, row in enumerate(costs) for c, cost in enumerate(row) if cost < FORBIDDEN]
        used = {pair: solver.addBinary() for pair in allowed}
        for row in range(len(costs)):
            solver.addConstr(sum((used[p] for p in allowed if p[0] == row), start=highspy.Highs.qsum([])) == 1)
        for column in range(len(costs[0])):
            solver.addConstr(sum((used[p] for p in allowed if p[1] == column), start=highspy.Highs.qsum([])) <= 1)
        solver.minimize(sum((costs[r][c] * used[r, c] for r, c in allowed), start=highspy.Highs.qsum([])))
        feasible = solver.getModelStatus() == highspy.HighsModelStatus.kOptimal
        total, _ = least_assignment(costs)
        assert (total < FORBIDDEN) == feasible
        assert not feasible or total == round(solver.getObjectiveValue())


def test_more_rows_than_columns_are_refused() -> None:
    """A row without a column of its own is an error, not a wrong answer."""
    with pytest.raises(ValueError, match="2 rows cannot each have one of 1 columns"):
        least_assignment([[1], [2]])


def test_no_rows_cost_nothing() -> None:
    """Nothing to assign is an assignment."""
    assert least_assignment([]) == (0, ())
