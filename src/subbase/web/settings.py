"""What the app is started with."""

from __future__ import annotations

from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path


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

    @property
    def is_local(self) -> bool:
        """Return whether nothing but this machine can reach the app: then nobody needs to sign in."""
        if self.behind_proxy:
            return False
        if self.host == "localhost":
            return True
        try:
            return ip_address(self.host).is_loopback
        except ValueError:
            return False
