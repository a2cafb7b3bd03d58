"""Entries and events for tests of the journal."""

from __future__ import annotations

import io
import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

from PIL import Image

from subbase.journal import Entry, Event
from subbase.journal.bodies import SurveyEdited
from subbase.journal.merge import text_hash
from subbase.journal.photos import CleanPhoto, clean_photo

NOON = datetime(2026, 3, 5, 12, 0, tzinfo=UTC)
HOUSE = """survey: 1
name: Test house
controls:
  hall: {old: {terminals: [R, W]}}
cables:
  wall: {from: hall, to: furnace, length: 45 ft, gauge: 18}
readings:
  - {between: [hall.R, hall.W], volts: 27}
"""


def key(number: int) -> str:
    """Return the same key for the same number."""
    return str(uuid.UUID(int=number))


def entry(number: int, body: Any, **more: Any) -> Entry:
    """Return an entry whose key and time follow from its number."""
    return Entry(key=key(number), made_at=NOON + timedelta(seconds=number), body=body, **more)


def event(sequence: int, body: Any, number: int | None = None, **more: Any) -> Event:
    """Return an event of the job ``test-job``."""
    number = sequence if number is None else number
    return Event(**dict(entry(number, body, **more)), job="test-job", sequence=sequence, received_at=NOON)


def edit(text: str, base: str | None = None, **more: Any) -> SurveyEdited:
    """Return a survey edit that was made from a text."""
    return SurveyEdited(text=text, base=text_hash(base) if base is not None else "", **more)


def photo(colour: str = "red", *, width: int = 60, height: int = 40) -> CleanPhoto:
    """Return a small photo of one colour."""
    held = io.BytesIO()
    Image.new("RGB", (width, height), colour).save(held, "PNG")
    return clean_photo(held.getvalue())
