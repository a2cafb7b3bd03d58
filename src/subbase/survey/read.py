"""A survey file read whole: every fault at once, or the survey."""

from __future__ import annotations

from pathlib import Path

from pydantic import ValidationError

from subbase.catalog import Catalog, load_catalog
from subbase.errors import Fault, InputError
from subbase.survey.cross import cross_faults
from subbase.survey.faults import fault_sentences
from subbase.survey.model import Survey
from subbase.survey.shorthand import expand
from subbase.survey.yaml_tree import MOST_BYTES, read_tree


def load_survey(path: Path | str, catalog: Catalog | None = None) -> Survey:
    """Return the survey in a YAML or JSON file.

    Raises
    ------
    InputError
        With every fault found: file, line, column, field, what was expected.
    """
    path = Path(path)
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
    faults: list[Fault] = []
    data = expand(tree, faults)
    if not data and faults:
        raise InputError(tuple(faults))
    try:
        survey = Survey.model_validate(data)
    except ValidationError as error:
        faults.extend(fault_sentences(error.errors(), tree, data))
        raise InputError(tuple(faults)) from None
    faults.extend(cross_faults(survey, catalog, tree))
    if faults:
        raise InputError(tuple(sorted(faults, key=lambda fault: (fault.line, fault.column))))
    return survey
