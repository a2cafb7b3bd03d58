"""Reading kinds from TOML: the folder that comes with the package, then any folders of the user's own."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from pathlib import Path
from types import MappingProxyType

from pydantic import ValidationError

from subbase.catalog.model import Kind
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.words import _

MOST_BYTES = 200_000
"""A kind's file larger than this is refused."""

Catalog = Mapping[str, Kind]


def load_catalog(folders: Iterable[Path] = ()) -> Catalog:
    """Return every kind by name; a user's kind replaces the built-in one of the same name.

    Raises
    ------
    InputError
        With every fault of every file in the user's folders.
    """
    folders = tuple(folders)
    if not folders:
        return _built_in()
    kinds = dict(_built_in())
    faults: list[Fault] = []
    for folder in folders:
        found_in: dict[str, str] = {}
        if not _is_folder(folder):
            faults.append(Fault(_("There is no such folder of catalogue kinds."), file=str(folder)))
            continue
        for path in sorted(folder.glob("*.toml")):
            try:
                kind = read_kind(read_at_most(path, MOST_BYTES), str(path))
            except InputError as error:
                faults.extend(error.faults)
                continue
            if kind.kind in found_in:
                faults.append(
                    Fault(
                        _("The kind '{kind}' is also in {found_in}; keep one.").format(
                            kind=kind.kind, found_in=found_in[kind.kind]
                        ),
                        file=str(path),
                    )
                )
            found_in[kind.kind] = str(path)
            kinds[kind.kind] = kind
    if faults:
        raise InputError(tuple(faults))
    return MappingProxyType(kinds)


def _is_folder(path: Path) -> bool:
    """Return whether there is such a folder; a name that no system takes names none."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def read_kind(raw: bytes, file: str) -> Kind:
    """Return the kind in one TOML text.

    Raises
    ------
    InputError
        When the text is not TOML, is too large, or does not fit the model.
    """
    if len(raw) > MOST_BYTES:
        raise InputError(
            (Fault(_("The file is larger than {most_bytes} bytes.").format(most_bytes=MOST_BYTES), file=file),)
        )
    try:
        data = tomllib.loads(raw.decode("utf-8"))
    except RecursionError:
        raise InputError((Fault(_("The file is nested too deep to be a kind."), file=file),)) from None
    except ValueError as error:  # not TOML, not UTF-8, or a number of thousands of digits
        raise InputError((Fault(_("This is not readable TOML: {error}.").format(error=error), file=file),)) from None
    try:
        return Kind.model_validate(data)
    except ValidationError as error:
        faults = (
            # Who writes kinds of their own reads what the model says of its types; that stays as pydantic says it.
            Fault(str(item["msg"]), where=".".join(str(step) for step in item["loc"]), file=file)
            for item in error.errors()
        )
        raise InputError(tuple(faults)) from None


@cache
def _built_in() -> Catalog:
    folder = resources.files("subbase.catalog") / "kinds"
    files = sorted((item for item in folder.iterdir() if item.name.endswith(".toml")), key=lambda item: item.name)
    kinds = (read_kind(item.read_bytes(), item.name) for item in files)
    return MappingProxyType({kind.kind: kind for kind in kinds})
