"""The journal: jobs, their events and their photos, kept in one database. Everything here may be called from any thread."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, text

from subbase.journal.database import Database, Row, now_text, row, rows, run, time_text
from subbase.journal.events import Entry, Event, Kept, Named, Refused, new_key
from subbase.journal.fold import JobState, fold
from subbase.journal.photos import CleanPhoto
from subbase.journal.rows import CHAIN_START, INSERT, body_of, event_of, event_row
from subbase.journal.trouble import JobExists, JournalDamaged, JournalTrouble, NoSuchJob
from subbase.words import _

MOST_EVENTS = 20_000
"""In one job; a long one has a few hundred."""
MOST_PAGE = 200
STATES_KEPT = 256
"""Folded states that stay in memory."""
_JOB_ID = re.compile(r"\A[a-z0-9][a-z0-9-]{7,39}\Z")


@dataclass(frozen=True, slots=True)
class JobLine:
    """One job in a list."""

    id: str
    name: str
    events: int
    made_at: datetime
    changed_at: datetime


@dataclass(frozen=True, slots=True)
class JobPage:
    """One page of jobs, the last changed first."""

    jobs: tuple[JobLine, ...]
    total: int
    page: int
    """From 1."""
    per_page: int


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """A photo as it is kept."""

    hash: str
    mime: str
    width: int
    height: int
    data: bytes


def open_journal(where: str | Path, *, create: bool = True) -> Journal:
    """Open the journal in a SQLite file or at a PostgreSQL URL, and bring it up to this version.

    Raises
    ------
    JournalTrouble
        One of its kinds: no such folder, read-only, not a journal, written by a later version, no answer.
    """
    return Journal(Database(where, create=create))


class Journal:
    """Jobs, their events and their photos. ``append`` returns when the events are on the disk."""

    def __init__(self, database: Database) -> None:
        self.database = database
        self._states: OrderedDict[tuple[str, int, str], JobState] = OrderedDict()
        self._guard = threading.Lock()

    def close(self) -> None:
        """Give back every connection."""
        self.database.close()

    def __enter__(self) -> Journal:
        return self

    def __exit__(self, *__: object) -> None:
        self.close()

    def create_job(self, name: str, *, job: str = "", actor: str = "", device: str = "", given_to: str = "") -> str:
        """Begin a job and return its id; one that was made before under this id is left as it is.

        Parameters
        ----------
        job
            An id made by the phone (a UUID does); one is made here when left out.
        given_to
            Account that may see it, if it is new.

        Raises
        ------
        InputError
            When the name is empty or no one line.
        JournalTrouble
            When the id is none.
        """
        job = job or new_key()
        _checked_id(job)
        from subbase.journal.events import read_entry

        now = now_text()
        entry = read_entry(
            {
                "key": new_key(),
                "made_at": now,
                "actor": actor,
                "device": device,
                "body": {"kind": "named", "name": name},
            }
        )
        with self.database.write() as connection:
            if make_job(connection, job, now):
                keep_entries(connection, job, (entry,))
                if given_to:
                    sql = "INSERT INTO job_access (job, account) VALUES (:job, :account)"
                    run(connection, sql, job=job, account=given_to)
        return job

    def append(self, job: str, entries: Sequence[Entry]) -> tuple[Kept | Refused, ...]:
        """Keep entries at the end of a job, all in one go, and return what became of each.

        An entry whose key is already there is not kept again. The same key with another content is refused.

        Raises
        ------
        NoSuchJob
        JournalTrouble
            Nothing was kept then.
        """
        with self.database.write() as connection:
            return keep_entries(connection, job, entries)

    def events(self, job: str, after: int = 0, limit: int = MOST_EVENTS) -> tuple[Event, ...]:
        """Return a job's events after a sequence number, in order.

        Raises
        ------
        NoSuchJob
        """
        with self.database.read() as connection:
            _job_row(connection, job)
            return _events(connection, job, after, limit)

    def state(self, job: str) -> JobState:
        """Return a job as it stands.

        Raises
        ------
        NoSuchJob
        """
        with self.database.read() as connection:
            held = _job_row(connection, job)
            known = (job, int(held["last_sequence"]), str(held["chain"]))
            with self._guard:
                if known in self._states:
                    self._states.move_to_end(known)
                    return self._states[known]
            events = _events(connection, job, 0, MOST_EVENTS)
        state = fold(events)
        with self._guard:
            self._states[known] = state
            while len(self._states) > STATES_KEPT:
                self._states.popitem(last=False)
        return state

    def jobs(
        self, *, search: str = "", page: int = 1, per_page: int = 50, account: str = "",
        after: tuple[datetime, str] | None = None,
    ) -> JobPage:  # fmt: skip
        """Return one page of jobs, the last changed first.

        Parameters
        ----------
        search
            Words that must all stand in the name.
        account
            Only jobs that this account was given; all when left out.
        after
            Time of change and id of a job: only those that stand after it in this order, which are then all that count.
        """
        page, per_page = max(1, min(page, 1_000_000)), max(1, min(per_page, MOST_PAGE))
        words = search.replace("\x00", "").casefold().split()[:10]
        values: dict[str, Any] = {f"word{at}": f"%{_literal(word)}%" for at, word in enumerate(words)}
        where = [f"search LIKE :word{at} ESCAPE '!'" for at in range(len(words))]
        if account:
            where.append("id IN (SELECT job FROM job_access WHERE account = :account)")
            values["account"] = account
        if after is not None:
            where.append("(changed_at, id) < (:changed_at, :id)")
            values |= {"changed_at": time_text(after[0]), "id": after[1]}
        chosen = f" WHERE {' AND '.join(where)}" if where else ""
        with self.database.read() as connection:
            total = run(connection, f"SELECT count(*) FROM jobs{chosen}", **values).scalar_one()
            found = rows(
                connection,
                f"SELECT * FROM jobs{chosen} ORDER BY changed_at DESC, id DESC LIMIT :most OFFSET :skip",
                **values,
                most=per_page,
                skip=(page - 1) * per_page,
            )
        return JobPage(tuple(map(_line, found)), int(total), page, per_page)

    def job(self, job: str) -> JobLine:
        """Return one job's line.

        Raises
        ------
        NoSuchJob
        """
        with self.database.read() as connection:
            return _line(_job_row(connection, job))

    def put_photo(self, job: str, photo: CleanPhoto) -> str:
        """Keep a photo for a job and return its SHA-256; the same photo again changes nothing.

        Raises
        ------
        NoSuchJob
        """
        with self.database.write() as connection:
            _job_row(connection, job)
            keep_photo(connection, job, photo)
        return photo.hash

    def photo(self, job: str, photo: str, *, preview: bool = False) -> StoredPhoto | None:
        """Return a photo of a job, or its small preview (JPEG); None when this job has none of this hash."""
        with self.database.read() as connection:
            column = "preview" if preview else "bytes"
            found = row(
                connection,
                f"SELECT hash, mime, width, height, {column} AS data FROM photos JOIN job_photos USING (hash)"
                " WHERE job = :job AND hash = :photo",
                job=job,
                photo=photo,
            )
        if found is None:
            return None
        mime = "image/jpeg" if preview else found["mime"]
        return StoredPhoto(found["hash"], mime, found["width"], found["height"], bytes(found["data"]))

    def photo_hashes(self, job: str) -> frozenset[str]:
        """Return the hashes of the photos of a job whose bytes have arrived."""
        with self.database.read() as connection:
            found = rows(connection, "SELECT hash FROM job_photos WHERE job = :job", job=job)
        return frozenset(item["hash"] for item in found)

    def forget_job(self, job: str) -> None:
        """Delete a job for good, with all photos that no other job has: for an owner who asks for it.

        Raises
        ------
        NoSuchJob
        """
        with self.database.write() as connection:
            _job_row(connection, job)
            hashes = [item["hash"] for item in rows(connection, "SELECT hash FROM job_photos WHERE job = :j", j=job)]
            run(connection, "DELETE FROM jobs WHERE id = :job", job=job)
            if hashes:
                run(
                    connection,
                    "DELETE FROM photos WHERE hash IN :hashes AND hash NOT IN (SELECT hash FROM job_photos)",
                    hashes=hashes,
                )
        with self._guard:
            for known in [known for known in self._states if known[0] == job]:
                del self._states[known]


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
    """Write entries at the end of a job; as ``Journal.append``, in a transaction that is already open."""
    lock = "" if connection.dialect.name == "sqlite" else " FOR UPDATE"
    # The lock holds until the commit: sequence numbers of a job have no holes, and nobody sees 8 before 7.
    held = _job_row(connection, job, lock)
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


def _job_row(connection: Connection, job: str, lock: str = "") -> Row:
    found = row(connection, f"SELECT * FROM jobs WHERE id = :job{lock}", job=job) if is_job_id(job) else None
    if found is None:
        raise NoSuchJob(job)
    return found


def _events(connection: Connection, job: str, after: int, limit: int) -> tuple[Event, ...]:
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


def _checked_id(job: str) -> None:
    if not is_job_id(job):
        raise JournalTrouble(_("A job's id is 8 to 40 small letters, digits and hyphens; a UUID is one."))


def _line(found: Row) -> JobLine:
    made, changed = (datetime.fromisoformat(found[name]) for name in ("made_at", "changed_at"))
    return JobLine(found["id"], found["name"], int(found["last_sequence"]), made, changed)


def _literal(word: str) -> str:
    """Return a word in which LIKE finds nothing special."""
    return re.sub(r"([!%_])", r"!\1", word)
