"""A journal with one event of every kind, an account with all that it may have, and a photo: kept as each version wrote it.

``python -m tests.journal_sample FOLDER N`` writes ``version-N.sqlite`` and ``version-N.job`` as this version writes them.
Whoever adds a migration first keeps what is written without it, in tests/edges/old_journals.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pyotp

from subbase.journal import accounts as who
from subbase.journal.backup import backup
from subbase.journal.bundle import export_job
from subbase.journal.database import run
from subbase.journal.second_factor import begin_codes, turn_codes_on
from subbase.journal.store import Journal, open_journal
from subbase.journal.tokens import make_token
from tests.journal_entries import HOUSE, entry, key, photo

JOB = key(1)
PASSWORD = "seven dry conductors"


def bodies(journal: Journal) -> list[Any]:
    """Return what happens in the sample's job, one of every kind that this version knows, and one of a later one."""
    red, blue = (_shown(journal, colour) for colour in ("red", "blue"))
    return [
        {"kind": "survey_edited", "text": HOUSE, "what": "typed"},
        {"kind": "reading_taken", "between": ("hall.R", "hall.W"), "unit": "V", "value": 27.0},
        {"kind": "photo_added", **red},
        {"kind": "photo_added", **blue},
        {"kind": "control_chosen", "control": "hall", "title": "the new one", "profile": {"terminals": ["R", "C", "W1"]}},
        {"kind": "plan_accepted", "survey": "a" * 64, "routes": {"hall": "spare"}},
        {"kind": "step_done", "step": "lock", "did": "skipped", "note": "the owner did"},
        {"kind": "step_reopened", "step": "lock", "note": "he did not"},
        {"kind": "test_answered", "entry": {"between": ["hall.R", "hall.C"], "value": "don't know"}, "words": "R to C?"},
        {"kind": "verdict_given", "about": "lock", "outcome": "good"},
        {"kind": "person_present", "name": "The owner", "role": "owner"},
        {"kind": "setting_made", "name": "cycles", "value": 3, "control": "hall"},
        {"kind": "handed_over", "to": "The owner", "papers": {"packet.pdf": "b" * 64}},
        {"kind": "photo_removed", "added": key(104), "why": "blurred"},
        {"kind": "undone", "target": key(113), "why": "it was not"},
        {"kind": "of_a_later_version", "anything": [1, {"x": None}]},
    ]  # fmt: skip


def _shown(journal: Journal, colour: str) -> dict[str, Any]:
    picture = photo(colour)
    held = journal.put_photo(JOB, picture)
    return {"photo": held, "size": len(picture.data), "width": picture.width, "height": picture.height}


def fill(journal: Journal, name: str) -> None:
    """Put the sample into an empty journal."""
    journal.create_job(name, job=JOB, actor="Ann", device="desk")
    journal.append(JOB, [entry(101 + at, body) for at, body in enumerate(bodies(journal))])
    bo = who.add_account(journal, "Bo", "installer", PASSWORD)
    who.give_job(journal, JOB, bo.id)
    begin_codes(journal, bo.id)
    turn_codes_on(journal, bo.id, code_of(journal, bo.id))
    who.start_session(journal, bo)
    who.make_share(journal, JOB, "Bo")
    make_token(journal, bo.id, "a script")
    who.record(journal, "Bo", "opened the job", job=JOB)


def code_of(journal: Journal, account: str, *, later_s: int = 0) -> str:
    """Return what the device of an account shows now, or later."""
    with journal.database.read() as connection:
        key = run(connection, "SELECT code_key FROM accounts WHERE id = :id", id=account).scalar_one()
    return pyotp.TOTP(key).at(datetime.now(UTC), counter_offset=later_s // 30)


def main() -> None:
    """Write the sample as this version writes it."""
    folder, version = Path(sys.argv[1]), sys.argv[2]
    made = folder / "made.sqlite"
    with open_journal(made) as journal:
        fill(journal, f"Kept from version {version}")
        backup(journal, folder / f"version-{version}.sqlite")
        (folder / f"version-{version}.job").write_bytes(export_job(journal, JOB))


if __name__ == "__main__":
    main()
