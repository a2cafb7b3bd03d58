"""Every shape of what commands print with ``--json``, by the name of its schema."""

from __future__ import annotations

from typing import Any

from pydantic import TypeAdapter

from subbase.cli.data_shapes import ChecksShape, CheckSurveyShape, DataShape, FaultsShape, LabelsShape, PlanShape, Shape
from subbase.cli.house_shapes import SiteShape, TuneShape
from subbase.cli.work_shapes import CheckedShape, DiagnosisShape, SheetShape, TraceShape, WorkShape

DIALECT = "https://json-schema.org/draft/2020-12/schema"
SHAPES: dict[str, type[Shape]] = {
    "plan": PlanShape,
    "checks": ChecksShape,
    "work": WorkShape,
    "check-sheet": SheetShape,
    "check": CheckedShape,
    "trace": TraceShape,
    "diagnose": DiagnosisShape,
    "site": SiteShape,
    "tune": TuneShape,
    "check-survey": CheckSurveyShape,
    "labels": LabelsShape,
    "data": DataShape,
    "faults": FaultsShape,
}
"""Name of a schema -> its shape."""


def schema_of(name: str) -> dict[str, Any]:
    """Return the JSON Schema of what a command prints."""
    shape = SHAPES[name]
    return {"$schema": DIALECT, "title": name} | TypeAdapter(shape).json_schema(mode="serialization")
