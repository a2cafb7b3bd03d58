"""Data out: every file follows what is told of it, the examples are those that the program makes, the tables agree."""

from __future__ import annotations

import csv
import datetime
import io
import json
import math
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as Xml

import jsonschema
import pytest
from click.testing import CliRunner
from dateutil import rrule  # type: ignore[import-untyped]

from subbase.circuit import solve
from subbase.circuit.spice_reader import read_deck
from subbase.cli.data_command import data
from subbase.cli.main import main
from subbase.papers.landing_code import landing_code, read_landing_code
from tests.houses import EXAMPLES, NAMES, plan_of
from tools.data_out_docs import CSV_FILES, DATE, FOLDER, HOUSE, SHAPES, examples, pages, schedule, schemas

PLANNED = tuple(name for name in NAMES if plan_of(name).verdict == "planned")
SVG = "{http://www.w3.org/2000/svg}"


def valid(name: str, content: Any) -> None:
    """Hold plain data against the schema that is told."""
    file = FOLDER / "schemas" / f"{name}.schema.json"
    jsonschema.Draft202012Validator(json.loads(file.read_text("utf-8"))).validate(content)


def printed(*words: object) -> Any:
    """Return what a command prints with ``--json``."""
    return json.loads(CliRunner().invoke(main, [*map(str, words), "--json"]).stdout)


@pytest.mark.parametrize("path", sorted(pages()), ids=lambda path: path.name)
def test_what_is_told_is_made_from_the_code(path: Path) -> None:
    """Schemas, columns and examples in docs/data-out are those that the program makes now."""
    assert path.read_text("utf-8") == pages()[path], "python -m tools.data_out_docs writes it anew"


@pytest.mark.parametrize("name", SHAPES)
def test_a_schema_is_a_schema(name: str) -> None:
    """Each schema names its dialect and holds against that dialect's own."""
    jsonschema.Draft202012Validator.check_schema(schemas()[name])
    assert schemas()[name]["additionalProperties"] is False


@pytest.mark.parametrize("name", NAMES)
def test_every_plan_is_valid(name: str) -> None:
    """The plan of every example, whatever its verdict, follows the schema."""
    found = printed("plan", EXAMPLES / f"{name}.yaml")
    valid("plan", found)
    assert found["verdict"] == plan_of(name).verdict


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "12-heat-pump-with-strips", "08-changeover-not-known"])
def test_other_commands_are_valid(name: str) -> None:
    """So do the checks, and what is open in a survey; a plan with a question answers with the plan."""
    house = EXAMPLES / f"{name}.yaml"
    valid("check-survey", printed("check-survey", house))
    valid("checks" if plan_of(name).verdict == "planned" else "plan", printed("checks", house))


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "04-three-heat-motor-valves", "12-heat-pump-with-strips"])
def test_the_work_is_valid(name: str, tmp_path: Path) -> None:
    """Steps with and without a record, the sheet of readings, and readings judged, follow their schemas."""
    house = EXAMPLES / f"{name}.yaml"
    steps = printed("work", house, "--outdoor-f", "70", "--licence", "gas")
    valid("work", steps)
    record = tmp_path / "record.json"
    CliRunner().invoke(main, ["work", str(house), "--walk", str(record)], input="done\ndone\nstop\n")
    valid("work", printed("work", house, "--progress", record))
    valid("check-sheet", printed("check", house))


@pytest.mark.parametrize("readings", sorted((EXAMPLES / "readings").glob("*.yaml")), ids=lambda path: path.stem)
def test_readings_judged_are_valid(readings: Path) -> None:
    """So do readings that pass, fail and are in doubt."""
    found = printed("check", EXAMPLES / f"{readings.name.partition('--')[0]}.yaml", "--readings", readings)
    valid("check", found)
    assert found["verdicts"]


@pytest.mark.parametrize("evidence", sorted((EXAMPLES / "evidence").glob("*.yaml")), ids=lambda path: path.stem)
def test_a_diagnosis_is_valid(evidence: Path) -> None:
    """So does a diagnosis, with what comes next."""
    (house,) = EXAMPLES.glob(f"{evidence.name[:3]}*.yaml")
    found = printed("diagnose", house, "--evidence", evidence)
    valid("diagnose", found)
    assert found["causes"]


@pytest.mark.parametrize(
    "words",
    [("8",), ("3", "--known", "1=A"), ("5", "--known", "1=A", "--result", "B C"), ("4", "--result", "A B C")],
    ids=" ".join,
)
def test_a_search_for_conductors_is_valid(words: tuple[str, ...]) -> None:
    """So does a search, whether it goes on, ends or contradicts itself."""
    valid("trace", printed("trace", *words))


@pytest.mark.parametrize("rooms", sorted((EXAMPLES / "rooms").glob("*.yaml")), ids=lambda path: path.stem)
def test_places_are_valid(rooms: Path) -> None:
    """So does the verdict on places for the control."""
    found = printed("site", rooms)
    valid("site", found)
    assert found["places"] or found["questions"]


@pytest.mark.parametrize("known", [(), ("--know", "area=1900")], ids=["settings alone", "with the year"])
@pytest.mark.parametrize("name", ["07-heat-only-pair", "12-heat-pump-with-strips", "13-dual-fuel"])
def test_settings_are_valid(name: str, known: tuple[str, ...]) -> None:
    """So do the settings, and a year of the house."""
    found = printed("tune", EXAMPLES / f"{name}.yaml", *known)
    valid("tune", found)
    assert ("year" in found["controls"][0]) is bool(known)


def test_faults_are_valid(tmp_path: Path) -> None:
    """What cannot be read is told in the shape of faults, of a file as of an option."""
    broken = tmp_path / "house.yaml"
    broken.write_text("survey: 1\nname: 3\ncontrols: {hall: {old: {}}}\n")
    for words in (("plan", broken), ("plan", tmp_path / "none.yaml"), ("plan", "--nothing"), ("labels", broken)):
        found = printed(*words)
        valid("faults", found)
        assert found["faults"]


def test_labels_and_data_are_valid(tmp_path: Path) -> None:
    """The commands that write files tell them in the shape that is told, and each is there."""
    valid("labels", printed("labels", HOUSE, "--out", tmp_path / "labels"))
    found = printed("data", HOUSE, "--out", tmp_path / "data")
    valid("data", found)
    assert {path.name for path in (tmp_path / "data").iterdir()} == set(found["files"])


def test_a_wrong_plan_would_not_be_valid() -> None:
    """A field that is missing, added or of another kind is refused by the schema."""
    good = printed("plan", HOUSE)
    for change in ({"verdict": "perhaps"}, {"more": 1}, {"survey": 7}):
        with pytest.raises(jsonschema.ValidationError):
            valid("plan", good | change)
    with pytest.raises(jsonschema.ValidationError):
        valid("plan", {key: value for key, value in good.items() if key != "proof"})


@pytest.mark.parametrize("name", CSV_FILES)
def test_columns_are_those_that_are_told(name: str) -> None:
    """The head of each table is the list of columns, and every row is as long."""
    rows = list(csv.reader(io.StringIO(examples()[name])))
    assert rows[0] == list(CSV_FILES[name][1])
    assert len(rows) > 1
    assert {len(row) for row in rows} == {len(rows[0])}


@pytest.mark.parametrize("name", PLANNED)
def test_a_deck_gives_the_readings_that_the_table_tells(name: str, tmp_path: Path) -> None:
    """Each circuit, read back and solved, has the volts of readings.csv between the same terminals in its call."""
    result = CliRunner().invoke(data, [str(EXAMPLES / f"{name}.yaml"), "--out", str(tmp_path), "--date", "2026-03-05"])
    assert result.exit_code == 0, result.output
    with (tmp_path / "readings.csv").open(newline="") as file:
        readings = list(csv.DictReader(file))
    compared = 0
    for deck in tmp_path.glob("circuit-*.cir"):
        solution = solve(read_deck(deck.read_text("utf-8")))
        call = deck.stem.removeprefix("circuit-")
        for row in readings:
            if re.sub(r"[^0-9a-z]+", "-", row["call"].lower()).strip("-") == call:
                volts = solution.between(row["from"], row["to"])
                if volts is not None and not math.isnan(abs(volts)):
                    assert abs(volts) == pytest.approx(float(row["expect_v"]), abs=0.02), (deck.name, row)
                    compared += 1
    assert compared > 0


@pytest.mark.parametrize("name", ["wiring-found.svg", "wiring-left.svg", "ladder-left.svg"])
def test_drawings_are_as_told(name: str) -> None:
    """Elements and attributes are those that are told; nothing points outside, and the drawing says itself in words."""
    root = Xml.fromstring(examples()[name])
    assert {item.tag.removeprefix(SVG) for item in root.iter()} <= {
        "svg",
        "title",
        "desc",
        "path",
        "rect",
        "circle",
        "text",
    }
    assert root.get("role") == "img"
    assert root.get("viewBox")
    assert (root.findtext(f"{SVG}title") or "").strip()
    assert (root.findtext(f"{SVG}desc") or "").strip()
    assert not [key for item in root.iter() for key in item.attrib if "href" in key or key in ("style", "class")]


def test_the_calendar_fills_the_week_without_gaps() -> None:
    """Every event repeats weekly, and together they cover each minute of a week once; lines keep to RFC 5545."""
    text = schedule()
    assert all(len(line.encode()) <= 75 for line in text.split("\r\n"))
    assert "\n" not in text.replace("\r\n", "")
    events = re.findall(r"BEGIN:VEVENT\r\n(.*?)END:VEVENT", text, re.DOTALL)
    minutes = [0] * (7 * 24 * 60)
    first = datetime.datetime.combine(DATE + datetime.timedelta(days=14), datetime.time())
    for event in events:
        fields = dict(line.split(":", 1) for line in event.strip().split("\r\n"))
        start, end = (datetime.datetime.strptime(fields[key], "%Y%m%dT%H%M%S") for key in ("DTSTART", "DTEND"))
        rule = rrule.rrulestr(fields["RRULE"], dtstart=start)
        for begin in rule.between(first - datetime.timedelta(days=7), first + datetime.timedelta(days=7), inc=True):
            for minute in range(int((end - start).total_seconds() // 60)):
                at = int((begin - first).total_seconds() // 60) + minute
                if 0 <= at < len(minutes):
                    minutes[at] += 1
    assert set(minutes) == {1}


def test_the_landing_code_of_the_page_can_be_read() -> None:
    """The example on the page is the first house's own code, and the example file is that of its house."""
    page = (FOLDER / "landing-code.md").read_text("utf-8")
    text = re.search(r"```\n(subbase landings.*?)\n```", page, re.DOTALL)
    assert text is not None
    assert landing_code(plan_of("01-no-common-spare-blue"), date=DATE) == (text[1],)
    assert read_landing_code([text[1]]).name == "Lilac Court 3 (invented)"
    assert examples()["landing-code.txt"] == "\n\n".join(landing_code(plan_of(HOUSE.stem), date=DATE))


def test_every_schema_and_example_stands_on_the_page() -> None:
    """The page names each schema and each kind of file."""
    page = (FOLDER / "README.md").read_text("utf-8")
    assert all(f"schemas/{name}.schema.json" in page for name in SHAPES)
    for link in re.findall(r"\]\(((?:examples|schemas)/[^)]+)\)", page):
        assert (FOLDER / link).exists(), link
