"""A thin record becomes a survey: what it tells is put in, what it does not tell is unknown.

Where a record is too thin to draw any house (nobody knows what heats, or which letters have a conductor) there is no
survey yet, only the question to ask. Where its facts cannot stand together, the row is refused.
"""

from __future__ import annotations

from collections.abc import Mapping as Map
from dataclasses import dataclass

from subbase.catalog import Catalog, TransformerPart
from subbase.fleet.houses import House, house_of
from subbase.fleet.mapping import Mapping
from subbase.fleet.records import Value, Wrong
from subbase.survey import (
    CUT_SHORT,
    LOOSE,
    Cable,
    Conductor,
    Control,
    Equipment,
    How,
    Jumper,
    Profile,
    Reading,
    Survey,
    Unknown,
)
from subbase.survey.model import Place
from subbase.words import _, mark

WALL = "hall"
ENOUGH_TO_STOP = ("line voltage", "millivolt", "serial data")
NOT_KNOWN = Unknown(unknown=True)
FIRST_QUESTIONS = {
    "letters": mark("Which letters on the old control have a wire under them?"),
    "heating": mark("What heats the home: which kind of furnace, boiler or heat pump?"),
}
FIRST_ANSWERS = {
    "letters": mark(
        "Whoever services the home next reads them, supply locked out. Nobody else is to open a control: line voltage may be behind it."
    ),
    "heating": mark("Ask on the telephone: the label outside tells. No panel is to be opened for it."),
}
FIELD_PATHS = {
    "gauge": "cables.wall.gauge",
    "length": "cables.wall.length",
    "outdoor_length": "cables.outside.length",
    "outdoor_gauge": "cables.outside.gauge",
    "wiring": f"controls.{WALL}.old.wiring",
    "mercury": f"controls.{WALL}.old.mercury",
    "letters": f"controls.{WALL}.old.terminals",
    "year_built": "place.year_built",
    "sign": "signs",
    "heating": "equipment",
    "cooling": "equipment.outdoor",
    "changeover": "equipment.outdoor.kind",
    "strips": "equipment.handler.kind",
    "spares": "cables.wall.conductors",
    "spare_end": "cables.wall.conductors.spare",
    "far_ends": "cables.wall.conductors.to",
    "transformer_va": "equipment.nameplate",
    "link": "jumpers",
    "volts_rc": "readings",
}
"""Fact -> where the survey holds it."""


@dataclass(frozen=True, slots=True)
class TooThin:
    """Nothing can be drawn yet; the facts to ask for first."""

    fields: tuple[str, ...]


def survey_of(
    facts: Map[str, Value], declared: Map[str, Value], mapping: Mapping, catalog: Catalog
) -> Survey | TooThin | Wrong:
    """Return the survey of a record's facts, what it is too thin for, or what clashes in it."""
    known = {name: mapping.declared[name].known for name in declared if name not in facts}
    told = {**declared, **facts}
    stops = told.get("wiring") in ENOUGH_TO_STOP or told.get("sign", "none") != "none"
    letters = _words(told.get("letters"))
    lacking = tuple(name for name in FIRST_QUESTIONS if not told.get(name))
    if lacking and not stops:
        return TooThin(lacking)
    old = _old_control(told, letters)
    if isinstance(old, Wrong):
        return old
    sign = told.get("sign", "none")
    year = told.get("year_built")
    base = Survey(
        survey=1,
        name="a home of the list",
        units="us",
        place=Place(year_built=int(year) if isinstance(year, float) else None),
        controls={WALL: Control(old=old, new=mapping.new_control)},
        signs=() if sign == "none" else (sign,),  # type: ignore[arg-type]
        known={FIELD_PATHS[name]: How(how) for name, how in known.items() if name in FIELD_PATHS},
    )
    if lacking:
        return base  # stopped whatever is behind the wall
    house = house_of(told, letters, catalog)
    if isinstance(house, Wrong):
        return house
    return _with_house(base, house, told, letters, catalog)


def _old_control(told: Map[str, Value], letters: tuple[str, ...]) -> Profile | Wrong:
    two = "Rh" in letters and "Rc" in letters
    if "link" in told and letters and not two:
        return Wrong("link", str(told["link"]), _("A link joins Rh and Rc; the letters do not name both."))
    return Profile(
        wiring=told.get("wiring", NOT_KNOWN),  # type: ignore[arg-type]
        # Screening reads no terminals; where all is stopped one stands for those that nobody wrote down.
        terminals=letters or ("R",),
        supplies="separate" if two else "one",
        mercury=told.get("mercury") is True,
    )


def _with_house(
    base: Survey, house: House, told: Map[str, Value], letters: tuple[str, ...], catalog: Catalog
) -> Survey | Wrong:
    wall = _wall_cable(house, told, letters)
    if isinstance(wall, Wrong):
        return wall
    cables = {"wall": wall}
    if house.outside:
        cables["outside"] = Cable(
            from_=house.main,
            to="outdoor",
            length_m=_number_or_unknown(told, "outdoor_length"),
            gauge_awg=_gauge(told, "outdoor_gauge"),
            conductors={name: Conductor(from_=a, to=b) for name, a, b in house.outside},
        )
    equipment = dict(house.equipment)
    va = told.get("transformer_va")
    if isinstance(va, float):
        rated = _rated(equipment[house.supply], va, catalog)
        if rated is None:
            message = _("This kind of equipment has no control transformer of its own whose VA could be given.")
            return Wrong("transformer_va", f"{va:g}", message)
        equipment[house.supply] = rated
    readings = _readings(told, letters)
    if isinstance(readings, Wrong):
        return readings
    jumpers = house.jumpers
    if "Rh" in letters and "Rc" in letters:
        jumpers = (*jumpers, Jumper(between=(f"{WALL}.Rh", f"{WALL}.Rc"), present=told.get("link", NOT_KNOWN)))  # type: ignore[arg-type]
    return base.model_copy(update={"equipment": equipment, "cables": cables, "jumpers": jumpers, "readings": readings})


def _wall_cable(house: House, told: Map[str, Value], letters: tuple[str, ...]) -> Cable | Wrong:
    conductors: dict[str, Conductor] = {}
    for letter in letters:
        far = house.far_end(letter)
        if far is None:
            message = _(
                "'{letter}' at the wall has no terminal to land on at '{heating}'; one of the two is wrong."
            ).format(letter=letter, heating=told["heating"])
            return Wrong("letters", letter, message)
        to = far if told.get("far_ends") == "as marked" else NOT_KNOWN
        conductors[f"wire {letter}"] = Conductor(from_=f"{WALL}.{letter}", to=to)
    spares = told.get("spares")
    common = house.common
    ends: str | Unknown = LOOSE
    if common is not None:
        ends = {"loose": LOOSE, "common": common}.get(str(told.get("spare_end")), _either(LOOSE, common))
    if spares is None:
        # Nobody counted: there may be one that lies loose, or none that could be landed.
        conductors["spare 1"] = Conductor(from_=_either(LOOSE, CUT_SHORT), to=ends)
    else:
        for number in range(int(float(spares))):  # type: ignore[arg-type]
            only_first = LOOSE if number and ends == common else ends
            conductors[f"spare {number + 1}"] = Conductor(from_=LOOSE, to=only_first)
    return Cable(
        from_=WALL,
        to=house.main,
        length_m=_number_or_unknown(told, "length"),
        gauge_awg=_gauge(told, "gauge"),
        conductors=conductors,
    )


def _either(*values: str) -> Unknown:
    return Unknown(unknown=True, either=values)


def _number_or_unknown(told: Map[str, Value], name: str) -> float | Unknown:
    value = told.get(name)
    return value if isinstance(value, float) else NOT_KNOWN


def _gauge(told: Map[str, Value], name: str) -> int | Unknown:
    value = told.get(name)
    return int(value) if isinstance(value, float) else NOT_KNOWN


def _rated(item: Equipment, va: float, catalog: Catalog) -> Equipment | None:
    kinds = item.kind.either if isinstance(item.kind, Unknown) else (item.kind,)
    parts = {part.id for kind in kinds for part in catalog[str(kind)].parts if isinstance(part, TransformerPart)}
    if len(parts) != 1:
        return None
    return item.model_copy(update={"nameplate": {**item.nameplate, parts.pop(): {"va": va}}})


def _readings(told: Map[str, Value], letters: tuple[str, ...]) -> tuple[Reading, ...] | Wrong:
    volts = told.get("volts_rc")
    if not isinstance(volts, float):
        return ()
    supply = next((letter for letter in ("R", "Rc", "Rh") if letter in letters), None)
    if supply is None or "C" not in letters:
        message = _("Volts between R and C need a conductor on both; the letters do not name both.")
        return Wrong("volts_rc", f"{volts:g}", message)
    return (Reading(between=(f"{WALL}.{supply}", f"{WALL}.C"), volts=volts),)


def _words(value: Value) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()
