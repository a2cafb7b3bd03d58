"""The present state of a job: a pure function of its events.

The order is that of the sequence numbers; what is not sent yet (sequence 0) comes last, as given. The same key twice
counts once. Readings, photos, notes and people come together as sets; of a step, a choice or a setting the last one
counts. Survey edits made from an older text are merged (``merge``), and where two people set one field to different
values, the state names both until somebody settles it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Generic, TypeVar

from pydantic import BaseModel

from subbase.journal.bodies import (
    ControlChosen,
    HandedOver,
    Named,
    NoteMade,
    PersonPresent,
    PhotoAdded,
    PhotoRemoved,
    PlanAccepted,
    ReadingTaken,
    SettingMade,
    StepDone,
    StepReopened,
    SurveyEdited,
    TestAnswered,
    Undone,
    Unrecognised,
    VerdictGiven,
)
from subbase.journal.events import Event
from subbase.journal.merge import WHOLE, Clash, Merged, fields_changed, merge_texts, text_hash

B = TypeVar("B", bound=BaseModel)


@dataclass(frozen=True, slots=True)
class Record(Generic[B]):
    """What an event said, and the event itself: who, when, in which order."""

    body: B
    event: Event


@dataclass(frozen=True, slots=True)
class Conflict:
    """One field of the survey that two people set to different values."""

    clash: Clash
    edit: Event
    """The later edit, whose value does not stand in the text."""
    against: str
    """Key of the edit that the text came from."""


@dataclass(frozen=True, slots=True)
class SurveyState:
    """The survey's text, all edits brought together."""

    text: str = ""
    sha256: str = text_hash("")
    """Send it back as ``base`` with the next edit."""
    edit: str = ""
    """Key of the edit that the text came from last; empty when there is none."""
    conflicts: tuple[Conflict, ...] = ()


@dataclass(frozen=True, slots=True)
class Line:
    """One event of the history."""

    event: Event
    undone_by: str = ""
    """Key of the event that takes it back; empty when it counts."""


@dataclass(frozen=True, slots=True)
class JobState:
    """A job as it stands."""

    job: str = ""
    sequence: int = 0
    """Of the last event that is in the journal."""
    waiting: int = 0
    """Events that are not sent yet."""
    name: str = ""
    survey: SurveyState = field(default_factory=SurveyState)
    controls: Mapping[str, Record[ControlChosen]] = field(default_factory=dict)
    """Control -> the new control chosen last."""
    plan: Record[PlanAccepted] | None = None
    """The plan accepted last."""
    steps: Mapping[str, Record[StepDone | StepReopened]] = field(default_factory=dict)
    """Step -> what was last done with it."""
    readings: tuple[Record[ReadingTaken], ...] = ()
    answers: tuple[Record[TestAnswered], ...] = ()
    """Tests of a diagnosis that were answered."""
    verdicts: Mapping[str, Record[VerdictGiven]] = field(default_factory=dict)
    """What was judged -> its last verdict."""
    photos: tuple[Record[PhotoAdded], ...] = ()
    """Those that are shown."""
    notes: tuple[Record[NoteMade], ...] = ()
    people: tuple[Record[PersonPresent], ...] = ()
    """The first record of each name."""
    settings: Mapping[tuple[str, str], Record[SettingMade]] = field(default_factory=dict)
    """(control, name) -> the setting made last."""
    handovers: tuple[Record[HandedOver], ...] = ()
    unrecognised: tuple[Record[Unrecognised], ...] = ()
    """Events of a later version of this program: kept, and counted for nothing."""
    history: tuple[Line, ...] = ()
    """Every event, in order, also those that no longer count."""

    @property
    def plan_is_stale(self) -> bool:
        """Whether the survey has changed since the plan was accepted."""
        return self.plan is not None and self.plan.body.survey != self.survey.sha256


def fold(events: Iterable[Event]) -> JobState:
    """Return the state that follows from a job's events, whatever order they come in."""
    ordered = in_order(events)
    undone = undone_by(ordered)
    count = [event for event in ordered if event.key not in undone]
    names, plans = _all(count, Named), _all(count, PlanAccepted)
    return JobState(
        job=ordered[0].job if ordered else "",
        sequence=max((event.sequence for event in ordered), default=0),
        waiting=sum(event.sequence == 0 for event in ordered),
        name=names[-1].body.name if names else "",
        survey=_survey(ordered, undone),
        controls=_last(_all(count, ControlChosen), "control"),
        plan=plans[-1] if plans else None,
        steps=_steps(count),
        readings=_all(count, ReadingTaken),
        answers=_all(count, TestAnswered),
        verdicts=_last(_all(count, VerdictGiven), "about"),
        photos=_photos(count),
        notes=_all(count, NoteMade),
        people=tuple(_last(reversed(_all(count, PersonPresent)), "name").values())[::-1],
        settings=_last(_all(count, SettingMade), "control", "name"),
        handovers=_all(count, HandedOver),
        unrecognised=_all(count, Unrecognised),
        history=tuple(Line(event, undone.get(event.key, "")) for event in ordered),
    )


def in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    """Return events by sequence, each key once; what is not sent yet comes last, as given."""
    seen: dict[str, Event] = {}
    for event in sorted(events, key=lambda event: event.sequence or float("inf")):
        seen.setdefault(event.key, event)
    return tuple(seen.values())


def undone_by(ordered: Sequence[Event]) -> dict[str, str]:
    """Return the key of every event that no longer counts, with the key of the event that took it back.

    Read from the end: an undo counts unless a later one that counts took it back, and it reaches only what came before it.
    """
    place = {event.key: at for at, event in enumerate(ordered)}
    undone: dict[str, str] = {}
    for at in range(len(ordered) - 1, -1, -1):
        event = ordered[at]
        if isinstance(event.body, Undone) and event.key not in undone and place.get(event.body.target, at) < at:
            undone.setdefault(event.body.target, event.key)
    return undone


def _all(events: Sequence[Event], kind: type[B]) -> tuple[Record[B], ...]:
    return tuple(Record(event.body, event) for event in events if isinstance(event.body, kind))


def _last(records: Iterable[Record[B]], *names: str) -> dict[Any, Record[B]]:
    """Return the last record of each value of some fields."""
    return {_named(record.body, names): record for record in records}


def _named(body: BaseModel, names: tuple[str, ...]) -> Any:
    parts = tuple(getattr(body, name) for name in names)
    return parts[0] if len(parts) == 1 else parts


def _steps(events: Sequence[Event]) -> dict[str, Record[StepDone | StepReopened]]:
    steps: dict[str, Record[StepDone | StepReopened]] = {}
    for event in events:
        if isinstance(event.body, StepDone | StepReopened):
            steps[event.body.step] = Record(event.body, event)
    return steps


def _photos(events: Sequence[Event]) -> tuple[Record[PhotoAdded], ...]:
    removed = {record.body.added for record in _all(events, PhotoRemoved)}
    return tuple(record for record in _all(events, PhotoAdded) if record.event.key not in removed)


def _survey(ordered: Sequence[Event], undone: Mapping[str, str]) -> SurveyState:
    """Return the survey's text.

    An edit may have been made from any text that anybody was ever shown, also from one that an undo took away later: so the
    texts before every undo are worked out too.
    """
    if not any(isinstance(event.body, SurveyEdited) for event in ordered):
        return SurveyState()
    texts = _Texts()
    for at, event in enumerate(ordered):
        if isinstance(event.body, Undone):
            before = ordered[:at]
            texts.after(before, undone_by(before))
    return texts.after(ordered, undone)


class _Texts:
    """Every text of a survey that there ever was, by its hash, and merges already made."""

    def __init__(self) -> None:
        self._by_hash = {"": "", text_hash(""): ""}
        self._hashes: dict[str, str] = {"": text_hash("")}
        self._merged: dict[tuple[str, str, str], Merged] = {}

    def after(self, ordered: Sequence[Event], undone: Mapping[str, str]) -> SurveyState:
        """Return the survey as these events leave it."""
        state = SurveyState()
        for event in ordered:
            if isinstance(event.body, SurveyEdited):
                self._hash(event.body.text)
                if event.key not in undone:
                    state = self._edited(state, event, event.body)
        return state

    def _edited(self, state: SurveyState, event: Event, edit: SurveyEdited) -> SurveyState:
        merged = self._merge(state, edit)
        left = _unsettled(state, merged.text, event, edit)
        fresh = tuple(Conflict(clash, event, state.edit) for clash in merged.clashes)
        return replace(
            state,
            text=merged.text,
            sha256=self._hash(merged.text),
            edit=event.key,
            conflicts=(*left, *fresh),
        )

    def _merge(self, state: SurveyState, edit: SurveyEdited) -> Merged:
        if edit.base == state.sha256 or (not edit.base and not state.text):
            return Merged(edit.text)
        known = (edit.base, state.sha256, self._hash(edit.text))
        if known not in self._merged:
            # A text that was never here is taken for nothing: all in which the two differ is then named.
            self._merged[known] = merge_texts(self._by_hash.get(edit.base, ""), state.text, edit.text)
        return self._merged[known]

    def _hash(self, text: str) -> str:
        found = self._hashes.get(text)
        if found is None:
            found = self._hashes[text] = text_hash(text)
            self._by_hash[found] = text
        return found


def _unsettled(state: SurveyState, text: str, event: Event, edit: SurveyEdited) -> tuple[Conflict, ...]:
    """Return the conflicts that an edit leaves open.

    It settles those that its maker had seen: by naming the field, or by changing it.
    """
    seen = [conflict for conflict in state.conflicts if 0 < conflict.edit.sequence <= event.seen]
    if not seen:
        return state.conflicts
    changed = fields_changed(state.text, text) if text != state.text else frozenset()
    settled = [
        conflict
        for conflict in seen
        if conflict.clash.field in edit.settles
        or (conflict.clash.field == WHOLE and text != state.text)
        or (changed is not None and conflict.clash.field in changed)
    ]
    return tuple(conflict for conflict in state.conflicts if conflict not in settled)
