"""The command line: exit codes, JSON, files written whole or not at all, help texts, and what help loads."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from subbase.cli import main
from subbase.papers.data_plan import PlanShape
from subbase.plan import make_plan
from subbase.survey import load_survey
from tests.edges.surveys import GOOD, changed
from tests.houses import EXAMPLES, NAMES, plan_of

ROOT = EXAMPLES.parent
COMMANDS = tuple(main.list_commands(click.Context(main)))
PLANNED = EXAMPLES / "01-no-common-spare-blue.yaml"
STOPPED = EXAMPLES / "10-stop-line-voltage.yaml"
QUESTION = EXAMPLES / "08-changeover-not-known.yaml"
CONTRADICTED = EXAMPLES / "16-reading-contradicts.yaml"
DAY = "--date=2026-01-31"


def run(*words: str | Path, answers: str | None = None) -> Result:
    """Run a command in this process."""
    return CliRunner().invoke(main, [str(word) for word in words], input=answers)


def data_of(result: Result) -> Any:
    """Return the one JSON value that a command printed."""
    return json.loads(result.stdout)


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    """Return a survey with two faults."""
    file = tmp_path / "bad.yaml"
    file.write_text(changed("kind: gas-furnace-1", "kind: furnace").replace("units: us", "units: imperial"))
    return file


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("plan", PLANNED), 0),
        (("plan", STOPPED), 3),
        (("plan", QUESTION), 4),
        (("plan", CONTRADICTED), 4),
        (("plan", "not-there.yaml"), 2),
        (("plan", EXAMPLES), 2),
        (("plan",), 2),
        (("check-survey", PLANNED), 0),
        (("check-survey", QUESTION), 0),
        (("check-survey", CONTRADICTED), 4),
        (("check-survey", "not-there.yaml"), 2),
        (("show", STOPPED), 0),
        (("show", "not-there.yaml"), 2),
        (("kinds",), 0),
        (("kinds", "--catalogue", "not-there"), 2),
        (("schema", "kind"), 0),
        (("schema", "house"), 2),
        (("nothing",), 2),
    ],
)
def test_exit_codes_say_what_came_of_it(words: tuple[str | Path, ...], code: int) -> None:
    """0 planned or done, 2 the input cannot be read, 3 stopped, 4 a question must be answered first."""
    assert run(*words).exit_code == code


@pytest.mark.parametrize(("file", "code"), [(PLANNED, 0), (STOPPED, 3), (QUESTION, 4), (EXAMPLES, 2)])
def test_a_real_process_ends_with_the_same_codes(file: Path, code: int) -> None:
    """The exit code reaches the shell; text goes to stdout, faults to stderr."""
    done = subprocess.run(
        [sys.executable, "-m", "subbase.cli", "plan", file], capture_output=True, text=True, check=False
    )
    assert done.returncode == code
    assert bool(done.stderr) == (code == 2)
    assert bool(done.stdout) == (code != 2)


def test_faults_are_told_one_a_line_on_stderr(bad: Path) -> None:
    """Each fault is one line that begins with file, line and column; the last line counts them."""
    result = run("plan", bad)
    first, second, count = result.stderr.splitlines()
    assert re.match(rf"{re.escape(str(bad))}:\d+:\d+: units: ", first)
    assert re.match(rf"{re.escape(str(bad))}:\d+:\d+: equipment\.furnace\.kind: ", second)
    assert count == "2 faults; nothing was written."
    assert result.stdout == ""


@pytest.mark.parametrize("command", ["plan", "check-survey", "show"])
def test_json_of_a_survey_that_cannot_be_read_holds_its_faults(command: str, bad: Path) -> None:
    """With ``--json`` faults are one JSON object on stdout, and stderr stays empty."""
    result = run(command, bad, "--json")
    assert (result.exit_code, result.stderr) == (2, "")
    faults = data_of(result)["faults"]
    assert [fault["field"] for fault in faults] == ["units", "equipment.furnace.kind"]
    assert all(fault.keys() == {"file", "line", "column", "field", "message"} for fault in faults)


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "--json"),
        ("plan", "--json", PLANNED, "--bogus"),
        ("plan", "--json", PLANNED, "--date", "tomorrow"),
        ("plan", "--json", PLANNED, "--out", PLANNED),
        ("plan", "--json", EXAMPLES),
        ("kinds", "--json", "--catalogue", "not-there"),
        ("nothing", "--json"),
    ],
)
def test_json_of_a_wrong_call_is_json_too(words: tuple[str | Path, ...]) -> None:
    """Who asks for JSON gets JSON: also for a missing argument, a wrong option, a folder that is none."""
    result = run(*words)
    assert (result.exit_code, result.stderr) == (2, "")
    assert data_of(result)["faults"]


@pytest.mark.parametrize("name", NAMES)
def test_json_of_every_example_is_one_object(name: str) -> None:
    """Plan, check and show of every example print one JSON object that agrees with the plan."""
    file = EXAMPLES / f"{name}.yaml"
    plan, check, show = (data_of(run(command, file, "--json")) for command in ("plan", "check-survey", "show"))
    made = plan_of(name)
    assert (plan["format"], plan["verdict"], plan["survey"]) == (1, made.verdict, made.survey.name)
    assert [item["chosen"] for item in plan["controls"]] == [item.chosen.name for item in made.controls]
    assert check["faults"] == []
    assert show["controls"].keys() == made.survey.controls.keys()


@pytest.mark.parametrize("name", NAMES)
def test_text_of_every_example_is_shown(name: str) -> None:
    """Plan, check and show of every example print text that begins with the job's name."""
    for command in ("plan", "check-survey", "show"):
        result = run(command, EXAMPLES / f"{name}.yaml")
        assert result.stdout.startswith(plan_of(name).survey.name)
        assert result.stderr == ""


def test_kinds_as_json_are_the_catalogue() -> None:
    """``kinds --json`` holds each kind by its name."""
    kinds = data_of(run("kinds", "--json"))
    assert kinds["gas-furnace-1"]["terminals"].keys() == {"R", "C", "W", "Y", "G"}


def test_papers_are_written_with_the_plan_as_data(tmp_path: Path) -> None:
    """``--out`` makes the folder; it holds the packet, and plan.json with what ``--json`` prints."""
    result = run("plan", PLANNED, "--out", tmp_path / "a" / "b", DAY, "--json")
    assert result.exit_code == 0
    assert json.loads((tmp_path / "a" / "b" / "plan.json").read_text()) == data_of(result)
    assert (tmp_path / "a" / "b" / "packet.pdf").read_bytes().startswith(b"%PDF")
    assert not list((tmp_path / "a" / "b").glob(".*"))


def test_papers_of_the_same_plan_and_date_are_the_same(tmp_path: Path) -> None:
    """Two runs give the same bytes in every file."""
    for name in ("one", "two"):
        assert run("plan", PLANNED, "--out", tmp_path / name, DAY).exit_code == 0
    files = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert files == sorted(path.name for path in (tmp_path / "two").iterdir())
    assert all((tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes() for name in files)


def test_bad_input_leaves_papers_as_they_are(tmp_path: Path, bad: Path) -> None:
    """A survey that cannot be read writes nothing, and makes no folder."""
    kept = tmp_path / "out" / "packet.pdf"
    kept.parent.mkdir()
    kept.write_text("of yesterday")
    assert run("plan", bad, "--out", kept.parent).exit_code == 2
    assert run("plan", bad, "--out", tmp_path / "new").exit_code == 2
    assert [path.name for path in kept.parent.iterdir()] == ["packet.pdf"]
    assert kept.read_text() == "of yesterday"
    assert not (tmp_path / "new").exists()


def test_papers_that_cannot_all_be_made_leave_the_folder_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When writing fails half-way, the papers that were there are whole and nothing else is left behind."""
    kept = tmp_path / "packet.pdf"
    kept.write_text("of yesterday")

    whole = Path.write_bytes

    def half(path: Path, data: bytes) -> int:
        if path.name == "landings.csv":
            raise OSError(28, "No space left on device")
        return whole(path, data)

    monkeypatch.setattr("pathlib.Path.write_bytes", half)
    result = run("plan", PLANNED, "--out", tmp_path)
    assert result.exit_code == 2
    assert "No space left on device" in result.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["packet.pdf"]
    assert kept.read_text() == "of yesterday"


ANSWERS = {
    "What is the job called": "Test: 'lane' #5 {x}",
    "Which kind stands indoors": "?\ngas-furnce\ngas-furnace-1",
    "Which kind stands outdoors": "condensing-unit-1",
    "Terminals in use on the old control": "R W Y G",
    "Terminals of the new control": "R C W1 Y1 G",
    "Length of the cable from the wall": "40 ft",
    "Gauge": "18",
    "conductors of the wall cable": "red R R\nwhite W W\nyellow Y Y\ngreen G G\nblue loose loose\ntwo words\n",
    "Length of the cable to the outdoor unit": "12 m",
    "conductors of the outdoor cable": "red Y Y\nwhite C C\n",
}


def test_new_writes_a_survey_that_can_be_planned(tmp_path: Path) -> None:
    """The interview's survey is read back without a fault and planned; odd names and slips of the pen do no harm."""
    file = tmp_path / "house.yaml"
    result = run("new", file, answers="\n".join(ANSWERS.values()) + "\n")
    assert result.exit_code == 0, result.output
    survey = load_survey(file)
    assert survey.name == ANSWERS["What is the job called"]
    assert survey.cables["wall cable"].length_m == pytest.approx(12.192)
    assert make_plan(survey).verdict == "planned"
    assert [path.name for path in tmp_path.iterdir()] == ["house.yaml"]


def test_new_asks_how_two_supply_terminals_stand_to_each_other(tmp_path: Path) -> None:
    """With Rh and Rc the interview asks whether they are joined, and the survey says it."""
    file = tmp_path / "house.yaml"
    answers = "x\ngas-furnace-1\nnone\nRh Rc W\nRh Rc C W1\njoined\nseparate\nunknown\n18\nred Rh R\nwhite W W\n\n"
    result = run("new", file, answers=answers)
    assert result.exit_code == 0, result.output
    control = load_survey(file).controls["wall"]
    assert control.new is not None
    assert (control.old.supplies, control.new.supplies) == ("joined", "separate")


def test_new_writes_also_answers_that_do_not_fit(tmp_path: Path) -> None:
    """Nobody types twenty answers twice: faults are told, and the file is there to be put right."""
    file = tmp_path / "house.yaml"
    answers = "x\ngas-furnace-1\nnone\nR W\nR C W1\nvery long\n18\nred R Q\n\n"
    result = run("new", file, answers=answers)
    assert result.exit_code == 0
    assert "cables.wall cable.length" in result.stderr
    assert "'indoor' has no terminal 'Q'" in result.stderr
    assert file.exists()


def test_new_leaves_a_file_that_is_there(tmp_path: Path) -> None:
    """An existing file is not asked about and not touched; a folder that is not there is told before any question."""
    file = tmp_path / "house.yaml"
    file.write_text("mine")
    for target in (file, tmp_path / "none" / "house.yaml"):
        result = run("new", target)
        assert (result.exit_code, result.stdout) == (2, "")
    assert file.read_text() == "mine"
    assert run("new", tmp_path / "other.yaml", "--catalogue", tmp_path / "none").exit_code == 2


@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_every_help_has_an_example_that_can_be_run(command: str) -> None:
    """Each help text holds an example; the files of ``examples/`` that it names exist, and its words are accepted."""
    words = [command] if command else []
    text = run(*words, "--help").stdout
    example = re.search(r"Example:\s+subbase (.+)", text)
    assert example, text
    for named in re.findall(r"examples/\S+", text):
        assert (ROOT / named).is_file()
    first, *rest = example[1].split(">")[0].split()
    found = main.get_command(click.Context(main), first)
    assert found is not None
    found.make_context(first, rest)


def test_help_loads_neither_models_nor_numbers() -> None:
    """``subbase --help`` answers without pydantic, YAML, numpy or numba."""
    code = (
        "import sys; from subbase.cli import main\n"
        "try: main(['--help'])\n"
        "finally: print(sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "Usage:" in done.stdout
    for heavy in ("pydantic", "pydantic_core", "yaml", "numpy", "numba", "typst", "scipy"):
        assert f"'{heavy}'" not in done.stderr
    assert "'click'" in done.stderr


def test_planning_loads_no_numbers_in_bulk() -> None:
    """Planning one house needs neither numpy nor numba, so that it starts at once and runs in a browser's Python."""
    code = (
        "import sys; from subbase.cli import main\n"
        f"try: main(['plan', {str(PLANNED)!r}])\n"
        "finally: print(sorted({name.partition('.')[0] for name in sys.modules}), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0
    for heavy in ("numpy", "numba", "typst", "scipy"):
        assert f"'{heavy}'" not in done.stderr


def test_a_survey_from_elsewhere_is_planned_with_its_own_kinds(tmp_path: Path) -> None:
    """``--catalogue`` brings kinds of the user's own; without it they are not known."""
    kind = (
        (ROOT / "src/subbase/catalog/kinds/gas-furnace-1.toml").read_text().replace('"gas-furnace-1"', '"my-furnace"')
    )
    (tmp_path / "kinds").mkdir()
    (tmp_path / "kinds" / "my-furnace.toml").write_text(kind)
    file = tmp_path / "house.yaml"
    file.write_text(GOOD.replace("gas-furnace-1", "my-furnace"))
    assert run("plan", file).exit_code == 2
    assert run("plan", file, "--catalogue", tmp_path / "kinds").exit_code == 0


def test_an_end_that_nobody_knows_is_not_told_as_known(tmp_path: Path) -> None:
    """Where the far end of the spare does not matter the plan is made, yet no output says that it was found anywhere."""
    house = tmp_path / "house.yaml"
    text = (EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8")
    house.write_text(text.replace("blue: loose", "blue: {from: loose, to: unknown}"), encoding="utf-8")
    said = CliRunner().invoke(main, ["plan", str(house)]).output
    assert "furnace.C  (was not known)" in said
    told = json.loads(CliRunner().invoke(main, ["plan", str(house), "--json"]).stdout)
    routes = [route for control in told["controls"] for route in control["routes"]]
    blue = [landing for route in routes for landing in route["landings"] if landing["conductor"] == "blue"]
    assert {landing["far_found"] for landing in blue} == {"unknown"}
    shown = PlanShape.of(make_plan(load_survey(house))).model_dump(mode="json")
    assert [route["landings"] for route in shown["controls"][0]["routes"]] == [route["landings"] for route in routes]
