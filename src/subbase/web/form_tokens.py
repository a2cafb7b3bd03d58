"""The token in every form that shows it came from a page of ours (CSRF), and signed values in cookies.

A token is bound to a session, or to a secret cookie where nobody has signed in, and is good for as long as that is: a form
that was filled in hours ago in a cellar can still be sent. On the page it is masked anew each time, so that nothing can be
learnt of it from the sizes of compressed pages.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import secrets

_BYTES = 32


def sign(secret: bytes, purpose: str, value: str) -> bytes:
    """Return 32 bytes that only who has the secret can make from a value, for one purpose."""
    return hmac.digest(secret, f"{purpose}\n{value}".encode("utf-8", "replace"), hashlib.sha256)


def shown(plain: bytes) -> str:
    """Return a token as a page shows it, another one each time."""
    mask = secrets.token_bytes(_BYTES)
    return base64.urlsafe_b64encode(mask + _mixed(mask, plain)).decode()


def is_token(plain: bytes, told: str) -> bool:
    """Return whether what came back is this token; takes as long for any wrong one."""
    try:
        raw = base64.urlsafe_b64decode(told.encode("ascii"))
    except (ValueError, UnicodeEncodeError):
        raw = b""
    whole = len(raw) == 2 * _BYTES
    raw = raw if whole else bytes(2 * _BYTES)
    return hmac.compare_digest(_mixed(raw[:_BYTES], raw[_BYTES:]), plain) and whole


def signed(secret: bytes, purpose: str, value: str) -> str:
    """Return a value with a signature, for a cookie."""
    return f"{value}.{sign(secret, purpose, value).hex()}"


def unsigned(secret: bytes, purpose: str, told: str) -> str:
    """Return the value of a signed one; empty when the signature is not ours."""
    value, _dot, mark = told.rpartition(".")
    return (
        value
        if hmac.compare_digest(mark.encode("utf-8", "replace"), sign(secret, purpose, value).hex().encode())
        else ""
    )


def _mixed(one: bytes, other: bytes) -> bytes:
    return bytes(a ^ b for a, b in zip(one, other, strict=True))
