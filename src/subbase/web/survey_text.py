"""A survey text as far as it can be read: by the server, and by the pocket in a browser."""

from __future__ import annotations

from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.errors import Fault, InputError
from subbase.survey import Survey
from subbase.survey.read import read_survey


@dataclass(frozen=True, slots=True)
class Read:
    """A survey text as it can be read: the survey, or everything that is wrong with it."""

    survey: Survey | None
    faults: tuple[Fault, ...] = ()


def read_text(text: str, catalog: Catalog) -> Read:
    """Return a survey text as it can be read; an empty one is neither a survey nor wrong."""
    if not text.strip():
        return Read(None)
    try:
        return Read(read_survey(text.encode(), "survey", catalog))
    except InputError as error:
        return Read(None, error.faults)
