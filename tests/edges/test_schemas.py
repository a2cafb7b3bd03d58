"""The JSON Schemas that ``subbase schema`` prints: good schemas, and true of what is read."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from subbase.cli import main
from tests.edges.surveys import GOOD, changed
from tests.houses import EXAMPLES

KINDS = sorted((EXAMPLES.parent / "src/subbase/catalog/kinds").glob("*.toml"))


def schema_of(what: str) -> dict[str, Any]:
    """Return what ``subbase schema`` prints."""
    printed: dict[str, Any] = json.loads(CliRunner().invoke(main, ["schema", what]).stdout)
    return printed


@pytest.mark.parametrize("what", ["survey", "kind"])
def test_a_schema_is_a_schema(what: str) -> None:
    """Each schema names its dialect and holds against that dialect's own schema."""
    schema = schema_of(what)
    assert schema["$schema"] == jsonschema.Draft202012Validator.META_SCHEMA["$id"]
    jsonschema.Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.yaml")), ids=lambda path: path.stem)
def test_every_example_is_valid_by_the_schema(path: Path) -> None:
    """An example as any YAML reader gives it is valid."""
    jsonschema.Draft202012Validator(schema_of("survey")).validate(yaml.safe_load(path.read_text()))


@pytest.mark.parametrize("path", KINDS, ids=lambda path: path.stem)
def test_every_kind_is_valid_by_the_schema(path: Path) -> None:
    """A kind's TOML as data is valid."""
    jsonschema.Draft202012Validator(schema_of("kind")).validate(tomllib.loads(path.read_text()))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("blue: loose", "blue: unknown"),
        ("blue: loose", "blue: {value: loose, known: told}"),
        ("blue: loose", "blue: {from: loose, to: {either: [C, loose]}, colour: blue}"),
        ("length: 45 ft", "length: {value: {either: [12 m, 45]}, known: assumed}"),
        ("readings:", "jumpers: [[hall.R, hall.W], {between: [hall.R, hall.G], present: unknown}]\nreadings:"),
    ],
)
def test_the_short_ways_of_writing_are_valid_by_the_schema(old: str, new: str) -> None:
    """What the reader takes for short is in the schema too."""
    jsonschema.Draft202012Validator(schema_of("survey")).validate(yaml.safe_load(changed(old, new)))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("survey: 1", "survey: 2"),
        ("name: Lilac Court 3 (invented)", "nam: x"),
        ("units: us", "units: imperial"),
        ("length: 45 ft", "length: -45"),
        ("length: 45 ft", "length: {either: []}"),
        ("length: 45 ft", "length_m: 4"),
        ("terminals: [R, W, Y, G]", "terminals: R"),
        ("power: none", "power: some"),
        ("blue: loose", "blue: {from: loose}"),
        ("blue: loose", "blue: [R, C]"),
        ("blue: loose", "blue: {value: loose, known: guessed}"),
        ("[hall.R, hall.G]", "[hall.R]"),
        ("kind: gas-furnace-1", "kind: [gas-furnace-1]"),
    ],
)
def test_what_no_reader_takes_the_schema_refuses(old: str, new: str) -> None:
    """Wrong words, types and numbers are not valid by the schema."""
    data = yaml.safe_load(changed(old, new))
    assert not jsonschema.Draft202012Validator(schema_of("survey")).is_valid(data)
    assert jsonschema.Draft202012Validator(schema_of("survey")).is_valid(yaml.safe_load(GOOD))
