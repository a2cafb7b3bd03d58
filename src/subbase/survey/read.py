"""A survey file read whole: every fault at once, or the survey."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from pathlib import Path as FilePath
from typing import Any

from pydantic import ValidationError

from subbase.catalog import Catalog, load_catalog
from subbase.errors import Fault, InputError
from subbase.files import read_at_most
from subbase.survey.cross import cross_faults
from subbase.survey.faults import as_written, fault_sentences, real_path
from subbase.survey.model import Survey
from subbase.survey.roles import fill_in_roles
from subbase.survey.rooms_check import site_faults
from subbase.survey.rooms_words import expand_site
from subbase.survey.shorthand import expand
from subbase.survey.yaml_tree import MOST_BYTES, Path, Tree, read_tree

MOST_ROUNDS = 8
"""How often a file is judged again without the parts that did not fit."""
STAND_INS: dict[str, Any] = {"survey": 1, "name": "not given", "controls": {}}
"""For what every survey must say and this one does not, so that the rest can still be judged."""
LISTS_OF_MODELS = ("jumpers", "readings")


def load_survey(path: FilePath | str, catalog: Catalog | None = None) -> Survey:
    """Return the survey in a YAML or JSON file.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = FilePath(path)
    return read_survey(read_at_most(path, MOST_BYTES), str(path), catalog)


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
    expand_site(data, tree, faults)
    fill_in_roles(data, catalog, tree)
    survey, tree = _validated(data, tree, faults)
    if survey is not None:
        told = {fault.where for fault in faults}
        faults.extend(fault for fault in cross_faults(survey, catalog, tree) if fault.where not in told)
        # A length or a part that did not fit has been told; what follows from it is none of its own.
        if survey.site is not None and not any(where.startswith("site") for where in told):
            faults.extend(site_faults(survey.site, tree))
    if faults or survey is None:
        raise InputError(tuple(sorted(faults, key=lambda fault: (fault.line, fault.column))))
    return survey


def _validated(data: dict[str, Any], tree: Tree, faults: list[Fault]) -> tuple[Survey | None, Tree]:
    """Return the survey, or what is left of it without the parts that do not fit, so that the rest is judged too.

    A part that is left out takes along what cannot be without it; that follows from the one fault, and is none of its own.
    """
    for _ in range(MOST_ROUNDS):
        try:
            return Survey.model_validate(data), tree
        except ValidationError as error:
            errors = error.errors()
        missing: dict[Path, bool] = {}
        for item in errors:
            path = real_path(item, data)
            missing[path] = missing.get(path, False) or (item["type"] == "missing" and not _holds(data, path))
        own = [item for item in errors if tree.in_file(as_written(real_path(item, data))) not in tree.dropped]
        faults.extend(fault_sentences(own, tree, data))
        tree = _without(
            data, tree, {path if not absent else path[:-1] for path, absent in missing.items()} | missing.keys()
        )
    return None, tree


def _without(data: dict[str, Any], tree: Tree, paths: Set[Path]) -> Tree:
    """Take parts out of plain data; return the tree that knows of it."""
    items: dict[str, set[int]] = {}
    dropped = set(tree.dropped)
    for path in paths:
        if not path:
            continue
        if isinstance(path[-1], int) and len(path) == 2 and path[0] in LISTS_OF_MODELS:
            items.setdefault(str(path[0]), set()).add(path[-1])
            dropped.add(tree.in_file(path))
            continue
        field = path[:-1] if isinstance(path[-1], int) else path
        dropped.add(tree.in_file(as_written(field)))
        holder = _at(data, field[:-1])
        if isinstance(holder, dict):
            holder.pop(field[-1], None)
    kept = dict(tree.kept)
    for name, out in items.items():
        before = kept.get(name, tuple(range(len(data[name]))))
        kept[name] = tuple(index for at, index in enumerate(before) if at not in out)
        data[name] = [item for at, item in enumerate(data[name]) if at not in out]
    for word, stand_in in STAND_INS.items():
        data.setdefault(word, stand_in)
    return replace(tree, kept=kept, dropped=frozenset(dropped))


def _at(data: Any, path: Path) -> Any:
    for step in path:
        data = data[step] if _has(data, step) else None
    return data


def _holds(data: Any, path: Path) -> bool:
    return _has(_at(data, path[:-1]), path[-1]) if path else True


def _has(data: Any, step: str | int) -> bool:
    if isinstance(data, list):
        return isinstance(step, int) and 0 <= step < len(data)
    return isinstance(data, dict) and step in data
