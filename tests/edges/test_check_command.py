"""The command that checks off: the sheet goes round, examples end with their codes, faults are sentences."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from subbase.cli.check_command import check
from tests.houses import EXAMPLES

PLAIN = EXAMPLES / "01-no-common-spare-blue.yaml"
READINGS = EXAMPLES / "readings"


def run(*words: object) -> Result:
    """Run the command."""
    return CliRunner().invoke(check, [str(word) for word in words])


def filled(sheet: str) -> str:
    """Return a sheet with each reading filled in at the middle of its printed bounds."""
    lines, value = [], ""
    for line in sheet.splitlines():
        bounds = re.search(r"must be (?:([\d.]+)(?: ohm)? to ([\d.]+|OL)|(OL))", line)
        if bounds is not None:
            value = "OL" if "OL" in (bounds[2], bounds[3]) else f"{(float(bounds[1]) + float(bounds[2])) / 2:.3f}"
        lines.append(f"{line} {value}" if line == "    value:" else line)
    return "\n".join(lines)


@pytest.mark.parametrize(
    "house", ["01-no-common-spare-blue", "04-three-heat-motor-valves", "07-heat-only-pair", "12-heat-pump-with-strips"]
)
def test_the_sheet_filled_in_and_fed_back_proves_the_house(house: str, tmp_path: Path) -> None:
    """What the command prints can be filled in as it stands: every reading is then judged a pass."""
    file = EXAMPLES / f"{house}.yaml"
    sheet = run(file)
    assert sheet.exit_code == 0
    taken = tmp_path / "taken.yaml"
    taken.write_text(filled(sheet.stdout), "utf-8")
    result = run(file, "--readings", taken, "--json")
    data = json.loads(result.stdout)
    assert {item["verdict"] for item in data["verdicts"]} == {"pass"}
    assert data["proved"]
    assert (data["slips_possible"], data["remaining"], data["not_taken"]) == ([], [], [])
    assert result.exit_code == 0


def test_the_sheet_fed_back_empty_says_what_is_to_be_taken(tmp_path: Path) -> None:
    """Nothing taken proves nothing."""
    taken = tmp_path / "taken.yaml"
    taken.write_text(run(PLAIN).stdout, "utf-8")
    result = run(PLAIN, "--readings", taken)
    assert result.exit_code == 4
    assert "0 of 6 checks passed" in result.stdout
    assert "To take yet:" in result.stdout


@pytest.mark.parametrize(
    ("name", "code", "said"),
    [
        ("01-no-common-spare-blue--good", 0, "PROVED"),
        ("01-no-common-spare-blue--bad-reading", 4, "METER OR LEAD SUSPECT"),
        ("01-no-common-spare-blue--swapped-conductors", 3, "POWER OFF NOW"),
        ("12-heat-pump-with-strips--warm-in-cooling", 4, "The air is warm in cool 1; it must be cold"),
    ],
)
def test_examples_end_with_their_codes(name: str, code: int, said: str) -> None:
    """A good house, a bad reading, conductors swapped, a changeover set wrong: each is said and has its exit code."""
    house = EXAMPLES / f"{name.split('--', maxsplit=1)[0]}.yaml"
    result = run(house, "--readings", READINGS / f"{name}.yaml")
    assert said in result.stdout
    assert result.exit_code == code


def test_every_verdict_says_why_and_what_it_was_held_against() -> None:
    """In JSON each verdict bears one sentence, its line, and bounds wherever it was judged by number."""
    readings = READINGS / "01-no-common-spare-blue--swapped-conductors.yaml"
    data = json.loads(run(PLAIN, "--readings", readings, "--json").stdout)
    assert data["stop"]
    for item in data["verdicts"]:
        assert item["why"].endswith(".")
        assert item["line"] > 0
        assert item["low"] is not None or item["high"] is None
    failing = [item for item in data["verdicts"] if item["verdict"] == "fail"]
    assert failing
    assert any(item["explained_by"] for item in failing)


def test_a_reading_that_was_taken_again_is_said_to_be_replaced(tmp_path: Path) -> None:
    """The later reading counts, and the earlier one is named with both lines."""
    taken = tmp_path / "taken.yaml"
    one = "  - {between: [hall.R, hall.C], call: heat 1, unit: V, value: %s}\n"
    taken.write_text("readings taken: 1\nreadings:\n" + one % 12.5 + one % 25.5, "utf-8")
    result = run(PLAIN, "--readings", taken)
    assert "line 3: hall.R to hall.C at hall: heat 1 read 12.5 V; line 4, 25.5 V, counts in its place" in " ".join(
        result.stdout.split()
    )
    assert result.exit_code == 0


def test_faults_end_with_code_2_and_one_sentence_each(tmp_path: Path) -> None:
    """Bad input is no traceback, in text and in JSON."""
    taken = tmp_path / "taken.yaml"
    taken.write_text("readings taken: 1\nreadings:\n  - {between: [hall.R, hall.Q], value: x, unit: V}\n", "utf-8")
    result = run(PLAIN, "--readings", taken)
    assert result.exit_code == 2
    assert "2 faults" in result.stderr
    data = json.loads(run(PLAIN, "--readings", taken, "--json").stdout)
    assert [fault["line"] for fault in data["faults"]] == [3, 3]


def test_a_stopped_house_has_no_sheet() -> None:
    """A house that is stopped ends with the code of a stop, whatever readings are given."""
    assert run(EXAMPLES / "10-stop-line-voltage.yaml").exit_code == 3


def test_the_sheet_as_json_has_the_sequences_with_their_sources() -> None:
    """Each step bears its span and where the span is from."""
    data = json.loads(run(PLAIN, "--json").stdout)
    steps = [step for sequence in data["sequences"] for step in sequence["steps"]]
    assert steps
    assert all(step["source"] and step["earliest_s"] <= step["latest_s"] for step in steps)


def test_help_has_an_example_and_the_exit_codes() -> None:
    """The help says what each code means and shows a line to copy."""
    text = run("--help").stdout
    assert "Example:" in text
    assert "Exit codes:" in text
