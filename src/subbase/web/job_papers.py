"""What a job's papers take from its journal: readings, steps, photos, settings, people, what is open."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from typing import Any

from subbase.journal.bodies import ReadingTaken as ReadingEvent
from subbase.journal.bodies import SettingMade, StepDone
from subbase.journal.events import Event
from subbase.journal.fold import Record
from subbase.papers.job_record import JobRecord, Photo, Read, Stepped
from subbase.web.jobs import JobView, Office
from subbase.web.record_check import shown
from subbase.web.record_work import DAY
from subbase.web.standing import Standing
from subbase.words import date_words
from subbase.work.steps import shown_value

MOST_PHOTOS = 24
"""In one packet; all of them stay with the job."""
PHOTO_SIDE, PHOTO_QUALITY = 1100, 80
"""Pixels of the longer side on paper: half a page wide at 300 dots an inch."""


def record_of(
    office: Office, view: JobView, standing: Standing, readings: Sequence[Read], open_points: Sequence[str]
) -> JobRecord:
    """Return a job as its papers tell it."""
    state = view.state
    return JobRecord(
        readings=tuple(readings),
        steps=dict(_steps(standing)),
        photos=tuple(_photos(office, view)),
        people=tuple(
            f"{record.body.name}, {record.body.role}" if record.body.role else record.body.name
            for record in state.people
        ),
        notes=tuple(record.body.text for record in state.notes),
        open_points=tuple(open_points),
        settings=tuple(
            _setting(record)
            for key, record in state.settings.items()
            # Those of the house are data for its year, not words (``stage_tune``).
            if key != ("", DAY) and not key[1].startswith("house ")
        ),
    )


def day_words(event: Event) -> str:
    """Return the day of an event, by the journal's clock."""
    return date_words(event.received_at.date())


def _steps(standing: Standing) -> Iterator[tuple[str, Stepped]]:
    last: dict[str, Event] = {}
    for event in standing.mine.events():
        body = event.body
        if isinstance(body, StepDone | ReadingEvent) and body.step and standing.mine.counts(body):
            last[body.step] = event
    units = standing.steps.units
    for step in standing.steps.steps:
        state = standing.now.of(step.id)
        if state.status in ("open", "blocked"):
            continue
        by = last.get(step.id)
        read = ""
        if state.value is not None and step.expected is not None:
            if step.expected.unit == "degC":
                unit = "°F" if units == "us" else "°C"
                read = f"{shown_value(state.value, 'degC', units):.0f} {unit}"
            else:
                read = shown(state.value, step.expected.unit)
        who, when = (by.actor, day_words(by)) if by is not None else ("", "")
        yield step.id, Stepped(state.status, state.why, read, who, when)


def _photos(office: Office, view: JobView) -> Iterator[Photo]:
    for record in view.state.photos[:MOST_PHOTOS]:
        stored = office.journal.photo(view.id, record.body.photo)
        if stored is None:
            continue
        data, width, height = _for_paper(stored.data)
        yield Photo(
            data, "image/jpeg", width, height, record.body.caption, record.body.shows,
            record.event.actor, day_words(record.event),
        )  # fmt: skip


def _for_paper(data: bytes) -> tuple[bytes, int, int]:
    """Return a photo no larger than paper shows."""
    from PIL import Image

    with Image.open(io.BytesIO(data)) as image:
        picture = image.convert("RGB")
    picture.thumbnail((PHOTO_SIDE, PHOTO_SIDE), Image.Resampling.LANCZOS)
    held = io.BytesIO()
    picture.save(held, "JPEG", quality=PHOTO_QUALITY)
    return held.getvalue(), *picture.size


def _setting(record: Record[SettingMade]) -> tuple[str, str]:
    body = record.body
    name = f"{body.control}: {body.name}" if body.control else body.name
    return name, _plain(body.value)


def _plain(value: Any) -> str:
    if isinstance(value, dict):
        return ", ".join(f"{key} {_plain(item)}" for key, item in value.items())
    if isinstance(value, list):
        return ", ".join(map(_plain, value))
    return str(value)
