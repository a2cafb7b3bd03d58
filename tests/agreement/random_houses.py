"""Random small houses as an installer may find them: sound wirings, and ones with ends off, swapped, cut short or weak."""

from __future__ import annotations

import json
from random import Random
from typing import Any

from subbase.catalog import load_catalog
from subbase.survey import Survey, read_survey

CONTROL = "hall"
COLOURS = ("red", "white", "yellow", "green", "blue", "orange", "brown")
FURNACES = ("gas-furnace-1", "gas-furnace-2")
SLIPS = ("off at the wall", "off at the equipment", "cut short", "second on one terminal", "spare left live", "swapped")


def random_house(rng: Random, *, most_conductors: int = 7) -> Survey:
    """Return a house with one control to be replaced: furnace or air handler, with or without an outdoor unit."""
    return read_survey(json.dumps(_data(rng, most_conductors)).encode(), "random", load_catalog())


def _data(rng: Random, most_conductors: int) -> dict[str, Any]:
    heat_pump = rng.random() < 0.3
    cooled = heat_pump or rng.random() < 0.7
    inside = "air-handler-strips-1-interlock" if heat_pump else rng.choice(FURNACES)
    functions = ["R", "W1" if inside != "gas-furnace-1" else "W", *(["Y", "G"] if cooled else rng.choice(([], ["G"])))]
    functions += ["O"] * heat_pump + ["W2"] * (inside == "gas-furnace-2" and rng.random() < 0.5)
    common = heat_pump or rng.random() < 0.4
    equipment: dict[str, Any] = {"inside": {"kind": inside, **({"role": "auxiliary"} if heat_pump else {})}}
    if rng.random() < 0.4:
        equipment["inside"]["nameplate"] = {"transformer": {"va": rng.choice((20, 30, 40, 75))}}
    if cooled:
        equipment["outside"] = {"kind": "heat-pump-1-o" if heat_pump else "condensing-unit-1"}
    data: dict[str, Any] = {
        "survey": 1,
        "name": "a random house (invented)",
        "units": "si",
        "equipment": equipment,
        "controls": {CONTROL: {"old": _old(functions, common), "new": _new(rng)}},
        "cables": _control_cables(rng, [*functions, *(["C"] if common else [])], most_conductors),
    }
    if cooled:
        data["cables"]["outdoors"] = _outdoor_cable(rng, heat_pump)
    return data


def _old(functions: list[str], common: bool) -> dict[str, Any]:
    terminals = [*functions, *(["C"] if common else [])]
    return {"terminals": terminals, "power": "common" if common else "none", "awake_va": 1 if common else 0}


def _new(rng: Random) -> dict[str, Any]:
    supplies = rng.choice(("one", "one", "separate"))
    terminals = [*(["R"] if supplies == "one" else ["Rh", "Rc"]), "C", "W1", "W2", "Y1", "G", "O/B"]
    return {
        "terminals": terminals,
        "supplies": supplies,
        "power": "common",
        "battery": rng.random() < 0.2,
        "asleep_va": 0.5,
        "awake_va": rng.choice((1, 3, 6)),
    }


def _control_cables(rng: Random, functions: list[str], most: int) -> dict[str, Any]:
    """Return one or two cables from wall to equipment whose conductors carry the functions, with what may be wrong."""
    count = max(3, min(most, len(functions) + rng.choice((-1, 0, 0, 1, 1, 2))))
    landings = [(f, f) for f in rng.sample(functions, k=min(count, len(functions)))]
    landings += [("loose", "loose")] * (count - len(landings))
    rng.shuffle(landings)
    if rng.random() < 0.35:
        landings = _slipped(rng, landings)
    conductors = {COLOURS[index]: {"from": wall, "to": far} for index, (wall, far) in enumerate(landings)}
    split = rng.randint(1, count - 1) if rng.random() < 0.4 else count
    names = list(conductors)
    cables = {}
    for name, part in (("first", names[:split]), ("second", names[split:])):
        if part:
            cables[name] = {
                "from": CONTROL,
                "to": "inside",
                "length": rng.choice((8, 20, 45, 90)),
                "gauge": rng.choice((18, 18, 20, 22, 24)),
                "conductors": {colour: conductors[colour] for colour in part},
            }
    return cables


def _slipped(rng: Random, landings: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return landings of which some are not as they should be."""
    found = list(landings)
    for _ in range(rng.choice((1, 1, 2))):
        index = rng.randrange(len(found))
        wall, far = found[index]
        other = rng.randrange(len(found))
        match rng.choice(SLIPS):
            case "off at the wall":
                found[index] = ("loose", far)
            case "off at the equipment":
                found[index] = (wall, "loose")
            case "cut short":
                found[index] = rng.choice(((wall, "cut short"), ("cut short", far)))
            case "second on one terminal":
                found[index] = (wall, found[other][1])
            case "spare left live":
                found[index] = ("loose", "R")
            case "swapped":
                found[index], found[other] = (wall, found[other][1]), (found[other][0], far)
    return found


def _outdoor_cable(rng: Random, heat_pump: bool) -> dict[str, Any]:
    conductors = {"yellow": {"from": "Y", "to": "Y"}, "blue": {"from": "C", "to": "C"}}
    if heat_pump:
        conductors |= {
            "red": {"from": "R", "to": "R"},
            "orange": {"from": "O", "to": "O"},
            "white": {"from": "W1", "to": "W"},
        }
    return {
        "from": "inside",
        "to": "outside",
        "length": rng.choice((6, 15, 30)),
        "gauge": rng.choice((18, 18, 20)),
        "conductors": conductors,
    }
