"""Entries and events: a body with who made it and when, and how one that was sent is read.

An *entry* is what a phone makes, with a key of its own making; it becomes an *event* when the journal has given it a
sequence number. The sequence is the order of a job. A phone's clock may be wrong and orders nothing.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import AwareDatetime, Field, TypeAdapter, ValidationError, model_validator

from subbase.errors import Fault, InputError, expected_words
from subbase.journal.bodies import KINDS, MOST_BODY_BYTES, Body, Filled, Frozen, Key, Line, Moment, body_json
from subbase.words import _

_FILLED: TypeAdapter[str] = TypeAdapter(Filled)


class Entry(Frozen):
    """What a phone or a desk adds to a job."""

    key: Key = Field(description="Made by the sender; the same entry sent again changes nothing.")
    made_at: Moment = Field(description="The sender's clock, with its zone; it may be wrong and orders nothing.")
    actor: Line = Field(default="", description="Who; a server puts the name of the account here.")
    device: Line = Field(default="", description="Which phone or desk.")
    seen: Annotated[int, Field(ge=0, le=2**53)] = Field(
        default=0, description="Sequence of the last event of this job that the sender had seen."
    )
    body: Body

    @model_validator(mode="after")
    def _can_be_kept(self) -> Entry:
        try:
            size = len(body_json(self.body))
        except (ValueError, RecursionError):
            raise ValueError(_("the body holds characters or numbers that no JSON text can hold")) from None
        if size > MOST_BODY_BYTES:
            raise ValueError(
                _("the body takes {size} bytes; at most {most_body_bytes} are kept").format(
                    size=size, most_body_bytes=MOST_BODY_BYTES
                )
            )
        return self


class Event(Entry):
    """An entry that the journal keeps."""

    job: Line
    sequence: Annotated[int, Field(ge=0, le=2**53)] = Field(
        description="Order in the job, from 1; 0 when not sent yet."
    )
    received_at: AwareDatetime = Field(description="The journal's clock, never before that of the event before it.")


@dataclass(frozen=True, slots=True)
class Kept:
    """An entry is in the journal."""

    key: str
    sequence: int
    already: bool = False
    """Whether it had been sent before; nothing was added this time."""


@dataclass(frozen=True, slots=True)
class Refused:
    """An entry is not kept."""

    key: str
    reason: str


def one_line(text: str, where: str) -> str:
    """Return a name without blanks around it.

    Raises
    ------
    InputError
        When it is empty, longer than 200 characters or holds control characters.
    """
    try:
        return _FILLED.validate_python(text)
    except ValidationError as error:
        raise InputError(tuple(_fault(item, where) for item in error.errors(include_url=False))) from None


def new_key() -> str:
    """Return a new key for an entry."""
    return str(uuid.uuid4())


def read_entry(data: Any, where: str = "") -> Entry:
    """Return an entry from plain data or JSON text.

    Raises
    ------
    InputError
        With every field that does not fit, each as one sentence.
    """
    try:
        if isinstance(data, str | bytes):
            return Entry.model_validate_json(data)
        return Entry.model_validate(data)
    except ValidationError as error:
        raise InputError(tuple(_fault(item, where) for item in error.errors(include_url=False)[:20])) from None


def read_entries(items: Iterable[Any]) -> tuple[tuple[Entry, ...], tuple[Refused, ...]]:
    """Return what can be read of a queue, and what cannot, so that one bad entry holds up no other."""
    good, bad = [], []
    for number, item in enumerate(items, start=1):
        try:
            good.append(read_entry(item, f"entry {number}"))
        except InputError as error:
            key = item.get("key") if isinstance(item, Mapping) else ""
            bad.append(Refused(key if isinstance(key, str) else "", str(error).replace("\n", " ")))
    return tuple(good), tuple(bad)


def _fault(item: Any, where: str) -> Fault:
    kinds = {*KINDS, "unrecognised"}
    path = ".".join(str(step) for step in item["loc"] if step not in kinds)
    message = expected_words(item)
    if item["type"] == "string_pattern_mismatch" and path.endswith(("key", "target", "added")):
        message = _("expected a UUID in small letters")
    return Fault(f"{message[:1].upper()}{message[1:]}.", ": ".join(part for part in (where, path) if part))
