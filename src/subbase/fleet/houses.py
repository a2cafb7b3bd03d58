"""The houses that a thin record can mean: which equipment, what is wired outdoors, and where each letter lands.

These are ordinary houses of the trade (common practice, no source); anything else is given as a survey of its own.
"""

from __future__ import annotations

from collections.abc import Mapping as Map
from dataclasses import dataclass

from subbase.catalog import Catalog
from subbase.fleet.records import Value, Wrong
from subbase.survey import Equipment, Jumper, Unknown
from subbase.words import _

Landing = str | Unknown
FURNACES = {
    "gas furnace, one stage": ("gas-furnace-1", {"W": "W", "W1": "W"}),
    "gas furnace, two stages": ("gas-furnace-2", {"W": "W1", "W1": "W1", "W2": "W2"}),
    "standing pilot furnace": ("gas-furnace-standing-pilot", {"W": "W", "W1": "W"}),
    "packaged gas unit": ("packaged-unit-gas", {"W": "W", "W1": "W"}),
}
BOILERS = {
    "boiler, start pair": ("boiler-start-pair", {"R": "T1", "Rh": "T1", "W": "T2", "W1": "T2"}, None),
    "boiler, 24 V circuit": ("boiler-gas-circuit", {"R": "R", "Rh": "R", "C": "C", "W": "W", "W1": "W"}, "C"),
    "steam boiler": ("boiler-steam", {"R": "R", "Rh": "R", "C": "C", "W": "W", "W1": "W"}, "C"),
}
FANNED = {"R": "R", "Rh": "R", "Rc": "R", "C": "C", "Y": "Y", "Y1": "Y", "G": "G"}
COOLERS = {"one stage": "condensing-unit-1", "two stages": "condensing-unit-2"}
SECOND_STAGE = "joint 2"
CHANGEOVER = "joint 1"
"""Wire nuts at the indoor equipment, where it has no terminal for what goes through."""


@dataclass(frozen=True, slots=True)
class House:
    """One house: its equipment, the cable outdoors, and where letters land."""

    main: str
    """The place where the wall cable ends."""
    supply: str
    """The equipment whose transformer feeds the control."""
    equipment: dict[str, Equipment]
    lands: dict[str, str]
    """Letter -> landing at the equipment."""
    common: str | None
    outside: tuple[tuple[str, Landing, Landing], ...] = ()
    """(name, end indoors, end outdoors) of the cable to the outdoor unit."""
    jumpers: tuple[Jumper, ...] = ()

    def far_end(self, letter: str) -> str | None:
        """Return where a letter lands at the equipment; None where it has no such terminal."""
        return self.lands.get(letter)


def house_of(told: Map[str, Value], letters: tuple[str, ...], catalog: Catalog) -> House | Wrong:
    """Return the house that a record tells of; what it does not tell is left unknown."""
    heating = str(told["heating"])
    if heating in FURNACES:
        return _furnace(heating, told, letters)
    if heating in BOILERS:
        return _boiler(heating, told)
    if heating == "oil furnace":
        return _oil(told, letters)
    if heating == "electric strips":
        return _electric(told, letters)
    return _heat_pump(heating, told, letters, catalog)


def _furnace(heating: str, told: Map[str, Value], letters: tuple[str, ...]) -> House:
    kind, heats = FURNACES[heating]
    lands = {letter: f"furnace.{terminal}" for letter, terminal in {**FANNED, **heats}.items()}
    house = House("furnace", "furnace", {"furnace": Equipment(kind=kind)}, lands, "furnace.C")
    return house if heating == "packaged gas unit" else _with_cooler(house, told, letters)


def _boiler(heating: str, told: Map[str, Value]) -> House | Wrong:
    kind, heats, common = BOILERS[heating]
    if told.get("cooling", "none") != "none":
        message = _("Cooling beside a boiler has a transformer of its own; give this home as a survey.")
        return Wrong("cooling", str(told["cooling"]), message)
    lands = {letter: f"boiler.{terminal}" for letter, terminal in heats.items()}
    return House("boiler", "boiler", {"boiler": Equipment(kind=kind)}, lands, f"boiler.{common}" if common else None)


def _oil(told: Map[str, Value], letters: tuple[str, ...]) -> House:
    lands = {"R": "furnace.T1", "Rh": "furnace.T1", "W": "furnace.T2", "W1": "furnace.T2"}
    equipment = {"furnace": Equipment(kind="oil-furnace")}
    if not _cools(told, letters):
        return House("furnace", "furnace", equipment, lands, None)
    equipment["fan centre"] = Equipment(kind="fan-centre", at="furnace")
    fan = {"Rc": "R", "C": "C", "Y": "Y", "Y1": "Y", "G": "G"}
    lands |= {letter: f"fan centre.{terminal}" for letter, terminal in fan.items()}
    house = House("furnace", "fan centre", equipment, lands, "fan centre.C")
    return _with_cooler(house, told, letters, cool="fan centre.Y", common="fan centre.C")


def _electric(told: Map[str, Value], letters: tuple[str, ...]) -> House:
    stages = _stages(told, least=1)
    kinds = tuple(f"air-handler-strips-{number}-interlock" for number in stages)
    lands = {letter: f"handler.{terminal}" for letter, terminal in FANNED.items()}
    lands |= {"W": "handler.W1", "W1": "handler.W1"}
    if max(stages) >= 2:
        lands["W2"] = "handler.W2"
    item = Equipment(kind=_one_of(kinds))
    return _with_cooler(House("handler", "handler", {"handler": item}, lands, "handler.C"), told, letters)


def _heat_pump(heating: str, told: Map[str, Value], letters: tuple[str, ...], catalog: Catalog) -> House:
    two = heating.endswith("two stages")
    ways = {"cooling": ("o",), "heating": ("b",)}.get(str(told.get("changeover")), ("o", "b"))
    pump = Equipment(kind=_one_of(tuple(f"heat-pump-{2 if two else 1}-{way}" for way in ways)))
    stages = _stages(told, least=0)
    strips = tuple("air-handler" if n == 0 else f"air-handler-strips-{n}-interlock" for n in stages)
    handler = Equipment(kind=_one_of(strips), role="auxiliary" if 0 not in stages else "main")
    through = all("O" in catalog[name].terminals for name in strips)
    lands = {letter: f"handler.{terminal}" for letter, terminal in FANNED.items()}
    lands |= {"O": "handler.O" if through else f"handler.{CHANGEOVER}", "B": f"handler.{CHANGEOVER}"}
    if 0 not in stages:
        lands |= {"W": "handler.W1", "W1": "handler.W1", "E": "handler.W1"}
        if not {"W", "W1"} & set(letters):
            lands["W2"] = "handler.W1"  # where no W1 is, the backup begins at W2
        elif max(stages) >= 2:
            lands["W2"] = "handler.W2"
    lead = "B" if "B" in letters and "O" not in letters else "O"
    outside: list[tuple[str, Landing, Landing]] = [
        ("wire R", "handler.R", "outdoor.R"),
        ("wire C", "handler.C", "outdoor.C"),
        ("wire Y", "handler.Y", "outdoor.Y1" if two else "outdoor.Y"),
        ("wire O", lands[lead], _one_of(tuple(f"outdoor.{way.upper()}" for way in ways))),
    ]
    if two:
        lands["Y2"] = f"handler.{SECOND_STAGE}"
        outside.append(("wire Y2", lands["Y2"], "outdoor.Y2"))
    if 0 not in stages:
        outside.append(("wire W", "handler.W1", "outdoor.W"))
    return House(
        "handler", "handler", {"handler": handler, "outdoor": pump}, lands, "handler.C", outside=tuple(outside)
    )


def _cools(told: Map[str, Value], letters: tuple[str, ...]) -> bool:
    cooling = told.get("cooling")
    return cooling != "none" if cooling is not None else any(letter.startswith("Y") for letter in letters)


def _with_cooler(
    house: House, told: Map[str, Value], letters: tuple[str, ...], *, cool: str = "", common: str = ""
) -> House:
    """Return the house with its outdoor unit, if it has one; where nobody said, a conductor on Y says that it has."""
    if not _cools(told, letters):
        return house
    cooling = told.get("cooling")
    kinds = (COOLERS[str(cooling)],) if cooling is not None else tuple(COOLERS.values())
    first = _one_of(tuple("outdoor.Y" if kind.endswith("1") else "outdoor.Y1" for kind in kinds))
    outside: list[tuple[str, Landing, Landing]] = [
        ("wire Y", cool or f"{house.main}.Y", first),
        ("wire C", common or f"{house.main}.C", "outdoor.C"),
    ]
    lands = dict(house.lands)
    if "condensing-unit-2" in kinds and "Y2" in letters:
        kinds = ("condensing-unit-2",)
        outside[0] = ("wire Y", outside[0][1], "outdoor.Y1")
        lands["Y2"] = f"{house.main}.{SECOND_STAGE}"
        outside.append(("wire Y2", lands["Y2"], "outdoor.Y2"))
    equipment = {**house.equipment, "outdoor": Equipment(kind=_one_of(kinds))}
    return House(house.main, house.supply, equipment, lands, house.common, tuple(outside), house.jumpers)


def _stages(told: Map[str, Value], *, least: int) -> tuple[int, ...]:
    value = told.get("strips")
    if isinstance(value, float):
        return (max(least, int(value)),)
    return tuple(range(least, 3))


def _one_of(values: tuple[str, ...]) -> str | Unknown:
    values = tuple(dict.fromkeys(values))
    return values[0] if len(values) == 1 else Unknown(unknown=True, either=values)
