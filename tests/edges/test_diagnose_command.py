"""``subbase diagnose`` from files, from a pipe, and with bad input."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from subbase.cli.diagnose_command import diagnose
from tests.houses import EXAMPLES

HOUSE = str(EXAMPLES / "01-no-common-spare-blue.yaml")
NO_HEAT = str(EXAMPLES / "evidence" / "01-no-heat.yaml")


def run(*words: str, said: str = "") -> Result:
    """Run the command."""
    return CliRunner().invoke(diagnose, list(words), input=said, catch_exceptions=False)


def test_evidence_from_a_file_gives_one_json_object() -> None:
    """Causes, the next test with its outcomes, and everything that was weighed."""
    result = run(HOUSE, "--evidence", NO_HEAT, "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 4
    assert data["next"]["action"] == "probe"
    assert data["next"]["test"]["minutes"] > 0.0
    assert "inducer" in data["causes"][0]["words"]
    assert sum(cause["probability"] for cause in data["causes"]) + data["none_of_these"] <= 1.0 + 1e-9
    assert len(data["readings"]) == 5


@pytest.mark.parametrize("evidence", sorted((EXAMPLES / "evidence").glob("*.yaml")), ids=lambda path: path.stem)
def test_every_example_of_evidence_is_weighed(evidence: Path) -> None:
    """Each file fits the house whose number it bears."""
    survey = next(EXAMPLES.glob(f"{evidence.stem[:2]}-*.yaml"))
    left = ["--as-left"] if evidence.stem.startswith("15") else []
    result = run(str(survey), "--evidence", str(evidence), *left)
    assert result.exit_code in (0, 4)
    assert "Likeliest causes:" in result.stdout


def test_answers_from_a_pipe_are_asked_weighed_and_saved(tmp_path: Path) -> None:
    """'?' is an answer, nonsense is asked again, the end of the pipe ends it, and the answers are kept."""
    kept = tmp_path / "kept.yaml"
    result = run(HOUSE, "--save", str(kept), said="new work, gossip\n?\nrubbish\n")
    assert result.exit_code == 4
    assert "'gossip' is not known here" in result.stderr
    assert "'rubbish' is no answer to this" in result.stderr
    again = run(HOUSE, "--evidence", str(kept), "--json")
    data = json.loads(again.stdout)
    assert data["history"] == ["new work"]
    assert [reading["value"] for reading in data["readings"]] == [None]


def test_choosing_to_repair_prints_what_to_do() -> None:
    """'repair' ends the testing with the likeliest cause's repair, its proof, and when to stop."""
    result = run(HOUSE, "--evidence", NO_HEAT, "--ask", said="repair\n")
    assert result.exit_code == 0
    assert all(word in result.stdout for word in ("Do:", "Part:", "Proof:", "Stop:"))


def test_a_repair_that_did_not_help_is_followed_by_more_tests(tmp_path: Path) -> None:
    """After 'yes, something is still wrong' the search goes on without what was repaired, and the file keeps it so."""
    kept = tmp_path / "kept.yaml"
    result = run(HOUSE, "--evidence", NO_HEAT, "--ask", "--save", str(kept), said="repair\nyes\n")
    assert "Is anything still wrong?" in result.stderr
    assert result.stderr.count("Next:") == 2
    assert '"repaired":' in kept.read_text("utf-8")


def test_cold_outdoors_keeps_compressor_tests_back() -> None:
    """No test that runs a compressor for cooling is asked for at 41 °F."""
    data = json.loads(run(HOUSE, "--evidence", NO_HEAT, "--json").stdout)
    assert "cool 1" not in str(data["next"]["test"]["calls"])


def test_bad_evidence_is_refused_with_its_line(tmp_path: Path) -> None:
    """Exit code 2, one sentence a fault."""
    bad = tmp_path / "bad.yaml"
    bad.write_text("evidence: 1\nreadings:\n  - {volts: 3}\n", "utf-8")
    result = run(HOUSE, "--evidence", str(bad))
    assert result.exit_code == 2
    assert f"{bad}:3:" in result.stderr


def test_a_house_that_is_stopped_is_not_diagnosed() -> None:
    """Line voltage at the wall: the plan's own stop, and its exit code."""
    result = run(str(EXAMPLES / "10-stop-line-voltage.yaml"), "--evidence", NO_HEAT)
    assert result.exit_code == 3


def test_own_odds_change_what_comes_first(tmp_path: Path) -> None:
    """The odds that come with the package are printed to begin one's own from; with them the ranking is weighed anew."""
    shown = run("--show-odds")
    assert shown.exit_code == 0
    own, evidence = tmp_path / "own.toml", tmp_path / "e.yaml"
    evidence.write_text("evidence: 1\nhistory: [at my firm]\n", encoding="utf-8")
    likely = shown.stdout.replace('"coil open" = 0.005', '"coil open" = 900.0')
    own.write_text(likely + '\n[history."at my firm"]\n"coil open" = 2.0\n', encoding="utf-8")
    asked = (HOUSE, "--evidence", str(evidence), "--json")
    weighed = run(*asked, "--odds", str(own))
    assert json.loads(weighed.stdout)["causes"][0]["faults"][0][0]["kind"] == "coil open"
    refused = run(*asked)
    assert (refused.exit_code, "no history known here" in refused.output) == (2, True)
    missing = run(*asked, "--odds", str(tmp_path / "none.toml"))
    assert (missing.exit_code, "cannot be read" in missing.output) == (2, True)
