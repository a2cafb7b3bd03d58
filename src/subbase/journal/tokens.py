"""Tokens by which a script acts for an account, and the secret that this journal's server signs with."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from subbase.errors import Fault, InputError
from subbase.journal.accounts import USE_NOTED, Account, account_in, note_use, token_hash
from subbase.journal.database import row, rows, run, time_text
from subbase.journal.events import new_key, one_line
from subbase.journal.store import Journal
from subbase.words import _

PREFIX = "subbase-"
"""Before each token, so that one that was lost in a file can be found."""
MOST_TOKENS = 20
"""Of one account."""


@dataclass(frozen=True, slots=True)
class Token:
    """A token that was made; what it reads is shown once, when it is made."""

    id: str
    name: str
    made_at: datetime
    used_at: datetime | None
    ends_at: datetime


def make_token(journal: Journal, account: str, name: str, *, days: int = 90) -> str:
    """Make a token for an account and return it; only its hash is kept.

    Raises
    ------
    InputError
        When the name is no one line, or the account has too many tokens.
    """
    name, now, token = one_line(name, "name"), datetime.now(UTC), PREFIX + secrets.token_urlsafe(32)
    with journal.database.write() as connection:
        if len(rows(connection, "SELECT id FROM tokens WHERE account = :account", account=account)) >= MOST_TOKENS:
            message = _("There are {count} tokens already; take one back first.").format(count=MOST_TOKENS)
            raise InputError((Fault(message, where="name"),))
        run(
            connection,
            "INSERT INTO tokens (token_hash, id, account, name, made_at, used_at, ends_at)"
            " VALUES (:token, :id, :account, :name, :now, '', :ends)",
            token=token_hash(token), id=new_key(), account=account, name=name,
            now=time_text(now), ends=time_text(now + timedelta(days=max(1, min(days, 366)))),
        )  # fmt: skip
    return token


def tokens(journal: Journal, account: str) -> tuple[Token, ...]:
    """Return the tokens of an account, the oldest first, also those that have ended."""
    with journal.database.read() as connection:
        found = rows(connection, "SELECT * FROM tokens WHERE account = :account ORDER BY made_at, id", account=account)
    return tuple(
        Token(
            item["id"], item["name"], datetime.fromisoformat(item["made_at"]),
            datetime.fromisoformat(item["used_at"]) if item["used_at"] else None,
            datetime.fromisoformat(item["ends_at"]),
        )
        for item in found
    )  # fmt: skip


def end_token(journal: Journal, account: str, token: str) -> None:
    """Take a token of an account back, by its id."""
    with journal.database.write() as connection:
        run(connection, "DELETE FROM tokens WHERE account = :account AND id = :id", account=account, id=token)


def account_of_token(journal: Journal, token: str) -> Account | None:
    """Return the account that a token acts for; None when it has ended, or its account is closed or not yet its own."""
    hashed, now = token_hash(token), datetime.now(UTC)
    with journal.database.read() as connection:
        found = row(
            connection,
            "SELECT accounts.*, used_at FROM tokens JOIN accounts ON accounts.id = account"
            " WHERE token_hash = :token AND active = 1 AND first_until = '' AND ends_at > :now",
            token=hashed, now=time_text(now),
        )  # fmt: skip
    if found is None:
        return None
    used = found["used_at"]
    if not journal.database.read_only and (not used or now - datetime.fromisoformat(used) > USE_NOTED):
        note_use(journal, "token", hashed, now)
    return account_in(found)


def server_secret(journal: Journal) -> bytes:
    """Return the secret that forms are signed with: made once, and the same after the server was started anew."""
    with journal.database.read() as connection:
        found = row(connection, "SELECT secret FROM secrets WHERE name = 'forms'")
    if found is None and journal.database.read_only:
        return secrets.token_bytes(32)
    if found is None:
        with journal.database.write() as connection:
            sql = "INSERT INTO secrets (name, secret) VALUES ('forms', :new) ON CONFLICT (name) DO NOTHING"
            run(connection, sql, new=secrets.token_hex(32))
            found = row(connection, "SELECT secret FROM secrets WHERE name = 'forms'")
    assert found is not None
    return bytes.fromhex(found["secret"])
