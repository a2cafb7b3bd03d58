"""Work steps as a graph of gates: what stands before supply, what opens a gate, what shuts it again, what the day changes."""

from __future__ import annotations

import json
import math
from functools import cache
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.errors import InputError
from subbase.work.outcomes import DAMAGING
from subbase.work.progress import (
    DEEDS,
    Progress,
    Result,
    back_to_dead,
    progress,
    progress_data,
    results_from,
    with_result,
)
from subbase.work.step_job import COMPRESSOR_LEAST_C
from subbase.work.step_plan import work_plan
from subbase.work.steps import Expected, Step, WorkPlan
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if name[:2] not in ("08", "10", "11", "16"))
PLAIN = "01-no-common-spare-blue"
COLD_C, HOT_C = 2.0, 33.0


@cache
def steps_of(name: str) -> WorkPlan:
    """Return the work plan of an example on a day nobody said anything of."""
    return work_plan(plan_of(name))


@cache
def steps_on(name: str, outdoor_c: float) -> WorkPlan:
    """Return the work plan of an example at a temperature, its checks chosen once."""
    return work_plan(plan_of(name), outdoor_c=outdoor_c, checks=steps_of(name).checks)


def good(step: Step) -> Result:
    """Return the result that meets a step."""
    who = "" if step.may_do else "somebody licensed"
    if step.expected is None:
        return Result(step.id, "done", reason=who)
    low, high = step.expected.low, step.expected.high
    return Result(step.id, "read", low if math.isinf(high) else (low + high) / 2, who)


def done_until(plan: WorkPlan, last: str) -> Progress:
    """Return a plan met from the top down to a step, that one included."""
    at = [step.id for step in plan.steps].index(last)
    return progress(plan, [good(step) for step in plan.steps[: at + 1]])


@pytest.mark.parametrize("name", PLANNED)
def test_steps_may_be_followed_from_top_to_bottom(name: str) -> None:
    """No step waits for one below it, all ids differ, and meeting each in turn finishes the job."""
    plan = steps_of(name)
    seen: set[str] = set()
    for step in plan.steps:
        assert set(step.after) <= seen
        assert step.id not in seen
        seen.add(step.id)
    now = progress(plan, [good(step) for step in plan.steps])
    assert now.refused == ()
    assert now.finished


@pytest.mark.parametrize("name", PLANNED)
def test_every_damaging_slip_stands_before_a_gate_that_supply_waits_for(name: str) -> None:
    """Each wrong landing that does damage is told by a dead reading or looked at twice, and every lock waits for that step."""
    plan = steps_of(name)
    power = [step for step in plan.steps if step.phase == "power up" and step.kind == "do"]
    assert power
    damaging = {outcome.slip.words for outcome in plan.checks.outcomes if outcome.severity in DAMAGING}
    for step in power:
        before = plan.before(step.id)
        told = {words for other in plan.steps if other.id in before for words in other.covers}
        assert damaging <= told


@pytest.mark.parametrize("name", PLANNED)
def test_nothing_is_live_between_the_locks_and_supply_on(name: str) -> None:
    """Every move, look and dead reading has all locks and the whole proof before it, and comes before every supply."""
    plan = steps_of(name)
    locks = {step.id for step in plan.steps if step.phase in ("lock out", "prove dead")}
    handwork = {step.id for step in plan.steps if step.phase in ("move", "look twice", "check dead", "close up")}
    for step in plan.steps:
        if step.id in handwork:
            assert locks <= plan.before(step.id)
            assert not step.live
        if step.live:
            assert handwork <= plan.before(step.id)


@pytest.mark.parametrize("name", PLANNED)
def test_every_clip_that_goes_on_comes_off_before_supply(name: str) -> None:
    """Taking a clip off is a step of its own, and no supply comes before it; one may not leave it out."""
    plan = steps_of(name)
    on = [step.id for step in plan.steps if step.id.startswith("clip/") and step.id.endswith(" on")]
    power = next(step for step in plan.steps if step.phase == "power up")
    for clip in on:
        off = plan.step(clip.removesuffix(" on") + " off")
        assert clip in plan.before(off.id)
        assert off.id in plan.before(power.id)
        assert not off.may_skip
    for one, other in pairwise(on):
        # Two clips at once would read otherwise than the circuit said for one.
        assert one.removesuffix(" on") + " off" in plan.before(other)
    chosen = {c.check.clip for c in plan.checks.checks if c.check.clip is not None}
    assert len(on) == len(chosen)


@pytest.mark.parametrize("name", PLANNED)
def test_every_chosen_check_is_a_step_with_its_own_bounds(name: str) -> None:
    """On a warm day every check of the check plan is made once, with the bounds that the circuit gave it."""
    plan = steps_on(name, HOT_C)
    made = {step.check: step for step in plan.steps if step.check is not None}
    assert set(made) == {chosen.check for chosen in plan.checks.checks}
    for check, step in made.items():
        assert step.expected is not None
        assert (step.expected.low, step.expected.high) == (check.low, check.high)
        assert step.live == (check.state is not None)


def test_a_reading_out_of_bounds_blocks_what_follows_and_says_what_to_do() -> None:
    """A dead reading of a short shuts the gate, tells what it means, and opens it when it is read anew as it must be."""
    plan = steps_of(PLAIN)
    before = done_until(plan, [step.id for step in plan.steps if step.phase == "look twice"][-1])
    short = with_result(plan, before, Result("dead/1", "read", 0.2))
    assert short.of("dead/1").status == "failed"
    assert "short" in short.of("dead/1").why
    assert short.of("dead/2").status == "blocked"
    assert "Not so" in short.of("dead/2").why
    with pytest.raises(InputError, match="Not yet"):
        with_result(plan, short, Result("dead/2", "read", 20.0))
    right = with_result(plan, short, good(plan.step("dead/1")))
    assert right.of("dead/2").status == "open"


def test_a_gate_taken_back_lets_nothing_stand_that_went_through_it() -> None:
    """Taking a lock back shuts every step behind it, and only those."""
    plan = steps_of(PLAIN)
    before = done_until(plan, "move/3")
    after = with_result(plan, before, Result("lock/furnace", "undone"))
    fallen = {step for step, state in before.states if state.status == "done" and after.of(step).status != "done"}
    done = {step for step, state in before.states if state.status == "done"}
    assert fallen == {"lock/furnace"} | (plan.behind("lock/furnace") & done)
    assert after.of("lock/outdoor").status == "done"


def test_a_meter_that_fails_its_second_proof_makes_every_test_worthless() -> None:
    """When the meter is not right after the tests, all of them and its first proof are to be made anew."""
    plan = steps_of(PLAIN)
    before = done_until(plan, "prove/furnace.R furnace.C")
    after = with_result(plan, before, Result("prove/meter again", "read", 0.0))
    assert after.of("prove/meter first").status == "open"
    assert after.of("prove/furnace.R furnace.C").status == "blocked"
    assert after.of("photo/hall").status == "blocked"
    assert after.of("lock/furnace").status == "done"


def test_with_supply_on_one_wrong_reading_blocks_every_other_live_step() -> None:
    """A call is not tried while a reading under another call is wrong; the wrong one may be read again."""
    plan = steps_on(PLAIN, HOT_C)
    before = done_until(plan, "call/fan")
    wrong = with_result(plan, before, Result("load/fan hall.R", "read", 12.0))
    assert wrong.open == ("load/fan hall.R",)
    with pytest.raises(InputError, match="Not yet"):
        with_result(plan, wrong, Result("call/heat 1", "done"))
    assert "call/heat 1" in with_result(plan, wrong, good(plan.step("load/fan hall.R"))).open


def test_a_gate_that_guards_people_may_not_be_left_out() -> None:
    """Locks, proofs and clips cannot be skipped, not even with a reason; what may be skipped needs one."""
    plan = steps_of("12-heat-pump-with-strips")
    empty = progress(plan, ())
    for step in plan.steps:
        if step.phase in ("lock out", "move", "look twice", "power up"):
            with pytest.raises(InputError, match="may not be left out"):
                with_result(plan, empty, Result(step.id, "skipped", reason="no time"))
    skippable = next(step.id for step in plan.steps if step.may_skip)
    with pytest.raises(InputError, match="why"):
        with_result(plan, empty, Result(skippable, "skipped"))


def test_what_a_skip_leaves_undone_may_not_be_relied_upon() -> None:
    """A case that nobody proved dead may not be read inside: its reading stays blocked when the proof is left out."""
    plan = steps_of("12-heat-pump-with-strips")
    reading = next(s for s in plan.steps if s.phase == "check dead" and s.check and "outdoor.R" in s.check.between)
    proofs = [step for step in plan.steps if step.id.startswith("prove/outdoor")]
    assert proofs
    results = [
        Result(step.id, "skipped", reason="not opened") if step in proofs else good(step)
        for step in plan.steps[: plan.steps.index(reading)]
    ]
    now = progress(plan, results)
    assert now.refused == ()
    assert now.of(reading.id).status == "blocked"
    assert with_result(plan, now, Result(reading.id, "skipped", reason="not opened")).of(reading.id).status == "skipped"


def test_after_supply_was_on_the_way_back_leads_through_the_locks() -> None:
    """Taken back from a live reading, the moves stay, but nothing is read dead before locks and proofs are made anew."""
    plan = steps_on(PLAIN, HOT_C)
    before = done_until(plan, "load/fan hall.R")
    now = before
    for result in back_to_dead(plan, before):
        now = with_result(plan, now, result)
    assert now.of("move/11").status == "done"
    assert now.of("power/furnace").status == "blocked"
    assert now.of("lock/furnace").status == "open"
    with pytest.raises(InputError, match="Not yet: first"):
        with_result(plan, now, Result("look/landings hall", "done"))
    for step in plan.steps:
        if step.phase in ("lock out", "prove dead"):
            now = with_result(plan, now, good(step))
    assert {"look/landings hall", "look/landings furnace"} <= set(now.open)
    assert now.of("dead/1").status == "blocked"


@st.composite
def any_results(draw: st.DrawFn) -> list[Result]:
    """Draw results of every sort for the plain house, mostly those that fit the next steps."""
    plan = steps_of(PLAIN)
    count = draw(st.integers(0, len(plan.steps)))
    results = [good(step) for step in plan.steps[:count]]
    ids = st.sampled_from([step.id for step in plan.steps] + ["no such step"])
    values = st.one_of(st.none(), st.floats(allow_nan=True, allow_infinity=True), st.just(0.0))
    wild = st.builds(Result, ids, st.sampled_from(DEEDS), values, st.sampled_from(["", "a reason"]))
    for result in draw(st.lists(wild, max_size=12)):
        results.insert(draw(st.integers(0, len(results))), result)
    return results


@settings(max_examples=150, deadline=None, derandomize=True)
@given(any_results())
def test_whatever_is_entered_no_step_stands_met_before_its_gates(results: list[Result]) -> None:
    """After any results in any order, what is met has every gate before it met, and what was refused changed nothing."""
    plan = steps_of(PLAIN)
    now = progress(plan, results)
    states = dict(now.states)
    for step in plan.steps:
        if states[step.id].status == "done":
            renewed = plan.step("power/furnace").renews  # to be made again after supply was on, while the moves stay
            assert all(states[o].status in ("done", "skipped") for o in step.after if o not in renewed)
            assert all(states[other].status == "done" for other in step.needs)
            assert step.expected is None or step.expected.holds(states[step.id].value or 0.0)
    refused = [id(result) for result, _ in now.refused]
    kept = progress(plan, [result for result in results if id(result) not in refused])
    assert kept.states == now.states
    assert kept.refused == ()


@settings(max_examples=50, deadline=None, derandomize=True)
@given(any_results())
def test_results_survive_being_written_and_read(results: list[Result]) -> None:
    """Kept as JSON and read back, results give the same progress; OL is a word, not a number JSON lacks."""
    plan = steps_of(PLAIN)
    now = progress(plan, [r for r in results if r.value is None or (not math.isnan(r.value) and r.value > -math.inf)])
    text = json.dumps(progress_data(plan, now), allow_nan=False)
    assert progress(plan, results_from(json.loads(text), plan)) == now


def test_results_of_other_steps_are_refused() -> None:
    """A record kept for other weather does not fit: its gates were others."""
    plan = steps_of(PLAIN)
    data = progress_data(plan, progress(plan, ()))
    with pytest.raises(InputError, match="belongs to other steps"):
        results_from(data, steps_on(PLAIN, COLD_C))


def test_in_the_cold_no_compressor_is_run_for_cooling() -> None:
    """Below about 60 °F the outdoor disconnect stays out while cooling is called, and goes back before heating."""
    plan = steps_on("12-heat-pump-with-strips", COLD_C)
    out = plan.step("power/stays out")
    back = plan.step("call/disconnect back")
    cool = plan.step("call/cool 1")
    assert out.id in plan.before(cool.id)
    assert "power/outdoor" not in {step.id for step in plan.steps}
    assert cool.id in plan.before(back.id)
    for step in plan.steps:
        if step.id.startswith("call/") and ("heat" in step.id):
            assert back.id in plan.before(step.id)


def test_a_case_that_feeds_its_own_24_volts_is_left_untested_in_the_cold() -> None:
    """A packaged unit cannot be tried without its compressor: cooling is written down as not tested, no reading asked."""
    ids = [step.id for step in steps_on("18-roof-unit", COLD_C).steps]
    assert "call/cool 1 untested" in ids
    assert not any(step_id.startswith(("call/cool 1", "load/cool 1", "live/cool 1")) and "untested" not in step_id for step_id in ids)  # fmt: skip


def test_the_temperature_is_asked_for_when_nobody_gave_it() -> None:
    """Without weather, cooling waits for a thermometer; too cold leaves it blocked, and it may be left out with a reason."""
    plan = steps_of(PLAIN)
    cold = with_result(plan, done_until(plan, "look/gas"), Result("look/outdoor temperature", "read", COLD_C))
    assert cold.of("look/outdoor temperature").status == "failed"
    assert cold.of("tell/household").status == "open"
    assert "look/outdoor temperature" in plan.before("call/cool 1")
    left = with_result(plan, cold, Result("call/cool 1", "skipped", reason="too cold"))
    assert left.of("call/cool 1").status == "skipped"
    with pytest.raises(InputError, match="Not yet"):
        with_result(plan, left, Result("call/cool 1", "done"))


def test_heating_in_warm_weather_is_short() -> None:
    """On a hot day every heating call says how long at most; on a cold one none does."""
    hot = [s.caution for s in steps_on(PLAIN, HOT_C).steps if s.id == "call/heat 1"]
    cold = [s.caution for s in steps_on(PLAIN, COLD_C).steps if s.id == "call/heat 1"]
    assert "no longer than 5 minutes" in hot[0]
    assert "no longer" not in cold[0]


def test_licensed_work_is_marked_for_those_without_the_licence() -> None:
    """A transformer change is an electrician's; without the licence it needs a name, with it it does not."""
    name = "12-heat-pump-with-strips"
    plan = steps_of(name)
    change = next(step for step in plan.steps if step.move is not None and step.move.kind == "change")
    assert change.who == "licensed electrician"
    assert not change.may_do
    before = progress(plan, [good(step) for step in plan.steps[: plan.steps.index(change)]])
    with pytest.raises(InputError, match="licensed electrician"):
        with_result(plan, before, Result(change.id, "done"))
    licensed = work_plan(plan_of(name), licences=frozenset({"electrician"}), checks=plan.checks)
    assert licensed.step(change.id).may_do


def test_two_supplies_are_locked_and_proved_each_by_itself() -> None:
    """In a house of two transformers both are locked, and at the wall and the equipment a pair of each is tested."""
    ids = [step.id for step in steps_of("03-two-transformers").steps]
    assert {"lock/furnace", "lock/fan centre", "lock/outdoor"} <= set(ids)
    tested = [step_id for step_id in ids if step_id.startswith("prove/dining")]
    assert any("Rh" in step_id for step_id in tested)
    assert any("Rc" in step_id for step_id in tested)
    assert {"prove/furnace.R furnace.C", "prove/fan centre.R fan centre.C"} <= set(ids)


def test_an_end_nobody_has_seen_is_looked_for_and_capped() -> None:
    """Where an unused conductor's end is not known, taking it off wherever it is found is a step before supply."""
    plan = steps_of("09-unknown-that-does-not-matter")
    unseen = [step for step in plan.steps if step.id.startswith("unseen/")]
    assert unseen
    assert unseen[0].id in plan.before(next(s.id for s in plan.steps if s.phase == "power up"))


def test_bounds_are_shown_in_the_units_of_the_survey() -> None:
    """The compressor's limit reads 60 °F in a US survey and 16 °C in another; a reading is kept in SI."""
    limit = Expected(COMPRESSOR_LEAST_C, math.inf, "degC")
    assert limit.words("us") == "60 °F or more"
    assert limit.words("si") == "16 °C or more"
    assert Expected(math.inf, math.inf, "ohm").words() == "OL"
    assert Expected(8.5, 42.7, "ohm").words() == "8.5 to 42.7 ohm"
