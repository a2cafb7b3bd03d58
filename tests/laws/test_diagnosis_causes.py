"""What may be wrong with a house: what each part can have, what a fault takes with it, what hands can have done."""

from __future__ import annotations

import numpy as np
import pytest

from subbase.circuit import Impedance, Netlist, Source, Switch
from subbase.circuit.changes import Change
from subbase.diagnose.components import component_faults
from subbase.diagnose.hypotheses import hypotheses_of
from subbase.diagnose.islands import island_of, paths_of
from subbase.diagnose.odds import load_odds
from subbase.diagnose.places import site_of
from subbase.diagnose.predictions import Predictions, volts_between
from subbase.diagnose.probes import Probe
from subbase.diagnose.sights import answer_probabilities, lamp_of
from subbase.diagnose.slips import slip_faults
from subbase.survey import CUT_SHORT, LOOSE, ConductorEnd, Jumper, Survey, with_landing
from subbase.wiring import OFF, House, build_house
from subbase.wiring.outputs import ALIVE_SHARE
from tests.houses import plan_of
from tests.predicted import predictions_of

SMALL, SHARED, VALVES = "01-no-common-spare-blue", "02-four-conductors-all-used", "04-three-heat-motor-valves"
ODDS = load_odds()


@pytest.fixture(scope="module")
def small() -> Predictions:
    """A furnace and a condensing unit with one control."""
    return predictions_of(SMALL)


def left(name: str) -> Survey:
    """Return a house as its plan leaves it."""
    survey = plan_of(name).left
    assert survey is not None
    return survey


def built(survey: Survey) -> House:
    """Return the circuit of a survey of an example."""
    return build_house(survey, plan_of(SMALL).catalog)


def landed(survey: Survey, conductor: str, from_: str | None = None, to: str | None = None) -> Survey:
    """Return a survey with ends of one conductor of the wall's cable elsewhere."""
    if from_ is not None:
        survey = with_landing(survey, ConductorEnd(cable="wall", conductor=conductor, end="from"), from_)
    if to is not None:
        survey = with_landing(survey, ConductorEnd(cable="wall", conductor=conductor, end="to"), to)
    return survey


def slips(survey: Survey) -> dict[str, list[Survey]]:
    """Return every slip of a house by its id, with the wirings that it may leave."""
    return {
        slip.id: [form.survey for form in slip.forms if form.survey is not None]
        for slip in slip_faults(built(survey), ODDS)
    }


def test_electronics_are_not_said_to_hang_or_to_work_something() -> None:
    """A board can be open or shorted; nothing in it has to act, so nobody is sent to listen for it."""
    house = built(left(SMALL))
    of_board = {fault.kind for fault in component_faults(house, ODDS) if "furnace/board" in fault.tags}
    assert of_board == {"coil open", "shorted turns"}
    assert house.loads["furnace/board"].neutral


def test_a_conductor_touches_metal_where_its_cable_holds_no_common() -> None:
    """Four conductors and no common: each may touch grounded metal; with a common among them its neighbours are what they touch."""
    found = plan_of(SHARED).found
    assert found is not None
    metal = {fault.id for fault in component_faults(built(found), ODDS) if fault.id.endswith("+metal")}
    assert metal == {f"short: wall/{name}+metal" for name in ("red", "white", "yellow", "green")}
    assert not any(fault.id.endswith("+metal") for fault in component_faults(built(left(SHARED)), ODDS))


def test_a_dead_short_has_probably_blown_the_fuse(small: Predictions) -> None:
    """R against common: seven times of ten the fuse is found open, else it was new or held in; a short of two calls blows nothing."""
    by_id = {h.id: h for h in small.hypotheses}
    short = by_id["short: wall/red+blue"]
    assert sum(form.share for form in short.forms if "furnace/fuse" in form.gone) == pytest.approx(0.7)
    assert not any(form.gone for form in by_id["short: wall/yellow+green"].forms)


def test_a_control_with_too_little_may_be_dark_or_lit(small: Predictions) -> None:
    """Between what it surely lacks and what its maker promises nobody knows: a form for each, alike likely."""
    least_v = small.house.survey.controls["hall"].old.least_v
    block = small.singles(OFF)
    fed_v, _ = volts_between(block, small.column("hall.R"), small.column("hall.C"))
    forms = small.rows.forms
    faint = [
        i for i, f in enumerate(forms) if f.silent and small.hypotheses[small.rows.owner[i]].kind != "control dead"
    ]
    assert faint
    for i in faint:
        assert ALIVE_SHARE * least_v <= fed_v[i] < least_v
        (twin,) = [k for k, f in enumerate(forms) if f.changes == forms[i].changes and f.survey is forms[i].survey and k != i
                   and small.rows.owner[k] == small.rows.owner[i]]  # fmt: skip
        assert forms[twin].share == forms[i].share
        assert not forms[twin].silent


def test_where_the_supply_is_too_low_all_the_time_every_cause_may_leave_it_dark() -> None:
    """A control that asks for more than the house has is dark or lit with nothing wrong too, and however it is set."""
    survey = left(SMALL)
    hall = survey.controls["hall"]
    greedy = hall.model_copy(update={"old": hall.old.model_copy(update={"least_v": 29.0})})
    faults = hypotheses_of(survey.model_copy(update={"controls": {"hall": greedy}}), plan_of(SMALL).catalog)
    for fault in faults:
        if fault.kind in {"nothing wrong", "equipment type set wrong", "output dead"}:
            assert sum(form.share for form in fault.forms if "hall" in form.silent) == pytest.approx(0.5), fault.id


def test_a_cut_short_conductor_is_swapped_only_where_it_can_be_reached() -> None:
    """Cut off in the wall at its far end, it can change places at the near end alone; two whole ones at either."""
    told = slips(landed(left(SMALL), "white", to=CUT_SHORT))
    wirings = {
        pair: len(told[f"landings swapped: wall/{pair} at hall"])
        for pair in ("red+white", "white+yellow", "red+yellow")
    }
    assert wirings == {"red+white": 1, "white+yellow": 1, "red+yellow": 2}


def test_a_conductor_left_off_at_the_wall_may_stand_in_for_another() -> None:
    """The common is put on R and red is left off: told, since its far end is landed, so that it shorts the supply."""
    slip = "landings swapped: wall/red+blue at hall"
    (wiring,) = slips(landed(left(SMALL), "blue", from_=LOOSE))[slip]
    cable = wiring.cables["wall"].conductors
    assert (cable["blue"].from_, cable["blue"].to) == ("hall.R", "furnace.C")
    assert (cable["red"].from_, cable["red"].to) == (LOOSE, "furnace.R")
    assert slip not in slips(landed(left(SMALL), "blue", from_=LOOSE, to=LOOSE))


def test_crossed_leads_never_join_a_terminal_to_itself() -> None:
    """A link between two terminals of the adapter itself is crossed with no lead that would turn it into nothing."""
    survey = left(SHARED)
    own = Jumper(between=("sharing adapter.R", "sharing adapter.Y"))
    for jumpers in (survey.jumpers, (*survey.jumpers, own)):
        told = slips(survey.model_copy(update={"jumpers": jumpers}))
        crossed = [
            wiring for name, wirings in told.items() if name.startswith("adapter mis-wired") for wiring in wirings
        ]
        assert len(crossed) >= 6
        assert all(a != b for wiring in crossed for a, b in (link.between for link in wiring.jumpers))


def test_what_stands_inside_another_cabinet_is_reached_there() -> None:
    """The pan's float switch is at the air handler, a valve's supply at the boiler; a control is on its own wall."""
    assert site_of(left("12-heat-pump-with-strips"), "pan switch") == "handler"
    assert site_of(left(VALVES), "valve supply") == "boiler"
    assert site_of(left(SHARED), "sharing piece at wall") == site_of(left(SHARED), "hall") == "hall"


def test_welded_line_contacts_run_what_nobody_called(small: Predictions) -> None:
    """In a sound house at rest nothing runs; with welded contacts the compressor does, though its contactor is out."""
    ids = [small.hypotheses[h].id for h in small.rows.owner.tolist()]
    welded = ids.index("contact welded: outdoor/contactor")
    block = small.singles(OFF)
    for tag in small.coils:
        runs, acts = (
            answer_probabilities(small, block, Probe("seen", OFF, sight=s, about=tag)) for s in ("runs", "acts")
        )
        assert (runs[0, 0] > 0.5) == (acts[0, 0] > 0.5)
        assert (runs[welded, 0] > 0.5) == (tag == "outdoor/contactor" or acts[welded, 0] > 0.5)
        assert (acts[welded, 0] > 0.5) == (acts[0, 0] > 0.5)


def test_a_board_that_is_not_there_has_no_lamp() -> None:
    """A furnace of which the survey says that it has no board blinks no code."""
    survey = left(SMALL)
    without = survey.equipment["furnace"].model_copy(update={"without": ("board",)})
    bare = survey.model_copy(update={"equipment": {**survey.equipment, "furnace": without}})
    assert lamp_of(built(survey), "furnace") == "furnace/board"
    assert lamp_of(built(bare), "furnace") is None


@pytest.mark.parametrize("first", [True, False])
def test_a_worn_output_still_opens(first: bool) -> None:
    """An output that has become a poorer one joins its ends only while it is made, wherever the netlist names it."""
    output, supply = Switch("out", "R", "W"), Source("supply", "C", "R", 24.0, 1.0)
    load = Impedance("load", "W", "C", 60.0)
    netlist = Netlist((output, supply, load) if first else (supply, load, output))
    paths = paths_of(netlist, (Change("out", Switch("out", "R", "W", r_closed_ohm=5.0)), Change("load", None)))
    nodes = np.array([netlist.index[node] for node in ("R", "W")])
    change = np.array([[0, 1], [0, 1], [0, -1]])
    island = island_of(paths, change, np.array([[False], [True], [False]]), np.zeros((3, 0), dtype=np.bool_), nodes)
    assert (island[:, 0] == island[:, 1]).tolist() == [False, True, True]
