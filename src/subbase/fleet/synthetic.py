"""Made-up fleets: seeded, honest about where their shares come from, and as dirty as lists are.

No published table gives how old controls are wired, so every share here is judgement, after what the trade calls common;
those of heating and cooling lean on the sorts of homes that national surveys of energy use count, from memory, and claim
nothing about any place. Addresses and names are invented.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from subbase.files import write_whole

Texts = NDArray[np.object_]
SOURCE = "judgement"
Dirt = Literal[
    "swapped columns", "impossible value", "odd letters", "same home twice", "broken row", "no id", "strange word"
]
DIRT: tuple[Dirt, ...] = (
    "swapped columns", "impossible value", "odd letters", "same home twice", "broken row", "no id", "strange word",
)  # fmt: skip
HEADINGS = {
    "id": "Home", "area": "Area", "day": "Visit", "wiring": "Circuit", "sign": "Warning", "heating": "Heats with",
    "cooling": "Cools with", "changeover": "Valve on in", "strips": "Strips", "letters": "Letters", "spares": "Loose wires",
    "spare_end": "Loose wires end", "length": "Run ft", "gauge": "Gauge", "transformer_va": "VA", "mercury": "Mercury",
    "year_built": "Built", "volts_rc": "Volts R-C", "climate": "Zone", "floor_area": "Floor ft2",
}  # fmt: skip
MAPPING = """# Which column of the list is which fact; written for a made-up list.
fleet = 1
name = "A made-up list"

[columns]
id = "Home"
area = "Area"
day = "Visit"
wiring = {column = "Circuit", values = {"24 V" = "low voltage", "mains" = "line voltage", "mV" = "millivolt", "data" = "serial data"}}
sign = "Warning"
heating = "Heats with"
cooling = "Cools with"
changeover = "Valve on in"
strips = "Strips"
letters = "Letters"
spares = "Loose wires"
spare_end = "Loose wires end"
length = {column = "Run ft", unit = "ft"}
gauge = "Gauge"
transformer_va = "VA"
mercury = "Mercury"
year_built = "Built"
volts_rc = "Volts R-C"
climate = "Zone"
floor_area = {column = "Floor ft2", unit = "ft2"}

# What the desk states for every home of which the list says nothing. Every plan then says so.
[declared]
far_ends = {value = "as marked", known = "told", why = "the makers of the list opened a sample of panels"}
gauge = {value = 18, known = "assumed", why = "usual in homes of this sort"}
outdoor_length = {value = 40, unit = "ft", known = "assumed", why = "usual; it hardly matters"}
outdoor_gauge = {value = 18, known = "assumed", why = "usual in homes of this sort"}

[new_control]
terminals = ["R", "C", "W1", "W2", "Y1", "Y2", "G", "O/B"]
power = "common"
asleep_va = 0.5
awake_va = 3
"""


@dataclass(frozen=True, slots=True)
class Home:
    """One sort of home: what it has, and how often it is met."""

    share: float
    heating: str
    cooling: str
    letters: tuple[tuple[str, float], ...]
    strips: tuple[str, ...] = ("",)
    changeover: tuple[str, ...] = ("",)


DISTRICT: tuple[Home, ...] = (
    Home(0.26, "gas furnace, one stage", "one stage", (("R W Y G", 0.6), ("R C W Y G", 0.4))),
    Home(0.07, "gas furnace, one stage", "none", (("R W", 0.55), ("R W G", 0.45))),
    Home(0.10, "gas furnace, two stages", "one stage", (("R C W W2 Y G", 0.6), ("R W Y G", 0.4))),
    Home(0.03, "gas furnace, two stages", "two stages", (("R C W W2 Y Y2 G", 1.0),)),
    Home(0.04, "standing pilot furnace", "none", (("R W", 1.0),)),
    Home(0.04, "oil furnace", "none", (("R W", 1.0),)),
    Home(0.03, "oil furnace", "one stage", (("Rh Rc W Y G", 1.0),)),
    Home(0.10, "boiler, start pair", "none", (("R W", 1.0),)),
    Home(0.04, "boiler, 24 V circuit", "none", (("R W", 0.7), ("R C W", 0.3))),
    Home(0.03, "steam boiler", "none", (("R W", 1.0),)),
    Home(0.12, "heat pump, one stage", "", (("R C W Y G O", 0.8), ("R C W Y G B", 0.2)), ("1", "2"), ("cooling", "heating", "")),
    Home(0.03, "heat pump, two stages", "", (("R C W Y Y2 G O", 1.0),), ("1", "2"), ("cooling",)),
    Home(0.06, "electric strips", "one stage", (("R W Y G", 0.5), ("R C W Y G", 0.5)), ("1", "2", "")),
    Home(0.05, "packaged gas unit", "one stage", (("R W Y G", 0.5), ("R C W Y G", 0.5))),
)  # fmt: skip
BLOCK: tuple[Home, ...] = (
    Home(0.55, "gas furnace, one stage", "one stage", (("R W Y G", 0.8), ("R C W Y G", 0.2))),
    Home(0.25, "boiler, 24 V circuit", "none", (("R W", 1.0),)),
    Home(0.20, "heat pump, one stage", "", (("R C W Y G O", 1.0),), ("1",), ("cooling", "")),
)
MIXES = {"district": DISTRICT, "block": BLOCK}
WIRINGS = (("24 V", 0.962), ("mains", 0.022), ("mV", 0.008), ("data", 0.004), ("", 0.004))
SIGNS = (
    ("none", 0.975),
    ("", 0.017),
    ("thick conductors", 0.004),
    ("scorched insulation", 0.002),
    ("water in the wall box", 0.002),
)
SPARES = (("0", 0.48), ("1", 0.32), ("2", 0.02), ("", 0.18))
SPARE_ENDS = (("loose", 0.30), ("common", 0.05), ("", 0.65))
GAUGES = (("18", 0.30), ("20", 0.05), ("22", 0.01), ("", 0.64))
VAS = (("", 0.95), ("40", 0.04), ("75", 0.01))
KNOWS_LENGTH, KNOWS_YEAR, KNOWS_VOLTS = 0.30, 0.60, 0.05
EACH_AREA, EACH_DAY = 400, 40
"""Homes of one area, and of one day in it."""


def fleet_columns(rows: int, *, seed: int, mix: str = "district", dirt: float = 0.02) -> dict[str, Texts]:
    """Return fact -> cells of a made-up fleet; ``dirt`` is the share of rows that something is wrong with."""
    rng = np.random.default_rng(seed)
    homes = MIXES[mix]
    sort = rng.choice(len(homes), size=rows, p=_shares([home.share for home in homes]))
    cells = {name: np.full(rows, "", dtype=object) for name in HEADINGS}
    for number, home in enumerate(homes):
        at = np.flatnonzero(sort == number)
        cells["heating"][at], cells["cooling"][at] = home.heating, home.cooling
        cells["letters"][at] = _drawn(rng, home.letters, len(at))
        cells["strips"][at] = _drawn(rng, [(word, 1.0) for word in home.strips], len(at))
        cells["changeover"][at] = _drawn(rng, [(word, 1.0) for word in home.changeover], len(at))
    # A list is made by people: what they did not look at stays empty.
    for name in ("heating", "letters"):
        cells[name][rng.random(rows) < 0.015] = ""
    for name, odds in (
        ("wiring", WIRINGS), ("sign", SIGNS), ("spares", SPARES), ("spare_end", SPARE_ENDS), ("gauge", GAUGES),
        ("transformer_va", VAS), ("mercury", (("yes", 0.1), ("no", 0.5), ("", 0.4))),
    ):  # fmt: skip
        cells[name] = _drawn(rng, odds, rows)
    block = mix == "block"
    feet = np.clip(np.round(rng.gamma(6.0, 3.0 if block else 6.0, rows) + 8), 8, 160).astype(int)
    cells["length"] = _some(rng, feet, KNOWS_LENGTH)
    cells["year_built"] = _some(rng, rng.integers(1915, 2016, rows), KNOWS_YEAR)
    tenths = np.round(rng.normal(26.5, 0.8, rows), 1)
    with_c = np.array([" C" in str(text) for text in cells["letters"]], dtype=np.bool_)
    cells["volts_rc"] = np.where(with_c, _some(rng, tenths, KNOWS_VOLTS), "").astype(object)
    cells["climate"] = np.where(rng.random(rows) < 0.9, rng.integers(2, 8, rows).astype(str), "").astype(object)
    cells["floor_area"] = _some(rng, rng.integers(500, 2800, rows), 0.5)
    order = range(rows)
    cells["id"] = np.array([f"H{n:07d}" for n in order], dtype=object)
    cells["area"] = np.array([f"area {n // EACH_AREA + 1:04d}" for n in order], dtype=object)
    cells["day"] = np.array([f"day {n // EACH_DAY + 1:05d}" for n in order], dtype=object)
    _soil(rng, cells, dirt)
    return cells


def _shares(weights: Sequence[float]) -> NDArray[np.float64]:
    array = np.asarray(weights, dtype=np.float64)
    shares: NDArray[np.float64] = array / array.sum()
    return shares


def _drawn(rng: np.random.Generator, odds: Sequence[tuple[str, float]], count: int) -> Texts:
    words = np.array([word for word, _ in odds], dtype=object)
    return words[rng.choice(len(words), size=count, p=_shares([share for _, share in odds]))]


def _some(rng: np.random.Generator, values: NDArray[Any], share: float) -> Texts:
    return np.where(rng.random(len(values)) < share, values.astype(str), "").astype(object)


def _soil(rng: np.random.Generator, cells: dict[str, Texts], dirt: float) -> None:
    """Spoil a share of the rows, each in one way."""
    rows = len(cells["id"])
    spoilt = np.flatnonzero(rng.random(rows) < dirt)
    for at, way in zip(spoilt.tolist(), rng.integers(0, len(DIRT), len(spoilt)).tolist(), strict=True):
        match DIRT[way]:
            case "swapped columns":
                cells["heating"][at], cells["letters"][at] = cells["letters"][at] or "R W", "gas furnace, one stage"
            case "impossible value":
                cells["length"][at] = ("-12", "99999", "38,500", "a long way")[at % 4]
            case "odd letters":
                # The same word in other characters is still the word; these rows are read.
                cells["letters"][at] = " ".join(
                    chr(ord(c) + 0xFEE0) if c.isalpha() else c for c in str(cells["letters"][at])
                )
                cells["area"][at] = f"=área\u00a0{at}"
            case "same home twice":
                cells["id"][at] = cells["id"][max(0, at - 1)]
            case "broken row":
                cells["area"][at] = "\0broken"
            case "no id":
                cells["id"][at] = ""
            case "strange word":
                cells["heating"][at] = "gaz furnase 1"


def write_fleet(
    folder: Path, rows: int, *, seed: int, mix: str = "district", dirt: float = 0.02, ending: str = "csv"
) -> tuple[Path, Path]:
    """Write a made-up list and its mapping into a folder, and return both.

    ``ending`` is csv or parquet; broken rows are told by their text alone, so only a CSV can hold them.
    """
    import pyarrow as pa
    from pyarrow import parquet

    folder.mkdir(parents=True, exist_ok=True)
    cells = fleet_columns(rows, seed=seed, mix=mix, dirt=dirt)
    mapping = write_whole(folder / "mapping.toml", MAPPING.encode())
    path = folder / f"fleet.{ending}"
    if ending == "parquet":
        cells["area"] = np.array([str(text).replace("\0", "") for text in cells["area"]], dtype=object)
        parquet.write_table(
            pa.table({HEADINGS[name]: pa.array(column, pa.string()) for name, column in cells.items()}), path
        )
        return path, mapping
    with path.open("w", encoding="utf-8", newline="") as stream:
        stream.write(",".join(HEADINGS.values()) + "\r\n")
        for row in zip(*cells.values(), strict=True):
            line = ",".join(f'"{cell}"' if "," in cell else cell for cell in row)
            # A row that somebody cut off in the middle.
            stream.write((line.partition("\0")[0] if "\0" in line else line) + "\r\n")
    return path, mapping
