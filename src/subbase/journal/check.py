"""Is everything still there? The database's own check, then every event and every photo against its hash."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import Connection

from subbase.journal.database import Row, rows, run
from subbase.journal.rows import CHAIN_START, body_of, next_chain
from subbase.journal.store import Journal
from subbase.journal.trouble import JournalDamaged
from subbase.words import _, mark

MOST_TOLD = 50
"""Sentences; what is more is counted."""
_AT_ONCE = 200
_OTHERS = ("accounts", "job_access", "sessions", "shares", "tokens", "audit")


@dataclass(frozen=True, slots=True)
class Integrity:
    """What a check found."""

    jobs: int
    events: int
    photos: int
    damage: tuple[str, ...] = ()
    """One sentence for each thing that is not as it was written."""
    missing_photos: tuple[str, ...] = ()
    """Photos that a job names and whose bytes have not arrived; a phone may still have them."""

    @property
    def sound(self) -> bool:
        """Whether nothing is damaged."""
        return not self.damage


def check_integrity(journal: Journal) -> Integrity:
    """Read everything that the journal holds, and say what is not as it was written."""
    damage: list[str] = []
    counts = {"jobs": 0, "events": 0, "photos": 0}
    missing: list[str] = []
    parts = (_structure, _jobs, _photos, _rest)
    for part in parts:
        try:
            with journal.database.read() as connection:
                for kind, text in part(connection):
                    if kind == "damage":
                        damage.append(text)
                    elif kind == "missing":
                        missing.append(text)
                    else:
                        counts[kind] += 1
        except JournalDamaged:
            damage.append(_(_UNREADABLE[part.__name__]))
    if len(damage) > MOST_TOLD:
        damage[MOST_TOLD:] = [_("... and {count} more.").format(count=len(damage) - MOST_TOLD)]
    return Integrity(**counts, damage=tuple(damage), missing_photos=tuple(missing))


_UNREADABLE = {
    "_structure": mark("Pages of the file are damaged: the database cannot read its own structure."),
    "_jobs": mark("Pages that hold jobs or events are damaged and cannot be read."),
    "_photos": mark("Pages that hold photos are damaged and cannot be read."),
    "_rest": mark("Pages that hold accounts, links or the record of who saw what are damaged and cannot be read."),
}
Found = Iterator[tuple[str, str]]


def _structure(connection: Connection) -> Found:
    if connection.dialect.name != "sqlite":
        return
    for line in run(connection, "PRAGMA integrity_check(20)").scalars():
        if line != "ok":
            # The first line is a heading that ends in stars.
            yield (
                "damage",
                _("The database says of itself: {said}.").format(said=" ".join(str(line).replace("*", "").split())),
            )
    for item in rows(connection, "PRAGMA foreign_key_check"):
        yield (
            "damage",
            _("A row of {table} belongs to something in {parent} that is not there.").format(
                table=item["table"], parent=item["parent"]
            ),
        )


def _jobs(connection: Connection) -> Found:
    for job in rows(connection, "SELECT id, name, last_sequence, chain FROM jobs ORDER BY id"):
        yield "jobs", ""
        yield from _events(connection, job)


def _events(connection: Connection, job: Row) -> Found:
    title = f"'{job['name']}' ({job['id']})"
    chain, after = CHAIN_START, 0
    sql = "SELECT * FROM events WHERE job = :job AND sequence > :after ORDER BY sequence LIMIT :most"
    while found := rows(connection, sql, job=job["id"], after=after, most=_AT_ONCE):
        for item in found:
            yield "events", ""
            if item["sequence"] != after + 1:
                yield (
                    "damage",
                    _("Job {title}: events {after} to {sequence} are missing.").format(
                        title=title, after=after + 1, sequence=item["sequence"] - 1
                    ),
                )
            try:
                made = next_chain(chain, item, body_of(item))
                json.loads(body_of(item))
            except ValueError:
                made = ""
            if made != item["chain"]:
                yield (
                    "damage",
                    _("Job {title}: event {sequence} ({kind}) is not as it was written.").format(
                        title=title, sequence=item["sequence"], kind=item["kind"]
                    ),
                )
            chain, after = item["chain"], item["sequence"]
    if after != job["last_sequence"] or chain != job["chain"]:
        yield (
            "damage",
            _("Job {title}: it ends at event {after}, and should end at {last_sequence}.").format(
                title=title, after=after, last_sequence=job["last_sequence"]
            ),
        )


def _photos(connection: Connection) -> Found:
    for item in rows(connection, "SELECT hash FROM photos ORDER BY hash"):
        yield "photos", ""
        data = run(connection, "SELECT bytes FROM photos WHERE hash = :hash", hash=item["hash"]).scalar_one()
        if hashlib.sha256(data).hexdigest() != item["hash"]:
            yield "damage", _("Photo {hash} is not as it was written.").format(hash=item["hash"][:12])
    # A body names a photo only inside its JSON, so these rows are read one by one.
    sql = "SELECT * FROM events WHERE kind = 'photo_added' ORDER BY job, sequence"
    there = {(item["job"], item["hash"]) for item in rows(connection, "SELECT job, hash FROM job_photos")}
    for item in rows(connection, sql):
        try:
            photo = json.loads(body_of(item)).get("photo")
        except ValueError:
            continue
        if (item["job"], photo) not in there:
            yield (
                "missing",
                _("Job {job}: the photo of event {sequence} has not arrived.").format(
                    job=item["job"], sequence=item["sequence"]
                ),
            )


def _rest(connection: Connection) -> Found:
    for table in _OTHERS:
        for __ in run(connection, f"SELECT * FROM {table}"):
            pass
    yield from ()
