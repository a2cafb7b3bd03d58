"""What was done with somebody's account, told to that person: at the next sign-in, and always on their own page."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from subbase.journal.accounts import Seen, deeds_recorded
from subbase.journal.store import Journal

TRIED = ("sign-in refused", "code refused")
CHANGED = ("changed password", "turned codes on", "turned codes off", "made token", "signed out everywhere")
BY_OFFICE = ("made first password", "turned codes off", "closed account", "opened account")
OWN_SLIP = timedelta(minutes=15)
"""Wrong tries from one's own network in this time before a sign-in are taken for one's own, and not told."""
MOST = 50


def last_sign_in(journal: Journal, name: str) -> int:
    """Return the number of the record's line of somebody's last sign-in; 0 when there was none."""
    found = deeds_recorded(journal, ("signed in",), who=name, most=1)
    return found[0].number if found else 0


def deeds(journal: Journal, name: str, *, after: int = 0) -> tuple[Seen, ...]:
    """Return what was done to an account after a line of the record, the newest first: tries, changes, the office's deeds."""
    own = deeds_recorded(journal, (*TRIED, *CHANGED), who=name, after=after, most=MOST)
    others = deeds_recorded(journal, tuple(f"{what}: {name}" for what in BY_OFFICE), after=after, most=MOST)
    return tuple(sorted((*own, *others), key=lambda line: -line.number))[:MOST]


def worth_telling(found: tuple[Seen, ...], address: str) -> bool:
    """Return whether somebody who signs in from this network should be shown what was done before anything else."""
    since = datetime.now(UTC) - OWN_SLIP
    return any(line.what not in TRIED or line.address != address or line.at < since for line in found)
