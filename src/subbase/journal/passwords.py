"""Passwords: which are good enough, and how they are kept.

Kept as Argon2id with 19 MiB, two passes and one lane: the setting that the OWASP Password Storage Cheat Sheet gives as
the least ("19 MiB of memory, an iteration count of 2, and 1 degree of parallelism"). Rules as NIST SP 800-63B and OWASP
ASVS have them: length counts, composition does not, none expires by age, what is guessed first is refused.
"""

from __future__ import annotations

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
LEAST_SCORE = 3
"""Of zxcvbn's 0 to 4: more than 10^8 guesses (Wheeler, 'zxcvbn: low-budget password strength estimation', USENIX Security 2016)."""
MOST_SCORED = 32
"""Characters that are looked at: with many signs that stand for letters, 72 took four seconds and 32 take half a one."""
_OURS = (
    "subbase",
    "thermostat",
    "heating",
    "cooling",
    "furnace",
    "aircon",
    "electrician",
    "correct horse battery staple",
)
"""Words that are tried first here, beside the common passwords, names and words that zxcvbn knows."""
_LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
"""Of first passwords: no letter that is taken for another when it is read out."""


def first_password() -> str:
    """Return a password to be used once: 99 bits."""
    return read_out(4)


def read_out(groups: int) -> str:
    """Return groups of five random characters that can be read out and typed, 24.7 bits each."""
    return "-".join("".join(secrets.choice(_LETTERS) for _number in range(5)) for _group in range(groups))


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
    from zxcvbn import zxcvbn

    if zxcvbn(plain[:MOST_SCORED], user_inputs=[name, *name.split(), *_OURS])["score"] < LEAST_SCORE:
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


def _fault(message: str) -> InputError:
    return InputError((Fault(message, where="password"),))


NOBODY = hashed(secrets.token_hex(16))
"""Compared with when there is no such account, so that both answers take as long."""
