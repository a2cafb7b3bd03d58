"""A survey file read whole: every fault at once, or the survey."""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from subbase.catalog import Catalog, load_catalog
from subbase.errors import Fault, InputError
from subbase.survey.cross import cross_faults
from subbase.survey.faults import fault_sentences, real_path
from subbase.survey.model import Survey
from subbase.survey.shorthand import expand
from subbase.survey.yaml_tree import MOST_BYTES, Path, Tree, read_tree

MOST_ROUNDS = 4
"""How often a file is judged again without the fields that did not fit."""


def load_survey(path: FilePath | str, catalog: Catalog | None = None) -> Survey:
    """Return the survey in a YAML or JSON file.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = FilePath(path)
    try:
        with path.open("rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise InputError((Fault(f"The file cannot be read: {error.strerror}.", file=str(path)),)) from None
    return read_survey(raw, str(path), catalog)


def read_survey(raw: bytes, file: str = "", catalog: Catalog | None = None) -> Survey:
    """Return the survey in YAML or JSON text; ``file`` is the name that faults bear.

    Raises
    ------
    InputError
        As ``load_survey``.
    """
    catalog = load_catalog() if catalog is None else catalog
    tree = read_tree(raw, file)
    faults = list(tree.faults)
    data = expand(tree, faults)
    survey = _validated(data, tree, faults)
    if survey is not None:
        known_bad = {fault.where for fault in faults}
        faults.extend(fault for fault in cross_faults(survey, catalog, tree) if fault.where not in known_bad)
    if faults or survey is None:
        raise InputError(tuple(sorted(faults, key=lambda fault: (fault.line, fault.column))))
    return survey


def _validated(data: dict[str, Any], tree: Tree, faults: list[Fault]) -> Survey | None:
    """Return the survey, or what is left of it without the fields that do not fit, so that the rest is judged too."""
    for _ in range(MOST_ROUNDS):
        try:
            return Survey.model_validate(data)
        except ValidationError as error:
            errors = error.errors()
            told = {fault.where for fault in faults}
            faults.extend(fault for fault in fault_sentences(errors, tree, data) if fault.where not in told)
            for path in {real_path(item, data) for item in errors}:
                _drop(data, path, missing=any(e["type"] == "missing" and real_path(e, data) == path for e in errors))
    return None


def _drop(data: Any, path: Path, *, missing: bool) -> None:
    """Take a field out of plain data; where the fault is that it is missing, take out what should hold it."""
    *parents, last = path if not missing else path[:-1] or ("",)
    here: Any = data
    for step in parents:
        here = here[step] if _holds(here, step) else None
    if _holds(here, last):
        del here[last]


def _holds(data: Any, step: str | int) -> bool:
    if isinstance(data, list):
        return isinstance(step, int) and 0 <= step < len(data)
    return isinstance(data, dict) and step in data
