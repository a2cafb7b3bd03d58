"""Rooms read from a survey, or from a file of their own, with every fault at its line.

A file of its own holds ``name``, ``units``, ``place`` and ``site``, the same words as in a survey.
"""

from __future__ import annotations

from pathlib import Path as FilePath
from typing import Literal

from pydantic import Field, ValidationError

from subbase.catalog import Catalog
from subbase.errors import InputError
from subbase.files import read_at_most
from subbase.survey.faults import fault_sentences
from subbase.survey.model import Frozen, Place
from subbase.survey.read import read_survey
from subbase.survey.rooms import Site
from subbase.survey.rooms_check import site_faults
from subbase.survey.rooms_words import expand_site
from subbase.survey.shorthand import expand
from subbase.survey.yaml_tree import MOST_BYTES, Tree, read_tree
from subbase.words import _


class SiteFile(Frozen):
    """A house's rooms with what else is needed to place a control in them."""

    name: str = Field(min_length=1, max_length=120, description="What the job is called.")
    units: Literal["us", "si"] = Field(default="us", description="Units of lengths in the file and on the papers.")
    place: Place = Field(default=Place(), description="Where and how old the house is.")
    site: Site = Field(description="The rooms.")


def load_site(path: FilePath | str, catalog: Catalog | None = None) -> SiteFile:
    """Return the rooms in a survey, or in a file that holds rooms alone.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = FilePath(path)
    return read_site(read_at_most(path, MOST_BYTES), str(path), catalog)


def read_site(raw: bytes, file: str = "", catalog: Catalog | None = None) -> SiteFile:
    """Return the rooms in YAML or JSON text; ``file`` is the name that faults bear.

    Raises
    ------
    InputError
        As ``load_site``.
    """
    tree = read_tree(raw, file)
    if not isinstance(tree.data, dict):
        raise InputError((tree.fault((), _("This file holds no named fields; rooms are written under 'site'.")),))
    if "survey" in tree.data or "controls" in tree.data:
        survey = read_survey(raw, file, catalog)
        if survey.site is None:
            message = _("This survey has no rooms; write them under 'site', or in a file of their own.")
            raise InputError((tree.fault((), message),))
        return SiteFile(name=survey.name, units=survey.units, place=survey.place, site=survey.site)
    return _read_alone(tree)


def _read_alone(tree: Tree) -> SiteFile:
    faults = list(tree.faults)
    data = expand(tree, faults)
    data.pop("known")
    expand_site(data, tree, faults)
    try:
        found = SiteFile.model_validate(data)
    except ValidationError as error:
        faults += fault_sentences(error.errors(), tree, data)
    else:
        faults += [] if faults else site_faults(found.site, tree)
        if not faults:
            return found
    raise InputError(tuple(sorted(faults, key=lambda fault: (fault.line, fault.column))))
