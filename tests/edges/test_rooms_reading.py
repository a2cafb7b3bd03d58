"""Rooms read from files: short ways of writing, either unit, and one clear sentence with its line for each fault."""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.errors import Fault, InputError
from subbase.survey import read_survey
from subbase.survey.rooms_reading import SiteFile, load_site, read_site
from subbase.survey.schema import survey_schema
from tests.edges.surveys import GOOD as SURVEY
from tests.houses import EXAMPLES

FILES = sorted((EXAMPLES / "rooms").glob("*.yaml"))
GOOD = """\
name: Test Row 1 (invented)
units: us
place: {year_built: 1950, latitude_deg: 40, longitude_deg: -90}
site:
  north: 10
  access_point: {room: hall, at: [1, 1], height: 3}
  rooms:
    hall:
      size: [10, 12 ft 6 in]
      height: 8
      outside: [left]
      windows:
        - {wall: left, along: 2, width: 30 in, sill: 3, head: 6 ft 8 in}
      doors:
        - {wall: top, along: 1, width: 2 ft 8 in, swing: out}
      things:
        - {kind: lamp, at: [5, 5]}
      candidates:
        here: {wall: right, along: 4, height: 60 in}
"""


def changed(old: str, new: str) -> str:
    """Return the good file with one part of its text replaced."""
    assert GOOD.count(old) == 1, old
    return GOOD.replace(old, new)


def read(text: str) -> SiteFile:
    """Read rooms that are right."""
    return read_site(text.encode(), "rooms.yaml")


def faults_of(text: str) -> tuple[Fault, ...]:
    """Return everything that is wrong with a file of rooms."""
    try:
        read(text)
    except InputError as error:
        return error.faults
    return ()


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_example_reads(path: Path) -> None:
    """Each example of rooms is read, and has at least one place."""
    assert list(load_site(path).site.candidates())


def test_lengths_are_read_in_feet_and_inches() -> None:
    """In a file in feet a bare number is feet; inches, both, and metric units are read as they are written."""
    room = read(GOOD).site.rooms["hall"]
    assert room.size_m == pytest.approx((3.048, 3.81))
    assert room.windows[0].width_m == pytest.approx(0.762)
    assert room.windows[0].head_m == pytest.approx(80 * 0.0254)
    for written, metres in (("1.5 m", 1.5), ("150 cm", 1.5), ("59 in", 1.4986), ("4'11\"", 1.4986), ("5", 1.524)):
        text = changed("height: 60 in", f"height: {json.dumps(written)}")
        assert read(text).site.rooms["hall"].candidates["here"].height_m == pytest.approx(metres)


def test_in_a_metric_file_a_bare_number_is_metres() -> None:
    """The same number is metres when the file says si."""
    text = changed("units: us", "units: si").replace("along: 4, height: 60 in", "along: 3, height: 1.5")
    text = text.replace("sill: 3,", "sill: 0.9,")
    assert read(text).site.rooms["hall"].candidates["here"].height_m == 1.5


def test_a_survey_may_hold_rooms() -> None:
    """Rooms under 'site' in a survey are read with it, with the survey's units and place; without them it says so."""
    site = GOOD.partition("site:")[2]
    text = f"{SURVEY}\nsite:{site}"
    survey = read_survey(text.encode(), "house.yaml")
    assert survey.site is not None
    assert survey.site == read(GOOD).site
    assert read(text).name == survey.name
    (fault,) = faults_of(SURVEY)
    assert "This survey has no rooms" in fault.message


def test_unknown_is_the_same_as_left_out() -> None:
    """'unknown' for what may be left out stands for not known, never for a number or a word."""
    text = changed("north: 10", "north: unknown").replace("head: 6 ft 8 in", "head: 6 ft 8 in, overhang: unknown")
    text = text.replace("outside: [left]", "outside: unknown")
    site = read(text).site
    assert site.north is None
    assert site.rooms["hall"].outside is None
    assert site.rooms["hall"].windows[0].overhang_m is None


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("sill: 3,", "sil: 3,", "site.rooms.hall.windows.1.sil", "did you mean 'sill'?"),
        ("width: 30 in", "width: 30 yards", "site.rooms.hall.windows.1.width", "'30 yards' is not a length"),
        ("along: 2,", "along_m: 2,", "site.rooms.hall.windows.1.along_m", "did you mean 'along'?"),
        ("{wall: left, along: 2", "{wall: lefft, along: 2", "site.rooms.hall.windows.1.wall", "did you mean 'left'?"),
        ("along: 2,", "along: 11,", "site.rooms.hall.windows.1.along", "It does not fit: the wall is 12 ft 6 in"),
        ("head: 6 ft 8 in", "head: 2", "site.rooms.hall.windows.1.head", "the other way round?"),
        ("head: 6 ft 8 in", "head: 9", "site.rooms.hall.windows.1.head", "above the ceiling"),
        ("swing: out", "swing: outward", "site.rooms.hall.doors.1.swing", "did you mean 'out'?"),
        ("kind: lamp, at: [5, 5]", "kind: lamp", "site.rooms.hall.things.1", "Say where it is"),
        ("kind: lamp, at: [5, 5]", "kind: flue, at: [5, 5]", "site.rooms.hall.things.1", "A flue runs in a wall"),
        ("kind: lamp", "kind: lamps", "site.rooms.hall.things.1.kind", "did you mean 'lamp'?"),
        ("room: hall,", "room: hal,", "site.access_point.room", "did you mean 'hall'?"),
        ("along: 4, height", "along: 40, height", "site.rooms.hall.candidates.here.along", "past its end"),
        ("wall: right, along: 4", "wall: left, along: 3", "site.rooms.hall.candidates.here.along", "in the opening of a window"),
        ("size: [10, 12 ft 6 in]", "corners: [[0, 0], [9, 9], [9, 0], [0, 9]]", "site.rooms.hall.corners", "its walls cross"),
        ("size: [10, 12 ft 6 in]", "size: [10, 0]", "site.rooms.hall.size", "no wall"),
        ("      size: [10, 12 ft 6 in]\n", "", "site.rooms.hall", "either a 'size'"),
        ("north: 10", "north: 360", "site.north", "expected a number below 360"),
        ("along: 4, height: 60 in", "along: 4, height: 60 in, rssi_dbm: 61", "site.rooms.hall.candidates.here.rssi_dbm", "not above 0"),
        ("outside: [left]", "outside: [west]", "site.rooms.hall.outside.1", "This room has no wall 'west'"),
        ("name: Test Row 1 (invented)\n", "", "name", "'name' is missing"),
    ],
)  # fmt: skip
def test_a_fault_is_one_sentence_at_its_line(old: str, new: str, where: str, said: str) -> None:
    """Each slip is told once, with its field and what would put it right."""
    text = changed(old, new)
    faults = [fault for fault in faults_of(text) if fault.where == where]
    assert len(faults) == 1, [str(fault) for fault in faults_of(text)]
    assert said in faults[0].message
    line = next((n for n, row in enumerate(text.splitlines(), 1) if new and new.splitlines()[0] in row), None)
    if line is not None:
        assert faults[0].line == line


def test_two_windows_over_each_other_are_told() -> None:
    """Glass written twice would count its sun twice."""
    window = "        - {wall: left, along: 3, width: 2, sill: 4, head: 6}\n"
    (fault,) = faults_of(changed("      doors:\n", f"{window}      doors:\n"))
    assert "lies over window 1" in fault.message


def test_all_faults_come_at_once() -> None:
    """Three slips in three places are three faults."""
    text = changed("sill: 3,", "sill: low,").replace("swing: out", "swing: up").replace("north: 10", "north: up")
    assert len(faults_of(text)) == 3


SCHEMA = jsonschema.Draft202012Validator(survey_schema())


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_schema_of_a_survey_takes_rooms(path: Path) -> None:
    """A survey with an example's rooms in it is valid by the JSON Schema, as any YAML reader gives it."""
    house = yaml.safe_load(SURVEY)
    house["site"] = yaml.safe_load(path.read_text())["site"]
    SCHEMA.validate(house)


ODD: tuple[Any, ...] = (
    "unknown", "", "left", "nan", "-1", 0, 1e9, 1e-9, -5, True, None, {}, [], [1, 2], ["a", "b"], {"value": 3}, "x" * 60, "5 ft 3 in",
    "12 m", {"wall": "left"}, "inf", "1e999 ft",
)  # fmt: skip
HOUSES = tuple(yaml.safe_load(path.read_text()) for path in FILES)


def slots(data: Any) -> Iterator[tuple[Any, Any]]:
    """Iterate over every (holder, key) of plain data."""
    for key in list(data) if isinstance(data, dict) else range(len(data)) if isinstance(data, list) else ():
        yield data, key
        yield from slots(data[key])


@settings(max_examples=500, deadline=None, derandomize=True, database=None)
@given(st.sampled_from(HOUSES), st.randoms(use_true_random=False))
def test_any_spoilt_copy_gives_rooms_or_faults_that_are_sentences(house: dict[str, Any], rng: Random) -> None:
    """Values put in or taken out anywhere in good rooms never crash the reader."""
    data = copy.deepcopy(house)
    for _ in range(rng.choice((1, 1, 2, 3))):
        holder, key = rng.choice(list(slots(data)))
        if rng.random() < 0.25:
            del holder[key]
        else:
            holder[key] = copy.deepcopy(rng.choice(ODD))
        if not data:
            return
    try:
        read_site(json.dumps(data).encode(), "rooms.yaml")
    except InputError as error:
        for fault in error.faults:
            assert fault.message[0].isupper() or fault.message[0] == "'", fault.message
            assert fault.message[-1] in ".?", fault.message
            assert str(fault).isprintable()
