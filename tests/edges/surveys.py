"""One good survey as text, spoilt in one way or another, and what reading it says."""

from __future__ import annotations

from subbase.errors import Fault, InputError
from subbase.survey import Survey, read_survey
from tests.houses import EXAMPLES

GOOD = (EXAMPLES / "01-no-common-spare-blue.yaml").read_text()
FILE = "house.yaml"


def changed(old: str, new: str) -> str:
    """Return the good survey with one part of its text replaced."""
    assert GOOD.count(old) == 1, f"{old!r} must be in the good survey once"
    return GOOD.replace(old, new)


def line_of(text: str, part: str) -> int:
    """Return the line, counted from 1, in which a part of a text begins."""
    return text[: text.index(part)].count("\n") + 1


def survey_of(text: str) -> Survey:
    """Read a survey that is right."""
    return read_survey(text.encode(), FILE)


def faults_of(text: str | bytes) -> tuple[Fault, ...]:
    """Return everything that is wrong with a survey."""
    try:
        read_survey(text if isinstance(text, bytes) else text.encode(), FILE)
    except InputError as error:
        return error.faults
    return ()


def only_fault(text: str | bytes) -> Fault:
    """Return the one fault of a survey."""
    faults = faults_of(text)
    assert len(faults) == 1, [str(fault) for fault in faults]
    return faults[0]
