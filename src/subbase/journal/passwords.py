"""Passwords: which are good enough, and how they are kept.

Kept as Argon2id with 19 MiB, two passes and one lane: the setting that the OWASP Password Storage Cheat Sheet gives as
the least ("19 MiB of memory, an iteration count of 2, and 1 degree of parallelism"). Rules as NIST SP 800-63B and OWASP
ASVS have them: length counts, composition does not, none expires by age, what is guessed first is refused.
"""

from __future__ import annotations

import itertools
import secrets
import threading
import unicodedata

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from subbase.errors import Fault, InputError
from subbase.words import _

SHORTEST, LONGEST = 12, 128
"""Characters; OWASP ASVS 4.0.3, 2.1.1 and 2.1.2 (from memory)."""
AT_ONCE = 4
"""Passwords that are worked on at the same time: each takes its 19 MiB, whoever sends them."""
_HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)
_TURN = threading.BoundedSemaphore(AT_ONCE)
_TRIED = """
    123456789012 1234567890123 12345678901234 123456789123 1234567891011 012345678901 112233445566 123123123123
    121212121212 111222333444 123654789012 098765432109 987654321098 9876543210123 147258369147 102030405060
    qwertyuiop12 qwertyuiop123 qwertyuiop1234 qwertyuiopasdf qwertyuiopasdfghjkl qwerty123456 qwerty1234567
    qwerty12345678 qwertyqwerty 1q2w3e4r5t6y 1q2w3e4r5t6y7u8i 1qaz2wsx3edc 1qaz2wsx3edc4rfv q1w2e3r4t5y6 qazwsxedcrfv
    zaq12wsxcde3 asdfghjkl123 asdfghjklzxcvbnm zxcvbnm12345 abcdefghijkl abcdefghijklm abcdefghijklmnopqrstuvwxyz
    abc123456789 abcd12345678 abc123abc123 a1b2c3d4e5f6 aa1234567890 123456qwerty 1234567890qw 1234qwerasdf
    passwordpassword password1234 password12345 password123456 password1234567 password12345678 passw0rd1234
    passw0rd12345 p@ssw0rd1234 p@ssword1234 mypassword123 mypassword1234 newpassword1 newpassword123 changemeplease
    changeme1234 changeme12345 letmein12345 letmeinletmein welcome12345 welcome123456 welcomewelcome iloveyou1234
    iloveyouiloveyou iloveyousomuch ilovemyfamily sunshine1234 princess1234 football1234 baseball1234 basketball12
    superman1234 administrator administrator1 admin1234567 adminadminadmin administrator123 rootrootroot
    correcthorsebatterystaple thermostat123 thermostat1234 heatingandcooling airconditioner
    airconditioning electrician1 electrician123 furnacefurnace
"""
_COMMON = frozenset(_TRIED.split()) | {"correct horse battery staple"}
"""Those that are tried first among passwords of twelve characters and more (chosen from memory; no list was copied)."""
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of first passwords: no letter that is taken for another when it is read out."""


def first_password() -> str:
    """Return a password to be used once: 20 characters in four groups, 99 bits."""
    return "-".join("".join(secrets.choice(_LETTERS) for _number in range(5)) for _group in range(4))


def checked(password: str, name: str = "") -> str:
    """Return a password as it is hashed, if it is good enough for the account of this name.

    Raises
    ------
    InputError
        When it is too short, too long, or one that is guessed first.
    """
    plain = _normal(password)
    if not SHORTEST <= len(plain) <= LONGEST:
        raise _fault(
            _("A password has {shortest} to {longest} characters; a few words in a row do well.").format(
                shortest=SHORTEST, longest=LONGEST
            )
        )
    folded = plain.casefold()
    if (
        folded in _COMMON
        or _is_pattern(folded)
        or (name and folded.replace(name.casefold(), "").strip(" 0123456789") == "")
    ):
        raise _fault(
            _("That password is among the first that are guessed; choose another, such as a few words in a row.")
        )
    return plain


def hashed(plain: str) -> str:
    """Return what is kept of a password.

    Raises
    ------
    InputError
        When it holds characters that cannot be stored.
    """
    try:
        with _TURN:
            return _HASHER.hash(_normal(plain))
    except UnicodeEncodeError:
        raise _fault(_("The password holds characters that cannot be stored; choose another.")) from None


def fits(kept: str, password: str) -> bool:
    """Return whether a password is the one that was kept."""
    try:
        with _TURN:
            return _HASHER.verify(kept, _normal(password[: 4 * LONGEST]))
    except (VerificationError, InvalidHashError, UnicodeEncodeError):
        return False


def is_dated(kept: str) -> bool:
    """Return whether it was kept with other settings than are used now."""
    return _HASHER.check_needs_rehash(kept)


def _normal(password: str) -> str:
    # The same letter may be typed as one code point or as two; NIST SP 800-63B asks for NFKC or NFKD.
    return unicodedata.normalize("NFKC", password)


def _is_pattern(folded: str) -> bool:
    """Return whether it is one short piece again and again, or a run along the alphabet or the digits."""
    if any(folded == (folded[:size] * len(folded))[: len(folded)] for size in range(1, 5)):
        return True
    steps = {ord(after) - ord(before) for before, after in itertools.pairwise(folded)}
    return steps in ({1}, {-1})


def _fault(message: str) -> InputError:
    return InputError((Fault(message, where="password"),))


NOBODY = hashed(secrets.token_hex(16))
"""Compared with when there is no such account, so that both answers take as long."""
