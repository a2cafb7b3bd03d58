"""Whatever a file holds, reading it gives a survey or a list of faults, each a sentence; never anything else."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from random import Random
from typing import Any

import jsonschema
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.errors import InputError
from subbase.survey import Survey, read_survey
from subbase.survey.schema import survey_schema
from tests.houses import EXAMPLES

ANY = settings(max_examples=300, deadline=None, derandomize=True, database=None)
HOUSES = tuple(yaml.safe_load(path.read_text()) for path in sorted(EXAMPLES.glob("*.yaml")))
WORDS = [
    "survey",
    "name",
    "units",
    "place",
    "transformers",
    "equipment",
    "controls",
    "cables",
    "jumpers",
    "signs",
    "readings",
    "wishes",
    "known",
    "notes",
    "kind",
    "at",
    "role",
    "serves",
    "zones",
    "nameplate",
    "without",
    "from",
    "to",
    "length",
    "gauge",
    "conductors",
    "colours",
    "colour",
    "old",
    "new",
    "terminals",
    "power",
    "supplies",
    "wiring",
    "between",
    "volts",
    "ohms",
    "call",
    "control",
    "present",
    "va",
    "class_2",
    "value",
    "either",
    "unknown",
    "from_",
    "length_m",
    "gauge_awg",
    "us",
    "si",
    "hall",
    "furnace",
    "hall.R",
    "R",
    "C",
    "W1",
    "loose",
]
ODD: tuple[Any, ...] = (
    "unknown", "", "loose", "cut short", "joint 1", "hall.R", ".", "a.b.c", "nan", "-1", 0, 1e9, 1e-9, True, None, {}, [], ["R", "C"],
    {"either": ["R", "C"]}, {"either": []}, {"either": [["R"]]}, {"value": 3, "known": "told"}, {"value": {"value": "R"}},
    {"unknown": True}, {"from": "R"}, "x" * 60, "R\u200dC", "12 m", "40 ft",
)  # fmt: skip

scalars = st.one_of(st.sampled_from(WORDS), st.integers(), st.floats(), st.booleans(), st.none(), st.text(max_size=20))
anything = st.recursive(
    scalars,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.one_of(st.sampled_from(WORDS), st.text(max_size=8)), inner, max_size=5),
    ),
    max_leaves=30,
)


def read(raw: bytes) -> Survey | None:
    """Read a survey; hold each fault, if there are any, to being one printable sentence."""
    try:
        return read_survey(raw, "house.yaml")
    except InputError as error:
        faults = error.faults
    assert faults
    for fault in faults:
        assert fault.message[0].isupper() or fault.message[0] == "'", fault.message
        assert fault.message[-1] in ".?", fault.message
        assert str(fault).isprintable()
        assert fault.line >= 0
    return None


@ANY
@given(st.one_of(st.binary(), st.text().map(str.encode)))
def test_any_bytes_give_faults_that_are_sentences(raw: bytes) -> None:
    """Arbitrary bytes and arbitrary text are never a survey and never crash the reader."""
    assert read(raw) is None


@ANY
@given(anything)
def test_any_data_gives_faults_that_are_sentences(data: Any) -> None:
    """Arbitrary data, written as JSON and as YAML, are never a survey and never crash the reader."""
    assert read(json.dumps(data).encode()) is None
    assert read(yaml.safe_dump(data, allow_unicode=True).encode()) is None


@settings(ANY, max_examples=600)
@given(st.sampled_from(HOUSES), st.randoms(use_true_random=False))
def test_any_spoilt_copy_gives_a_survey_or_faults_that_are_sentences(house: dict[str, Any], rng: Random) -> None:
    """Values exchanged, moved, taken out or put in anywhere in a good survey never crash the reader."""
    read(json.dumps(spoilt(house, rng)).encode())


@settings(ANY, max_examples=600)
@given(st.sampled_from(HOUSES), st.randoms(use_true_random=False))
def test_what_the_reader_accepts_the_schema_accepts(house: dict[str, Any], rng: Random) -> None:
    """The JSON Schema, scalars taken for text as the reader does, refuses nothing that can be read."""
    data = spoilt(house, rng)
    if read(json.dumps(data).encode()) is not None:
        LOOSE_SCHEMA.validate(data)


def spoilt(house: dict[str, Any], rng: Random) -> dict[str, Any]:
    """Return a copy of a house's data with one to three parts changed."""
    data = copy.deepcopy(house)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        holder, key = rng.choice(list(slots(data)))
        odd = copy.deepcopy(rng.choice(ODD))
        match rng.choice(("replace", "replace", "exchange", "drop", "put in", "rename")):
            case "replace":
                holder[key] = odd
            case "exchange":
                other, there = rng.choice(list(slots(data)))
                holder[key] = copy.deepcopy(other[there])
            case "drop":
                del holder[key]
            case "put in" if isinstance(holder, dict):
                holder[rng.choice(WORDS)] = odd
            case "rename" if isinstance(holder, dict):
                holder[rng.choice(WORDS)] = holder.pop(key)
            case _:
                holder.append(odd) if isinstance(holder, list) else None
        data = data or {"survey": 1}
    return data


def slots(data: Any) -> Iterator[tuple[Any, Any]]:
    """Iterate over (mapping or list, key or index) of every part of plain data."""
    for key in list(data) if isinstance(data, dict) else range(len(data)):
        yield data, key
        if isinstance(data[key], dict | list):
            yield from slots(data[key])


def loosened(schema: Any) -> Any:
    """Return a JSON Schema in which every scalar may also be given as another: to the reader all are text."""
    if isinstance(schema, list):
        return [loosened(item) for item in schema]
    if not isinstance(schema, dict):
        return schema
    loose = {key: loosened(value) for key, value in schema.items()}
    if loose.get("type") in ("string", "number", "integer", "boolean"):
        loose["type"] = ["string", "number", "boolean", "null"]
    return loose


LOOSE_SCHEMA = jsonschema.Draft202012Validator(loosened(survey_schema()))
