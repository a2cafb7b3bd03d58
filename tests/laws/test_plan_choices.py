"""What a plan chooses to do with links, supplies, relays and safety switches that are found or needed."""

from __future__ import annotations

from typing import Any

import pytest

from subbase.catalog import load_catalog
from subbase.plan import Plan, Route, make_plan
from subbase.plan.guards import bypassed
from subbase.plan.landings import Want, choose_landings
from subbase.plan.nets import Nets
from subbase.plan.proposal import Refused, case_of
from subbase.plan.result import RouteName
from subbase.plan.routes import isolation_relay
from subbase.survey import (
    LOOSE,
    Cable,
    Conductor,
    ConductorEnd,
    Equipment,
    Jumper,
    Survey,
    with_equipment,
    with_landing,
)
from tests.houses import NAMES, plan_of, survey_of

CATALOG = load_catalog()
SPARE, FULL, TWO_SUPPLIES, PAIR = (
    "01-no-common-spare-blue", "02-four-conductors-all-used", "03-two-transformers", "07-heat-only-pair",
)  # fmt: skip
APART: dict[str, Any] = {"terminals": ("Rh", "Rc", "C", "W1", "Y1", "G"), "supplies": "separate"}
JOINED: dict[str, Any] = {**APART, "supplies": "joined"}
PLANNED = tuple(name for name in NAMES if plan_of(name).left is not None)


def with_profiles(survey: Survey, *, old: dict[str, Any] | None = None, new: dict[str, Any] | None = None) -> Survey:
    """Return a house of one control with parts of its old or new profile changed."""
    ((name, control),) = survey.controls.items()
    assert control.new is not None
    changed = control.model_copy(
        update={"old": control.old.model_copy(update=old or {}), "new": control.new.model_copy(update=new or {})}
    )
    return survey.model_copy(update={"controls": {name: changed}})


def landed(survey: Survey, cable: str, conductor: str, end: Any, landing: str) -> Survey:
    """Return a house with one end of a conductor on another terminal."""
    return with_landing(survey, ConductorEnd(cable=cable, conductor=conductor, end=end), landing)


def linked(survey: Survey, *pairs: tuple[str, str]) -> Survey:
    """Return a house with more links."""
    return survey.model_copy(update={"jumpers": (*survey.jumpers, *(Jumper(between=pair) for pair in pairs))})


def one_supply_on_two(*links: tuple[str, str]) -> Survey:
    """Return a house with one transformer whose old and new controls have each Rh and Rc, and links between them as given."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    house = with_profiles(house, old={"terminals": ("Rh", "Rc", "W", "Y", "G"), "supplies": "separate"}, new=APART)
    return linked(landed(house, "wall", "red", "from", "hall.Rh"), *links)


def routes_of(plan: Plan) -> tuple[Route, ...]:
    """Return every route of every control."""
    return (*(route for item in plan.controls for route in item.routes), *plan.refused)


def route_of(plan: Plan, name: RouteName) -> Route:
    """Return a route by its name."""
    return next(route for route in routes_of(plan) if route.name == name)


@pytest.mark.parametrize("name", PLANNED)
def test_every_link_that_is_left_is_told(name: str) -> None:
    """Whatever link a route leaves in is among those kept or put in, and those taken out are not left."""
    for route in routes_of(plan_of(name)):
        if route.left is not None:
            left = {frozenset(jumper.between) for jumper in route.left.jumpers if jumper.present is True}
            told = {frozenset(c.jumper.between): c.action for c in route.jumpers}
            assert left == {ends for ends, action in told.items() if action != "remove"}, route.name


@pytest.mark.parametrize("found", [("hall.Rh", "hall.Rc"), ("hall.Rc", "hall.Rh")])
def test_a_link_at_the_wall_that_the_new_control_needs_too_is_kept(found: tuple[str, str]) -> None:
    """In whichever order its ends were written: taken out, half the calls would be dead."""
    plan = make_plan(one_supply_on_two(found))
    (change,) = plan.controls[0].chosen.jumpers
    assert (change.action, change.why) == ("keep", "also needed at the new control")


def test_a_link_that_is_needed_and_not_there_is_told_to_be_put_in() -> None:
    """By every route on one supply, whether it brings devices or not."""
    plan = make_plan(one_supply_on_two())
    assert plan.verdict == "planned"
    for route in routes_of(plan):
        if route.offered:
            added = {frozenset(c.jumper.between): c.why for c in route.jumpers if c.action == "add"}
            assert added[frozenset({"hall.Rh", "hall.Rc"})] == "one supply feeds both supply terminals", route.name


def test_a_link_of_the_old_control_alone_is_taken_out() -> None:
    """A control with one R has nowhere to put it; links between pieces of equipment stay."""
    house = with_profiles(one_supply_on_two(("hall.Rh", "hall.Rc")), new={"terminals": ("R", "C", "W1", "Y1", "G")})
    (change,) = make_plan(with_profiles(house, new={"supplies": "one"})).controls[0].chosen.jumpers
    assert (change.action, change.why) == ("remove", "goes with the old control")
    valves = plan_of("05-two-motor-valves").controls[0].chosen.jumpers
    assert {(c.action, c.why) for c in valves} == {("keep", "part of the equipment's wiring")}


def test_a_link_that_was_looked_for_and_is_not_there_joins_nothing() -> None:
    """Cooling and fan 'linked: no' are as apart as with nothing written, and nobody is told to keep or take it out."""
    house = survey_of(FULL)
    absent = Jumper(between=("furnace.Y", "furnace.G"), present=False)
    plan = make_plan(house.model_copy(update={"jumpers": (absent,)}))
    assert [(r.name, r.offered, r.landings, r.jumpers) for r in routes_of(plan)] == [
        (r.name, r.offered, r.landings, r.jumpers) for r in routes_of(plan_of(FULL))
    ]
    bare = one_supply_on_two()
    looked = bare.model_copy(update={"jumpers": (Jumper(between=("hall.Rc", "hall.Rh"), present=False),)})
    (change,) = make_plan(looked).controls[0].chosen.jumpers
    assert change.action == "add"


def test_one_supply_takes_one_conductor_and_two_supplies_take_two() -> None:
    """Rh and Rc of one transformer share its conductor; of two transformers each has its own."""
    one = make_plan(one_supply_on_two()).controls[0].chosen
    two = plan_of(TWO_SUPPLIES).controls[0].chosen
    for chosen, expected in ((one, 1), (two, 2)):
        assert chosen.offered
        fed = [landing for landing in chosen.landings if landing.wall_left.rpartition(".")[2] in {"Rh", "Rc"}]
        assert len(fed) == expected
    assert two.name == "spare conductor"


def test_a_control_that_joins_its_supplies_inside_needs_no_link() -> None:
    """Where Rh and Rc are one inside, nobody is told to put a link between them."""
    plan = make_plan(with_profiles(one_supply_on_two(), new=JOINED))
    assert plan.verdict == "planned"
    assert plan.controls[0].chosen.jumpers == ()


def at_the_wall(terminal: str, conductor: str) -> Survey:
    """Return a house whose float switch is wired in behind the wall plate, between a conductor and its terminal."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    house = with_equipment(house, {"pan": Equipment(kind="float-switch", at="hall")})
    return linked(landed(house, "wall", conductor, "from", "pan.F1"), ("pan.F2", f"hall.{terminal}"))


@pytest.mark.parametrize(("terminal", "conductor"), [("R", "red"), ("Y", "yellow")])
def test_a_safety_switch_behind_the_wall_plate_is_not_left_out(terminal: str, conductor: str) -> None:
    """Every wiring would work without it, so every one is refused, and cooling is not dropped in silence either."""
    plan = make_plan(at_the_wall(terminal, conductor))
    assert plan.verdict == "stopped"
    held = [route for route in plan.refused if route.left is not None]
    assert len(held) > 3
    for route in held:
        assert not route.offered
        assert all(reason.startswith("Float switch (pan) would no longer stop") for reason in route.reasons)
        assert any("compressor contactor" in reason for reason in route.reasons)


def cut_off() -> Survey:
    """Return a boiler that only heats, with a low-water cut-off in one conductor of its pair."""
    house = with_equipment(survey_of(PAIR), {"cut-off": Equipment(kind="limit-switch", at="boiler")})
    return linked(landed(house, "wall", "white", "to", "cut-off.F2"), ("boiler.T2", "cut-off.F1"))


def test_a_cut_off_of_a_house_that_only_heats_is_not_passed_by() -> None:
    """A conductor moved past it, or the switch gone altogether, is noticed; left as it is, nothing is said."""
    house = cut_off()
    assert bypassed(house, house, CATALOG) == ()
    past = landed(house, "wall", "white", "to", "boiler.T2")
    gone = past.model_copy(update={"equipment": survey_of(PAIR).equipment, "jumpers": ()})
    for left in (past, gone):
        (text,) = bypassed(house, left, CATALOG)
        assert text == "limit switch (cut-off) would no longer stop burner relay (boiler), as it does today"


def several_relays(*, dehumidifier: bool) -> Survey:
    """Return a furnace with humidifier and a cooling side, each on its own transformer, at a new control with one R."""
    house = survey_of(TWO_SUPPLIES)
    equipment = {
        "furnace": Equipment(kind="gas-furnace-2", at="basement", without=("fan-relay",)),
        "humidifier": Equipment(kind="humidifier", at="furnace"),
        "fan centre": house.equipment["fan centre"],
        "outdoor": Equipment(kind="condensing-unit-2", at="side yard"),
        **({"dryer": Equipment(kind="dehumidifier", at="furnace")} if dehumidifier else {}),
    }
    ends = {
        "Rh": "furnace.R", "W": "furnace.W1", "W2": "furnace.W2", "HUM": "humidifier.HUM", "Rc": "fan centre.R",
        "Y": "fan centre.Y", "Y2": "fan centre.joint 1", "G": "fan centre.G",
        **({"D1": "dryer.D1", "DEHUM": "dryer.D2"} if dehumidifier else {}),
    }  # fmt: skip
    wall = house.cables["wall"].model_copy(
        update={"conductors": {name: Conductor(from_=f"dining.{name}", to=far) for name, far in ends.items()}}
    )
    outside = Cable(
        from_="furnace", to="outdoor", length_m=12.0, gauge_awg=18,
        conductors={
            "a": Conductor(from_="fan centre.Y", to="outdoor.Y1"),
            "b": Conductor(from_="fan centre.joint 1", to="outdoor.Y2"),
            "c": Conductor(from_="fan centre.C", to="outdoor.C"),
        },
    )  # fmt: skip
    house = house.model_copy(update={"equipment": equipment, "cables": {"wall": wall, "outside": outside}})
    new = {"terminals": ("R", "C", "W1", "W2", "Y1", "Y2", "G", "HUM", "DEHUM"), "supplies": "one"}
    house = with_profiles(house, old={"terminals": tuple(ends)}, new=new)
    return linked(house, ("humidifier.C", "furnace.C"))


def test_three_relays_are_a_job_and_four_are_not() -> None:
    """Three calls of a foreign supply are each given a relay; with a fourth the route says that it is too much."""
    proposal = isolation_relay(case_of(several_relays(dehumidifier=False), CATALOG, "dining"))
    (part,) = proposal.parts
    assert part.count == 3
    with pytest.raises(Refused, match="4 relays would be needed; more than 3"):
        isolation_relay(case_of(several_relays(dehumidifier=True), CATALOG, "dining"))


def test_a_transformer_of_its_own_needs_a_relay_for_each_output_of_one_supply() -> None:
    """A control that feeds and switches from one terminal: a relay per call; over two supplies it is refused."""
    route = route_of(plan_of(FULL), "separate transformer")
    assert route.offered
    assert [part.count for part in route.parts if "relay" in part.what] == [3]
    two = make_plan(with_profiles(survey_of(TWO_SUPPLIES), new={"terminals": ("R", "C", "W1", "Y1", "G")}))
    four = plan_of("06-colours-swapped-at-splice")
    for plan, count in ((two, 3), (four, 4)):
        refused = route_of(plan, "separate transformer")
        assert not refused.offered
        assert f"each of its {count} outputs would need an isolation relay at the wall" in refused.reasons[0]


def test_a_transformer_of_its_own_is_never_tied_to_the_equipment_inside_the_control() -> None:
    """Kept apart on Rh and Rc it feeds the control alone; where the control joins them, a relay stands between."""
    apart, joined = (
        route_of(make_plan(with_profiles(survey_of(PAIR), new=new)), "separate transformer") for new in (APART, JOINED)
    )
    assert apart.offered
    assert joined.offered
    assert [sum(part.count for part in r.parts if "relay" in part.what) for r in (apart, joined)] == [0, 1]
    without = make_plan(with_profiles(survey_of(PAIR), new={"terminals": ("Rh", "Rc", "W1"), "power": "battery"}))
    assert "has no terminal for a common" in route_of(without, "separate transformer").reasons[0]


@pytest.mark.parametrize(("terminals", "linked"), [(("Rh", "Rc", "W", "Y", "G"), True), (("Rh", "W"), False)])
def test_a_transformer_of_its_own_feeds_both_sides_of_the_control(terminals: tuple[str, ...], linked: bool) -> None:
    """Behind Rh and Rc relays for heating and cooling need a link to be fed; a control that only heats needs none."""
    house = one_supply_on_two() if linked else survey_of(PAIR)
    new = {**APART, "powered_from": "Rc" if linked else "Rh"}
    route = route_of(make_plan(with_profiles(house, old={"terminals": terminals}, new=new)), "separate transformer")
    assert route.offered, route.reasons
    ends = {jumper.jumper.between for jumper in route.jumpers}
    assert any({a.rpartition(".")[2], b.rpartition(".")[2]} == {"Rh", "Rc"} for a, b in ends) == linked


@pytest.mark.parametrize(
    ("conductor", "end", "kept"),
    [
        ("blue", "from", {"heat 1", "cool 1", "fan"}),
        ("yellow", "from", {"heat 1", "fan"}),
        ("yellow", "to", {"heat 1", "fan"}),
        ("green", "to", {"heat 1"}),
        ("white", "from", {"cool 1", "fan"}),
    ],
)
def test_a_call_is_kept_when_all_that_it_takes_is_wired_at_both_ends(conductor: str, end: str, kept: set[str]) -> None:
    """A conductor off at either end carries no call today, and cooling needs the fan's too."""
    house = survey_of(SPARE).model_copy(update={"readings": ()})
    (item,) = make_plan(landed(house, "wall", conductor, end, LOOSE)).controls
    assert set(item.wanted) == kept


def test_a_sharing_adapter_is_one_part() -> None:
    """Both pieces come as one."""
    (part,) = route_of(plan_of(FULL), "shared conductor").parts
    assert part.count == 1


@pytest.mark.parametrize(("length_m", "said"), [(10.0, "about 12 m (39 ft)"), (50.0, "about 60 m (197 ft)")])
def test_a_new_cable_is_as_long_as_the_run_and_a_fifth(length_m: float, said: str) -> None:
    """What is bought follows from the cable that is there."""
    house = survey_of(FULL)
    cable = house.cables["wall"].model_copy(update={"length_m": length_m})
    plan = make_plan(house.model_copy(update={"cables": {**house.cables, "wall": cable}}))
    (part,) = route_of(plan, "new cable").parts
    assert said in part.what


def test_a_common_out_of_reach_is_told_by_where_it_is() -> None:
    """No common at all is one thing to be told; one that is brought out where no cable of the control ends is another."""
    assert "not brought out to any terminal" in route_of(plan_of(PAIR), "spare conductor").reasons[0]
    house = with_equipment(survey_of(FULL), {"handler": Equipment(kind="air-handler", at="attic")})
    want = Want("common", "hall.C", Nets(house, CATALOG, "hall").net("handler.C"))
    text = choose_landings(house, CATALOG, "hall", (want,), lost=frozenset(), found=house)
    assert text == "common cannot be landed where the control's cable ends (furnace); it is found at handler.C"
