"""The mapping: which column of a list is which fact, in which words and units, and what the desk declares for all homes.

A TOML or YAML file. Nothing is filled in by itself: what a column does not say is unknown, unless the desk declares it
for the whole list, in writing, with how it is known; then every home bears it as told or assumed.
"""

from __future__ import annotations

import hashlib
import re
import tomllib
from collections.abc import Mapping as Map
from pathlib import Path
from typing import Annotated, Any, Literal

import yaml
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from subbase.errors import Fault, InputError, expected_words
from subbase.files import read_at_most
from subbase.fleet.fields import FIELD
from subbase.names import sentence
from subbase.survey import Profile
from subbase.survey.faults import nearest
from subbase.words import _

MOST_BYTES = 500_000


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Column(_Strict):
    """Where one fact stands."""

    column: str = Field(min_length=1, description="The column's heading.")
    unit: str | None = Field(default=None, description="Unit of its numbers, where a number does not bear its own.")
    values: dict[str, str] = Field(default={}, description="What the list writes -> the word used here; '' is unknown.")


class Declared(_Strict):
    """A fact that the desk states for every home of which the list says nothing."""

    value: str | float | bool = Field(description="As a cell would hold it.")
    known: Literal["told", "assumed"] = Field(description="How it is known; never 'seen', since nobody went there.")
    why: str = Field(min_length=3, description="Who says so, or on what ground.")
    unit: str | None = None


class Mapping(_Strict):
    """A whole mapping."""

    fleet: Literal[1] = Field(description="Version of this format: 1.")
    name: str = Field(default="", max_length=120, description="What the list is called on the report.")
    columns: dict[str, Column] = Field(description="Fact -> its column.")
    declared: dict[str, Declared] = Field(default={}, description="Fact -> what holds where the list is silent.")
    missing: tuple[str, ...] = Field(default=(), description="More words that mean: not known.")
    new_control: Profile = Field(description="The control that is to be fitted, as in a survey.")
    minutes_per_call: Annotated[int, Field(ge=0, le=600)] = Field(
        default=0, description="Minutes of each visit beside the plan's own: parking, talking, papers."
    )

    def digest(self) -> str:
        """Return what tells this mapping from any other."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()


def load_mapping(path: Path) -> Mapping:
    """Return the mapping in a TOML or YAML file.

    Raises
    ------
    InputError
        With every fault found.
    """
    raw = read_at_most(path, MOST_BYTES)
    return read_mapping(raw, str(path), as_toml=path.suffix.lower() == ".toml")


def read_mapping(raw: bytes, file: str, *, as_toml: bool) -> Mapping:
    """Return the mapping in one text.

    Raises
    ------
    InputError
        With every fault found.
    """
    try:
        text = raw.decode("utf-8-sig")
        data: Any = tomllib.loads(text) if as_toml else yaml.safe_load(text)
    except (ValueError, RecursionError, yaml.YAMLError) as error:
        words = str(error).splitlines()[0] if str(error) else type(error).__name__
        raise InputError((Fault(_("This is not readable: {error}.").format(error=words), file=file),)) from None
    if not isinstance(data, dict):
        raise InputError((Fault(_("A mapping is a set of named fields; this file holds something else."), file=file),))
    columns = data.get("columns")
    if isinstance(columns, dict):
        data = {**data, "columns": {k: {"column": v} if isinstance(v, str) else v for k, v in columns.items()}}
    try:
        made = Mapping.model_validate(data)
    except ValidationError as error:
        faults = (Fault(_wrong(item), ".".join(map(str, item["loc"])), file) for item in error.errors())
        raise InputError(tuple(faults)) from None
    faults_found = tuple(_own_faults(made, file))
    if faults_found:
        raise InputError(faults_found)
    return made


def _wrong(item: Map[str, Any]) -> str:
    """Return what a model has against a value, as a sentence."""
    words = re.findall(r"'([^']*)'|\b([0-9]+)\b", str(item.get("ctx", {}).get("expected", "")))
    if item["type"] == "literal_error" and words:
        return _("Expected one of: {words}.").format(words=", ".join(a or b for a, b in words))
    return sentence(expected_words(item))


def _own_faults(mapping: Mapping, file: str) -> list[Fault]:
    found: list[Fault] = []
    for group, names in (("columns", mapping.columns), ("declared", mapping.declared)):
        for name in names:
            if name not in FIELD:
                message = _("There is no fact '{name}'; {nearest}").format(
                    name=name, nearest=nearest(name, list(FIELD))
                )
                found.append(Fault(message, f"{group}.{name}", file))
    if "id" not in mapping.columns:
        found.append(Fault(_("Every list needs a column for 'id': what tells one home from another."), "columns", file))
    if "id" in mapping.declared:
        found.append(Fault(_("An id cannot be declared for all homes at once."), "declared.id", file))
    used: dict[str, str] = {}
    for name, item in mapping.columns.items():
        if item.column in used:
            message = _("Column '{column}' is already read as '{other}'; one column says one fact.").format(
                column=item.column, other=used[item.column]
            )
            found.append(Fault(message, f"columns.{name}", file))
        used.setdefault(item.column, name)
        found += _unit_faults(name, item.unit, f"columns.{name}.unit", file)
    for name, stated in mapping.declared.items():
        found += _unit_faults(name, stated.unit, f"declared.{name}.unit", file)
    return found


def _unit_faults(name: str, unit: str | None, where: str, file: str) -> list[Fault]:
    units = [word for word, __ in FIELD[name].units] if name in FIELD else []
    if unit is None or name not in FIELD or unit in units:
        return []
    if not units:
        return [Fault(_("'{name}' has no unit.").format(name=name), where, file)]
    message = _("'{unit}' is not a unit of '{name}'; {nearest}").format(
        unit=unit, name=name, nearest=nearest(unit, units)
    )
    return [Fault(message, where, file)]
