"""``subbase work``: the steps as text and JSON, a walk that stops and goes on, and records that do not fit."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from subbase.cli.work_command import work
from tests.houses import EXAMPLES

PLAIN = str(EXAMPLES / "07-heat-only-pair.yaml")
"""The house whose steps are made fastest."""


def run(*words: str, typed: str = "") -> Result:
    """Return what the command says."""
    result = CliRunner().invoke(work, list(words), input=typed)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result


def test_steps_are_printed_phase_by_phase_with_cautions_before_them() -> None:
    """The text numbers every step; locks come before moves, moves before supply, and a caution stands over its step."""
    result = run(PLAIN)
    assert result.exit_code == 0
    said = result.stdout
    places = [said.index(word) for word in ("LOCK OUT", "PROVE DEAD", "MOVE, ONE END", "METER, STILL DEAD", "SUPPLY ON", "CALLS")]  # fmt: skip
    assert places == sorted(places)
    assert said.index("CAUTION: Only while locked out") < said.index("Clip parlour.W1 and parlour.Rh together")


def test_json_names_every_gate() -> None:
    """In JSON each step waits only for steps above it, and OL is null on both sides."""
    data = json.loads(run(PLAIN, "--json", "--outdoor-f", "40").stdout)
    assert data["outdoor_c"] == pytest.approx(4.444, abs=0.001)
    seen: set[str] = set()
    for step in data["steps"]:
        assert set(step["after"]) <= seen
        seen.add(step["id"])
    apart = next(s for s in data["steps"] if s["expected"] and s["expected"]["between"] == ["parlour.C", "parlour.Rh"])
    assert (apart["expected"]["low"], apart["expected"]["high"]) == (None, None)


def test_a_stopped_house_has_no_steps() -> None:
    """A stop is told as the plan tells it, with its code; so is a question."""
    stopped = run(str(EXAMPLES / "10-stop-line-voltage.yaml"))
    assert stopped.exit_code == 3
    assert "STOP" in stopped.stdout
    assert run(str(EXAMPLES / "08-changeover-not-known.yaml")).exit_code == 4


def test_a_walk_stops_and_goes_on_where_it_was(tmp_path: Path) -> None:
    """Each answer is kept at once; the same command goes on with the next step, without the weather being given again."""
    record = tmp_path / "job.json"
    first = run(PLAIN, "--season", "heating", "--walk", str(record), typed="done\ndone\nstop\n")
    assert first.exit_code == 4
    assert json.loads(record.read_text())["results"][0]["step"] == "look/stops"
    again = run(PLAIN, "--walk", str(record), typed="")
    assert "2 of" in again.stdout
    assert "--- 3 of" in again.stdout
    assert "--- 1 of" not in again.stdout
    assert list(tmp_path.iterdir()) == [record]


def test_a_walk_puts_caution_first_and_blocks_on_a_wrong_reading(tmp_path: Path) -> None:
    """A meter that shows 12 V on a live receptacle is told as not met, and asked again; 'back' takes the last answer back."""
    record = tmp_path / "job.json"
    upto = "done\n" * 5
    result = run(PLAIN, "--walk", str(record), typed=f"{upto}12\n120\nback\nstop\n")
    said = result.stdout
    meter = said.index("CAUTION: Meter of CAT III")
    assert meter < said.index("Prove the meter on a known live source")
    assert "NOT MET. Lower than it must be" in said
    assert "Taken back: Prove the meter on a known live source. To be done again: 1." in said
    assert [r["did"] for r in json.loads(record.read_text())["results"]][-3:] == ["read", "read", "undone"]


def test_a_walk_can_be_finished_from_a_script(tmp_path: Path) -> None:
    """Answers that meet every step end the job with code 0, and --progress then shows all of it done."""
    record = tmp_path / "job.json"
    data = json.loads(run(PLAIN, "--json").stdout)
    answers = []
    for step in data["steps"]:
        bounds = step["expected"]
        if bounds is None:
            answers.append("done")
        elif bounds["low"] is None or bounds["high"] is None:
            answers.append("OL")
        else:
            answers.append(str((bounds["low"] + bounds["high"]) / 2))
        if not step["may_do"]:
            answers.append("somebody licensed")
    result = run(PLAIN, "--walk", str(record), typed="\n".join(answers) + "\n")
    assert "All met." in result.stdout
    assert result.exit_code == 0
    shown = run(PLAIN, "--progress", str(record))
    assert shown.exit_code == 0
    assert "[ ] " not in shown.stdout.partition("LOOK FIRST")[2]


def test_a_thermometer_is_read_in_the_units_of_the_survey(tmp_path: Path) -> None:
    """A US house is asked for °F; 40 is too cold for a compressor, and is kept as 4.4 °C."""
    record = tmp_path / "job.json"
    house = str(EXAMPLES / "09-unknown-that-does-not-matter.yaml")
    cooled = str(EXAMPLES / "01-no-common-spare-blue.yaml")
    assert "outdoor temperature" not in run(house, "--json").stdout
    result = run(cooled, "--walk", str(record), typed="done\ndone\n40\nlater\nstop\n")
    assert "60 °F or more" in result.stdout
    assert "NOT MET. Lower than it must be: too cold" in result.stdout
    kept = json.loads(record.read_text())["results"][-1]
    assert kept["value"] == pytest.approx(4.444, abs=0.001)


def test_answers_that_are_none_are_asked_again(tmp_path: Path) -> None:
    """Nonsense, a number where nothing is read, and an empty line change nothing."""
    record = tmp_path / "job.json"
    result = run(PLAIN, "--walk", str(record), typed="perhaps\n12\n\nskip\nbecause\nstop\n")
    assert "'perhaps' is no answer here." in result.stdout
    assert "may not be left out" in result.stdout
    assert json.loads(record.read_text())["results"] == []


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "no JSON"),
        ("[]", "no record of work steps"),
        ('{"format": 2, "results": []}', "no record of work steps"),
        ('{"format": 1, "plan": "0", "results": []}', "belongs to other steps"),
    ],
)
def test_a_record_that_does_not_fit_is_refused_and_left_alone(tmp_path: Path, text: str, told: str) -> None:
    """A file that is no record, or one of other steps, is told by its name and not written over."""
    record = tmp_path / "job.json"
    record.write_text(text)
    for option in ("--walk", "--progress"):
        result = run(PLAIN, option, str(record))
        assert result.exit_code == 2
        assert told in result.output
        assert str(record) in result.output
    assert record.read_text() == text


@pytest.mark.parametrize(
    "item",
    [
        7,
        {"step": "look/stops"},
        {"step": "look/stops", "did": "guessed"},
        {"step": "look/stops", "did": "read", "value": True},
    ],
)
def test_a_result_that_is_none_is_named(tmp_path: Path, item: object) -> None:
    """A spoilt result is told by its place in the record."""
    record = tmp_path / "job.json"
    run(PLAIN, "--walk", str(record), typed="")
    data = json.loads(record.read_text())
    record.write_text(json.dumps({**data, "results": [item]}))
    result = run(PLAIN, "--progress", str(record), "--json")
    assert result.exit_code == 2
    assert json.loads(result.stdout)["faults"][0]["field"] == "results.0"


@pytest.mark.parametrize(
    "words",
    [
        ["--outdoor-f", "400"],
        ["--outdoor-f", "40", "--outdoor-c", "4"],
        ["--progress", "not-there.json"],
        ["--walk", "a.json", "--progress", "b.json"],
        ["--walk", "a.json", "--json"],
    ],
)
def test_options_that_cannot_be_are_refused(words: list[str]) -> None:
    """A temperature off the earth, one given twice, no record, or two ways at once: one sentence and code 2."""
    result = run(PLAIN, *words)
    assert result.exit_code == 2
    assert "Traceback" not in result.output
    assert not Path("a.json").exists()


def test_a_record_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """Where there is no such folder the walk does not begin."""
    result = run(PLAIN, "--walk", str(tmp_path / "none" / "job.json"), typed="done\n")
    assert result.exit_code == 2
    assert "cannot be written" in result.output


def test_help_has_an_example() -> None:
    """The help shows how to walk and what the exit codes say."""
    said = run("--help").stdout
    assert "--walk job.json" in said
    assert "Exit codes" in said
