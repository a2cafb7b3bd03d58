"""What the app is started with."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path
from typing import Literal

from subbase.journal.accounts import Account

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")


@dataclass(frozen=True, slots=True)
class Settings:
    """Where the journal is, and to whom the app answers."""

    journal: str | Path
    """A SQLite file, or a PostgreSQL URL."""
    host: str = "127.0.0.1"
    port: int = 8024
    catalogue: tuple[Path, ...] = ()
    """Folders with kinds of the user's own."""
    behind_proxy: bool = False
    """Whether a reverse proxy on this machine ends TLS and says who calls."""
    accounts: bool = False
    """Whether people sign in although only this machine can reach the app."""
    codes: Literal["", "office", "all"] = ""
    """Of whom a code of a device is asked at sign-in, whether they wish it or not."""
    names: tuple[str, ...] = ()
    """Host names under which others reach it; any when none is given and others can reach it."""

    @property
    def is_local(self) -> bool:
        """Return whether nothing but this machine can reach the app: then nobody needs to sign in."""
        return not self.behind_proxy and is_loopback(self.host)

    @property
    def sign_in(self) -> bool:
        """Return whether people have to sign in."""
        return self.accounts or not self.is_local

    def asks_for_codes(self, person: Account) -> bool:
        """Return whether somebody has to have a code asked for at sign-in."""
        return self.codes in ("all", person.role)

    def answers_to(self, name: str) -> bool:
        """Return whether a request for this host name is for this app.

        A page of a foreign name that was made to point here (DNS rebinding) is refused by this.
        """
        name = name.strip("[]").rstrip(".").lower()
        if name in self.names:
            return True
        if self.is_local:
            return name in LOOPBACK_NAMES or name.endswith(".localhost")
        return not self.names


def is_loopback(host: str) -> bool:
    """Return whether an address is this machine's own, that no other machine can reach."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False
