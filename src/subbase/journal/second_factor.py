"""A second factor at sign-in: after the password, the code that a device of one's own shows, a new one each half minute.

Codes are TOTP (RFC 6238) over HOTP (RFC 4226), six digits by SHA-1, which every program that shows such codes knows. The
code before and the one after are taken too (RFC 6238, 5.2), and each is good once. The device's key must be read to tell
its codes, so it lies in the journal as it is: whoever has the file has the keys, but not the passwords. For the day on which
the device is lost there are spare codes, each good once and kept only as a hash.
"""

from __future__ import annotations

import hmac
from datetime import UTC, datetime

import pyotp

from subbase.journal.accounts import Account, account_in, token_hash
from subbase.journal.database import now_text, row, rows, run
from subbase.journal.passwords import read_out
from subbase.journal.store import Journal

DIGITS, STEP_S = 6, 30
SPARE_CODES = 8
SPARE_GROUPS = 5
"""Of five characters: 124 bits, more than the 112 of OWASP ASVS 4.0.3, 2.6.2 (from memory), so that a plain hash will do."""
ISSUER = "subbase"


def begin_codes(journal: Journal, account: str) -> None:
    """Make a new key for an account's device; nothing is asked for until a code of it was shown."""
    with journal.database.write() as connection:
        sql = "UPDATE accounts SET code_key = :key WHERE id = :id AND code_since = ''"
        run(connection, sql, key=pyotp.random_base32(32), id=account)


def key_to_set_up(journal: Journal, account: str) -> str:
    """Return the key that a device is to take, in base 32; empty when none was begun, or codes are asked for already."""
    with journal.database.read() as connection:
        found = row(connection, "SELECT code_key FROM accounts WHERE id = :id AND code_since = ''", id=account)
    return str(found["code_key"]) if found else ""


def turn_codes_on(journal: Journal, account: str, told: str, now: datetime | None = None) -> tuple[str, ...]:
    """Ask for a code at each sign-in from now on, once the device has shown a right one; return the spare codes.

    None are returned, and nothing is changed, when the code is not right, or codes were not begun or are on already.
    """
    with journal.database.write() as connection:
        found = row(connection, "SELECT code_key, code_since FROM accounts WHERE id = :id", id=account)
        step = _step_of(found["code_key"], told, now, after=0) if found and not found["code_since"] else 0
        if not step:
            return ()
        sql = "UPDATE accounts SET code_since = :now, code_step = :step WHERE id = :id AND code_since = ''"
        run(connection, sql, now=now_text(), step=step, id=account)
        run(connection, "DELETE FROM spare_codes WHERE account = :id", id=account)
        spare = tuple(read_out(SPARE_GROUPS) for _number in range(SPARE_CODES))
        for code in spare:
            run(connection, "INSERT INTO spare_codes VALUES (:hash, :id)", hash=token_hash(_bare(code)), id=account)
    return spare


def is_code(journal: Journal, account: str, told: str, now: datetime | None = None) -> Account | None:
    """Return the account if this is its device's code of now, or one of its spare codes; each is taken once.

    None for any other, and when the account is closed or asks for no code.
    """
    with journal.database.write() as connection:
        found = row(connection, "SELECT * FROM accounts WHERE id = :id AND active = 1 AND code_since <> ''", id=account)
        if found is None:
            return None
        step = _step_of(found["code_key"], told, now, after=found["code_step"])
        if step:
            sql = "UPDATE accounts SET code_step = :step WHERE id = :id AND code_step < :step"
            taken = run(connection, sql, step=step, id=account).rowcount
        else:
            sql = "DELETE FROM spare_codes WHERE code_hash = :hash AND account = :id"
            taken = run(connection, sql, hash=token_hash(_bare(told)), id=account).rowcount
    return account_in(found) if taken else None


def turn_codes_off(journal: Journal, account: str) -> None:
    """Ask for no code any more, and forget the device and the spare codes."""
    with journal.database.write() as connection:
        sql = "UPDATE accounts SET code_key = '', code_since = '', code_step = 0 WHERE id = :id"
        run(connection, sql, id=account)
        run(connection, "DELETE FROM spare_codes WHERE account = :id", id=account)


def spare_codes_left(journal: Journal, account: str) -> int:
    """Return how many spare codes were not used yet."""
    with journal.database.read() as connection:
        return len(rows(connection, "SELECT code_hash FROM spare_codes WHERE account = :id", id=account))


def device_address(key: str, name: str) -> str:
    """Return what a device takes a key from, as text for a QR symbol (otpauth, which such programs have in common)."""
    return pyotp.TOTP(key, digits=DIGITS, interval=STEP_S).provisioning_uri(name=name, issuer_name=ISSUER)


def _step_of(key: str, told: str, now: datetime | None, *, after: int) -> int:
    """Return the half minute, counted from 1970, whose code this is; 0 when it is none or was taken before."""
    digits = told.replace(" ", "")
    if not key or len(digits) != DIGITS or not digits.isascii() or not digits.isdecimal():
        return 0
    device = pyotp.TOTP(key, digits=DIGITS, interval=STEP_S)
    here = int((now or datetime.now(UTC)).timestamp()) // STEP_S
    fitting = [step for step in (here - 1, here, here + 1) if hmac.compare_digest(device.generate_otp(step), digits)]
    return max((step for step in fitting if step > after), default=0)


def _bare(code: str) -> str:
    return "".join(letter for letter in code.lower() if letter.isalnum())
