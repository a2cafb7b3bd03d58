"""What every shape of data out has in common: declared once, it is the schema, and it makes the plain data too.

The commands print these shapes with ``--json`` and write them beside the papers; the app's API answers with them, with
what belongs to a job added. Names and values for programs stay English whatever the reader's language; sentences for
people (``text``, ``title``, ``words`` ...) are in the language that was asked for.
"""

from __future__ import annotations

import json
import math
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field


def attribute(name: str) -> BeforeValidator:
    """Return what takes an attribute of a record, and anything else as it is."""
    return BeforeValidator(lambda value: getattr(value, name, value))


def rounded(digits: int) -> AfterValidator:
    """Return what rounds a number that is one."""
    return AfterValidator(lambda value: None if value is None else round(value, digits))


def as_ol(value: float | None) -> float | str | None:
    """Return what was read as JSON has it, which has no infinite numbers."""
    return "OL" if value == math.inf else value


Texts = tuple[str, ...]
Season = Literal["heating", "cooling"]
"""Said once: of two unions with the same words in another order Python keeps whichever came first."""
Pair = Annotated[tuple[str, ...], Field(min_length=2, max_length=2)]
Bound = Annotated[float | None, BeforeValidator(lambda v: None if v is None or math.isinf(v) else round(v, 3))]
"""An end of a range, in the unit beside it; null where it is open (OL, or no limit)."""
Name = Annotated[str, attribute("name")]
"""Of a survey, a route or a material that is given itself."""
Words = Annotated[str, attribute("words")]
"""Of a slip or a cause that is given itself."""
Slips = Annotated[Texts, BeforeValidator(lambda items: tuple(getattr(item, "words", item) for item in items))]


def file_bytes(data: dict[str, Any]) -> bytes:
    """Return plain data as a JSON file, for people's eyes too."""
    return (json.dumps(data, indent=2, ensure_ascii=False) + "\n").encode()


class Shape(BaseModel):
    """Base of every shape: no field but those declared, filled from the attributes of the records that it tells."""

    model_config = ConfigDict(frozen=True, extra="forbid", from_attributes=True)

    @classmethod
    def filled(cls, record: object = None, **more: Any) -> Self:
        """Return the shape of a record: what is not given beside it is read from its attributes.

        Fields go by the names that they are read by; one that may be left out and is in neither stays out.
        """
        names: list[Any] = [field.validation_alias or name for name, field in cls.model_fields.items()]
        found = {name: getattr(record, name) for name in names if name not in more and hasattr(record, name)}
        return cls.model_validate(found | more)

    def plain(self) -> dict[str, Any]:
        """Return the shape as JSON has it; what was left out is not there."""
        return self.model_dump(mode="json", by_alias=True, exclude_unset=True)

    def as_file(self) -> bytes:
        """Return the shape as a file of its own."""
        return file_bytes(self.plain())


class Told(Shape):
    """Base of what is told as one whole: format 1, within which no field goes away or changes its meaning."""

    format: Literal[1]

    @classmethod
    def filled(cls, record: object = None, **more: Any) -> Self:
        """Return the shape of a record, as a whole."""
        return super().filled(record, **({"format": 1} | more))


class FaultShape(Shape):
    """One thing that is wrong with the input."""

    file: str
    line: int = Field(description="From 1; 0 when there is none.")
    column: int
    field: str = Field(validation_alias="where", description="As in the file: cables.wall.conductors.red.to.")
    message: str = Field(description="What is wrong, and what would put it right.")


class FaultsShape(Told):
    """Any command with ``--json`` whose input cannot be read; exit code 2."""

    faults: tuple[FaultShape, ...]


class OpenShape(Shape):
    """One open fact of a survey."""

    field: str
    question: str = Field(validation_alias="text")
    how: str


class CheckSurveyShape(Told):
    """``subbase check-survey --json``."""

    survey: Name
    faults: tuple[FaultShape, ...]
    open: tuple[OpenShape, ...] = Field(validation_alias="open_facts")
    disagreements: Texts
    look_again: Texts = Field(description="What is likelier a slip of whoever wrote the survey than a fact.")


class LabelsShape(Told):
    """``subbase labels --json``."""

    survey: Name
    labels: int
    files: Texts = Field(description="Below the folder of --out.")
    shortened: int = Field(description="Labels that had no room for every line.")


class DataShape(Told):
    """``subbase data --json``."""

    survey: Name
    verdict: Literal["planned", "stopped", "question"]
    files: dict[str, str] = Field(description="File below the folder of --out -> its SHA-256.")
