"""Who may do what: accounts, sessions, read-only links for an owner, and the record of who saw what.

Passwords are kept as Argon2id hashes with the library's defaults (RFC 9106's second recommended option; from memory).
Tokens of sessions and links are random, 256 bits, and kept only as SHA-256: a stolen backup opens no session.
"""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, get_args

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from subbase.errors import Fault, InputError
from subbase.journal.database import Row, now_text, row, rows, run, time_text
from subbase.journal.events import new_key, one_line
from subbase.journal.store import Journal

Role = Literal["installer", "office"]
"""An installer sees the jobs that were given to them; the office sees all, and makes accounts."""
SHORTEST_PASSWORD, LONGEST_PASSWORD = 12, 128
"""Characters; OWASP ASVS 4.0.3, 2.1.1 and 2.1.2 (from memory)."""
SESSION_LASTS, SESSION_IDLE = timedelta(days=30), timedelta(days=7)
"""A phone in a basement must not be asked for a password each day (judgement)."""
USE_NOTED = timedelta(minutes=5)
"""How often the use of a session is written down: reading a page must not write each time."""
_HASHER = PasswordHasher()
_NOBODY = _HASHER.hash(secrets.token_hex(16))
"""Verified against when there is no such account, so that both answers take as long."""


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who may sign in."""

    id: str
    name: str
    role: Role
    active: bool


@dataclass(frozen=True, slots=True)
class Session:
    """A sign-in that still counts."""

    account: Account
    csrf: str
    """To be sent back with every form."""
    ends_at: datetime


@dataclass(frozen=True, slots=True)
class Share:
    """A link by which somebody without an account may read one job."""

    id: str
    job: str
    made_by: str
    ends_at: datetime


@dataclass(frozen=True, slots=True)
class Seen:
    """One line of the record of who saw or did what."""

    at: datetime
    who: str
    what: str
    job: str
    address: str


def add_account(journal: Journal, name: str, role: Role, password: str) -> Account:
    """Make an account.

    Raises
    ------
    InputError
        When the name is taken or no one line, the role is none, or the password too short or too long.
    """
    name = one_line(name, "name")
    if role not in get_args(Role):
        raise _fault(f"'{role}' is no role; there are: {', '.join(get_args(Role))}.", "role")
    account = Account(new_key(), name, role, True)
    hashed = _hashed(password)
    with journal.database.write() as connection:
        made = run(
            connection,
            "INSERT INTO accounts (id, name, role, password_hash, active, made_at)"
            " VALUES (:id, :name, :role, :hash, 1, :now) ON CONFLICT (name) DO NOTHING",
            id=account.id, name=name, role=role, hash=hashed, now=now_text(),
        )  # fmt: skip
    if not made.rowcount:
        raise _fault(f"There is already an account named '{name}'; choose another name.", "name")
    return account


def accounts(journal: Journal) -> tuple[Account, ...]:
    """Return every account, by name."""
    with journal.database.read() as connection:
        return tuple(map(_account, rows(connection, "SELECT * FROM accounts ORDER BY name")))


def check_password(journal: Journal, name: str, password: str) -> Account | None:
    """Return the account whose name and password these are; None for any other, after as long a time."""
    with journal.database.read() as connection:
        found = row(connection, "SELECT * FROM accounts WHERE name = :name", name=name.replace("\x00", "").strip())
    hashed = found["password_hash"] if found else _NOBODY
    try:
        _HASHER.verify(hashed, password[: LONGEST_PASSWORD + 1])
    except (VerificationError, InvalidHashError, UnicodeEncodeError):
        return None
    if found is None or not found["active"]:
        return None
    if _HASHER.check_needs_rehash(hashed):
        set_password(journal, found["id"], password, end_sessions=False)
    return _account(found)


def set_password(journal: Journal, account: str, password: str, *, end_sessions: bool = True) -> None:
    """Set an account's password, and end its sessions.

    Raises
    ------
    InputError
        When the password is too short or too long.
    """
    hashed = _hashed(password)
    with journal.database.write() as connection:
        run(connection, "UPDATE accounts SET password_hash = :hash WHERE id = :id", hash=hashed, id=account)
        if end_sessions:
            run(connection, "DELETE FROM sessions WHERE account = :id", id=account)


def set_active(journal: Journal, account: str, active: bool) -> None:
    """Close an account, which ends its sessions, or open it again."""
    with journal.database.write() as connection:
        run(connection, "UPDATE accounts SET active = :active WHERE id = :id", active=int(active), id=account)
        if not active:
            run(connection, "DELETE FROM sessions WHERE account = :id", id=account)


def start_session(journal: Journal, account: Account) -> str:
    """Begin a session and return its token, always a new one (a token known before is worth nothing)."""
    token, now = secrets.token_urlsafe(32), datetime.now(UTC)
    with journal.database.write() as connection:
        run(connection, "DELETE FROM sessions WHERE ends_at < :now", now=time_text(now))
        run(
            connection,
            "INSERT INTO sessions (token_hash, account, csrf, made_at, used_at, ends_at)"
            " VALUES (:token, :account, :csrf, :now, :now, :ends)",
            token=_token_hash(token), account=account.id, csrf=secrets.token_urlsafe(32),
            now=time_text(now), ends=time_text(now + SESSION_LASTS),
        )  # fmt: skip
    return token


def session_of(journal: Journal, token: str) -> Session | None:
    """Return the session of a token; None when there is none, it has ended, or its account is closed."""
    hashed, now = _token_hash(token), datetime.now(UTC)
    with journal.database.read() as connection:
        found = row(
            connection,
            "SELECT accounts.*, csrf, used_at, ends_at FROM sessions JOIN accounts ON accounts.id = sessions.account"
            " WHERE token_hash = :token AND active = 1 AND ends_at > :now AND used_at > :idle",
            token=hashed, now=time_text(now), idle=time_text(now - SESSION_IDLE),
        )  # fmt: skip
    if found is None:
        return None
    if not journal.database.read_only and now - _time(found["used_at"]) > USE_NOTED:
        with journal.database.write() as connection:
            run(connection, "UPDATE sessions SET used_at = :now WHERE token_hash = :t", now=time_text(now), t=hashed)
    return Session(_account(found), found["csrf"], _time(found["ends_at"]))


def end_session(journal: Journal, token: str) -> None:
    """End a session."""
    with journal.database.write() as connection:
        run(connection, "DELETE FROM sessions WHERE token_hash = :token", token=_token_hash(token))


def give_job(journal: Journal, job: str, account: str) -> None:
    """Let an account see and work on a job.

    Raises
    ------
    NoSuchJob
    """
    journal.job(job)
    with journal.database.write() as connection:
        run(
            connection,
            "INSERT INTO job_access (job, account) VALUES (:job, :account) ON CONFLICT (job, account) DO NOTHING",
            job=job,
            account=account,
        )


def take_job(journal: Journal, job: str, account: str) -> None:
    """Take a job from an account."""
    with journal.database.write() as connection:
        run(connection, "DELETE FROM job_access WHERE job = :job AND account = :account", job=job, account=account)


def may_see(journal: Journal, account: Account, job: str) -> bool:
    """Return whether an account may see and work on a job."""
    if not account.active:
        return False
    if account.role == "office":
        return True
    sql = "SELECT 1 FROM job_access WHERE job = :job AND account = :account"
    with journal.database.read() as connection:
        return row(connection, sql, job=job, account=account.id) is not None


def make_share(journal: Journal, job: str, made_by: str, *, days: int = 30) -> str:
    """Make a link's token, by which one job can be read until it ends; it is shown once and kept only as a hash.

    Raises
    ------
    NoSuchJob
    """
    token, now = secrets.token_urlsafe(32), datetime.now(UTC)
    journal.job(job)
    with journal.database.write() as connection:
        run(
            connection,
            "INSERT INTO shares (token_hash, id, job, made_by, made_at, ends_at)"
            " VALUES (:token, :id, :job, :by, :now, :ends)",
            token=_token_hash(token), id=new_key(), job=job, by=made_by,
            now=time_text(now), ends=time_text(now + timedelta(days=max(1, min(days, 3650)))),
        )  # fmt: skip
    return token


def share_of(journal: Journal, token: str) -> Share | None:
    """Return what a link opens; None when there is no such link or it has ended."""
    sql = "SELECT * FROM shares WHERE token_hash = :token AND ends_at > :now"
    with journal.database.read() as connection:
        found = row(connection, sql, token=_token_hash(token), now=now_text())
    return _share(found) if found else None


def shares(journal: Journal, job: str) -> tuple[Share, ...]:
    """Return the links of a job, also those that have ended."""
    with journal.database.read() as connection:
        found = rows(connection, "SELECT * FROM shares WHERE job = :job ORDER BY made_at, id", job=job)
    return tuple(map(_share, found))


def end_share(journal: Journal, job: str, share: str) -> None:
    """Take a link of a job back."""
    with journal.database.write() as connection:
        run(connection, "DELETE FROM shares WHERE job = :job AND id = :id", job=job, id=share)


def record(journal: Journal, who: str, what: str, *, job: str = "", address: str = "") -> None:
    """Write down who saw or did what."""
    values: dict[str, Any] = {"who": who, "what": what, "job": job, "address": address}
    plain = {name: value.replace("\x00", "")[:200] for name, value in values.items()}
    with journal.database.write() as connection:
        run(
            connection,
            "INSERT INTO audit (at, who, what, job, address) VALUES (:at, :who, :what, :job, :address)",
            at=now_text(),
            **plain,
        )


def recorded(journal: Journal, *, job: str = "", most: int = 200) -> tuple[Seen, ...]:
    """Return the last lines of the record, the newest first; of one job, or of all."""
    where = " WHERE job = :job" if job else ""
    values: dict[str, Any] = {"job": job} if job else {}
    sql = f"SELECT * FROM audit{where} ORDER BY number DESC LIMIT :most"
    with journal.database.read() as connection:
        found = rows(connection, sql, most=most, **values)
    return tuple(Seen(_time(i["at"]), i["who"], i["what"], i["job"], i["address"]) for i in found)


def _hashed(password: str) -> str:
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise _fault(
            f"A password has {SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters; a few words in a row do well.",
            "password",
        )
    try:
        return _HASHER.hash(password)
    except UnicodeEncodeError:
        raise _fault("The password holds characters that cannot be stored; choose another.", "password") from None


def _token_hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _account(found: Row) -> Account:
    return Account(found["id"], found["name"], found["role"], bool(found["active"]))


def _share(found: Row) -> Share:
    return Share(found["id"], found["job"], found["made_by"], _time(found["ends_at"]))


def _time(stored: str) -> datetime:
    return datetime.fromisoformat(stored)


def _fault(message: str, where: str) -> InputError:
    return InputError((Fault(message, where),))
