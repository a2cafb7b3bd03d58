"""Laws of the fold: order, repetition, undo, and what two phones bring together."""

from __future__ import annotations

import random
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.journal import Event, JobState, fold
from subbase.journal.bodies import (
    NoteMade,
    PersonPresent,
    PhotoAdded,
    PhotoRemoved,
    ReadingTaken,
    SettingMade,
    StepDone,
    StepReopened,
    Undone,
)
from subbase.journal.merge import fields_changed, merge_texts, text_hash, written
from subbase.survey.yaml_tree import read_tree
from tests.journal_entries import HOUSE, edit, event, key

READING = ReadingTaken(between=("hall.R", "hall.C"), unit="V", value=26.0)
FIELDS = ("45 ft", "gauge: 18", "[R, W]", "Test house")
"""Words of the test house that stand in four different fields."""
_bodies = st.one_of(
    st.builds(StepDone, step=st.sampled_from("abc")),
    st.builds(StepReopened, step=st.sampled_from("abc")),
    st.builds(NoteMade, text=st.sampled_from(["one", "two"])),
    st.builds(PersonPresent, name=st.sampled_from(["Ann", "Bo"])),
    st.builds(SettingMade, name=st.sampled_from("xy"), value=st.integers(0, 3)),
    st.just(READING),
    st.builds(Undone, target=st.integers(1, 14).map(key)),
    st.builds(PhotoRemoved, added=st.integers(1, 14).map(key)),
    st.just(PhotoAdded(photo="0" * 64, size=1, width=1, height=1)),
    st.builds(
        lambda old, new, base: edit(HOUSE.replace(old, new), base),
        st.sampled_from(FIELDS),
        st.sampled_from(["[R, W, Y]", "7 ft", "gauge: 20"]),
        st.sampled_from([None, HOUSE, HOUSE.replace("45 ft", "7 ft"), "unknown"]),
    ),
)
histories = st.lists(_bodies, max_size=14).map(
    lambda bodies: [event(sequence, body) for sequence, body in enumerate(bodies, start=1)]
)


def _said(state: JobState) -> dict[str, Any]:
    """Return what a state says, without who, when and in which order."""
    return {
        "steps": {step: record.body for step, record in state.steps.items()},
        "readings": {record.event.key: record.body for record in state.readings},
        "photos": {record.event.key: record.body for record in state.photos},
        "notes": {record.event.key: record.body for record in state.notes},
        "people": {record.body.name for record in state.people},
        "settings": {name: record.body for name, record in state.settings.items()},
        "survey": state.survey.text,
    }


@given(histories, st.randoms(use_true_random=False))
def test_the_order_in_which_events_arrive_means_nothing(events: list[Event], chance: random.Random) -> None:
    """Only the sequence orders events: shuffled or sent twice, they give the same state."""
    shuffled = [*events, *events]
    chance.shuffle(shuffled)
    assert fold(shuffled) == fold(events)


@given(histories)
def test_the_clock_means_nothing(events: list[Event]) -> None:
    """Clocks that run backwards change nothing of what a state says."""
    backwards = [
        one.model_copy(update={"made_at": other.made_at}) for one, other in zip(events, reversed(events), strict=True)
    ]
    assert _said(fold(backwards)) == _said(fold(events))


@given(histories)
def test_nothing_falls_out_of_the_history(events: list[Event]) -> None:
    """Every event stays in the history, in order, whatever was undone."""
    state = fold(events)
    assert [line.event for line in state.history] == events
    assert all(line.undone_by in {"", *(event.key for event in events)} for line in state.history)


@given(histories, st.data())
def test_undo_takes_back_and_undone_undo_brings_back(events: list[Event], data: st.DataObject) -> None:
    """After an undo the state is as if its target had never been; after the undo of the undo it is as before."""
    if not events:
        return
    standing = [line.event for line in fold(events).history if not line.undone_by]
    if not standing:
        return
    target = data.draw(st.sampled_from(standing))
    end = len(events) + 1
    undo, redo = event(end, Undone(target=target.key)), event(end + 1, Undone(target=key(end)))
    if target.body.kind != "survey_edited":
        # A later edit may have been made from the one taken back; it must still find the text that it came from.
        assert _said(fold([*events, undo])) == _said(fold([e for e in events if e.key != target.key]))
    assert _said(fold([*events, undo, redo])) == _said(fold(events))
    twice = event(end + 1, Undone(target=target.key))
    assert _said(fold([*events, undo, twice])) == _said(fold([*events, undo]))


@given(st.permutations(range(6)))
def test_independent_events_may_change_places(order: list[int]) -> None:
    """Two phones' readings, steps, photos, notes and edits of different fields come together in any order."""
    bodies = [
        READING,
        READING.model_copy(update={"value": 25.0}),
        StepDone(step="a"),
        StepReopened(step="b"),
        PhotoAdded(photo="1" * 64, size=1, width=1, height=1),
        NoteMade(text="n"),
    ]
    mixed = [event(place + 1, bodies[number], number + 100) for place, number in enumerate(order)]
    plain = [event(number + 1, body, number + 100) for number, body in enumerate(bodies)]
    assert _said(fold(mixed)) == _said(fold(plain))


@given(st.permutations(["50 ft", "gauge: 20", "[R, W, Y]"]))
@settings(max_examples=6)
def test_edits_of_different_fields_all_count(order: list[str]) -> None:
    """Three phones that each changed another field of the same text lose nothing, in whatever order they come."""
    words = {"50 ft": "45 ft", "gauge: 20": "gauge: 18", "[R, W, Y]": "[R, W]"}
    edits = [edit(HOUSE.replace(words[new], new), HOUSE) for new in order]
    state = fold([event(1, edit(HOUSE)), *(event(at, body) for at, body in enumerate(edits, start=2))])
    assert not state.survey.conflicts
    data = read_tree(state.survey.text.encode(), "").data
    assert data["cables"]["wall"]["length"] == "50 ft"
    assert data["cables"]["wall"]["gauge"] == "20"
    assert data["controls"]["hall"]["old"]["terminals"] == ["R", "W", "Y"]


def test_two_values_for_one_field_are_both_named() -> None:
    """Nothing is silently overwritten: what stands stays, the other value is named with its event, until it is settled."""
    one, other = HOUSE.replace("45 ft", "50 ft"), HOUSE.replace("45 ft", "40 ft")
    events = [event(1, edit(HOUSE)), event(2, edit(one, HOUSE)), event(3, edit(other, HOUSE))]
    state = fold(events)
    assert state.survey.text == one
    (conflict,) = state.survey.conflicts
    assert (conflict.clash.field, conflict.clash.ours, conflict.clash.theirs) == (
        "cables.wall.length",
        "50 ft",
        "40 ft",
    )
    assert conflict.edit == events[2]
    assert conflict.against == events[1].key
    unseen = event(4, edit(one.replace("50 ft", "51 ft"), one), seen=2)
    assert len(fold([*events, unseen]).survey.conflicts) == 1
    changed = event(4, edit(other, one), seen=3)
    assert fold([*events, changed]).survey == fold([*events, changed]).survey
    assert not fold([*events, changed]).survey.conflicts
    looked_at = event(4, edit(one, one, settles=("cables.wall.length",)), seen=3)
    assert not fold([*events, looked_at]).survey.conflicts
    elsewhere = event(4, edit(one.replace("18", "20"), one), seen=3)
    assert len(fold([*events, elsewhere]).survey.conflicts) == 1


def test_a_phone_without_signal_builds_on_its_own_edits() -> None:
    """A chain of edits made offline, each from the one before, merges as one, though the first was merged on arrival."""
    a = HOUSE.replace("45 ft", "50 ft")
    b1 = HOUSE.replace("gauge: 18", "gauge: 20")
    b2 = b1.replace("Test house", "Test house 2")
    events = [event(1, edit(HOUSE)), event(2, edit(a, HOUSE)), event(3, edit(b1, HOUSE)), event(4, edit(b2, b1))]
    state = fold(events)
    assert not state.survey.conflicts
    data = read_tree(state.survey.text.encode(), "").data
    assert (data["cables"]["wall"], data["name"]) == (
        {"from": "hall", "to": "furnace", "length": "50 ft", "gauge": "20"},
        "Test house 2",
    )


def test_an_edit_may_be_taken_back_from_under_a_later_one() -> None:
    """Undoing an older edit takes out only what that edit changed, and a text shown meanwhile is still known as a base."""
    one = HOUSE.replace("45 ft", "50 ft")
    two = one.replace("gauge: 18", "gauge: 20")
    events = [
        event(1, edit(HOUSE)),
        event(2, edit(one, HOUSE)),
        event(3, edit(two, one)),
        event(4, Undone(target=key(2))),
    ]
    data = read_tree(fold(events).survey.text.encode(), "").data
    assert data["cables"]["wall"] == {"from": "hall", "to": "furnace", "length": "45 ft", "gauge": "20"}
    late = event(5, edit(two.replace("Test house", "Late"), two))
    data = read_tree(fold([*events, late]).survey.text.encode(), "").data
    assert (data["name"], data["cables"]["wall"]["length"]) == ("Late", "45 ft")


def test_a_text_that_cannot_be_read_is_kept_whole() -> None:
    """A half-typed text counts when it follows on; from an older text it is named whole, and replaces nothing."""
    broken = "survey: [1"
    follows = [event(1, edit(HOUSE)), event(2, edit(broken, HOUSE))]
    assert fold(follows).survey.text == broken
    stale = [event(1, edit(HOUSE)), event(2, edit(HOUSE.replace("45", "50"), HOUSE)), event(3, edit(broken, HOUSE))]
    state = fold(stale)
    assert "50 ft" in state.survey.text
    assert state.survey.conflicts[0].clash.field == ""
    assert state.survey.conflicts[0].edit.body == edit(broken, HOUSE)


def test_what_is_not_sent_yet_comes_last() -> None:
    """Entries that wait on a phone are folded after all that is in the journal."""
    waiting = event(0, StepReopened(step="a"), 50)
    state = fold([waiting, event(1, StepDone(step="a"))])
    assert isinstance(state.steps["a"].body, StepReopened)
    assert (state.sequence, state.waiting) == (1, 1)


_plain = st.recursive(
    st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=8),
    lambda inner: (
        st.dictionaries(st.sampled_from(["a", "b", "yes", "1", "x y"]), inner, max_size=3) | st.lists(inner, max_size=3)
    ),
    max_leaves=8,
)
_trees = st.dictionaries(st.sampled_from(["survey", "name", "cables", "signs", "no"]), _plain, max_size=4)


@given(_trees, _trees)
def test_a_merge_with_one_side_unchanged_is_the_other_side(base: dict[str, Any], other: dict[str, Any]) -> None:
    """Where only one of two changed anything, the merge is that one's text to the letter."""
    old, new = written(base), written(other)
    assert merge_texts(old, old, new).text == merge_texts(old, new, old).text == new
    assert merge_texts(old, new, new).text == new
    assert fields_changed(old, old) == frozenset()


@given(_trees, _trees, _trees)
def test_a_merge_loses_no_change_without_naming_it(a: dict[str, Any], b: dict[str, Any], c: dict[str, Any]) -> None:
    """Every field that the later edit changed has its value in the merge, or is named, or lies in a set of items."""
    merged = merge_texts(written(a), written(b), written(c))
    data = read_tree(merged.text.encode(), "").data if merged.text.strip() else {}
    named = [clash.field for clash in merged.clashes]
    for field, value in c.items():
        if value != a.get(field) and isinstance(value, str) and isinstance(b.get(field, ""), str):
            assert data.get(field) == value or field in named
    assert merge_texts(written(a), written(b), written(c)) == merged


def test_readings_added_by_two_people_are_all_there() -> None:
    """Items of a list of named fields come together as a set."""
    mine = HOUSE + "  - {between: [hall.R, hall.C], volts: 26}\n"
    yours = HOUSE + "  - {between: [hall.W, hall.C], volts: 1}\n"
    merged = merge_texts(HOUSE, mine, yours)
    assert not merged.clashes
    assert len(read_tree(merged.text.encode(), "").data["readings"]) == 3
    assert text_hash(merged.text) != text_hash(mine)
