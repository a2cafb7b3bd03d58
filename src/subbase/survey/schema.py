"""The JSON Schema of the survey as people write it, and of a catalogue kind; in English, since programs read it.

It comes from the models, with the short ways of writing added (see ``shorthand``), so that it cannot drift from them.
"""

from __future__ import annotations

from typing import Any

from subbase.catalog import Kind
from subbase.survey.fields import MODELS
from subbase.survey.model import LONGEST_M, How, Survey
from subbase.units import METRES_PER_FOOT

DIALECT = "https://json-schema.org/draft/2020-12/schema"
LONGEST_FT = LONGEST_M / METRES_PER_FOOT
_LANDING = "TERMINAL, PLACE.TERMINAL, 'loose', 'cut short', 'unknown' or {either: [...]}"


def survey_schema() -> dict[str, Any]:
    """Return the JSON Schema of a survey file, version 1."""
    schema = Survey.model_json_schema(by_alias=True)
    definitions = schema["$defs"]
    definitions["Unknown"] = {
        "title": "Unknown",
        "description": "A fact not known: the word 'unknown', or {either: [...]} with what it may be.",
        "anyOf": [
            {"const": "unknown"},
            {
                "type": "object",
                "properties": {"either": {"type": "array", "items": {"type": ["string", "number", "boolean"]}, "minItems": 1}},
                "required": ["either"],
                "additionalProperties": False,
            },
        ],
    }  # fmt: skip
    _write_length(definitions["Cable"])
    landing = {"anyOf": [{"type": "string"}, {"$ref": "#/$defs/Unknown"}], "description": _LANDING}
    conductor = definitions["Conductor"]
    conductor["properties"] |= {"from": landing, "to": landing, "colour": {"type": "string"}}
    written = {"anyOf": [landing, {"$ref": "#/$defs/Conductor"}]}
    definitions["ConductorAsWritten"] = {"anyOf": [written, _with_how_known(written)]}
    definitions["Cable"]["properties"]["conductors"]["additionalProperties"] = {"$ref": "#/$defs/ConductorAsWritten"}
    definitions["JumperAsWritten"] = {
        "anyOf": [
            {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
            {"$ref": "#/$defs/Jumper"},
        ]
    }
    schema["properties"]["jumpers"]["items"] = {"$ref": "#/$defs/JumperAsWritten"}
    _allow_how_known(definitions, schema)
    return {"$schema": DIALECT, "$id": "urn:subbase:survey:1", **schema, "title": "Survey, version 1"}


def kind_schema() -> dict[str, Any]:
    """Return the JSON Schema of a catalogue kind (the TOML file as data)."""
    return {
        "$schema": DIALECT,
        "$id": "urn:subbase:kind:1",
        **Kind.model_json_schema(by_alias=True),
        "title": "Catalogue kind",
    }


def _write_length(cable: dict[str, Any]) -> None:
    """Files say ``length``, in the survey's units; the model holds metres."""
    cable["properties"].pop("length_m")
    cable["properties"]["length"] = {
        "anyOf": [
            {"type": "number", "exclusiveMinimum": 0, "maximum": LONGEST_FT},
            {"type": "string"},
            {"$ref": "#/$defs/Unknown"},
        ],
        "description": "One way, in the survey's units, or with its unit: '40 ft', '12 m'.",
    }
    cable["required"] = [name if name != "length_m" else "length" for name in cable["required"]]


def _allow_how_known(definitions: dict[str, Any], schema: dict[str, Any]) -> None:
    """Any field of a part of the house may be written ``{value: ..., known: seen|measured|told|assumed}``."""
    for name in {found.__name__ for found in MODELS.values()} - {Survey.__name__}:
        properties = definitions[name]["properties"]
        for field, declared in properties.items():
            properties[field] = {"anyOf": [declared, _with_how_known(declared)]}
    schema["description"] = (
        "What was found at one address. Fields that are not known are 'unknown' or left out, never guessed."
    )


def _with_how_known(declared: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": {"value": declared, "known": {"type": "string", "enum": [how.value for how in How]}},
        "required": ["value"],
        "additionalProperties": False,
    }
