"""What the model has against a file, said as sentences a person can act on."""

from __future__ import annotations

import re
from difflib import get_close_matches
from typing import Any

from pydantic_core import ErrorDetails

from subbase.errors import ONE_VALUE, Fault, expected_words
from subbase.survey.fields import FILE_WORD, field_at, file_word, may_be_unknown, model_at
from subbase.survey.model import Conductor
from subbase.survey.yaml_tree import Path, Tree, plain_words
from subbase.words import _

MOST_COMPARED = 200
"""With more valid words than this, the nearest is not looked for."""
_LITERAL = re.compile(r"'([^']*)'")


def nearest(word: str, valid: list[str]) -> str:
    """Return a clause that names the nearest valid word, or all of them when few."""
    valid = list(dict.fromkeys(valid))
    close = get_close_matches(word.lower(), [v.lower() for v in valid[:MOST_COMPARED]], n=1, cutoff=0.5)
    if close:
        return _("did you mean '{word}'?").format(word=plain_words(next(v for v in valid if v.lower() == close[0])))
    shown = ", ".join(map(plain_words, valid[:16])) + (", ..." if len(valid) > 16 else "")
    return _("valid here: {shown}.").format(shown=shown) if valid else _("nothing is valid here.")


def fault_sentences(errors: list[ErrorDetails], tree: Tree, data: Any) -> list[Fault]:
    """Return one fault for each place that the model refuses, in the file's order."""
    by_place: dict[Path, list[ErrorDetails]] = {}
    for error in errors:
        by_place.setdefault(real_path(error, data), []).append(error)
    faults = [
        tree.fault(as_written(path), _sentence(as_written(path), group, _at(data, path)))
        for path, group in by_place.items()
    ]
    return sorted(faults, key=lambda fault: (fault.line, fault.column))


def as_written(path: Path) -> Path:
    """Return a path with the file's words in place of the model's own."""
    return tuple(FILE_WORD.get(step, step) if isinstance(step, str) else step for step in path)


def real_path(error: ErrorDetails, data: Any) -> Path:
    """Return the part of an error's location that stands in the file, without the model's own type names.

    What is missing from a list of fixed length is the list's fault.
    """
    path: list[str | int] = []
    here: Any = data
    for step in error["loc"]:
        key = _key_in(here, step)
        if key is not None:
            here = here[key]
        else:
            if error["type"] in ("missing", "extra_forbidden") and step == error["loc"][-1] and isinstance(here, dict):
                path.append(step)
            break
        path.append(key)
    return tuple(path)


def _key_in(here: Any, step: int | str) -> Any:
    """Return the key or index under which a step of a location stands in plain data; None when it does not."""
    if isinstance(here, list):
        return step if isinstance(step, int) and step < len(here) else None
    if isinstance(here, dict):
        return next((key for key in (step, str(step)) if key in here), None)
    return None


def _sentence(path: Path, group: list[ErrorDetails], seen: Any) -> str:
    kinds = {error["type"] for error in group}
    error = group[0]
    word = _word(path)
    if kinds == {"missing"} and not isinstance(seen, list):
        return _("{word} is missing: {description}").format(word=word, description=_description(path))
    if kinds == {"extra_forbidden"}:
        holder = model_at(path[:-1])
        fields = [file_word(name, field) for name, field in holder.model_fields.items()] if holder else []
        return _("{word} is not a field here; {nearest}").format(word=word, nearest=nearest(str(path[-1]), fields))
    if path == ("survey",) and "int" not in error["type"]:
        return _("{seen} is a version of the survey that is not known here; this program reads version 1.").format(
            seen=_shown(seen)
        )
    if any(e["loc"][-1] == "[key]" for e in group):
        return _("'{path}' cannot stand here: {expected_type}.").format(
            path=plain_words(str(path[-1])), expected_type=_expected_type(error)
        )
    literals = [e for e in group if e["type"] in ("literal_error", "enum")]
    if literals and isinstance(seen, str):
        valid = [v for e in literals for v in _LITERAL.findall(str(e.get("ctx", {}).get("expected", "")))]
        return _("{seen} is not valid for {word}; {nearest}").format(
            seen=_shown(seen), word=word, nearest=nearest(seen, valid)
        )
    return (
        _("{seen} is not valid for {word}: {expected}. {description}")
        .format(seen=_shown(seen), word=word, expected=_expected(error, path, seen), description=_description(path))
        .rstrip()
    )


def _word(path: Path) -> str:
    """Return what a field is called in a sentence: ``'between'``, or ``item 2 of 'between'``."""
    steps = list(path)
    number = 0
    while steps and isinstance(steps[-1], int):
        number = int(steps.pop()) + 1
    field = f"'{plain_words(str(steps[-1])) if steps else 'survey'}'"
    return _("item {number} of {field}").format(number=number, field=field) if number else field


def _expected(error: ErrorDetails, path: Path, seen: Any) -> str:
    expected = _expected_type(error)
    if expected == _(ONE_VALUE) and model_at(path[:-1]) is Conductor and path[-1] in ("from", "to"):
        return _("an end lands on one terminal, is loose, cut short or unknown; what joins two terminals is a jumper")
    if isinstance(seen, list) and error["type"] in ("missing", "too_short", "too_long"):
        said = (
            _("expected two items, not {count}")
            if path[-1] in ("between", "colours")
            else _("expected at least one item, not {count}")
        )
        return said.format(count=len(seen))
    return _("{expected}, or unknown").format(expected=expected) if may_be_unknown(path) else expected


def _expected_type(error: ErrorDetails) -> str:
    said = expected_words(error)
    return f"{said[:1].lower()}{said[1:]}"


def _at(data: Any, path: Path) -> Any:
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return _("A set of fields")
    if isinstance(value, list):
        return _("A list")
    return f"'{plain_words(str(value))}'" if value != "" else _("Nothing")


def _description(path: Path) -> str:
    field = field_at(path)
    return _(field.description or "") if field else ""
