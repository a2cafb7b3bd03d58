"""A survey that is wrong: one clear sentence for each fault, with its place, and all faults at once."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import yaml

from subbase.errors import InputError
from subbase.survey import load_survey
from tests.edges.surveys import FILE, GOOD, changed, faults_of, line_of, only_fault, survey_of

WHITE = "cables.wall.conductors.white"


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("kind: gas-furnace-1", "kind: gas-furnce-1", "equipment.furnace.kind", "did you mean 'gas-furnace-1'?"),
        ("from: hall", "from: hal", "cables.wall.from", "There is no place 'hal'; did you mean 'hall'?"),
        (
            "white: W\n",
            "white: {from: W, to: W1}\n",
            f"{WHITE}.to",
            "'furnace' has no terminal 'W1'; did you mean 'W'?",
        ),
        ("white: W\n", "white: {from: W, to: furnce.W}\n", f"{WHITE}.to", "There is no place 'furnce'; did you mean"),
        ("white: W\n", "white: {from: Lose, to: W}\n", f"{WHITE}.from", "did you mean 'loose'?"),
        ("units: us", "units: imperial", "units", "valid here: us, si."),
        ("power: none", "power: batery", "controls.hall.old.power", "did you mean 'battery'?"),
        ("    at: hall, inside wall", "    att: hall", "controls.hall.att", "not a field here; did you mean 'at'?"),
        ("volts: 27.0", "volts: 27.0, call: of", "readings.1.call", "did you mean 'off'?"),
        ("volts: 27.0", "volts: 27.0, control: hal", "readings.1.control", "There is no control 'hal'; did you mean"),
        ("hall.G]", "hall.H]", "readings.1.between.2", "'hall' has no terminal 'H'"),
        ("readings:", "signs: [120 or 240 markings]\nreadings:", "signs.1", "did you mean '120 or 240 marking'?"),
    ],
)
def test_a_word_that_is_not_known_brings_the_nearest_one_that_is(old: str, new: str, where: str, said: str) -> None:
    """A word that is not valid is told with its field and with the nearest word, or all words, that are."""
    fault = only_fault(changed(old, new))
    assert fault.where == where
    assert said in fault.message


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("survey: 1", "survey: 2", "survey", "'2' is a version of the survey that is not known here"),
        ("survey: 1", "survey: one", "survey", "expected a whole number"),
        ("survey: 1\n", "", "survey", "'survey' is missing"),
        ("name: Lilac Court 3 (invented)", "name:", "name", "Nothing is not valid for 'name': expected some words"),
        ("name: Lilac Court 3 (invented)", f"name: {'x' * 121}", "name", "expected at most 120 characters"),
        ("length: 45 ft", "length: -45 ft", "cables.wall.length", "'-45 ft' is not the length of a cable"),
        ("length: 45 ft", "length: 0", "cables.wall.length", "'0' is not the length of a cable"),
        ("length: 45 ft", "length: nan", "cables.wall.length", "'nan' is not the length of a cable"),
        ("length: 45 ft", "length: 5000 ft", "cables.wall.length", "at most 1 km"),
        ("length: 45 ft", "length: 45 yd", "cables.wall.length", "write a number, or '40 ft', or '12 m'"),
        ("length: 45 ft", "length: [45]", "cables.wall.length", "This is not the length of a cable"),
        ("length: 45 ft\n    gauge: 18\n    conductors:\n      red: R", "conductors:\n      red: R", "cables.wall.length", "'length' is missing"),
        ("asleep_va: 0.6", "asleep_va: inf", "controls.hall.new.asleep_va", "expected a number"),
        ("asleep_va: 0.6", "asleep_va: 1e-9", "controls.hall.new.asleep_va", "too little to be measured; write 0"),
        ("awake_va: 3", "awake_va: -3", "controls.hall.new.awake_va", "expected a number not below 0"),
        ("volts: 27.0", "volts: nan", "readings.1.volts", "expected a number"),
        (", volts: 27.0", "", "readings.1", "A reading gives either 'volts' or 'ohms'."),
        (", volts: 27.0", ", volts: 27, ohms: 2", "readings.1", "A reading gives either 'volts' or 'ohms'."),
        ("year_built: 1986", "year_built: soon", "place.year_built", "expected a whole number"),
        ("year_built: 1986", "latitude_deg: nan", "place.latitude_deg", "expected a number not above 90"),
        ("[hall.R, hall.G]", "[hall.R]", "readings.1.between", "expected two items, not 1"),
        ("[hall.R, hall.G]", "[hall.R, hall.G, hall.W]", "readings.1.between", "expected two items, not 3"),
        ("[hall.R, hall.G]", "[hall.R, [hall.G]]", "readings.1.between.2", "A list is not valid for item 2 of 'between'"),
        ("[hall.R, hall.G]", "[hall.R, hall.R]", "readings.1", "two different terminals"),
        ("[hall.R, hall.G]", "[hall.R, loose]", "readings.1.between.2", "'loose' is no terminal"),
        ("terminals: [R, W, Y, G]", "terminals: R", "controls.hall.old.terminals", "expected a list"),
        ("terminals: [R, W, Y, G]", "terminals: []", "controls.hall.old.terminals", "expected at least one item"),
        ("terminals: [R, W, Y, G]", "terminals: unknown", "controls.hall.old.terminals", "'unknown' is not valid for"),
        ("terminals: [R, W, Y, G]", "terminals: [R, W, Y, G, R]", "controls.hall.old.terminals", "'R' is listed twice"),
        ("terminals: [R, W, Y, G]", "terminals: [R, W, Y, G, R.1]", "controls.hall.old.terminals.5", "written as it is marked"),
        ("[R, C, W1,", "[R, W1,", "controls.hall.new.terminals", "needs the terminal C"),
        ("power: none", "supplies: separate", "controls.hall.old.supplies", "needs the terminals Rh and Rc"),
        ("[R, C, W1,", "[Rh, Rc, C, W1,", "controls.hall.new.terminals", "say in 'supplies'"),
        ("at: basement}", "at: basement, serves: hall}", "equipment.furnace.serves", "expected a list"),
        ("at: basement}", "at: basement, zones: {a: hall}}", "equipment.furnace.zones.a", "expected a whole number"),
        ("at: basement}", "at: basement, zones: {1: hall}}", "equipment.furnace.zones.1", "has no zone 1; it has none"),
        ("at: basement}", "at: basement, without: [valve]}", "equipment.furnace.without", "did you mean 'gas-valve'?"),
        ("at: basement}", "at: basement, without: [heat-input]}", "equipment.furnace.without", "'heat-input' works"),
        ("at: basement}", "at: basement, nameplate: {valve: {va: 4}}}", "equipment.furnace.nameplate.valve", "no part of"),
        ("at: basement}", "at: basement, nameplate: {gas-valve: {w: 4}}}", "equipment.furnace.nameplate.gas-valve.w", "'w' is not a value"),
        ("at: basement}", "at: basement, nameplate: {gas-valve: {pf: 4}}}", "equipment.furnace.nameplate.gas-valve.pf", "not a possible value"),
        ("at: basement}", "at: basement, nameplate: {gas-valve: {va: nan}}}", "equipment.furnace.nameplate.gas-valve.va", "not a possible"),
        ("kind: gas-furnace-1", "kind: unknown", "equipment.furnace.kind", "Say what it may be"),
        ("kind: gas-furnace-1", "kind: {either: []}", "equipment.furnace.kind", "'either' lists what it may be"),
        ("blue: loose", "blue: {from: loose}", "cables.wall.conductors.blue.to", "'to' is missing"),
        ("blue: loose", "blue: {from: loose, to: [R, C]}", "cables.wall.conductors.blue.to", "lands on one terminal"),
        ("blue: loose", "blue: {from: hall.R, to: hall.R}", "cables.wall.conductors.blue", "Both ends land on the same"),
        ("blue: loose", "blue: {from: furnace.C, to: loose}", "cables.wall.conductors.blue.from", "other way round?"),
        ("blue: loose", "blue: {from: loose, to: hall.R}", "cables.wall.conductors.blue.to", "other way round?"),
        ("blue: loose", "blue: {from: loose, to: loose, colour: [a, b]}", "cables.wall.conductors.blue.colour", "one word"),
        ("blue: loose", "'': loose", "cables.wall.conductors.", "1 to 40 characters"),
        ("to: furnace", "to: hall", "cables.wall", "both its ends are at the same one"),
        ("gauge: 18\n    conductors:\n      red: R", "gauge: 40\n    conductors:\n      red: R", "cables.wall.gauge", "not above 30, or unknown"),
        ("gauge: 18\n    conductors:\n      red: R", "gauge: {either: [18, thick]}\n    conductors:\n      red: R", "cables.wall.gauge", "'thick' is not a value"),
        ("gauge: 18\n    conductors:\n      red: R", "gauge: {value: 18, known: guessed}\n    conductors:\n      red: R", "cables.wall.gauge.known", "seen, measured, told or assumed"),
        ("readings:", "known: [hall]\nreadings:", "known", "expected named fields"),
        ("readings:", "known: {cabels.wall.length: told}\nreadings:", "known.cabels.wall.length", "does not name a field"),
        ("readings:", "jumpers: [[hall.R, hall.W], [hall.W, hall.R]]\nreadings:", "jumpers.2", "listed twice"),
        ("readings:", "transformers: {t: {va: {either: [40, forty]}}}\nreadings:", "transformers.t.va", "'forty' is not a value"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_is_told_with_what_would_fit(old: str, new: str, where: str, said: str) -> None:
    """Each way of being wrong gives exactly one fault, at its own field, with what was expected."""
    fault = only_fault(changed(old, new))
    assert fault.where == where
    assert said in fault.message


def test_a_fault_bears_file_line_and_column() -> None:
    """A fault says in which file, line and column it stands, as an editor jumps to it."""
    text = changed("white: W\n", "white: {from: W, to: V}\n")
    fault = only_fault(text)
    line = line_of(text, "white: {")
    column = text.splitlines()[line - 1].index("to:") + 1
    assert (fault.file, fault.line, fault.column) == (FILE, line, column)
    assert str(fault).startswith(f"{FILE}:{line}:{column}: cables.wall.conductors.white.to: ")


def test_all_faults_are_told_at_once_in_the_order_of_the_file() -> None:
    """Faults of types, names, and lengths are told together, also behind a part that does not fit."""
    text = GOOD
    for old, new in (
        ("year_built: 1986", "year_built: old"),
        ("kind: condensing-unit-1", "kind: condensing-unit"),
        ("length: 45 ft", "length: long"),
        ("white: W\n", "white: V\n"),
        ("  - {between: [hall.R, hall.G], volts: 27.0}", "  - nothing\n  - {between: [hall.R, hall.X], volts: 27.0}"),
    ):
        assert old in text
        text = text.replace(old, new)
    faults = faults_of(text)
    assert [fault.where for fault in faults] == [
        "place.year_built",
        "equipment.outdoor.kind",
        "cables.wall.length",
        "cables.wall.conductors.white.from",
        "cables.wall.conductors.white.to",
        "readings.1",
        "readings.2.between.2",
    ]
    assert [fault.line for fault in faults] == sorted(fault.line for fault in faults)
    assert faults[-1].line == line_of(text, "hall.X")


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("furnace: {kind: gas-furnace-1, at: basement}", "furnace: gas-furnace-1"),
        ("terminals: [R, W, Y, G]", "terminals: 4"),
        ("terminals: [R, W, Y, G]", "terminals: [R, {W: Y}, G]"),
        ("kind: gas-furnace-1", "kind: [gas-furnace-1]"),
    ],
)
def test_nothing_is_said_against_what_follows_from_a_fault(old: str, new: str) -> None:
    """When a place does not fit, those who land on it are not told that it does not exist."""
    only_fault(changed(old, new))


def test_a_name_given_to_two_places_is_told_with_who_has_it() -> None:
    """Controls, equipment, transformers and cables share one set of names."""
    for old, new, group in (
        ("outdoor: {kind: condensing-unit-1, at: north side}", "outdoor: {kind: condensing-unit-1}\n  hall: {kind: fan-centre}", "controls"),
        ("readings:", "transformers: {furnace: {va: 40}}\nreadings:", "equipment"),
        ("  wall:\n    from: hall", "  hall:\n    from: hall", "controls"),
    ):  # fmt: skip
        fault = only_fault(changed(old, new))
        assert f"already the name of one of the {group}" in fault.message


def test_a_conductor_given_twice_is_told_with_its_first_line() -> None:
    """The same conductor on two lines is a fault that names the line of the first."""
    text = changed("white: W\n", "white: W\n      white: Y\n")
    fault = only_fault(text)
    assert fault.line == line_of(text, "white: Y")
    assert f"'white' is given twice, first in line {line_of(text, 'white: W')}" in fault.message


@pytest.mark.parametrize("word", ["x" * 5000, "\\e[31m red", "\\u202E etalp", "né\\nl"])
def test_words_of_the_file_never_flood_or_steer_the_terminal(word: str) -> None:
    """What a fault repeats of the file is short, on one line, and has no control characters."""
    text = changed("kind: gas-furnace-1, at: basement", f'kind: "{word}", at: "{word}"')
    for fault in faults_of(text):
        assert str(fault).isprintable()
        assert len(str(fault)) < 800


@pytest.mark.parametrize(
    ("group", "name"),
    [
        ("equipment", "f" * 60),
        ("equipment", "a.b"),
        ("transformers", "a/b"),
        ("transformers", '" "'),
        ("cables", "a/b"),
    ],
)
def test_names_that_would_blur_a_landing_are_refused(group: str, name: str) -> None:
    """A name is short and holds no '.' and no '/', so that PLACE.TERMINAL and CABLE/CONDUCTOR stay plain."""
    items = {
        "equipment": "{kind: fan-centre}",
        "transformers": "{va: 40}",
        "cables": "{from: hall, to: furnace, length: 3, conductors: {red: loose}}",
    }
    if f"{group}:\n" in GOOD:
        text = GOOD.replace(f"{group}:\n", f"{group}:\n  {name}: {items[group]}\n")
    else:
        text = f"{GOOD}{group}:\n  {name}: {items[group]}\n"
    assert "1 to 40 characters" in only_fault(text).message


def test_json_is_read_like_yaml() -> None:
    """The same survey as JSON, compact or indented by tabs, is the same survey."""
    data = yaml.safe_load(GOOD)
    compact, tabbed = json.dumps(data, separators=(",", ":")), json.dumps(data, indent="\t")
    assert survey_of(compact) == survey_of(tabbed) == survey_of(GOOD)


def test_json_escapes_beyond_the_basic_plane_are_read() -> None:
    """JSON writes an emoji as two escapes; both ways give the same name, and a backslash stays one."""
    data = {**yaml.safe_load(GOOD), "name": "Mill \U0001f3e0 \\ud83c\\udfe0"}
    assert survey_of(json.dumps(data)).name == survey_of(json.dumps(data, ensure_ascii=False)).name == data["name"]


@pytest.mark.parametrize("name", ["Обувная 5", "Été 3", "家 7", "Mill \U0001f3e0"])
def test_names_may_be_of_any_script(name: str) -> None:
    """Letters of every script are kept as they are."""
    assert survey_of(changed("Lilac Court 3 (invented)", name)).name == name


def test_a_byte_order_mark_is_no_fault() -> None:
    """Text saved with a byte order mark is read."""
    assert faults_of(b"\xef\xbb\xbf" + GOOD.encode()) == ()


def test_a_path_that_cannot_be_opened_is_one_fault(tmp_path: Path) -> None:
    """A missing file and a directory each give one sentence that names the path."""
    for path in (tmp_path / "missing.yaml", tmp_path):
        with pytest.raises(InputError, match="The file cannot be read: ") as caught:
            load_survey(path)
        assert caught.value.faults[0].file == str(path)
