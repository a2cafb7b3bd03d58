"""What the API takes and gives of jobs, their entries and their surveys: frozen models from which its schema is made."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Literal

from pydantic import ConfigDict, Field, JsonValue

from subbase.journal.bodies import Filled, Key
from subbase.journal.events import Entry, Event
from subbase.papers.data_shape import FaultShape, Shape

MOST_ENTRIES = 500
"""Taken in one request."""
JOB_EXAMPLE = "5f0c7a2e-4b1d-4c39-9a55-0d2f6b8e7c10"
Next = Annotated[str | None, Field(description="Address of the next page; null at the end.")]


# Jobs.


class NewJob(Shape):
    """A job to be begun."""

    model_config = ConfigDict(json_schema_extra={"examples": [{"name": "Hill Road 7", "id": JOB_EXAMPLE}]})

    name: Filled = Field(description="What the job is called in lists.")
    id: Key | None = Field(
        default=None, description="Made by you; sent again, it begins no second job. Else one is made."
    )


class JobShape(Shape):
    """One job."""

    id: str
    name: str
    events: int = Field(description="How many it has; also the sequence of its last one.")
    made_at: datetime
    changed_at: datetime


class JobList(Shape):
    """Jobs that are yours to see, the last changed first."""

    jobs: tuple[JobShape, ...]
    next: Next = None


# Entries.


class EntryList(Shape):
    """Entries to be kept, in their order."""

    entries: Annotated[tuple[Entry, ...], Field(min_length=1, max_length=MOST_ENTRIES)]


class Came(Shape):
    """What became of one entry."""

    key: str = Field(description="As sent; empty when it could not be read.")
    result: Literal["kept", "already", "refused"]
    sequence: int | None = Field(default=None, description="Its place in the job; null when refused.")
    reason: str = Field(default="", description="Why it was refused, and what would put it right.")


class CameList(Shape):
    """What became of each entry, in the order in which they were sent."""

    results: tuple[Came, ...]
    sequence: int = Field(description="Of the job's last event now.")


class EventList(Shape):
    """Part of a job's series of events."""

    events: tuple[Event, ...]
    sequence: int = Field(description="Of the job's last event; read on until you have it.")
    next: Next = None


# The state that follows from them.


class ConflictShape(Shape):
    """One field of the survey that two people set to different values."""

    field: str = Field(description="As in the survey; empty for the whole text.")
    ours: str = Field(description="What stands in the text.")
    theirs: str = Field(description="What the later edit wanted.")
    edit: str = Field(description="Key of the later edit.")
    sequence: int = Field(description="Its place in the job: an edit settles what it has seen.")


class StateShape(Shape):
    """A job as it stands: what follows from its events, each with who and when."""

    job: str
    name: str
    sequence: int = Field(description="Of the last event that it holds; send it back as 'seen'.")
    survey: str = Field(description="SHA-256 of the survey's text; send it back as 'base' of the next edit.")
    conflicts: tuple[ConflictShape, ...] = ()
    plan: Event | None = Field(default=None, description="The plan accepted last.")
    plan_is_stale: bool = Field(description="Whether the survey has changed since.")
    controls: tuple[Event, ...] = Field(description="The new control chosen last for each place.")
    steps: tuple[Event, ...] = Field(description="What was last done with each work step.")
    readings: tuple[Event, ...]
    answers: tuple[Event, ...] = Field(description="Tests of a diagnosis that were answered.")
    verdicts: tuple[Event, ...] = Field(description="The last on each thing that was judged by a person.")
    photos: tuple[Event, ...] = Field(description="Those that are shown.")
    notes: tuple[Event, ...]
    people: tuple[Event, ...]
    settings: tuple[Event, ...] = Field(description="Each setting as made last.")
    handovers: tuple[Event, ...]
    unrecognised: tuple[Event, ...] = Field(description="Of a later version of the program; they count for nothing.")


# The survey.


class SurveyShape(Shape):
    """The survey as it is kept, and as it can be read."""

    sha256: str = Field(description="Of the text; also its ETag.")
    text: str = Field(description="As typed, YAML or JSON; empty while there is none.")
    readable: bool
    faults: tuple[FaultShape, ...] = Field(default=(), description="Everything that is wrong with it.")
    survey: dict[str, JsonValue] | None = Field(
        default=None,
        description="As it was read, in a file's own words: it can be put back; null when it cannot be read.",
    )
    conflicts: tuple[ConflictShape, ...] = ()
    sequence: int = Field(description="Of the job's last event.")


# What is made in the background.


class Working(Shape):
    """It is being worked out: ask again after the seconds that 'Retry-After' says."""

    working: Literal[True] = True
    what: str = Field(description="In a few words.")
    said: str = Field(default="", description="What is being done at the moment, if known.")
    seconds: float = Field(ge=0, description="Since it was begun.")
    again: str = Field(description="Where to ask again.")
