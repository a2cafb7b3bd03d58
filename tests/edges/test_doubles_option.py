"""``subbase checks --doubles`` as people and scripts see it."""

from __future__ import annotations

import json

from click.testing import CliRunner

from subbase.cli import main
from tests.houses import EXAMPLES

HOUSE = str(EXAMPLES / "07-heat-only-pair.yaml")


def test_doubles_are_told_in_words() -> None:
    """The text says which pairs were looked at, how many are shown, and which hide each other."""
    result = CliRunner().invoke(main, ["checks", HOUSE, "--doubles"])
    assert result.exit_code == 0
    assert "TWO SLIPS AT ONCE" in result.stdout
    assert "HIDE EACH OTHER" in result.stdout
    assert "FURTHER CHECKS" in result.stdout


def test_doubles_are_plain_data() -> None:
    """Every likely pair is in the JSON with its two slips, what it does and the check that shows it first."""
    result = CliRunner().invoke(main, ["checks", HOUSE, "--doubles", "--json"])
    assert result.exit_code == 0
    doubles = json.loads(result.stdout)["doubles"]
    assert doubles["told"] + doubles["harmless"] + len(doubles["masked"]) == len(doubles["slips"])
    hidden = [" and ".join(each["slips"]) for each in doubles["slips"] if each["first_shown_by"] is None]
    assert len(hidden) == doubles["harmless"] + len(doubles["masked"])
    assert doubles["extra_checks"]


def test_without_the_option_nothing_is_said_of_doubles() -> None:
    """Plain checks stay plain, and each slip says which check shows it first."""
    result = CliRunner().invoke(main, ["checks", HOUSE, "--json"])
    data = json.loads(result.stdout)
    assert "doubles" not in data
    words = {slip["slip"] for slip in data["slips"] if slip["first_shown_by"]}
    assert words == {slip for check in data["checks"] for slip in check["tells"]}
