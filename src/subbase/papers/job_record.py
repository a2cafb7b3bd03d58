"""What a job's journal adds to its papers: what was read, done, seen, set and left open. Plain records, no journal needed.

Without a record the same pages are forms to fill in by pen.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from subbase.comfort.setting_records import Tuning

Status = Literal["done", "failed", "skipped", "open", "blocked"]


@dataclass(frozen=True, slots=True)
class Read:
    """One reading that was taken."""

    what: str
    """Where the leads were and what was called for."""
    must: str
    read: str
    within: bool
    who: str = ""
    when: str = ""
    check: int = 0
    """Number of the check on the check sheet that it answers; 0 when none."""


@dataclass(frozen=True, slots=True)
class Stepped:
    """Where one step of the work stands."""

    status: Status
    note: str = ""
    """The reason it was left out, or what was seen instead."""
    read: str = ""
    who: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo that is kept with the job."""

    data: bytes
    mime: Literal["image/jpeg", "image/png", "image/webp"]
    width: int
    height: int
    caption: str = ""
    shows: tuple[str, ...] = ()
    who: str = ""
    when: str = ""


@dataclass(frozen=True, slots=True)
class JobRecord:
    """A job as its journal holds it when the papers are written."""

    readings: tuple[Read, ...] = ()
    steps: Mapping[str, Stepped] = field(default_factory=dict)
    """Step id -> how it stands."""
    photos: tuple[Photo, ...] = ()
    people: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    open_points: tuple[str, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    """(setting, value) of what was decided at the control."""
    tunings: tuple[Tuning, ...] = ()
    """How each control is set where the house was described; empty where nobody did."""
    date: datetime.date | None = None
