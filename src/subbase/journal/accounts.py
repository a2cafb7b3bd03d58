"""Who may do what: accounts, sessions, read-only links for an owner, and the record of who saw what.

Passwords are kept as ``passwords`` says. Tokens of sessions and links are random, 256 bits, and kept only as SHA-256: a
stolen backup opens no session.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Literal, get_args

from subbase.errors import Fault, InputError
from subbase.journal import passwords
from subbase.journal.database import Row, now_text, row, rows, run, time_text
from subbase.journal.events import new_key, one_line
from subbase.journal.store import Journal
from subbase.words import _

Role = Literal["installer", "office"]
"""An installer sees the jobs that were given to them; the office sees all, and makes accounts."""
SESSION_LASTS, SESSION_IDLE = timedelta(days=30), timedelta(days=7)
"""Of an installer: a phone in a basement must not be asked for a password each day (judgement)."""
OFFICE_LASTS, OFFICE_IDLE = timedelta(hours=12), timedelta(hours=2)
"""Of the office, which sees every job, at a desk: 12 hours as OWASP ASVS 4.0.3, 3.3.2 (from memory); its 30 minutes
without use are two hours here, since a survey is typed in with pauses (judgement)."""
FIRST_LASTS = timedelta(days=7)
"""How long a first password, which somebody else has seen, opens an account."""
USE_NOTED = timedelta(minutes=5)
"""How often the use of a session or a token is written down: reading a page must not write each time."""


@dataclass(frozen=True, slots=True)
class Account:
    """Somebody who may sign in."""

    id: str
    name: str
    role: Role
    active: bool
    first: bool = False
    """Whether the password was made by somebody else and must be changed before anything else."""
    codes: bool = False
    """Whether a code of a device is asked for at sign-in."""


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
    number: int = 0


def add_account(journal: Journal, name: str, role: Role, password: str, *, first: bool = False) -> Account:
    """Make an account.

    Parameters
    ----------
    first
        The password is good for seven days and must be changed when it is used.

    Raises
    ------
    InputError
        When the name is taken or no one line, the role is none, or the password not good enough.
    """
    name = one_line(name, "name")
    if role not in get_args(Role):
        raise _fault(
            _("'{role}' is no role; there are: {roles}.").format(role=role, roles=", ".join(get_args(Role))), "role"
        )
    account = Account(new_key(), name, role, True, first)
    hashed = passwords.hashed(passwords.checked(password, name))
    with journal.database.write() as connection:
        made = run(
            connection,
            "INSERT INTO accounts (id, name, role, password_hash, active, made_at, first_until)"
            " VALUES (:id, :name, :role, :hash, 1, :now, :first) ON CONFLICT (name) DO NOTHING",
            id=account.id, name=name, role=role, hash=hashed, now=now_text(), first=_first_until(first),
        )  # fmt: skip
    if not made.rowcount:
        raise _fault(_("There is already an account named '{name}'; choose another name.").format(name=name), "name")
    return account


def accounts(journal: Journal) -> tuple[Account, ...]:
    """Return every account, by name."""
    with journal.database.read() as connection:
        return tuple(map(account_in, rows(connection, "SELECT * FROM accounts ORDER BY name")))


def account_named(journal: Journal, name: str) -> Account | None:
    """Return the account of a name, if there is one."""
    with journal.database.read() as connection:
        found = row(connection, "SELECT * FROM accounts WHERE name = :name", name=name.replace("\x00", "").strip())
    return account_in(found) if found else None


def account_of_id(journal: Journal, account: str) -> Account | None:
    """Return the account of an id, if there is one."""
    with journal.database.read() as connection:
        found = row(connection, "SELECT * FROM accounts WHERE id = :id", id=account)
    return account_in(found) if found else None


def check_password(journal: Journal, name: str, password: str) -> Account | None:
    """Return the account whose name and password these are; None for any other, after as long a time."""
    plain = name.replace("\x00", "").encode("utf-8", "replace").decode().strip()
    with journal.database.read() as connection:
        found = row(connection, "SELECT * FROM accounts WHERE name = :name", name=plain)
    kept = found["password_hash"] if found else passwords.NOBODY
    if not passwords.fits(kept, password) or found is None or not found["active"]:
        return None
    if found["first_until"] and found["first_until"] < now_text():
        return None
    if passwords.is_dated(kept) and not journal.database.read_only:
        with journal.database.write() as connection:
            sql = "UPDATE accounts SET password_hash = :new WHERE id = :id AND password_hash = :kept"
            run(connection, sql, new=passwords.hashed(password), id=found["id"], kept=kept)
    return account_in(found)


def set_password(journal: Journal, account: str, password: str, *, first: bool = False) -> None:
    """Set an account's password, and end its sessions and tokens: whoever had the old one is out.

    Raises
    ------
    InputError
        When the password is not good enough.
    """
    with journal.database.read() as connection:
        found = row(connection, "SELECT name FROM accounts WHERE id = :id", id=account)
    hashed = passwords.hashed(passwords.checked(password, found["name"] if found else ""))
    with journal.database.write() as connection:
        sql = "UPDATE accounts SET password_hash = :hash, first_until = :first WHERE id = :id"
        run(connection, sql, hash=hashed, id=account, first=_first_until(first))
        run(connection, "DELETE FROM sessions WHERE account = :id", id=account)
        run(connection, "DELETE FROM tokens WHERE account = :id", id=account)


def set_active(journal: Journal, account: str, active: bool) -> None:
    """Close an account, which ends its sessions and tokens, or open it again."""
    with journal.database.write() as connection:
        run(connection, "UPDATE accounts SET active = :active WHERE id = :id", active=int(active), id=account)
        if not active:
            run(connection, "DELETE FROM sessions WHERE account = :id", id=account)
            run(connection, "DELETE FROM tokens WHERE account = :id", id=account)


def start_session(journal: Journal, account: Account) -> str:
    """Begin a session and return its token, always a new one (a token known before is worth nothing)."""
    token, now = secrets.token_urlsafe(32), datetime.now(UTC)
    lasts = OFFICE_LASTS if account.role == "office" else SESSION_LASTS
    with journal.database.write() as connection:
        run(connection, "DELETE FROM sessions WHERE ends_at < :now", now=time_text(now))
        run(
            connection,
            "INSERT INTO sessions (token_hash, account, csrf, made_at, used_at, ends_at)"
            " VALUES (:token, :account, :csrf, :now, :now, :ends)",
            token=token_hash(token), account=account.id, csrf=secrets.token_urlsafe(32),
            now=time_text(now), ends=time_text(now + lasts),
        )  # fmt: skip
    return token


def session_of(journal: Journal, token: str) -> Session | None:
    """Return the session of a token; None when there is none, it has ended, or its account is closed."""
    hashed, now = token_hash(token), datetime.now(UTC)
    with journal.database.read() as connection:
        found = row(
            connection,
            "SELECT accounts.*, csrf, used_at, ends_at FROM sessions JOIN accounts ON accounts.id = sessions.account"
            " WHERE token_hash = :token AND active = 1 AND ends_at > :now",
            token=hashed, now=time_text(now),
        )  # fmt: skip
    if found is None:
        return None
    unused = now - _time(found["used_at"])
    if unused > (OFFICE_IDLE if found["role"] == "office" else SESSION_IDLE):
        return None
    if not journal.database.read_only and unused > USE_NOTED:
        note_use(journal, "session", hashed, now)
    return Session(account_in(found), found["csrf"], _time(found["ends_at"]))


def note_use(journal: Journal, of: Literal["session", "token"], hashed: str, now: datetime) -> None:
    """Write down when a session or a token was last used; a slow disk keeps nobody waiting for that."""

    def write() -> None:
        with journal.database.write() as connection:
            run(connection, f"UPDATE {of}s SET used_at = :now WHERE token_hash = :t", now=time_text(now), t=hashed)

    journal.database.aside.write(write, f"when a {of} was used")


def end_session(journal: Journal, token: str) -> None:
    """End a session."""
    with journal.database.write() as connection:
        run(connection, "DELETE FROM sessions WHERE token_hash = :token", token=token_hash(token))


def end_sessions(journal: Journal, account: str) -> int:
    """End every session of an account, and return how many there were."""
    with journal.database.write() as connection:
        return int(run(connection, "DELETE FROM sessions WHERE account = :id", id=account).rowcount)


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


def who_sees(journal: Journal, job: str) -> tuple[Account, ...]:
    """Return the accounts that were given a job, by name."""
    sql = "SELECT accounts.* FROM job_access JOIN accounts ON id = account WHERE job = :job ORDER BY name"
    with journal.database.read() as connection:
        return tuple(map(account_in, rows(connection, sql, job=job)))


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
            token=token_hash(token), id=new_key(), job=job, by=made_by,
            now=time_text(now), ends=time_text(now + timedelta(days=max(1, min(days, 3650)))),
        )  # fmt: skip
    return token


def share_of(journal: Journal, token: str) -> Share | None:
    """Return what a link opens; None when there is no such link or it has ended."""
    sql = "SELECT * FROM shares WHERE token_hash = :token AND ends_at > :now"
    with journal.database.read() as connection:
        found = row(connection, sql, token=token_hash(token), now=now_text())
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


def recorded(journal: Journal, *, job: str = "", most: int = 200, before: int = 0) -> tuple[Seen, ...]:
    """Return the last lines of the record, the newest first; of one job, or of all; ``before`` a line's number."""
    return _lines(journal, {"job = :job": job, "number < :before": before}, job=job, before=before, most=most)


def deeds_recorded(
    journal: Journal, whats: Sequence[str], *, who: str = "", after: int = 0, most: int = 200
) -> tuple[Seen, ...]:
    """Return the last lines of some kinds of deed, the newest first; of one person, or of all; ``after`` a line's number."""
    asked = {f"what{at}": what for at, what in enumerate(whats)}
    among = f"what IN ({', '.join(f':{name}' for name in asked)})"
    wanted = {among: True, "who = :who": who, "number > :after": after}
    return _lines(journal, wanted, who=who, after=after, most=most, **asked)


def _lines(journal: Journal, wanted: Mapping[str, object], **values: Any) -> tuple[Seen, ...]:
    """Return lines for which every condition holds that comes with something."""
    where = " AND ".join(sql for sql, value in wanted.items() if value)
    sql = f"SELECT * FROM audit{' WHERE ' + where if where else ''} ORDER BY number DESC LIMIT :most"
    named = {name: value for name, value in values.items() if f":{name}" in sql}
    with journal.database.read() as connection:
        found = rows(connection, sql, **named)
    return tuple(Seen(_time(i["at"]), i["who"], i["what"], i["job"], i["address"], i["number"]) for i in found)


def token_hash(token: str) -> str:
    """Return what is kept of a token."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def account_in(found: Row) -> Account:
    """Return the account that a row of the database tells of."""
    first, codes = bool(found["first_until"]), bool(found["code_since"])
    return Account(found["id"], found["name"], found["role"], bool(found["active"]), first, codes)


def _first_until(first: bool) -> str:
    return time_text(datetime.now(UTC) + FIRST_LASTS) if first else ""


def _share(found: Row) -> Share:
    return Share(found["id"], found["job"], found["made_by"], _time(found["ends_at"]))


def _time(stored: str) -> datetime:
    return datetime.fromisoformat(stored)


def _fault(message: str, where: str) -> InputError:
    return InputError((Fault(message, where),))
