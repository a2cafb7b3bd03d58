"""Where the journal is when nobody says so."""

from __future__ import annotations

import os
import sys
from pathlib import Path

VARIABLE = "SUBBASE_JOURNAL"
"""Environment variable with a file or a PostgreSQL URL; a URL with a password belongs here, not on a command line."""


def default_place() -> str:
    """Return what ``SUBBASE_JOURNAL`` says, or a file in the user's own data folder."""
    said = os.environ.get(VARIABLE, "")
    return said or str(_data_folder() / "journal.sqlite")


def make_folder(place: str) -> None:
    """Make the user's data folder when that is where the journal is to be; any other folder must be there."""
    if Path(place).parent == _data_folder():
        _data_folder().mkdir(mode=0o700, parents=True, exist_ok=True)


def _data_folder() -> Path:
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "subbase"
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local") / "subbase"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share") / "subbase"
