"""The command ``fleet`` as people use it, and use it wrongly."""

from __future__ import annotations

import json
from pathlib import Path

from click.testing import CliRunner

from subbase.cli.fleet_command import fleet, progress_words
from subbase.fleet.run import Progress
from tests.fleet_lists import MAPPING, write_list

EXAMPLE = Path(__file__).parents[2] / "examples" / "fleet"


def test_a_list_is_screened_and_told(tmp_path: Path) -> None:
    """The command writes every result and says how many homes came to what."""
    (tmp_path / "mapping.toml").write_text(MAPPING)
    words = [
        "screen",
        str(write_list(tmp_path, 30)),
        "--mapping",
        str(tmp_path / "mapping.toml"),
        "--out",
        str(tmp_path / "out"),
    ]
    ran = CliRunner().invoke(fleet, [*words, "--workers", "1"])
    assert ran.exit_code == 0, ran.output
    assert "30 homes:" in ran.output
    assert "structures of wiring" in ran.output
    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {
        "homes.parquet",
        "reasons.parquet",
        "refused.csv",
        "parts.csv",
        "questions.csv",
        "report.html",
        "report.pdf",
    } <= names
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF")
    again = CliRunner().invoke(fleet, [*words, "--workers", "1", "--json"])
    assert json.loads(again.stdout)["rows"] == 30


def test_a_look_plans_nothing(tmp_path: Path) -> None:
    """Before anything is planned, a look says how many rows are refused; the run then refuses as many."""
    (tmp_path / "mapping.toml").write_text(MAPPING)
    words = [
        "screen",
        str(write_list(tmp_path, 30)),
        "--mapping",
        str(tmp_path / "mapping.toml"),
        "--out",
        str(tmp_path / "out"),
    ]
    look = CliRunner().invoke(fleet, [*words, "--workers", "1", "--look", "--json"])
    assert not (tmp_path / "out" / "homes.parquet").exists()
    ran = CliRunner().invoke(fleet, [*words, "--workers", "1", "--json"])
    assert json.loads(look.stdout)["refused"] == json.loads(ran.stdout)["verdicts"]["refused"] > 0
    assert json.loads(look.stdout)["structures"] == json.loads(ran.stdout)["structures"]


def test_the_example_list_is_screened(tmp_path: Path) -> None:
    """The example in the guide runs as it stands there."""
    words = ["screen", str(EXAMPLE / "flats.csv"), "--mapping", str(EXAMPLE / "mapping.toml"), "--out", str(tmp_path)]
    ran = CliRunner().invoke(fleet, [*words, "--workers", "1", "--json"])
    assert ran.exit_code == 0, ran.output
    told = json.loads(ran.stdout)
    assert told["rows"] == sum(told["verdicts"].values())
    assert all(told["verdicts"].values()), "the example shows every verdict"


def test_a_missing_list_is_one_sentence(tmp_path: Path) -> None:
    """A file that is not there is told, with exit code 2 and no traceback."""
    (tmp_path / "mapping.toml").write_text(MAPPING)
    words = [
        "screen",
        str(tmp_path / "no.csv"),
        "--mapping",
        str(tmp_path / "mapping.toml"),
        "--out",
        str(tmp_path / "out"),
    ]
    ran = CliRunner().invoke(fleet, words)
    assert ran.exit_code == 2
    assert "There is no such file or folder." in ran.output
    assert "Traceback" not in ran.output


def test_made_up_lists_are_the_same_for_a_seed(tmp_path: Path) -> None:
    """The same seed makes the same bytes, another makes others, and both formats hold as many homes."""
    for name, seed in (("a", "4"), ("b", "4"), ("c", "5")):
        ran = CliRunner().invoke(fleet, ["make", "60", "--seed", seed, "--out", str(tmp_path / name)])
        assert ran.exit_code == 0, ran.output
    first, second, third = ((tmp_path / name / "fleet.csv").read_bytes() for name in "abc")
    assert first == second != third
    ran = CliRunner().invoke(fleet, ["make", "60", "--format", "parquet", "--out", str(tmp_path / "d"), "--json"])
    assert json.loads(ran.stdout)["rows"] == 60


def test_facts_are_listed() -> None:
    """Every fact that a mapping may name is told with its words."""
    ran = CliRunner().invoke(fleet, ["facts"])
    assert "letters" in ran.output
    assert "'boiler, start pair'" in ran.output
    assert json.loads(CliRunner().invoke(fleet, ["facts", "--json"]).stdout)[0]["fact"] == "id"


def test_progress_tells_rate_and_time_left() -> None:
    """Half done in ten seconds is ten more to go; what an earlier run did counts for no rate."""
    words = progress_words(Progress("screen", 600, 1000, 200), 10.0)
    assert "600/1,000" in words
    assert "40/s" in words
    assert "0:10 left" in words
    assert "left" not in progress_words(Progress("screen", 1000, 1000, 0), 10.0)
