"""What a hurried person does with the meter after the work: what the circuit can know of it, and what it then asks."""

from __future__ import annotations

from functools import cache

import pytest

from subbase.catalog import load_catalog
from subbase.errors import InputError
from subbase.work.call_sequences import CallSequence, call_sequences
from subbase.work.checks import CheckPlan, checks_for
from subbase.work.reading_verdicts import ReadingVerdict
from subbase.work.taken_reader import read_taken
from subbase.work.verdicts import Report, judge
from tests.houses import plan_of

PLAIN, ZONES = "01-no-common-spare-blue", "05-two-motor-valves"
CATALOG = load_catalog()
GOOD = """\
readings taken: 1
readings:
  - {between: [hall.W1, hall.R], unit: ohm, value: OL}
  - {between: [hall.Y1, hall.R], unit: ohm, value: 19.1}
  - {between: [hall.Y1, hall.C], unit: ohm, value: 18.2}
  - {between: [furnace.W, furnace.R], call: heat 1, unit: V, value: 0.0}
  - {between: [furnace.Y, furnace.R], call: heat 1, unit: V, value: 25.7}
  - {between: [furnace.G, furnace.R], call: cool 1, unit: V, value: 0.1}
  - {between: [hall.R, hall.C], call: heat 1, unit: V, value: 25.6}
  - {between: [hall.R, hall.C], call: cool 1, unit: V, value: 26.0}
  - {between: [hall.R, hall.C], call: fan, unit: V, value: 26.3}
"""
"""A sheet on which everything is as it must be."""
SUPPLY = "call: heat 1, unit: V, value: 25.6"
Slip = tuple[str, str]


@cache
def _bench(name: str) -> tuple[CheckPlan, tuple[CallSequence, ...]]:
    plan = plan_of(name)
    assert plan.left is not None
    return checks_for(plan), call_sequences(plan.left, CATALOG)


def judged(*slips: Slip, name: str = PLAIN, sheet: str = GOOD) -> Report:
    """Return what is said of a sheet with slips in it; each must be there to be made."""
    plan = plan_of(name)
    assert plan.left is not None
    for right, wrong in slips:
        assert right in sheet
        sheet = sheet.replace(right, wrong, 1)
    checks, sequences = _bench(name)
    taken = read_taken(sheet.encode(), "taken.yaml", plan.left, CATALOG, sequences)
    return judge(plan, taken, checks, sequences)


def off(report: Report) -> list[ReadingVerdict]:
    """Return the readings that do not pass."""
    return [verdict for verdict in report.readings if verdict.judged.mark != "pass"]


def test_the_sheet_without_a_slip_proves_the_house() -> None:
    """So every slip below is the only thing wrong on it."""
    assert judged().proved


@pytest.mark.parametrize("ends", ["yellow, red", "hall.yellow, hall.R", "hall.Y1, red"])
def test_colours_in_place_of_terminals_are_asked_for_as_terminals(ends: str) -> None:
    """A conductor has two ends and a reading is taken at one: the terminal is to be written."""
    with pytest.raises(InputError) as caught:
        judged(("hall.Y1, hall.R", ends))
    assert all("names a conductor; a reading is between two terminals" in f.message for f in caught.value.faults)


@pytest.mark.parametrize(
    ("slip", "shifted"),
    [
        ((SUPPLY, "call: heat 1, unit: V, value: 2.4"), "24 V would be right"),
        ((SUPPLY, "call: heat 1, unit: V, value: 0.24"), "24 V would be right"),
        ((SUPPLY, "call: heat 1, unit: mV, value: 25.6"), "25.6 V would be right"),
        (("value: 19.1", "value: 191"), "19.1 ohm would be right"),
        (("value: 19.1", "value: 1.91"), "19.1 ohm would be right"),
    ],
)
def test_a_decimal_point_in_the_wrong_place_is_taken_again(slip: Slip, shifted: str) -> None:
    """24 typed as 2.4 or 0.24: the reading that would be right is named, and nothing counts as proved."""
    report = judged(slip)
    (verdict,) = off(report)
    assert verdict.judged.mark == "meter or lead suspect"
    assert shifted in verdict.judged.why
    assert not report.proved


def test_24_for_2_4_cannot_be_told_where_24_is_right() -> None:
    """Of two numbers that both may be there the circuit knows nothing: 24 passes, whatever was read."""
    assert judged((SUPPLY, "call: heat 1, unit: V, value: 24")).proved


@pytest.mark.parametrize("value", ["240", "256"])
def test_240_for_24_switches_off_first(value: str) -> None:
    """That it may be a slip of the pen is said after that, and nobody is sent back to the terminals to find out."""
    report = judged((SUPPLY, f"call: heat 1, unit: V, value: {value}"))
    (verdict,) = off(report)
    assert report.stop
    assert verdict.judged.mark == "fail"
    assert "switch off; line voltage may be on these wires. Only if" in verdict.judged.why
    assert "take it again" not in verdict.judged.why


def test_volts_read_on_the_ohms_range_are_told_where_the_supply_was_on() -> None:
    """With a call written beside it; the meter may be harmed too."""
    (verdict,) = off(judged((SUPPLY, "call: heat 1, unit: ohm, value: 25.6")))
    assert "Ohms were taken with the supply on" in verdict.judged.why
    (verdict,) = off(judged((SUPPLY, "call: heat 1, unit: V, value: 25.6, setting: ohms")))
    assert "which does not show AC" in verdict.judged.why


def test_ohms_entered_as_volts_are_asked_about() -> None:
    """19.1 between Y1 and R, dead, is what the coils give in ohm; as volts it is nothing that must be there."""
    (verdict,) = off(judged(("unit: ohm, value: 19.1", "unit: V, value: 19.1")))
    assert verdict.judged.why.endswith("As 19.1 ohm it would be right: was it read on the ohms range, supply off?")


def test_volts_entered_as_ohms_are_asked_about() -> None:
    """26.4 between W1 and R with nothing called is the supply through the valve; as ohms it is nothing that must be there."""
    (verdict,) = off(judged(("unit: ohm, value: OL", "unit: ohm, value: 26.4")))
    assert "As 26.4 V it would be right: was the supply on?" in verdict.judged.why


@pytest.mark.parametrize(
    ("slips", "place"),
    [
        (
            [("W1, hall.R], unit: ohm, value: OL", "W1, hall.R], unit: ohm, value: 19.1"), ("Y1, hall.R], unit: ohm, value: 19.1", "Y1, hall.R], unit: ohm, value: OL")],
            "hall.Y1 to hall.R",
        ),
        (
            [("heat 1, unit: V, value: 0.0", "heat 1, unit: V, value: 25.7"), ("furnace.Y, furnace.R], call: heat 1, unit: V, value: 25.7", "furnace.Y, furnace.R], call: heat 1, unit: V, value: 0.1")],
            "furnace.Y to furnace.R",
        ),
    ],
)  # fmt: skip
def test_two_readings_in_each_others_place_are_taken_again(slips: list[Slip], place: str) -> None:
    """Where no single fault gives them and each would be right for the other, the sheet is doubted before the house."""
    first, second = off(judged(*slips))
    assert f"It would be right for {place}, and that reading for this one" in first.judged.why
    assert first.judged.mark == second.judged.mark == "meter or lead suspect"


def test_a_meter_that_shows_no_volts_anywhere_is_proved_first() -> None:
    """A lead in the current jack reads 0 V like a house without a supply: the faults are named, and the meter before them."""
    report = judged(("25.6", "0.0"), ("26.0", "0.0"), ("26.3", "0.0"), ("25.7", "0.0"), ("value: 0.1", "value: 0.0"))
    for verdict in off(report):
        assert "with a lead in the current jack" in verdict.judged.why
        assert "no supply from control transformer (furnace)" in [cause.words for cause in verdict.explained_by]


def test_one_reading_of_nothing_among_good_ones_is_the_house() -> None:
    """The same meter showed volts elsewhere, so it is not said to be in the wrong jack."""
    (verdict,) = off(judged((SUPPLY, "call: heat 1, unit: V, value: 0.0")))
    assert "current jack" not in verdict.judged.why


def test_a_meter_that_shows_ol_everywhere_is_proved_first() -> None:
    """Ohms with a lead in the current jack: touch the leads together."""
    for verdict in off(judged(("19.1", "OL"), ("18.2", "OL"))):
        assert "Touch the leads together" in verdict.judged.why


def test_leads_that_touch_are_no_slip_of_the_decimal_point() -> None:
    """0.2 ohm everywhere is the leads alone; it is a failure and not '20 ohm, wrongly written'."""
    verdicts = off(judged(("value: OL", "value: 0.2"), ("19.1", "0.2"), ("18.2", "0.2")))
    assert len(verdicts) == 3
    assert all(verdict.judged.mark == "fail" for verdict in verdicts)
    assert all("decimal point" not in verdict.judged.why for verdict in verdicts)


def test_a_call_that_was_not_running_is_asked_about() -> None:
    """27 V between G and R in a call for cooling is what it reads with nothing called."""
    (verdict,) = off(judged(("value: 0.1", "value: 27.0")))
    assert "With nothing called it would be right: was the call running?" in verdict.judged.why


def test_a_call_from_another_control_is_asked_about() -> None:
    """A valve that another control opens: the reading is right for that one's call, and it is named."""
    plan = plan_of(ZONES)
    assert plan.left is not None
    first, second = list(plan.left.controls)[:2]
    sheet = f"readings taken: 1\nreadings:\n  - {{between: [{first}.W1, {first}.C], call: heat 1, control: {first}, unit: V, value: 0.0}}\n"
    (verdict,) = off(judged(name=ZONES, sheet=sheet))
    assert f"In {second}: heat 1 it would be right: which call was running, and of which control?" in verdict.judged.why


@pytest.mark.parametrize(
    ("air", "said"),
    [
        ("{call: heat 1, return: 20, supply: 50, minutes: 12}", "read as °C it would be room air"),
        ("{call: cool 1, return: 24 F, supply: 14 F, minutes: 12}", "read as °C it would be room air"),
    ],
)
def test_celsius_in_a_house_of_fahrenheit_is_asked_about(air: str, said: str) -> None:
    """A room is not at 20 °F; the unit that would be right is named."""
    report = judged(sheet=f"{GOOD}air:\n  - {air}\n")
    (seen,) = [item for item in report.seen if item.judged.mark != "pass"]
    assert said in seen.judged.why
