"""Files at the edge: read up to a limit, and written whole or not at all."""

from __future__ import annotations

import os
import stat
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

    A link stays a link: the file that it leads to is written. The file keeps its permissions. What is no file (a device,
    a pipe) is written to and never replaced: root would otherwise put a file in the place of ``/dev/null``.

    Raises
    ------
    OSError
        When it cannot be written; what was there before stays.
    """
    target = Path(os.path.realpath(path))
    try:
        before = target.stat().st_mode
    except FileNotFoundError:
        before = None
    if before is not None and not stat.S_ISREG(before):
        with target.open("wb") as held:
            held.write(data)
        return path
    beside = target.with_name(f".{target.name}.part")
    try:
        with beside.open("wb") as held:
            held.write(data)
            held.flush()
            # The name must not reach the disk before the bytes: after a loss of power the file would be empty.
            os.fsync(held.fileno())
        if before is not None:
            beside.chmod(stat.S_IMODE(before))
        os.replace(beside, target)
    finally:
        beside.unlink(missing_ok=True)
    return path
