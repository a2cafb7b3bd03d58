"""A survey written out again as a survey file has it, so that whatever reads a file reads what a program was given."""

from __future__ import annotations

from typing import Any

from subbase.survey.model import Survey

Data = dict[str, Any]


def file_form(survey: Survey) -> Data:
    """Return a survey as plain data in the file's own words; what is as it is when left out is left out.

    ``read_survey`` of it gives the same survey again. Lengths bear their unit (``12.192 m``), what is not known is
    ``unknown`` or ``{either: [...]}``, and a conductor's colours are always told.
    """
    found: Data = _plain(survey.model_dump(mode="json", by_alias=True, exclude_defaults=True))
    for name, item in survey.equipment.items():
        if "role" in item.model_fields_set:
            # Beside a heat pump it says something that the same words left out would not.
            found["equipment"][name]["role"] = item.role
    for name, cable in survey.cables.items():
        shown: Data = found["cables"][name]
        shown["length"] = _length(shown.pop("length_m"))
        for wire, conductor in cable.conductors.items():
            shown["conductors"][wire]["colours"] = list(conductor.colours)
    return found


def _length(value: Any) -> Any:
    if isinstance(value, dict):
        return {"either": [_length(item) for item in value["either"]]}
    return value if isinstance(value, str) else f"{value!r} m"


def _plain(data: Any) -> Any:
    """Return the data with the words of a file for what is not known."""
    if isinstance(data, dict):
        if data.get("unknown") is True:
            return {"either": data["either"]} if data.get("either") else "unknown"
        return {key: _plain(value) for key, value in data.items()}
    return [_plain(item) for item in data] if isinstance(data, list) else data


__all__ = ["file_form"]
