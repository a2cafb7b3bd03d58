"""A job's rows written and read in a transaction that is already open: its own, its events', its photos'."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import UTC
from typing import Any

from sqlalchemy import Connection, text

from subbase.journal.bodies import Named
from subbase.journal.database import Row, now_text, row, rows, run
from subbase.journal.events import Entry, Event, Kept, Refused
from subbase.journal.photos import CleanPhoto
from subbase.journal.rows import CHAIN_START, INSERT, body_of, event_of, event_row
from subbase.journal.trouble import JobExists, JournalDamaged, NoSuchJob
from subbase.words import _

MOST_EVENTS = 20_000
"""In one job; a long one has a few hundred."""
_JOB_ID = re.compile(r"\A[a-z0-9][a-z0-9-]{7,39}\Z")


def make_job(connection: Connection, job: str, now: str) -> bool:
    """Insert an empty job; return whether it was not there before."""
    made = run(
        connection,
        "INSERT INTO jobs (id, name, search, last_sequence, chain, made_at, changed_at)"
        " VALUES (:job, '', '', 0, :chain, :now, :now) ON CONFLICT (id) DO NOTHING",
        job=job,
        chain=CHAIN_START,
        now=now,
    )
    return bool(made.rowcount)


def keep_photo(connection: Connection, job: str, photo: CleanPhoto) -> None:
    """Insert a photo and give it to a job."""
    run(
        connection,
        "INSERT INTO photos (hash, mime, width, height, preview, bytes)"
        " VALUES (:hash, :mime, :width, :height, :preview, :data) ON CONFLICT (hash) DO NOTHING",
        hash=photo.hash, mime=photo.mime, width=photo.width, height=photo.height,
        preview=photo.preview, data=photo.data,
    )  # fmt: skip
    run(
        connection,
        "INSERT INTO job_photos (job, hash) VALUES (:job, :hash) ON CONFLICT (job, hash) DO NOTHING",
        job=job,
        hash=photo.hash,
    )


def keep_history(connection: Connection, job: str, events: Sequence[Event]) -> None:
    """Write the events of an imported job with the sequence and the times that they had.

    Raises
    ------
    JobExists
        When a job of this id is already there.
    """
    if not make_job(connection, job, now_text()):
        raise JobExists(_("A job {job!r} is already in this journal. Nothing was changed.").format(job=job))
    chain, made = CHAIN_START, []
    for event in events:
        received = event.received_at.astimezone(UTC).isoformat(timespec="microseconds")
        made.append(event_row(event, job, event.sequence, received, chain))
        chain = made[-1]["chain"]
    if made:
        connection.execute(text(INSERT), made)
    _advance(connection, job, len(made), chain, now_text(), events)


def keep_entries(connection: Connection, job: str, entries: Sequence[Entry]) -> tuple[Kept | Refused, ...]:
    """Write entries at the end of a job; as ``Journal.append``."""
    lock = "" if connection.dialect.name == "sqlite" else " FOR UPDATE"
    # The lock holds until the commit: sequence numbers of a job have no holes, and nobody sees 8 before 7.
    held = job_row(connection, job, lock)
    there = _already(connection, job, [entry.key for entry in entries])
    sequence, chain = int(held["last_sequence"]), str(held["chain"])
    # A clock that jumped back must not make an event older than the one before it.
    now = max(now_text(), str(held["changed_at"]))
    fresh: list[dict[str, Any]] = []
    results: list[Kept | Refused] = []
    for entry in entries:
        made = event_row(entry, job, sequence + 1, now, chain)
        before = there.get(entry.key)
        if before is not None:
            results.append(_again(entry.key, before, made))
            continue
        if sequence >= MOST_EVENTS:
            results.append(
                Refused(
                    entry.key,
                    _("This job is full: it has {most_events} events. Begin another job.").format(
                        most_events=MOST_EVENTS
                    ),
                )
            )
            continue
        sequence, chain = sequence + 1, made["chain"]
        fresh.append(made)
        there[entry.key] = made
        results.append(Kept(entry.key, sequence))
    if fresh:
        connection.execute(text(INSERT), fresh)
        kept = {made["key"] for made in fresh}
        _advance(connection, job, sequence, chain, now, [entry for entry in entries if entry.key in kept])
    return tuple(results)


def _already(connection: Connection, job: str, keys: Sequence[str]) -> dict[str, Row]:
    found: dict[str, Row] = {}
    for at in range(0, len(keys), 500):
        part = list(keys[at : at + 500])
        sql = "SELECT key, sequence, packed, body FROM events WHERE job = :job AND key IN :keys"
        found |= {item["key"]: item for item in rows(connection, sql, job=job, keys=part)}
    return found


def _again(key: str, before: Row, now: Row) -> Kept | Refused:
    if body_of(before) == body_of(now):
        return Kept(key, int(before["sequence"]), already=True)
    return Refused(key, _("Another entry was already kept under this key. Give this one a key of its own."))


def _advance(connection: Connection, job: str, sequence: int, chain: str, now: str, entries: Iterable[Entry]) -> None:
    names = [entry.body.name for entry in entries if isinstance(entry.body, Named)]
    values: dict[str, Any] = {"job": job, "sequence": sequence, "chain": chain, "now": now}
    renamed = ""
    if names:
        renamed = ", name = :name, search = :search"
        values |= {"name": names[-1], "search": names[-1].casefold()}
    run(
        connection,
        f"UPDATE jobs SET last_sequence = :sequence, chain = :chain, changed_at = :now{renamed} WHERE id = :job",
        **values,
    )


def job_row(connection: Connection, job: str, lock: str = "") -> Row:
    """Return a job's own row, locked until the commit when asked to.

    Raises
    ------
    NoSuchJob
    """
    found = row(connection, f"SELECT * FROM jobs WHERE id = :job{lock}", job=job) if is_job_id(job) else None
    if found is None:
        raise NoSuchJob(job)
    return found


def events_after(connection: Connection, job: str, after: int, limit: int) -> tuple[Event, ...]:
    """Return a job's events after a sequence number, in order.

    Raises
    ------
    JournalDamaged
    """
    sql = "SELECT * FROM events WHERE job = :job AND sequence > :after ORDER BY sequence LIMIT :limit"
    found = rows(connection, sql, job=job, after=after, limit=limit)
    try:
        return tuple(map(event_of, found))
    except ValueError:
        raise JournalDamaged(
            _(
                "An event of job {job!r} cannot be read: the journal is damaged. Run 'subbase job check' to see how far, and go back to the last backup."
            ).format(job=job)
        ) from None


def is_job_id(job: str) -> bool:
    """Return whether a text may be a job's id."""
    return _JOB_ID.match(job) is not None
