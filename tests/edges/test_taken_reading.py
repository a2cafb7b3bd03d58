"""A sheet of readings that is wrong: one sentence for each fault, with its place; nothing of a good one is lost."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from subbase.catalog import load_catalog
from subbase.errors import Fault, InputError
from subbase.wiring import State
from subbase.work.call_sequences import call_sequences
from subbase.work.taken import Taken
from subbase.work.taken_reader import load_taken, read_taken
from tests.houses import EXAMPLES, plan_of

PLAIN = plan_of("01-no-common-spare-blue")
FILE = "taken.yaml"
GOOD = """\
readings taken: 1
readings:
  - between: [hall.R, hall.C]
    call: heat 1
    value: 26.4
    unit: V
    meter: digital
    when: 2024-05-02 10:00
    who: A. Person
  - {between: [hall.Y1, hall.R], value: 1.2 kohm, power: off}
  - {between: [hall.W1, hall.R], value: OL, unit: ohm}
  - {between: [hall.G, hall.R], value: don't know, unit: ohm}
  - {between: [hall.G, hall.C], value: , unit: ohm}
air:
  - {call: heat 1, return: 68, supply: 50 C, minutes: 12, rise: [35, 65], input: 80000, efficiency: 80 %, flow: 1200}
sequences:
  - call: heat 1
    seen:
      - {what: the inducer starts, at: 3}
      - {what: burner, at: 1 min}
      - {what: fan, at: never}
      - {what: igniter, at: don't know}
"""


def read(text: str | bytes) -> Taken:
    """Read a sheet for the plain example."""
    assert PLAIN.left is not None
    sequences = call_sequences(PLAIN.left, PLAIN.catalog)
    return read_taken(text.encode() if isinstance(text, str) else text, FILE, PLAIN.left, PLAIN.catalog, sequences)


def faults_of(text: str | bytes) -> tuple[Fault, ...]:
    """Return everything that is wrong with a sheet."""
    with pytest.raises(InputError) as caught:
        read(text)
    return caught.value.faults


def test_a_good_sheet_is_read_whole() -> None:
    """Numbers, units, OL, what is not known, times and temperatures come through in SI."""
    taken = read(GOOD)
    values = [reading.value for reading in taken.readings]
    assert values == [26.4, 1200.0, math.inf, None, None]
    assert [reading.unit for reading in taken.readings] == ["V", "ohm", "ohm", "ohm", "ohm"]
    assert taken.readings[0].state == State((("hall", frozenset({"heat 1"})),))
    assert taken.readings[0].when == "2024-05-02 10:00"
    assert [reading.line for reading in taken.readings[:2]] == [3, 10]
    assert len(taken.not_taken()) == 2
    air = taken.air[0].air
    assert air.return_c == pytest.approx(20.0)
    assert air.supply_c == pytest.approx(50.0)
    assert air.output_w == pytest.approx(64_000 * 0.29307107)
    assert air.rise_k == pytest.approx((35 / 1.8, 65 / 1.8))
    steps = taken.sequences[0].steps
    assert [(step.at_s, step.known) for step in steps] == [(3.0, True), (60.0, True), (None, True), (None, False)]


def test_the_same_as_json_is_the_same() -> None:
    """JSON is read by the same reader, numbers included."""
    sheet = {
        "readings taken": 1,
        "readings": [{"between": ["hall.R", "hall.C"], "call": "heat 1", "value": 26.4, "unit": "V"}],
    }
    assert read(json.dumps(sheet)).readings[0].value == 26.4


@pytest.mark.parametrize(
    ("old", "new", "where", "said"),
    [
        ("readings taken: 1", "readings taken: 2", "readings taken", "reads version 1"),
        ("readings taken: 1", "readings taken: 1\nhouse: Elsewhere 4", "house", "take the right file"),
        ("value: 26.4", "value: 26,4", "readings.1.value", "is not a number"),
        ("value: 26.4", "value: nan", "readings.1.value", "is not a number"),
        ("value: 26.4", "value: 26.4 W", "readings.1.value", "is not a unit here"),
        ("value: 26.4", "value: 26.4 mV", "readings.1.unit", "keep one"),
        ("value: 26.4", "value: 1e99", "readings.1.value", "more than any meter shows"),
        ("value: 26.4", "valu: 26.4", "readings.1.valu", "did you mean 'value'?"),
        ("unit: V", "unit: volts", "readings.1.unit", "is not valid here"),
        ("hall.R, hall.C", "hal.R, hall.C", "readings.1.between.1", "did you mean 'hall'?"),
        ("hall.R, hall.C", "hall.R, hall.Q", "readings.1.between.2", "has no terminal 'Q'"),
        ("hall.R, hall.C", "hall.R", "readings.1.between", "two terminals"),
        ("hall.R, hall.C", "hall.R, hall.R", "readings.1.between", "Both probes are on hall.R"),
        ("call: heat 1\n    value", "call: heat 2\n    value", "readings.1.call", "Nothing in this house answers"),
        ("call: heat 1\n    value", "call: het 1\n    value", "readings.1.call", "did you mean 'heat 1'?"),
        (
            "call: heat 1\n    value",
            "call: heat 1\n    control: hal\n    value",
            "readings.1.control",
            "did you mean 'hall'?",
        ),
        (
            "call: heat 1\n    value",
            "call: heat 1\n    during: defrost\n    value",
            "readings.1.during",
            "leave it out",
        ),
        ("meter: digital", "meter: digitl", "readings.1.meter", "did you mean 'digital'?"),
        ("power: off", "power: of", "readings.2.power", "did you mean 'off'?"),
        ("supply: 50 C", "supply: 900 C", "air.1.supply", "no temperature of air"),
        ("supply: 50 C", "supply: 50 V", "air.1.supply", "is not a unit of supply"),
        ("rise: [35, 65]", "rise: [65, 35]", "air.1.rise", "least and most"),
        ("efficiency: 80 %", "efficiency: 80", "air.1.efficiency", "at most 1"),
        ("what: burner", "what: burnr", "sequences.1.seen.2.what", "did you mean 'burner'?"),
        ("at: 3", "at: -3", "sequences.1.seen.1.at", "cannot be below 0"),
        ("at: 3", "at: soon", "sequences.1.seen.1.at", "is not a number"),
    ],
)
def test_each_fault_says_where_and_what_would_put_it_right(old: str, new: str, where: str, said: str) -> None:
    """One change to a good sheet brings one fault, in its line, with a sentence that helps."""
    assert GOOD.count(old) == 1
    text = GOOD.replace(old, new)
    (fault,) = faults_of(text)
    assert fault.where == where
    assert said in fault.message
    assert fault.file == FILE
    assert fault.line > 0
    assert fault.column > 0


def test_all_faults_are_told_at_once_in_the_order_of_the_file() -> None:
    """A sheet with three faults brings three, not the first of them."""
    text = GOOD.replace("26.4", "x").replace("OL", "LO").replace("at: 3", "at: y")
    lines = [fault.line for fault in faults_of(text)]
    assert len(lines) == 3
    assert lines == sorted(lines)


def test_a_reading_without_a_unit_is_asked_for_one() -> None:
    """A bare number is neither volts nor ohms."""
    (fault,) = faults_of("readings taken: 1\nreadings:\n  - {between: [hall.R, hall.C], value: 26}\n")
    assert "Say the unit" in fault.message
    assert fault.line == 3


def test_where_there_are_several_controls_a_call_says_which() -> None:
    """A call of no control is no state of the house."""
    plan = plan_of("15-zone-panel-three-controls")
    assert plan.left is not None
    text = "readings taken: 1\nreadings:\n  - {between: [ground.R, ground.C], call: heat 1, value: 26, unit: V}\n"
    with pytest.raises(InputError, match="Say which control was calling"):
        read_taken(text.encode(), FILE, plan.left, plan.catalog)


@pytest.mark.parametrize("text", ["", "  \n", "- a\n- b\n", "just words", "readings taken: [1\n", b"\xff\xfe"])
def test_what_is_no_sheet_is_refused_in_a_sentence(text: str | bytes) -> None:
    """Empty files, lists, words, broken YAML and bytes that are no text are faults, not tracebacks."""
    assert all(fault.message for fault in faults_of(text))


def test_a_file_that_is_not_there_is_a_fault() -> None:
    """The name of the file is in the fault."""
    assert PLAIN.left is not None
    with pytest.raises(InputError, match="nowhere"):
        load_taken("nowhere.yaml", PLAIN.left, load_catalog())


WORDS = st.sampled_from(
    ["readings", "air", "water", "sequences", "between", "value", "unit", "call", "seen", "what", "at", "rise", "hall.R",
     "V", "26.4", "OL", "heat 1", "off", "", "never", "don't know", "é", "\u202e", "1" * 400]
)  # fmt: skip
SHEETS = st.recursive(
    WORDS, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS, inner, max_size=5), max_leaves=20
)


@settings(max_examples=150, deadline=None)
@given(
    sheet=st.dictionaries(st.sampled_from(["readings taken", "readings", "air", "water", "sequences", "notes"]), SHEETS)
)
def test_no_input_brings_a_traceback(sheet: dict[str, object]) -> None:
    """Whatever stands in a sheet, it is read or refused with faults."""
    try:
        taken = read(json.dumps({**sheet, "readings taken": "1"}))
    except InputError as error:
        told = error.faults
    else:
        told = ()
        assert len(taken.readings) == len(sheet.get("readings") or ())  # type: ignore[arg-type]
    assert all(fault.message for fault in told)


@pytest.mark.parametrize("path", sorted((EXAMPLES / "readings").glob("*.yaml")), ids=lambda path: path.stem)
def test_the_examples_can_be_read(path: object) -> None:
    """Every example of readings fits its house, whose file its name begins with."""
    name = str(getattr(path, "stem", "")).split("--", maxsplit=1)[0]
    plan = plan_of(name)
    assert plan.left is not None
    assert load_taken(str(path), plan.left, plan.catalog, call_sequences(plan.left, plan.catalog)).readings
