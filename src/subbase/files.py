"""Files at the edge: read up to a limit, and written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

from subbase.errors import Fault, InputError
from subbase.words import _


def read_at_most(path: Path, most_bytes: int) -> bytes:
    """Return a file's bytes, at most one more than is allowed, so that the reader of its text can tell.

    Raises
    ------
    InputError
        When the file cannot be read.
    """
    try:
        with path.open("rb") as file:
            return file.read(most_bytes + 1)
    except OSError as error:
        raise InputError(
            (Fault(_("The file cannot be read: {strerror}.").format(strerror=error.strerror), file=str(path)),)
        ) from None


def write_whole(path: Path, data: bytes) -> Path:
    """Write beside the file and rename, so that nothing is ever half-written; return the file.

    Raises
    ------
    OSError
        When it cannot be written; what was there before stays.
    """
    beside = path.with_name(f".{path.name}.part")
    try:
        beside.write_bytes(data)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)
    return path
