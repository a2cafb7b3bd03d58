"""The journal: jobs, their events and their photos, kept in one database. Everything here may be called from any thread."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from subbase.journal.database import Database, Row, now_text, row, rows, run, time_text
from subbase.journal.events import Entry, Event, Kept, Refused, new_key, read_entry
from subbase.journal.fold import JobState, fold
from subbase.journal.job_rows import MOST_EVENTS, events_after, is_job_id, job_row, keep_entries, keep_photo, make_job
from subbase.journal.photos import CleanPhoto
from subbase.journal.trouble import JournalTrouble
from subbase.words import _

MOST_PAGE = 200
STATES_KEPT = 256
"""Folded states that stay in memory."""


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
            job_row(connection, job)
            return events_after(connection, job, after, limit)

    def state(self, job: str) -> JobState:
        """Return a job as it stands.

        Raises
        ------
        NoSuchJob
        """
        with self.database.read() as connection:
            held = job_row(connection, job)
            known = (job, int(held["last_sequence"]), str(held["chain"]))
            with self._guard:
                if known in self._states:
                    self._states.move_to_end(known)
                    return self._states[known]
            events = events_after(connection, job, 0, MOST_EVENTS)
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
            return _line(job_row(connection, job))

    def put_photo(self, job: str, photo: CleanPhoto) -> str:
        """Keep a photo for a job and return its SHA-256; the same photo again changes nothing.

        Raises
        ------
        NoSuchJob
        """
        with self.database.write() as connection:
            job_row(connection, job)
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
            job_row(connection, job)
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
        if self.database.is_sqlite:
            # Otherwise the log would still hold it until it next grows full.
            with self.database.raw() as connection:
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _checked_id(job: str) -> None:
    if not is_job_id(job):
        raise JournalTrouble(_("A job's id is 8 to 40 small letters, digits and hyphens; a UUID is one."))


def _line(found: Row) -> JobLine:
    made, changed = (datetime.fromisoformat(found[name]) for name in ("made_at", "changed_at"))
    return JobLine(found["id"], found["name"], int(found["last_sequence"]), made, changed)


def _literal(word: str) -> str:
    """Return a word in which LIKE finds nothing special."""
    return re.sub(r"([!%_])", r"!\1", word)
