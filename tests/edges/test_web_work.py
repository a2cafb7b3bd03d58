"""The Work stage without scripts: one step at a time behind its gates, and everything an event."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest

from subbase.journal.bodies import StepDone
from tests.houses import EXAMPLES
from tests.web_jobs import ONE, Visitor, visiting


@pytest.fixture
def visitor(visitor: Visitor) -> Visitor:
    """A new job whose day is told."""
    visitor.post("work/day", {"season": "heating", "outdoor": "68", "licence electrician": "yes"})
    return visitor


def test_the_weather_and_licences_are_asked_before_the_first_step(tmp_path: Path) -> None:
    """A new job's Work page asks for the day first, and keeps what is told as a setting in SI."""
    with visiting(tmp_path) as visitor:
        assert 'action="/jobs/' + visitor.job + '/work/result"' not in visitor.get("work").text
        shown = visitor.post("work/day", {"season": "cooling", "outdoor": "77", "licence gas": "yes"}).text
        assert "Cooling weather, 77 °F; gas fitter" in shown
        value = visitor.state.settings["", "day of the work"].body.value
        assert value == {"season": "cooling", "outdoor_c": 25.0, "licences": ["gas"]}


def test_an_outdoor_temperature_that_cannot_be_is_refused(visitor: Visitor) -> None:
    """A slip of the finger in the temperature is said, and nothing is kept."""
    before = visitor.state.sequence
    answer = visitor.post("work/day", {"outdoor": "680"})
    assert answer.status_code == 422
    assert "lies between" in answer.text
    assert visitor.state.sequence == before


def test_doing_every_step_as_it_must_be_proves_the_house(visitor: Visitor) -> None:
    """Whoever does what the page shows, step after step, comes to the end; the readings on the way prove the wiring."""
    done = []
    while step := visitor.do_what_is_shown():
        done.append(step)
        assert len(done) < 100
    assert "Every step is met" in visitor.get("work").text
    assert done.index("prove/meter again") < done.index("move/1") < done.index("power/furnace")
    assert ">Proved<" in visitor.get("check").text
    assert "Nothing: every step is met and the wiring is proved." in visitor.get("hand-over").text


def test_a_step_before_its_gate_is_refused_with_the_reason(visitor: Visitor) -> None:
    """A move cannot be told done while nothing is locked out; the page says what comes first."""
    answer = visitor.step("move/1")
    assert answer.status_code == 422
    assert "Not yet: first" in answer.text
    assert not visitor.state.steps


def test_a_reading_out_of_bounds_is_kept_and_holds_up_what_follows(visitor: Visitor) -> None:
    """A reading that is not so stands as failed with what to do, and opens no gate."""
    while visitor.do_what_is_shown() != "prove/meter first":
        pass
    shown = visitor.step("prove/hall.R hall.W", "read", value="24.5").text
    assert "Not met" in shown
    assert "24.5 V" in shown
    assert "hands off" in shown
    assert visitor.step("prove/meter again", "read", value="120").status_code == 422


def test_a_step_that_guards_people_cannot_be_left_out(visitor: Visitor) -> None:
    """The page offers no leaving out where the plan allows none, and refuses it when it is sent all the same."""
    assert "Leave it out" not in visitor.get("work?step=look/gas").text
    assert visitor.step("look/gas", "skip", reason="no time").status_code == 422


def test_taking_back_is_an_event_and_reopens_what_stands_behind(visitor: Visitor) -> None:
    """Taking a step back keeps both events and makes the steps behind it wait again."""
    for _ in range(4):
        visitor.do_what_is_shown()
    kinds = [line.event.body.kind for line in visitor.state.history]
    shown = visitor.step("look/stops", "undo").text
    assert "It is so" in shown
    assert [line.event.body.kind for line in visitor.state.history] == [*kinds, "step_reopened"]
    assert "Not yet" in visitor.step("off/hall").text


def test_a_form_sent_twice_counts_once(visitor: Visitor) -> None:
    """A double tap makes no second event."""
    key = str(uuid.uuid4())
    for _ in range(2):
        assert visitor.post("work/result", {"step": "look/stops", "act": "done"}, key=key).status_code == 200
    assert sum(isinstance(line.event.body, StepDone) for line in visitor.state.history) == 1


def test_a_licensed_step_asks_who_did_it(tmp_path: Path) -> None:
    """A step beyond the person's licences is done with the name of who did it, or left out with a reason, never without."""
    with visiting(tmp_path, "13-dual-fuel") as visitor:
        visitor.post("work/day", {"season": "heating", "outdoor": "68"})
        while 'name="who"' not in (text := visitor.get("work").text):
            visitor.do_what_is_shown()
        step = text.split('name="step" value="')[1].split('"')[0]
        nameless = visitor.step(step)
        assert nameless.status_code == 422
        assert "say in the reason who did it" in nameless.text
        assert "Say why it is left out" in visitor.step(step, "skip").text
        visitor.step(step, "skip", reason="the electrician comes tomorrow")
        assert f"({'the electrician comes tomorrow'})" in visitor.get("hand-over").text
        assert "1 left out" in visitor.get("work").text


def test_changed_wiring_leaves_earlier_results_behind(visitor: Visitor) -> None:
    """After the survey's wiring changes, steps begin anew and the page says why; a change of notes keeps them."""
    visitor.do_what_is_shown()
    text = (EXAMPLES / f"{ONE}.yaml").read_text("utf-8")
    base = visitor.state.survey.sha256
    _edit(visitor, text + "\nnotes: Two dogs.\n", base)
    assert "1 of " in visitor.get("work").text
    _edit(visitor, text.replace("45 ft", "75 ft"), visitor.state.survey.sha256)
    shown = visitor.get("work").text
    assert "0 of " in shown
    assert "The wiring in the survey has changed since work began" in shown


def test_a_form_shown_for_another_wiring_is_refused(visitor: Visitor) -> None:
    """Somebody at a desk changes the wiring while the step is on the phone: Done then counts for nothing, and it is said."""
    page = visitor.get("work").text
    mark = page.split('name="mark" value="')[1].split('"')[0]
    assert visitor.step("look/stops", mark=mark).status_code == 200
    text = visitor.state.survey.text
    _edit(visitor, text.replace("45 ft", "75 ft"), visitor.state.survey.sha256)
    for path, fields in (
        ("work/result", {"step": "look/gas", "act": "done"}),
        ("check/readings", {}),
        ("check/call", {"of": "hall: heat 1"}),
    ):
        answer = visitor.post(path, {**fields, "mark": mark})
        assert answer.status_code == 422
        assert "was changed since this page was shown" in answer.text
    assert "0 of " in visitor.get("work").text


def test_a_page_that_another_phone_has_overtaken_takes_nothing_back(visitor: Visitor) -> None:
    """Done, told once more from an older page, leaves what was done behind it; 'not so' is always heard (smelling for gas hangs on no other step)."""
    for _ in range(4):
        visitor.do_what_is_shown()
    before = visitor.state.sequence
    assert visitor.step("look/stops").status_code == 200
    assert visitor.state.sequence == before
    assert "4 of " in visitor.get("work").text
    assert "Not met" in visitor.step("look/stops", "not so", reason="scorched insulation").text
    assert "1 of " in visitor.get("work").text


def _edit(visitor: Visitor, text: str, base: str) -> None:
    from datetime import UTC, datetime

    from subbase.journal.bodies import SurveyEdited
    from subbase.journal.events import Entry, new_key

    assert text != visitor.state.survey.text
    body = SurveyEdited(text=text, base=base)
    visitor.journal.append(visitor.job, [Entry(key=new_key(), made_at=datetime.now(tz=UTC), body=body)])


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"step": "no such step", "act": "done"}, "not in the plan any more"),
        ({"step": "look/gas", "act": "nonsense"}, "does not say what came"),
        ({"step": "look/gas", "act": "read", "value": "4"}, "does not say what came"),
        ({"step": "prove/meter first", "act": "read", "value": "much"}, "is no reading"),
        ({"step": "prove/meter first", "act": "ol"}, "the range is too small"),
        ({"step": "prove/meter first", "act": "read", "value": " "}, "Enter what the meter shows"),
        ({"step": "look/gas", "act": "lock out"}, "Nothing is to be taken back"),
        ({}, "not in the plan any more"),
    ],
)
def test_a_form_that_makes_no_sense_is_refused(visitor: Visitor, fields: dict[str, str], said: str) -> None:
    """Whatever is sent, the answer is a sentence, and nothing is kept."""
    before = visitor.state.sequence
    answer = visitor.post("work/result", fields)
    assert answer.status_code == 422
    assert said in answer.text
    assert visitor.state.sequence == before


@pytest.mark.parametrize("stage", ["work", "check", "check/fault", "tune", "hand-over"])
@pytest.mark.parametrize("text", ["", "survey: 1\nname: nothing", "controls: ["])
def test_without_a_plan_each_stage_says_so(tmp_path: Path, stage: str, text: str) -> None:
    """A job that cannot be planned yet has pages that say what is missing and where to go."""
    with visiting(tmp_path, text=text) as visitor:
        answer = visitor.get(stage)
        assert answer.status_code == 200
        assert f"/jobs/{visitor.job}/survey" in answer.text


def test_pages_stay_small(tmp_path: Path) -> None:
    """No page of Work or Check takes 100 kB; the list of steps would not with 400 of them (the largest example has 170)."""
    with visiting(tmp_path, "12-heat-pump-with-strips") as visitor:
        for path in ("work?step=look/gas", "check"):
            assert len(visitor.get(path).content) < 50_000
        steps = visitor.get("work/steps").content
        assert len(steps) / steps.count(b"<li class=") * 400 < 100_000
