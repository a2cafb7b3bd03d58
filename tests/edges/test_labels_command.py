"""``subbase labels``: what it writes, and what it says of wrong sheets and of houses without a plan."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from subbase.cli.labels_command import labels
from subbase.papers.label_print import LABEL_COLUMNS
from tests.houses import EXAMPLES, plan_of

HOUSE = EXAMPLES / "01-no-common-spare-blue.yaml"


def run(*words: object) -> Result:
    """Run the command."""
    return CliRunner().invoke(labels, [str(word) for word in words])


def test_without_choice_they_come_on_plain_paper(tmp_path: Path) -> None:
    """Nothing asked for: flags and wraps on plain paper of the survey's country, and the table."""
    result = run(HOUSE, "--out", tmp_path / "out")
    assert result.exit_code == 0, result.output
    assert {path.name for path in (tmp_path / "out").iterdir()} == {
        "labels.csv", "letter-plain-flag.pdf", "letter-plain-wrap.pdf",
    }  # fmt: skip


def test_sheets_and_tapes_that_were_asked_for_are_written(tmp_path: Path) -> None:
    """Each sheet is a PDF, each tape a folder with an SVG and a PNG a label; nothing else is there."""
    result = run(HOUSE, "--sheet", "a4-5x13", "--tape", "12", "--style", "wrap", "--out", tmp_path, "--json")
    data = json.loads(result.output)
    left = plan_of(HOUSE.stem).left
    assert left is not None
    count = 2 * sum(1 for _ in left.conductors())
    assert data["labels"] == count
    assert (tmp_path / "a4-5x13-wrap.pdf").read_bytes().startswith(b"%PDF")
    assert len(list((tmp_path / "tape-12-wrap").glob("*.svg"))) == count
    assert len(list((tmp_path / "tape-12-wrap").glob("*.png"))) == count
    assert sorted(data["files"]) == sorted(str(p.relative_to(tmp_path)) for p in tmp_path.rglob("*") if p.is_file())


def test_the_table_has_a_row_for_each_end(tmp_path: Path) -> None:
    """labels.csv: the declared columns, and both ends of the blue spare that became the common."""
    run(HOUSE, "--out", tmp_path)
    with (tmp_path / "labels.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == list(LABEL_COLUMNS)
    blue = [row for row in rows if row["cable"] == "wall" and row["conductor"] == "blue"]
    assert [(r["place"], r["terminal"], r["carries"], r["other_end"], r["number"]) for r in blue] == [
        ("hall", "C", "common", "furnace C", "1"),
        ("furnace", "C", "common", "hall C", "1"),
    ]


@pytest.mark.parametrize(
    ("sheet", "said"),
    [
        ("nothing", "is no sheet: name one of a4-5x13"),
        ("a4,5,13,38.1", "is no sheet"),
        ("a4,5,13,50,20,50,20,0,0", "reach 250.0 x 260.0 mm; the paper is 210 x 297 mm"),
        ("a4,2,2,50,20,40,20,0,0", "the labels overlap"),
        ("a4,2,2,3,20,40,20,0,0", "no room for text of 6 pt"),
        ("a4,0,2,30,20,40,20,0,0", "1 to 100 columns"),
    ],
)
def test_a_sheet_that_cannot_be_is_refused(sheet: str, said: str, tmp_path: Path) -> None:
    """A wrong name or impossible dimensions are one sentence with what is wrong, and nothing is written."""
    result = run(HOUSE, "--sheet", sheet, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert said in result.stderr
    assert not (tmp_path / "out").exists()


def test_a_sheet_of_ones_own_is_taken(tmp_path: Path) -> None:
    """Nine dimensions make a sheet."""
    result = run(HOUSE, "--sheet", "letter,3,10,66.7,25.4,69.9,25.4,4.7,12.7", "--style", "flag", "--out", tmp_path)
    assert result.exit_code == 0, result.output
    assert (tmp_path / "sheet-1-flag.pdf").exists()


def test_a_stopped_house_has_no_labels(tmp_path: Path) -> None:
    """Where the plan stops, it says so, and nothing is written."""
    result = run(EXAMPLES / "10-stop-line-voltage.yaml", "--out", tmp_path / "out")
    assert result.exit_code == 3
    assert not (tmp_path / "out").exists()


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    """A file in the way of the folder is one sentence."""
    (tmp_path / "out").write_text("in the way")
    result = run(HOUSE, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "The labels cannot be written" in result.stderr


def test_the_sheets_can_be_listed() -> None:
    """'list' tells every named sheet by its dimensions."""
    result = run("none", "--sheet", "list")
    assert "A4, 5 by 13 labels of 38.1 x 21.2 mm" in result.output
