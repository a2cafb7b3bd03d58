"""The command that says where the control goes, and the drawings and sheet that it writes."""

from __future__ import annotations

import datetime
import json
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree as Xml

import pytest
from click.testing import CliRunner

from subbase.cli.site_command import site
from subbase.papers.drawing import Area, Drawing, svg
from subbase.papers.site_page import site_drawing, site_drawings, site_pdf
from subbase.siting.verdict import judge_site
from subbase.survey.rooms_reading import load_site
from tests.houses import EXAMPLES

FILES = sorted((EXAMPLES / "rooms").glob("*.yaml"))
CODES = (0, 0, 3, 4)


@pytest.mark.parametrize(("path", "code"), tuple(zip(FILES, CODES, strict=True)), ids=str)
def test_the_verdict_comes_first_and_leaves_with_its_code(path: Path, code: int) -> None:
    """Text and data say the same, and the exit code tells a place, none, or a question."""
    text = CliRunner().invoke(site, [str(path)])
    assert text.exit_code == code, text.output
    found = CliRunner().invoke(site, [str(path), "--json"])
    assert found.exit_code == code
    data = json.loads(found.stdout)
    assert data["outcome"] in {0: ("place", "elsewhere"), 3: ("none",), 4: ("question",)}[code]
    assert "PLACES, BEST FIRST" in text.stdout
    for place in (*data["places"], *data["found"]):
        assert place["name"] in " ".join(text.stdout.split())
        assert place["ruled_out"] == any(f["weight"] == "rules out" for f in place["findings"])
        if place["sun"] is not None:
            hours = sum(map(sum, place["sun"]["by_month_and_hour"].values()))
            assert hours == pytest.approx(place["sun"]["hours"], abs=15.0)
    if data["best"] is not None:
        assert data["best"] in text.stdout


def test_bad_input_is_told_with_its_line_and_code_2(tmp_path: Path) -> None:
    """A file that cannot be read leaves with 2 and one sentence, as text and as JSON."""
    bad = tmp_path / "bad.yaml"
    bad.write_text("name: x\nsite:\n  rooms:\n    hall: {size: [3, yes]}\n")
    result = CliRunner().invoke(site, [str(bad)])
    assert result.exit_code == 2
    assert "bad.yaml:4:" in result.stderr
    data = json.loads(CliRunner().invoke(site, [str(bad), "--json"]).stdout)
    assert data["faults"][0]["line"] == 4
    assert CliRunner().invoke(site, [str(tmp_path / "none.yaml")]).exit_code == 2
    assert CliRunner().invoke(site, [str(FILES[0]), "--weather", str(bad)]).exit_code == 2


def test_the_papers_are_written_whole(tmp_path: Path) -> None:
    """Sheet, drawing and data are there, and the data are what --json prints."""
    out = tmp_path / "out"
    result = CliRunner().invoke(site, [str(FILES[0]), "--out", str(out), "--date", "2026-03-05", "--json"])
    assert {path.name for path in out.iterdir()} == {"site.pdf", "site.svg", "site.json"}
    assert json.loads((out / "site.json").read_text()) == json.loads(result.stdout)
    assert (out / "site.pdf").read_bytes().startswith(b"%PDF")
    Xml.fromstring((out / "site.svg").read_text())
    file = tmp_path / "file"
    file.write_text("")
    assert CliRunner().invoke(site, [str(FILES[0]), "--out", str(file)]).exit_code == 2


def test_weather_is_joined_in(tmp_path: Path) -> None:
    """With a weather year that is all cloud, no hour of sun is bright; the possible hours stay."""
    epw = tmp_path / "cloud.epw"
    head = ["LOCATION,Nowhere,-,-,made up,0,41.9,-87.6,-6.0,180.0"]
    head += [f"{word},0" for word in ("DESIGN CONDITIONS", "TYPICAL/EXTREME PERIODS", "GROUND TEMPERATURES")]
    head += [
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,",
        "COMMENTS 2,",
        "DATA PERIODS,1,1,Data,Sunday,1/1,12/31",
    ]
    days = [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
    tail = "60,?9,10.0,5.0,70,99000,0,0,300,0,0,0,0,0,0,0,180,3.0,5,5,16,7777,9,999999999,150,0.05,0,88,0.2,0,0"
    rows = [
        f"2005,{month},{day},{hour},{tail}"
        for month, count in enumerate(days, 1)
        for day in range(1, count + 1)
        for hour in range(1, 25)
    ]
    epw.write_text("\n".join([*head, *rows]) + "\n")
    result = CliRunner().invoke(site, [str(FILES[0]), "--weather", str(epw), "--json"])
    assert result.exit_code == 0, result.output
    suns = [place["sun"] for place in json.loads(result.stdout)["places"]]
    assert all(sun["bright_hours"] == 0.0 for sun in suns)
    assert any(sun["hours"] > 0.0 for sun in suns)


def drawings(path: Path) -> tuple[Drawing, ...]:
    """Return an example's drawings."""
    return site_drawings(judge_site(load_site(path)))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_no_text_lies_over_another_or_off_the_sheet(path: Path) -> None:
    """On every drawing each text has its own room, is at least 8 points high, and the drawing says what it shows."""
    for drawing in drawings(path):
        sheet = Area(0, 0, drawing.width, drawing.height)
        assert drawing.about
        assert drawing.least_text() >= 8.0
        assert all(sheet.holds(text.area()) for text in drawing.texts()), drawing.title
        for one, other in combinations(drawing.texts(), 2):
            assert not one.area().overlaps(other.area()), (drawing.title, one.text, other.text)


def test_the_same_house_gives_the_same_papers() -> None:
    """Drawing and sheet are the same bytes each time."""
    verdict = judge_site(load_site(FILES[1]))
    again = judge_site(load_site(FILES[1]))
    date = datetime.date(2026, 3, 5)
    assert svg(site_drawing(verdict)) == svg(site_drawing(again))
    assert site_pdf(verdict, date=date) == site_pdf(again, date=date)
