"""Papers of an earlier plan never stand beside a later stop."""

from __future__ import annotations

from pathlib import Path

from click.testing import CliRunner

from subbase.cli.main import main
from tests.houses import EXAMPLES


def test_a_stop_removes_the_wiring_that_was_planned_before(tmp_path: Path) -> None:
    """After a planned house and then a stopped one into the same folder, no wiring as left is there to be followed."""
    out = str(tmp_path / "out")
    CliRunner().invoke(main, ["plan", str(EXAMPLES / "01-no-common-spare-blue.yaml"), "--out", out])
    assert (tmp_path / "out" / "wiring-left.svg").exists()
    (tmp_path / "out" / "my notes.txt").write_text("kept")
    CliRunner().invoke(main, ["plan", str(EXAMPLES / "10-stop-line-voltage.yaml"), "--out", out])
    left = {path.name for path in (tmp_path / "out").iterdir()}
    assert left == {"packet.pdf", "owner.pdf", "plan.json", "my notes.txt"}


def test_lengths_in_questions_bear_the_unit_of_the_survey() -> None:
    """A question about a cable in a survey in feet is asked and answered in feet."""
    text = CliRunner().invoke(main, ["check-survey", str(EXAMPLES / "09-unknown-that-does-not-matter.yaml")]).stdout
    assert "16 ft, 66 ft, 197 ft were tried" in " ".join(text.split())
