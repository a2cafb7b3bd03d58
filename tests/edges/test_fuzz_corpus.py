"""Every input that fuzzing found worth keeping is read again: a result, or clear sentences, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from fuzz.targets import TARGETS

CORPUS = Path(__file__).parents[2] / "fuzz" / "corpus"
INPUTS = sorted(path for path in CORPUS.rglob("*") if path.is_file())


def test_every_reader_has_kept_inputs() -> None:
    """A reader that was added without being fuzzed shows here, and so does a corpus that nothing reads."""
    assert {path.parent.name for path in INPUTS} == set(TARGETS)


def test_the_corpus_stays_small() -> None:
    """It is read through in seconds, and no clone is heavier for it than a photo would make it."""
    assert sum(path.stat().st_size for path in INPUTS) < 300_000


@pytest.mark.parametrize("name", sorted(TARGETS))
def test_a_reader_gives_a_result_or_clear_sentences(name: str) -> None:
    """Each input of its corpus, in turn."""
    for path in INPUTS:
        if path.parent.name == name:
            TARGETS[name](path.read_bytes())
