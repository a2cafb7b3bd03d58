"""Rows become facts: every cell read by its field's own rules, or refused with what would put it right.

A cell that says nothing is unknown. A cell that says something impossible refuses the row: to take it for unknown would
hide that columns were swapped, and to guess is worse.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping as Map
from dataclasses import dataclass, field

from subbase.fleet.fields import FIELD, FIELDS, LETTERS, MISSING, NO, WHERE_ONLY, YES, FieldOf
from subbase.fleet.mapping import Mapping
from subbase.survey.faults import nearest
from subbase.survey.yaml_tree import plain_words
from subbase.words import _

Value = str | float | bool | tuple[str, ...] | None
LONGEST_CELL = 200
_NUMBER = re.compile(r"([-+]?[0-9]+(?:[.,][0-9]+)?)\s*([^\d\s]\S*)?")
_SPELT = re.compile("|".join(sorted(LETTERS, key=len, reverse=True)), re.IGNORECASE)
_PROPER = {letter.casefold(): letter for letter in LETTERS}
WIRING_FIELDS = tuple(item.name for item in FIELDS if item.name not in WHERE_ONLY)


@dataclass(frozen=True, slots=True)
class Wrong:
    """Why a row is refused: the field, what stood there, and what would put it right."""

    field: str
    value: str
    message: str


@dataclass(frozen=True, slots=True)
class Record:
    """One home as its row tells it; facts that are not known are left out."""

    home: str
    area: str
    day: str
    climate: str
    floor_area_m2: float | None
    facts: tuple[tuple[str, Value], ...]
    """In the order of ``fields.FIELDS``; those the wiring depends on."""


@dataclass(slots=True)
class RecordReader:
    """Reads rows by one mapping; each different cell is read once."""

    mapping: Mapping
    _cells: dict[str, dict[str, Value | Wrong]] = field(default_factory=dict)

    def read(self, cells: Map[str, str]) -> Record | tuple[Wrong, ...]:
        """Return the record in a row (field -> cell), or everything that refuses it."""
        values: dict[str, Value] = {}
        wrong: list[Wrong] = []
        for name in self.mapping.columns:
            value = self._value(name, cells.get(name) or "")
            if isinstance(value, Wrong):
                wrong.append(value)
            elif value is not None:
                values[name] = value
        home = values.pop("id", None)
        if home is None and not any(item.field == "id" for item in wrong):
            wrong.append(Wrong("id", "", _("The row has no id; without one nobody can find the home again.")))
        if wrong:
            return tuple(wrong)
        area_m2 = values.get("floor_area")
        return Record(
            home=str(home),
            area=str(values.get("area", "")),
            day=str(values.get("day", "")),
            climate=str(values.get("climate", "")),
            floor_area_m2=float(area_m2) if isinstance(area_m2, float) else None,
            facts=tuple((name, values[name]) for name in WIRING_FIELDS if name in values),
        )

    def _value(self, name: str, raw: str) -> Value | Wrong:
        known = self._cells.setdefault(name, {})
        if raw not in known:
            if len(known) > 50_000:  # ids are all different: a memory of them would only grow
                known.clear()
            known[raw] = read_cell(self.mapping, name, raw)
        return known[raw]


def declared_values(mapping: Mapping) -> dict[str, Value]:
    """Return what the desk declares for homes that say nothing.

    Raises
    ------
    ValueError
        When a declared value could not stand in a cell; the message says why.
    """
    found: dict[str, Value] = {}
    for name, stated in mapping.declared.items():
        text = {True: "yes", False: "no"}.get(stated.value, "") if isinstance(stated.value, bool) else str(stated.value)
        unit = f" {stated.unit}" if stated.unit else ""
        value = read_cell(mapping, name, f"{text}{unit}")
        if isinstance(value, Wrong):
            raise ValueError(f"declared.{name}: {value.message}")
        if value is not None:
            found[name] = value
    return found


def read_cell(mapping: Mapping, name: str, raw: str) -> Value | Wrong:
    """Return what a cell says of one fact; None where it says nothing."""
    item = FIELD[name]
    text = plain_text(raw)
    column = mapping.columns.get(name)
    synonyms = {key.casefold(): value for key, value in column.values.items()} if column is not None else {}
    text = synonyms.get(text.casefold(), text)
    if text.casefold() in MISSING or text in mapping.missing:
        return None
    if len(text) > LONGEST_CELL:
        return Wrong(name, raw, _("A cell holds at most {count} characters.").format(count=LONGEST_CELL))
    unit = column.unit if column is not None else None
    match item.kind:
        case "text":
            return text
        case "flag":
            return _flag(item, text)
        case "choice":
            return _choice(item, text)
        case "letters":
            return _letters(item, text)
        case "number":
            return _number(item, text, unit)


def plain_text(raw: str) -> str:
    """Return a cell's text as it is compared: characters that look alike are one, blanks too, what is no print is gone."""
    text = " ".join((raw if raw.isascii() else unicodedata.normalize("NFKC", raw)).split())
    return text if text.isprintable() else "".join(c for c in text if c.isprintable())


def _flag(item: FieldOf, text: str) -> Value | Wrong:
    if text.casefold() in YES:
        return True
    if text.casefold() in NO:
        return False
    return Wrong(item.name, text, _("'{text}' is neither yes nor no.").format(text=plain_words(text)))


def _choice(item: FieldOf, text: str) -> Value | Wrong:
    found = next((choice for choice in item.choices if choice.casefold() == text.casefold()), None)
    if found is not None:
        return found
    message = _("'{text}' is no word for '{field}'; {nearest}").format(
        text=plain_words(text), field=item.name, nearest=nearest(text, list(item.choices))
    )
    return Wrong(item.name, text, message)


def _letters(item: FieldOf, text: str) -> Value | Wrong:
    parts = [part for part in re.split(r"[\s,;+|]+", text) if part]
    if len(parts) == 1 and parts[0].casefold() not in _PROPER:
        spelt = _SPELT.findall(parts[0])
        parts = spelt if "".join(spelt).casefold() == parts[0].casefold() else parts
    found = [_PROPER.get(part.casefold()) for part in parts]
    if None in found:
        strange = parts[found.index(None)]
        message = _("'{text}' is no terminal letter; known are {letters}.").format(
            text=plain_words(strange), letters=" ".join(LETTERS)
        )
        return Wrong(item.name, text, message)
    if len(set(found)) < len(found):
        return Wrong(item.name, text, _("A letter stands twice; each terminal has one conductor here."))
    return tuple(letter for letter in LETTERS if letter in found)


def _number(item: FieldOf, text: str, unit: str | None) -> Value | Wrong:
    match = _NUMBER.fullmatch(text)
    if match is None:
        return Wrong(item.name, text, _("'{text}' is no number.").format(text=plain_words(text)))
    digits, own = match[1], match[2]
    if re.fullmatch(r"[-+]?[0-9]{1,3},[0-9]{3}", digits):
        message = _("'{text}' may be a thousand or a fraction; write it without the comma.").format(
            text=plain_words(text)
        )
        return Wrong(item.name, text, message)
    number = float(digits.replace(",", "."))
    factor = 1.0
    if item.units:
        factor = dict(item.units).get((own or unit or "").casefold(), 0.0)
        if not factor:
            known = ", ".join(word for word, __ in item.units)
            message = _("'{text}' has no unit that is known here ({units}); give one in the mapping.").format(
                text=plain_words(text), units=known
            )
            return Wrong(item.name, text, message)
        number *= factor
    elif own:
        return Wrong(item.name, text, _("'{text}' is no plain number.").format(text=plain_words(text)))
    if not item.least <= number <= item.most or (item.whole and number != int(number)):
        what = _("a whole number from {least:g} to {most:g}") if item.whole else _("from {least:g} to {most:g}")
        least, most = (float(f"{limit / factor:.4g}") for limit in (item.least, item.most))
        limits = what.format(least=least, most=most)
        message = _("'{text}' cannot be '{field}'; it is {what}.").format(
            text=plain_words(text), field=item.name, what=f"{limits} {own or unit or ''}".rstrip()
        )
        return Wrong(item.name, text, message)
    return number
