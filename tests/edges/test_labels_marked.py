"""Every label that the program shows is marked: of the trade, of a standard, or our own; a new one is read through first."""

from __future__ import annotations

from pathlib import Path

import pytest

from tools import own_labels


def test_every_label_is_marked_and_no_mark_is_left_over() -> None:
    """Commands, options, stages, headings, fields and words with a meaning, as the code has them now."""
    there, marked = set(own_labels.labels()), set(own_labels.marks())
    assert there - marked == set(), "read these through, then mark them in tools/labels.toml"
    assert marked - there == set(), "these are gone from the program"


def test_marks_are_of_three_kinds() -> None:
    """Nothing else is a kind, and nothing is marked twice."""
    assert set(own_labels.marks().values()) == set(own_labels.KINDS)


def test_a_label_marked_twice_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Two marks would say that nobody read it."""
    twice = tmp_path / "labels.toml"
    twice.write_text('trade = ["fan"]\nstandard = ["fan"]\n')
    monkeypatch.setattr(own_labels, "MARKS", twice)
    with pytest.raises(ValueError, match="fan is marked trade and standard"):
        own_labels.marks()
