"""Evidence files: what is read, what is refused and where, and that what is written is read again."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from subbase.circuit.meters import LOW_IMPEDANCE
from subbase.diagnose.evidence_file import EvidenceFile, evidence_text, load_evidence, read_evidence
from subbase.errors import InputError
from subbase.wiring import House, build_house
from tests.houses import plan_of

NAME = "01-no-common-spare-blue"


def house() -> House:
    """Return a small house as its plan leaves it."""
    plan = plan_of(NAME)
    assert plan.left is not None
    return build_house(plan.left, plan.catalog)


HOUSE = house()


def read(text: str) -> EvidenceFile:
    """Return what a text says."""
    return read_evidence(text.encode(), "e.yaml", HOUSE)


def refused(text: str) -> list[str]:
    """Return the faults of a text, one line each."""
    with pytest.raises(InputError) as caught:
        read(text)
    return [str(fault) for fault in caught.value.faults]


EVERYTHING = """\
evidence: 1
history: [new work, intermittent]
outdoors_f: 50
stands_at: furnace
readings:
  - {volts: 26.4, between: [hall.R, hall.C], meter: low impedance, error: 0.5}
  - {ohms: OL, between: [furnace.R, furnace.C]}
  - {amps: 0.31, through: wall/red, call: cool 1}
  - {display: dark, control: hall}
  - {acts: "no", load: furnace/gas-valve, call: heat 1}
  - {air: cold, call: cool 1}
  - {lamp: blinking, equipment: furnace}
  - {split_f: 18, call: cool 1}
  - {rise_k: 1, call: heat 1}
  - {volts: unknown, between: [hall.R, hall.G]}
"""


def test_every_kind_of_evidence_is_read() -> None:
    """Volts, ohms, amperes, what is seen, temperatures, 'unknown', history and the weather."""
    found = read(EVERYTHING)
    values = [reading.value for reading in found.evidence.readings]
    assert values == [26.4, math.inf, 0.31, "dark", "no", "cold", "blinking", "cold", "unchanged", None]
    assert found.evidence.readings[0].probe.meter == LOW_IMPEDANCE
    assert found.evidence.history == ("new work", "intermittent")
    assert found.outdoor_c == pytest.approx(10.0)
    assert found.stands_at == "furnace"


def test_what_is_written_is_read_again() -> None:
    """A saved file gives the same evidence."""
    evidence = read(EVERYTHING).evidence
    assert read(evidence_text(evidence)).evidence == evidence


REPAIRED = """\
evidence: 1
readings:
  - {volts: 0.2, between: [hall.R, hall.C]}
  - {repaired: ["conductor open: wall/red", "poor joint: wall/red"]}
  - {volts: 26.4, between: [hall.R, hall.C]}
"""


def test_a_repair_stands_between_readings_and_is_written_again() -> None:
    """What was put right counts for the readings after it, not for those before; a saved file says so too."""
    evidence = read(REPAIRED).evidence
    assert [item.after for item in evidence.repaired] == [1]
    assert evidence.put_right_before(0) == frozenset()
    assert evidence.put_right_before(1) == {"conductor open: wall/red", "poor joint: wall/red"}
    assert [reading.value for reading in evidence.since_repair] == [26.4]
    assert read(evidence_text(evidence)).evidence == evidence


def test_a_repair_of_what_this_house_does_not_have_is_refused() -> None:
    """The fault names what is near, and an empty list is none."""
    said = refused('evidence: 1\nreadings:\n  - {repaired: ["conductor open: wall/rd"]}\n  - {repaired: []}\n')
    assert "'conductor open: wall/rd' is no cause in this house" in said[0]
    assert "Expected a list of causes" in said[1]


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ("{volts: 26, between: [hall.R, hall.Q]}", "'hall.Q' is no point of this circuit; did you mean"),
        ("{volts: -2, between: [hall.R, hall.C]}", "'-2' is not a number from 0 to 1000"),
        ("{volts: nan, between: [hall.R, hall.C]}", "'nan' is not a number"),
        ("{volts: 26, between: [hall.R]}", "Expected 'between' with two points"),
        ("{volts: 26, between: [hall.R, hall.R]}", "between two different points"),
        ("{volts: 26, ohms: 3, between: [hall.R, hall.C]}", "One entry holds one reading"),
        ("{volts: 26, between: [hall.R, hall.C], call: heat 9}", "'heat 9' is no call of hall"),
        ("{volts: 26, between: [hall.R, hall.C], meter: analog}", "is no meter known here"),
        ("{display: maybe, control: hall}", "'maybe' is no answer to 'display'"),
        ("{acts: yes, load: furnace/gas-vale}", "did you mean 'furnace/gas-valve'?"),
        ("{amps: 1, through: wall/pink}", "is no conductor of this circuit"),
        ("{lamp: steady, equipment: outdoor}", "'outdoor' has no board with a lamp"),
        ("{display: dark, control: loft}", "There is no control 'loft'; valid here: hall"),
        ("{acts: yes}", "Say which load"),
        ("{lamp: steady}", "Say which equipment"),
        ("{amps: 1}", "Say which conductor"),
        ("{colour: red}", "'colour' is not a field here"),
        ("7", "Expected named fields"),
    ],
)
def test_a_bad_entry_is_refused_with_its_line(entry: str, said: str) -> None:
    """The fault names file, line and what would put it right."""
    faults = refused(f"evidence: 1\nreadings:\n  - {entry}\n")
    assert len(faults) == 1
    assert faults[0].startswith("e.yaml:3:")
    assert said in faults[0]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("- evidence\n", "Expected named fields: evidence, history, readings"),
        ("evidence: 1\nhistory: new work\n", "Expected a list of words"),
        ("evidence: 1\nreadings: {volts: 26}\n", "Expected a list of readings"),
        ("evidence: 1\nstands_at: attic\n", "There is no place 'attic'; valid here: hall"),
        ("evidence: 1\noutdoors_c: -61\n", "'-61' is not a number from -60"),
    ],
)
def test_a_file_of_another_shape_is_refused(text: str, said: str) -> None:
    """What should be a list, a place or a temperature is asked for."""
    (fault,) = refused(text)
    assert said in fault


def test_a_temperature_outdoors_is_taken_in_either_degree() -> None:
    """50 °F are 10 °C."""
    assert read("evidence: 1\noutdoors_c: 10\n").outdoor_c == 10.0
    assert read("evidence: 1\noutdoors_f: 50\n").outdoor_c == pytest.approx(10.0)
    assert read("evidence: 1\n").outdoor_c is None


@pytest.mark.parametrize(
    ("kind", "value", "answer", "doubt"),
    [
        ("rise_k", 15, "warm", 0.05), ("split_k", 10, "cold", 0.05), ("rise_k", -10, "cold", 0.05), ("split_f", 0, "unchanged", 0.05),
        ("rise_k", 2.5, "warm", 0.5),
    ],
)  # fmt: skip
def test_a_rise_or_split_is_warm_cold_or_unchanged_air(kind: str, value: float, answer: str, doubt: float) -> None:
    """A slight one is doubted; one that nobody measured says nothing."""
    (told,) = read(f"evidence: 1\nreadings:\n  - {{{kind}: {value}, call: fan}}\n").evidence.readings
    assert (told.value, told.doubt, told.probe.sight) == (answer, doubt, "air")
    (unknown,) = read(f"evidence: 1\nreadings:\n  - {{{kind}: unknown, call: fan}}\n").evidence.readings
    assert unknown.value is None


def test_several_controls_must_be_named() -> None:
    """With three controls 'the display' is of one of them; without a name the nearest is offered."""
    plan = plan_of("15-zone-panel-three-controls")
    assert plan.left is not None
    with pytest.raises(InputError, match="Say which control"):
        read_evidence(b"evidence: 1\nreadings:\n  - {display: dark}\n", "e.yaml", build_house(plan.left, plan.catalog))


def test_all_faults_come_at_once() -> None:
    """One run tells everything that is wrong, in the file's order."""
    faults = refused(
        "evidence: 2\nhistory: [long ago]\nmood: bad\nreadings:\n  - {volts: x, between: [hall.R, hall.C]}\n"
    )
    assert [fault.split(":")[1] for fault in faults] == ["1", "2", "3", "5"]


def test_a_file_that_is_not_there_is_a_fault() -> None:
    """No traceback for a missing file."""
    with pytest.raises(InputError, match="cannot be read"):
        load_evidence("no-such-file.yaml", HOUSE)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """Nothing but InputError comes out of any text, and what is read can be written and read again."""
    try:
        found = read(f"evidence: 1\nreadings:\n  - {text}\n")
    except InputError:
        return
    assert read(evidence_text(found.evidence)).evidence == found.evidence
