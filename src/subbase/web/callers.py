"""Who calls: the person of a session, a script with a token, the reader of an owner's link, or nobody that is known."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from functools import cached_property
from ipaddress import ip_address, ip_network
from typing import Literal

from fastapi import Request, Response

from subbase.journal import accounts as who
from subbase.journal.accounts import Account, Share
from subbase.journal.store import Journal
from subbase.journal.tokens import account_of_token
from subbase.web.form_tokens import shown, sign
from subbase.web.settings import Settings, is_loopback

SESSION, BROWSER, LINK, KNOWN = "subbase-session", "subbase-browser", "subbase-link", "subbase-known"
"""Cookies: a sign-in; a secret of this browser; a link's token; that an account was opened from here before."""
LONG_S = 400 * 24 * 3600
"""As long as browsers keep a cookie at most."""
SAFE = ("GET", "HEAD", "OPTIONS")
READER_ROUTES = frozenset({"/jobs/{job}/look", "/jobs/{job}/papers/{name}"})
"""What an owner's link shows, of its one job."""
Kind = Literal["local", "session", "token", "link", "nobody"]


@dataclass(frozen=True)
class Caller:
    """Who asks, from where, and what proves that a form came from a page of ours."""

    kind: Kind
    address: str
    secure: bool
    """Whether it came over TLS."""
    person: Account | None = None
    share: Share | None = None
    session: str = ""
    """The token of the session, to end it by."""
    form_token: bytes = b""
    browser: str = ""
    """A new secret for this browser, to be set as a cookie."""

    @cached_property
    def name(self) -> str:
        """Return how the record calls them."""
        if self.person is not None:
            return f"{self.person.name} (token)" if self.kind == "token" else self.person.name
        return f"link {self.share.id[:8]}" if self.share is not None else ""

    @cached_property
    def key(self) -> str:
        """Return by what their goes are counted: the person, the link, or the address."""
        if self.person is not None:
            return f"person {self.person.id}"
        return f"link {self.share.id}" if self.share is not None else f"address {network_of(self.address)}"

    def sees(self, journal: Journal, job: str, *, to_read: bool = False) -> bool:
        """Return whether a job is theirs; ``to_read``: whether they may look at what its owner may look at."""
        if self.kind == "local":
            return True
        if self.person is not None and who.may_see(journal, self.person, job):
            return True
        return to_read and self.share is not None and self.share.job == job

    @property
    def in_clear(self) -> bool:
        """Return whether others in the same network could read along."""
        return not self.secure and not is_loopback(self.address)

    @property
    def is_reader(self) -> bool:
        """Return whether they have nothing but an owner's link."""
        return self.kind == "link"


def caller_of(request: Request) -> Caller:
    """Return who calls, as the gate has found out."""
    found: Caller = request.state.caller
    return found


def only_reads(request: Request) -> bool:
    """Return whether a request is for what an owner's link shows."""
    return request.method in SAFE and getattr(request.scope.get("route"), "path", "") in READER_ROUTES


def find_caller(request: Request, settings: Settings, journal: Journal, secret: bytes) -> Caller:
    """Return who calls, by a token or by cookies."""
    address, secure = address_of(request, settings), is_secure(request, settings)
    browser = cookie(request, BROWSER, secure)
    fresh = "" if len(browser) >= 32 else secrets.token_urlsafe(32)
    plain = sign(secret, "form", f"browser {fresh or browser}")
    if not settings.sign_in:
        return Caller("local", address, secure, form_token=plain, browser=fresh)
    scheme, _space, told = request.headers.get("authorization", "").partition(" ")
    if scheme.lower() == "bearer":
        account = account_of_token(journal, told.strip()[:200])
        return Caller("token" if account else "nobody", address, secure, account)
    link = cookie(request, LINK, secure)
    share = who.share_of(journal, link) if link else None
    token = cookie(request, SESSION, secure)
    session = who.session_of(journal, token) if token else None
    if session is not None:
        bound = sign(secret, "form", f"session {session.csrf}")
        return Caller("session", address, secure, session.account, share, token, bound)
    return Caller("link" if share else "nobody", address, secure, None, share, "", plain, fresh)


def cookie(request: Request, name: str, secure: bool) -> str:
    """Return one of our cookies; over TLS only one that no other host of the domain can have set."""
    return request.cookies.get(f"__Host-{name}" if secure else name, "")


def set_cookie(response: Response, name: str, value: str, *, secure: bool, lasts_s: int) -> None:
    """Set one of our cookies: not for scripts, not for other sites' forms, over TLS only where there is TLS."""
    full = f"__Host-{name}" if secure else name
    response.set_cookie(full, value, max_age=lasts_s, path="/", secure=secure, httponly=True, samesite="lax")


def drop_cookie(response: Response, name: str, *, secure: bool) -> None:
    """Take one of our cookies away."""
    full = f"__Host-{name}" if secure else name
    response.delete_cookie(full, path="/", secure=secure, httponly=True, samesite="lax")


def address_of(request: Request, settings: Settings) -> str:
    """Return the address that calls.

    A proxy is believed only with ``behind_proxy`` and from this machine, and only in the last address that it added:
    all before that is what the caller wrote.
    """
    peer = request.client.host if request.client else ""
    if settings.behind_proxy and is_loopback(peer):
        told = ",".join(request.headers.getlist("x-forwarded-for")).rpartition(",")[2].strip()
        try:
            return str(ip_address(told))
        except ValueError:
            return peer
    return peer


def is_secure(request: Request, settings: Settings) -> bool:
    """Return whether the caller came over TLS."""
    if settings.behind_proxy and request.client is not None and is_loopback(request.client.host):
        return request.headers.get("x-forwarded-proto", "").strip().lower() == "https"
    return request.scope.get("scheme") == "https"


def network_of(address: str) -> str:
    """Return what one caller may choose addresses from: the address itself, or the first 64 bits of an IPv6 one."""
    return _network(address, 32, 64)


def shortened(address: str) -> str:
    """Return an address as the record keeps it, without the part that tells one connection from its neighbours."""
    return _network(address, 24, 48)


def form_token(request: Request) -> str:
    """Return the token that a form on a page for this caller bears."""
    caller = caller_of(request)
    return shown(caller.form_token) if caller.form_token else ""


def _network(address: str, four: int, six: int) -> str:
    try:
        found = ip_address(address)
    except ValueError:
        return ""
    mapped = getattr(found, "ipv4_mapped", None)
    found = mapped or found
    bits = four if found.version == 4 else six
    return str(found) if bits == 32 else str(ip_network(f"{found}/{bits}", strict=False))


__all__ = ["Caller", "caller_of", "find_caller"]
