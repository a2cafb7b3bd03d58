"""A survey written out for programs is read as the survey that it was."""

from __future__ import annotations

import json

import jsonschema
import pytest

from subbase.catalog import load_catalog
from subbase.errors import InputError
from subbase.survey import Survey, load_survey
from subbase.survey.file_form import file_form
from subbase.survey.read import read_survey
from subbase.survey.schema import survey_schema
from tests.houses import EXAMPLES

OPEN = """survey: 1
name: Open house
units: si
equipment:
  furnace: {kind: {either: [gas-furnace-1, gas-furnace-2]}}
controls:
  hall:
    old: {terminals: [R, W], power: battery, wiring: unknown}
cables:
  wall: {from: hall, to: furnace, length: {either: [4, 9.5 m]}, gauge: unknown, conductors: {red: R, white: {from: unknown, to: {either: [W, loose]}}, red 2: {from: loose, to: loose, colours: [grey, ""]}}}
jumpers: [{between: [hall.R, hall.W], present: unknown}]
"""


def _houses() -> list[Survey]:
    catalog = load_catalog(())
    return [
        *(load_survey(file, catalog) for file in sorted(EXAMPLES.glob("*.yaml"))),
        read_survey(OPEN.encode(), "open", catalog),
    ]


@pytest.mark.parametrize("survey", _houses(), ids=lambda survey: survey.name[:30])
def test_what_is_written_out_reads_back_the_same(survey: Survey) -> None:
    """Nothing is lost on the way to a program and back, and the survey's schema holds."""
    written = file_form(survey)
    jsonschema.Draft202012Validator(survey_schema()).validate(written)
    assert read_survey(json.dumps(written).encode(), "again", load_catalog(())) == survey


def test_a_models_own_names_are_no_words_of_a_file() -> None:
    """What the model calls its fields inside would not be read, so that it is not written."""
    survey = read_survey(OPEN.encode(), "open", load_catalog(()))
    inner = survey.model_dump(mode="json", by_alias=True, exclude_defaults=True)
    with pytest.raises(InputError):
        read_survey(json.dumps(inner).encode(), "inner", load_catalog(()))
    assert "length_m" not in json.dumps(file_form(survey))
