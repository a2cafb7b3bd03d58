"""A run in another language than English: its sentences are looked up wherever they are made, its counts are the same."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from subbase.fleet.chunks import Setting, decide
from subbase.fleet.structure import structure_text
from subbase.words import language
from tests.fleet_lists import mapping, run_list, write_list
from tests.houses import survey_of
from tests.pseudo_language import CODE, OPEN, pseudo, shown_on, unlooked, words_of

ROWS = 40
DATA = words_of(
    "Invented stairs F0009 F0011 F0013 F0020 flats csv letters length heating volts_rc gauge id bit stair day R-C cables"
)
"""What a list and its files are called, and names of facts."""


def test_a_run_in_another_language_counts_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Verdicts, and who needs a licensed person, hang on no word; every sentence of the report was looked up."""
    source = write_list(tmp_path, ROWS)
    english = run_list(source, tmp_path / "english")
    with pseudo(monkeypatch):
        other = run_list(source, tmp_path / "other")
    assert other.totals.verdicts == english.totals.verdicts
    assert other.totals.licensed == english.totals.licensed > 0
    assert [load.minutes_mean for load in other.totals.by_day_and_area] == [
        load.minutes_mean for load in english.totals.by_day_and_area
    ]
    page = (tmp_path / "other" / "report.html").read_text("utf-8")
    assert f'lang="{CODE}"' in page
    assert unlooked(shown_on(page), DATA) == []


def test_a_worker_speaks_the_language_of_the_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker's own language is English; what it is told with the piece counts."""
    with pseudo(monkeypatch), language("en"):
        text = structure_text(survey_of("11-stop-millivolt"))
        stopped = json.loads(decide(Setting(mapping(), language=CODE), [text], [], {}))[0]
        plain = json.loads(decide(Setting(mapping()), [text], [], {}))[0]
    assert stopped["reasons"][0][1].startswith(OPEN)
    assert not plain["reasons"][0][1].startswith(OPEN)
    assert stopped["licensed"] == plain["licensed"]
