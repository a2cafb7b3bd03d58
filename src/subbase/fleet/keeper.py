"""What a run keeps beside its results, so that a run which was stopped goes on where it was.

Every piece is a file with its SHA-256 beside it, written whole. A manifest says what the pieces were made from; pieces
made from anything else are never used, and the run says so instead of mixing two lists.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from dataclasses import dataclass
from pathlib import Path

from subbase.errors import Fault, InputError
from subbase.files import write_whole
from subbase.words import _

FOLDER = "pieces"
MANIFEST = "manifest.json"


@dataclass(frozen=True, slots=True)
class Keeper:
    """The pieces of one run, in a folder."""

    folder: Path

    def put(self, name: str, data: bytes) -> None:
        """Keep a piece under a name."""
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, data)
        write_whole(path.with_name(f"{path.name}.sha256"), hashlib.sha256(data).hexdigest().encode())

    def get(self, name: str) -> bytes | None:
        """Return a piece, or None where it is not there or not whole."""
        path = self.folder / name
        try:
            data = path.read_bytes()
            told = path.with_name(f"{path.name}.sha256").read_text("ascii")
        except (OSError, UnicodeDecodeError):
            return None
        return data if hashlib.sha256(data).hexdigest() == told else None

    def need(self, name: str) -> bytes:
        """Return a piece that was kept in this run.

        Raises
        ------
        InputError
            When somebody took it away or changed it meanwhile.
        """
        data = self.get(name)
        if data is None:
            message = _("This piece of the run is gone or damaged; start the run again, it makes what is missing.")
            raise InputError((Fault(message, file=str(self.folder / name)),))
        return data


def opened(out: Path, made_from: dict[str, str]) -> Keeper:
    """Return the keeper of a run into ``out``; pieces of an earlier run are kept if they were made from the same.

    Raises
    ------
    InputError
        When they were made from something else; it says from what.
    """
    keeper = Keeper(out / FOLDER)
    kept = keeper.get(MANIFEST)
    if kept is not None:
        before = json.loads(kept)
        changed = [name for name in made_from if before.get(name) != made_from[name]]
        if changed:
            message = _(
                "The run in this folder was begun with another {what}. Give another folder, or --anew to throw it away."
            ).format(what=", ".join(_(name) for name in changed))
            raise InputError((Fault(message, file=str(out)),))
    else:
        # Pieces without a manifest are of nothing that is known.
        clear(out)
        keeper.put(MANIFEST, json.dumps(made_from, indent=2, sort_keys=True).encode())
    return keeper


def clear(out: Path) -> None:
    """Throw the pieces of a run away."""
    shutil.rmtree(out / FOLDER, ignore_errors=True)
