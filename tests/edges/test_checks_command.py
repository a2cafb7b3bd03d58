"""The command that chooses checks: text for people, one JSON object for programs, the plan's answer where there is none."""

from __future__ import annotations

import json

from click.testing import CliRunner

from subbase.cli.main import main
from tests.houses import EXAMPLES

PLAIN = str(EXAMPLES / "01-no-common-spare-blue.yaml")


def test_checks_are_told_with_what_they_tell() -> None:
    """The text counts what the checks tell and lists the wrong landings that do damage."""
    result = CliRunner().invoke(main, ["checks", PLAIN])
    assert result.exit_code == 0
    assert "CHECKS, ABOUT" in result.stdout
    assert "WRONG LANDINGS THAT DO DAMAGE" in result.stdout


def test_json_of_checks_accounts_for_every_slip() -> None:
    """Each slip that does something is told by some chosen check or named as untold."""
    result = CliRunner().invoke(main, ["checks", PLAIN, "--json"])
    data = json.loads(result.stdout)
    told = {slip for check in data["checks"] for slip in check["tells"]} | set(data["untold"])
    acting = {item["slip"] for item in data["slips"] if item["severity"] != "nothing"}
    assert acting
    assert acting <= told


def test_a_stopped_house_has_no_checks() -> None:
    """A house that is stopped says so and ends with the code of a stop."""
    result = CliRunner().invoke(main, ["checks", str(EXAMPLES / "10-stop-line-voltage.yaml")])
    assert result.exit_code == 3
    assert "STOP" in result.stdout
