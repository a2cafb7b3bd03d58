"""A second copy of a journal, made while it is in use: one SQLite file, whichever database it comes from."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

from sqlalchemy import text

from subbase.journal.database import rows, run
from subbase.journal.store import Journal, open_journal
from subbase.journal.trouble import JobExists, JournalDamaged, JournalTrouble, JournalUnreachable
from subbase.words import _

TABLES = (
    "accounts", "spare_codes", "jobs", "events", "photos", "job_photos", "job_access", "sessions", "shares", "tokens", "audit",
)  # fmt: skip
"""In an order in which each row finds there what it belongs to."""
_AT_ONCE = 500


def backup(journal: Journal, to: Path) -> None:
    """Write all that the journal holds at this moment to a new file; nobody who writes meanwhile has to wait.

    The copy is itself a journal, and can be opened as one.

    Raises
    ------
    JournalTrouble
        When the file is already there, cannot be written, or what was read is damaged. No file is left then.
    """
    if to.exists():
        raise JournalUnreachable(_("{to} is already there and is left as it is; choose another name.").format(to=to))
    beside = to.with_name(f".{to.name}.part")
    try:
        beside.unlink(missing_ok=True)
        if journal.database.is_sqlite:
            _copy_file(journal, beside)
        else:
            with open_journal(beside) as copy:
                copy_journal(journal, copy)
        _settle(beside)
        os.replace(beside, to)
        _sync(to.parent)
    except OSError as error:
        raise JournalUnreachable(
            _("The backup cannot be written to {to}: {strerror}.").format(to=to, strerror=error.strerror)
        ) from None
    finally:
        for end in ("", "-wal", "-shm", "-journal"):
            beside.with_name(beside.name + end).unlink(missing_ok=True)


def copy_journal(source: Journal, target: Journal) -> None:
    """Copy all that one journal holds into an empty one, in one transaction: so a backup goes back into PostgreSQL.

    Raises
    ------
    JobExists
        When the other one is not empty.
    """
    with source.database.read() as read, target.database.write() as write:
        if any(rows(write, f"SELECT 1 FROM {table} LIMIT 1") for table in TABLES):
            raise JobExists(
                _("{place} is not empty; a backup goes back only into an empty journal.").format(
                    place=target.database.place
                )
            )
        for table in TABLES:
            found = run(read.execution_options(yield_per=_AT_ONCE), f"SELECT * FROM {table}")
            names = list(found.keys())
            sql = text(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({', '.join(f':{name}' for name in names)})")
            for part in found.mappings().partitions(_AT_ONCE):
                write.execute(sql, [dict(item) for item in part])
        if not target.database.is_sqlite:
            run(write, "SELECT setval(pg_get_serial_sequence('audit', 'number'), (SELECT max(number) + 1 FROM audit))")


def _copy_file(journal: Journal, beside: Path) -> None:
    try:
        with journal.database.raw() as source, closing(sqlite3.connect(beside)) as copy:
            # All pages in one step: one moment of the journal, which writers go on from meanwhile.
            source.backup(copy, pages=-1)
    except JournalTrouble as error:
        raise type(error)(_("The backup was not made. {sentence}").format(sentence=error.sentence)) from None


def _settle(beside: Path) -> None:
    """Make it one file without a log beside it, look it through, and have it on the disk."""
    with closing(sqlite3.connect(beside)) as copy:
        copy.execute("PRAGMA journal_mode = DELETE")
        if copy.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
            raise JournalDamaged(_("The backup was not made: the journal is damaged. Run 'subbase job check'."))
    _sync(beside)


def _sync(path: Path) -> None:
    held = os.open(path, os.O_RDONLY)
    try:
        os.fsync(held)
    finally:
        os.close(held)
