"""``subbase trace`` on the terminal: asked step by step, all at once, stopped, gone on with, and given nonsense."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from subbase.cli import main

STEP, NAMED, BAD = 4, 0, 2


def run(*arguments: str, answers: str = "") -> Result:
    """Run the command with answers typed at it."""
    return CliRunner().invoke(main, ["trace", *arguments], input=answers)


def truth(group: str, pairs: dict[str, str]) -> str:
    """Return the far ends that touch when near ends are joined."""
    return " ".join(pairs[end] for end in group.split())


def test_four_conductors_are_named_in_one_round_trip() -> None:
    """What is typed at the prompts names every conductor as it was connected."""
    result = run("4", answers="C A\n1 4\n")
    assert result.exit_code == NAMED
    assert "By group sizes: 2 walks" in result.output
    assert "All are named." in result.output
    assert result.output.count("Step ") == 2


@pytest.mark.parametrize("count", [3, 5, 8, 11])
def test_scripted_results_find_a_hidden_connection(count: int) -> None:
    """Answering each step from a hidden connection gives that connection back."""
    near = [str(i + 1) for i in range(count)]
    far = [chr(ord("A") + (i * 2) % count) if count % 2 else chr(ord("A") + count - 1 - i) for i in range(count)]
    joined = dict(zip(near, far, strict=True))
    back = {b: a for a, b in joined.items()}
    results: list[str] = []
    for _ in range(4):
        data = json.loads(run(str(count), *(x for r in results for x in ("--result", r)), "--json").output)
        if data["state"] == "named":
            break
        other = joined if data["join_at"] == "near" else back
        results.append(", ".join(" ".join(other[end] for end in group) for group in data["join"]))
    assert data["pairs"] == joined


def test_a_stopped_search_goes_on_where_it_was(tmp_path: Path) -> None:
    """Stop after the first step, start again from the file: the second step is asked next."""
    kept = str(tmp_path / "kept.json")
    assert run("4", "--keep", kept, answers="A B\nstop\n").exit_code == STEP
    result = run("--keep", kept, answers="1 3\n")
    assert "Step 2 of 2" in result.output
    assert result.exit_code == NAMED


def test_a_closed_terminal_loses_nothing(tmp_path: Path) -> None:
    """The end of input in the middle is a stop: what was entered is kept."""
    kept = tmp_path / "kept.json"
    assert run("4", "--keep", str(kept), answers="A B\n").exit_code == STEP
    assert json.loads(kept.read_text())["results"] == [[["A", "B"]]]


def test_back_takes_the_last_result_out() -> None:
    """After 'back' the first step is asked again."""
    result = run("4", answers="A B\nback\nA C\n1 3\n")
    assert result.output.count("Step 1 of 2") == 2
    assert result.exit_code == NAMED


def test_contradiction_is_named_with_what_to_read_again() -> None:
    """Three ends touching where two were joined is no reading of any cable."""
    result = run("4", "--result", "A B C")
    assert result.exit_code == BAD
    assert "cannot be true together" in result.output
    assert "Read step 1 again at the far end" in result.output


def test_a_slip_that_no_result_would_have_shown_is_told() -> None:
    """Three conductors leave nothing over to check by: the ends to read once more are named."""
    result = run("3", "--result", "A B", "--result", "1 3")
    assert result.exit_code == NAMED
    assert "One slip of the probe would not have shown" in result.output
    assert "were taken for each other at the" in result.output


def test_a_survey_says_what_is_known() -> None:
    """Of a cable in a survey only the conductors with unknown far ends are looked for."""
    result = run("examples/08-changeover-not-known.yaml", "--json")
    data = json.loads(result.output)
    assert data["state"] == "named", "one unknown conductor is named by what is left over"
    assert data["untested"] == ["orange"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Say how many conductors"),
        (("2",), "cannot be told apart"),
        (("4000",), "give between"),
        (("4", "--known", "1"), "is not NEAR=FAR"),
        (("4", "--known", "9=A"), "is no near end"),
        (("4", "--result", "A Q"), "no far end 'Q'"),
        (("examples/01-no-common-spare-blue.yaml",), "far end"),
        (("nowhere.yaml",), "nowhere.yaml"),
    ],
)
def test_nonsense_gets_one_clear_sentence(arguments: tuple[str, ...], words: str) -> None:
    """Bad input ends with code 2 and says what would put it right."""
    result = run(*arguments)
    assert result.exit_code == BAD
    assert words in result.output


@pytest.mark.parametrize("text", ["", "[]", "{", '{"trace": 9}', '{"trace": 1, "near": 3}'])
def test_a_file_that_is_no_search_is_left_as_it_is(tmp_path: Path, text: str) -> None:
    """A wrong file is refused, and not overwritten."""
    kept = tmp_path / "kept.json"
    kept.write_text(text)
    assert run("--keep", str(kept), answers="A B\n").exit_code == BAD
    assert kept.read_text() == text
