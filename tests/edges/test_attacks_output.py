"""What is written may be opened by a spreadsheet, shown by a terminal, or saved by a browser: none of these is fooled."""

from __future__ import annotations

import ast
import csv
import io
import os
import subprocess
import sys
from collections.abc import Mapping
from email.message import Message
from pathlib import Path
from typing import Any

import pytest
import yaml
from click.testing import CliRunner

from subbase import cli
from subbase.cli.main import main
from tests.houses import EXAMPLES
from tests.web_jobs import visiting

ESCAPES = "\x1b]0;owned\x07\x1b[2J\u202eyaml.esuoh\u202c"
"""Sets a terminal's title, clears its screen, and turns the direction of writing."""
COMMANDS = (
    ("plan",), ("check-survey",), ("show",), ("checks",), ("work",), ("check",), ("diagnose",), ("site",), ("tune",),
    ("labels",), ("data",), ("trace",), ("fleet", "screen", "--out", "OUT"), ("job", "import"), ("job", "restore"),
    ("plan", "examples/01-no-common-spare-blue.yaml", "--catalogue"), ("plan", "--no-such"),
)  # fmt: skip
FORMULA = "=HYPERLINK(1)"


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_file_s_name_cannot_steer_the_terminal(words: tuple[str, ...], tmp_path: Path) -> None:
    """A name with control characters is shown with them written out, whether the file is missing or broken."""
    there = tmp_path / f"{ESCAPES}.yaml"
    there.write_text("survey: 1\nname: [\n")
    told = [str(tmp_path / "out") if word == "OUT" else word for word in words]
    for name in (str(there), str(tmp_path / f"no{ESCAPES}")):
        done = CliRunner().invoke(main, [*told, name])
        shown = done.output + (done.stderr if done.stderr_bytes else "")
        assert done.exit_code != 0
        assert not set("\x1b\x07\u202e\u202c") & set(shown), shown


def test_a_survey_s_words_cannot_steer_the_terminal(tmp_path: Path) -> None:
    """They are refused where they are read, and shown harmlessly even in the refusal."""
    house = tmp_path / "house.yaml"
    text = (EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8")
    house.write_text(text.replace("name: ", f'name: "{ESCAPES}"  # ', 1), encoding="utf-8")
    done = CliRunner().invoke(main, ["show", str(house)])
    assert done.exit_code == 2
    assert not set("\x1b\x07\u202e") & set(done.output)


def constant(node: ast.expr) -> bool:
    """Return whether what is printed is a sentence of the program with nothing put into it, or goes through printable."""
    if isinstance(node, ast.BinOp):
        return constant(node.left) and constant(node.right)
    if isinstance(node, ast.IfExp):
        return constant(node.body) and constant(node.orelse)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "ljust":
        return constant(node.func.value)
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
        return node.func.id == "printable" or (node.func.id == "_" and constant(node.args[0]))
    return isinstance(node, ast.Constant)


def test_commands_print_others_words_by_one_door_only() -> None:
    """Outside of the one file that makes words harmless, what is echoed is a fixed sentence; nothing writes past it."""
    files = sorted((Path(cli.__file__).parent).glob("*.py"))
    assert len(files) > 20
    past = []
    for path in files:
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            called = ast.unparse(node.func)
            if called in ("print", "click.secho", "sys.stdout.write", "sys.stderr.write", "click.style") or (
                called == "click.echo" and path.name != "shell.py" and not all(map(constant, node.args))
            ):
                past.append(f"{path.name}:{node.lineno}: {ast.unparse(node)}")
    assert past == []


@pytest.mark.parametrize(
    "words",
    [[f"no{ESCAPES}"], ["plan", f"--no{ESCAPES}"], ["plan", "a", f"b{ESCAPES}"], ["serve", "--port", f"1{ESCAPES}"]],
)
def test_a_wrong_command_line_is_told_harmlessly(words: list[str]) -> None:
    """What was typed, or pasted, comes back in the sentence with its control characters written out."""
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 2
    assert "no" in done.output or "b" in done.output
    assert not set("\x1b\x07\u202e\u202c") & set(done.output)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_a_terminal_that_lacks_letters_gets_the_rest(tmp_path: Path, encoding: str) -> None:
    """Where the terminal's encoding has no such character another stands there, and no traceback."""
    house = tmp_path / "Straße Ω \u2713.yaml"
    house.write_text((EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8"), encoding="utf-8")
    told = os.environ | {"PYTHONIOENCODING": encoding, "PYTHONUTF8": "0", "LC_ALL": "C"}
    for words in (["show", str(house)], ["--language", "es", "check", str(house)], ["show", f"{house}.no"]):
        done = subprocess.run([sys.executable, "-m", "subbase.cli", *words], capture_output=True, env=told, check=False)
        assert done.returncode in (0, 2), done.stderr
        assert b"Traceback" not in done.stderr
        assert done.stdout or done.stderr


def renamed(data: Any, names: Mapping[str, str]) -> Any:
    """Return a survey with places, cables and conductors under other names."""
    if isinstance(data, dict):
        return {names.get(str(key), str(key)): renamed(value, names) for key, value in data.items()}
    if isinstance(data, list):
        return [renamed(item, names) for item in data]
    place, dot, terminal = str(data).partition(".")
    return f"{names.get(place, place)}{dot}{terminal}" if isinstance(data, str) else data


def cells(text: str) -> list[str]:
    """Return every cell of a table in CSV."""
    return [cell for row in csv.reader(io.StringIO(text)) for cell in row]


def is_formula(cell: str) -> bool:
    """Return whether a spreadsheet would work a cell out instead of showing it."""
    return cell[:1] in "=+-@\t\r" and bool(cell) and not cell.lstrip("-").replace(".", "", 1).isdecimal()


def test_no_table_holds_a_formula(tmp_path: Path) -> None:
    """Places, cables and conductors that begin with a sign of sums are text in every table that is written."""
    house = tmp_path / "house.yaml"
    found = yaml.safe_load((EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8"))
    house.write_text(
        yaml.safe_dump(renamed(found, {"hall": FORMULA, "wall": "@wall", "blue": "+blue"})), encoding="utf-8"
    )
    done = CliRunner().invoke(main, ["plan", str(house), "--out", str(tmp_path / "plan")])
    assert done.exit_code == 0, done.output
    CliRunner().invoke(main, ["labels", str(house), "--out", str(tmp_path / "labels")])
    tables = sorted(tmp_path.glob("*/*.csv"))
    assert {table.name for table in tables} >= {"landings.csv", "readings.csv", "labels.csv"}
    for table in tables:
        read = cells(table.read_text("utf-8"))
        assert any(FORMULA in cell for cell in read), table.name
        assert [cell for cell in read if is_formula(cell)] == []


def test_no_table_of_a_fleet_holds_a_formula(tmp_path: Path) -> None:
    """Nor do those of a whole list, whose ids and areas come from others."""
    text = (EXAMPLES / "fleet" / "flats.csv").read_text("utf-8").splitlines()
    head, rows = text[0], [line.split(",") for line in text[1:9]]
    for row in rows:
        row[0] = f"{FORMULA}{row[0]}"
    listed = tmp_path / "flats.csv"
    listed.write_text("\n".join([head, *(",".join(row) for row in rows)]) + "\n", encoding="utf-8")
    mapping = str(EXAMPLES / "fleet" / "mapping.toml")
    done = CliRunner().invoke(
        main, ["fleet", "screen", str(listed), "--mapping", mapping, "--out", str(tmp_path / "out")]
    )
    assert done.exit_code in (0, 4), done.output
    tables = sorted((tmp_path / "out").rglob("*.csv"))
    assert tables
    for table in tables:
        assert [cell for cell in cells(table.read_text("utf-8")) if is_formula(cell)] == []


@pytest.mark.parametrize(
    "name", ['a"; filename="run.exe', "a\\..\\b", "../../etc/passwd", "Straße 7 \u2603", "%0d%0aSet-Cookie: a=b"]
)
def test_a_job_s_name_cannot_reach_the_headers_or_another_folder(tmp_path: Path, name: str) -> None:
    """A file that is sent has one name, of plain letters, in one header; no name makes a second header or a path."""
    text = (EXAMPLES / "07-heat-only-pair.yaml").read_text("utf-8")
    with visiting(tmp_path, name, text) as visitor:
        for page in ("job-file", "field-file", "papers/packet.pdf", "papers/landings.csv", "survey/survey.yaml"):
            answer = visitor.get(page)
            assert answer.status_code == 200
            told = answer.headers.get("content-disposition", "inline")
            assert told.isascii()
            assert (
                "set-cookie" not in {key.lower() for key in answer.headers} or "a=b" not in answer.headers["set-cookie"]
            )
            read = Message()
            read["content-disposition"] = told
            saved = read.get_filename() or ""
            assert not set('/\\"') & set(saved)
            assert not saved.startswith(".")
            assert not saved.endswith(".exe")
