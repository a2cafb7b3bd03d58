"""What is refused before a survey is looked at: files too large, too deep, or with YAML's clever parts."""

from __future__ import annotations

import pytest

from subbase.survey.yaml_tree import MOST_BYTES
from tests.edges.surveys import GOOD, changed, faults_of, line_of, only_fault


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (changed("survey: 1", "survey: &one 1"), "Anchors and aliases"),
        (changed("survey: 1", "survey: *one"), "Anchors and aliases"),
        (changed("survey: 1", "survey: !!int 1"), "Tags"),
        (changed("survey: 1", "survey: !!python/name:os.system 1"), "Tags"),
        (f"{GOOD}---\n{GOOD}", "a second document starts here"),
        ("[" * 100_000, "nest"),
        ("{a: " * 100_000, "nested more than 16 deep"),
        ("- " * 100_000, "nested more than 16 deep"),
        ("\n".join(" " * depth + "a:" for depth in range(900)), "nested more than 16 deep"),
        ("[" + "a," * 30_000 + "]", "more than 20000 items"),
        ("#" * (MOST_BYTES + 1), f"at most {MOST_BYTES} are read"),
        ("", "The file is empty"),
        ("# only a remark\n", "The file is empty"),
        ("a: [", "not readable YAML"),
        ("a:\tb: c\n\td: e", "not readable YAML"),
        ("%YAML 9.9\n---\na: 1", "not readable YAML"),
        ("survey", "this file holds something else"),
        ("[survey]", "this file holds something else"),
        ("null", "this file holds something else"),
        (f"{GOOD}[a, b]: c\n", "A field's name must be plain text"),
    ],
    ids=lambda value: None if len(value) < 40 else f"{len(value)} characters",
)
def test_a_file_that_is_no_plain_yaml_is_refused_with_one_sentence(text: str, said: str) -> None:
    """Each is one fault; nothing is built of it, so that a hostile file costs nothing."""
    assert said in only_fault(text).message


@pytest.mark.parametrize(
    ("raw", "line", "said"),
    [
        (GOOD.encode("utf-16"), 1, "not UTF-8"),
        (GOOD.encode() + b"\xff", GOOD.count("\n") + 1, "not UTF-8"),
        (GOOD.encode() + b"notes: \x00", GOOD.count("\n") + 1, "U+0000"),
        (GOOD.encode() + b"notes: \x1b[31m", GOOD.count("\n") + 1, "U+001B"),
        (GOOD.encode() + b"notes: \xed\xa0\x80", GOOD.count("\n") + 1, "not UTF-8"),
        (GOOD.encode() + b'notes: "\\u001b[31m"', GOOD.count("\n") + 1, "characters that do not print"),
    ],
)
def test_bytes_that_are_no_text_are_told_with_their_line(raw: bytes, line: int, said: str) -> None:
    """Text that is not UTF-8, and control characters, plain or escaped, are refused where they stand."""
    fault = only_fault(raw)
    assert fault.line == line
    assert said in fault.message


def test_a_syntax_fault_bears_its_line() -> None:
    """What the YAML parser refuses is told where it refuses it."""
    text = changed("units: us", "units: [us")
    fault = only_fault(text)
    assert line_of(text, "units: [us") <= fault.line <= line_of(text, "units: [us") + 2
    assert fault.column > 0


def test_yaml_guesses_nothing() -> None:
    """Words that YAML would turn into false, null, a number, a time or a merge are the words they are."""
    for word in ("no", "off", "null", "~", "1_0", "0o17", "12:30:45", "2001-01-01", "<<"):
        faults = faults_of(changed("power: none", f"power: {word}"))
        assert [fault.message.split(" is not")[0] for fault in faults] == [f"'{word}'"]


def test_thousands_of_faults_are_all_told() -> None:
    """A file of nothing but faults is read to its end; each fault is told once."""
    text = "survey: 1\nname: x\ncontrols: {a: {old: {terminals: [R]}}}\n" + "".join(f"x{i}: y\n" for i in range(3000))
    faults = faults_of(text)
    assert len({fault.where for fault in faults}) == len(faults) == 3000
