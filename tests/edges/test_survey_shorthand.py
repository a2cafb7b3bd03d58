"""The short ways of writing a survey say the same as the long way."""

from __future__ import annotations

import json

import pytest

from subbase.survey import How, Unknown, read_survey
from tests.edges.surveys import GOOD, changed, survey_of
from tests.houses import NAMES
from tests.houses import survey_of as example

RED = "      red: R\n"
LENGTH = "length: 45 ft"


@pytest.mark.parametrize(
    "long",
    [
        "{from: R, to: R}",
        "{from: hall.R, to: furnace.R}",
        "{from: hall.R, to: R}",
        "{from: R, to: R, colour: red}",
        "{from: R, to: R, colours: [red, red]}",
        "'R'",
        '{"from": "R", "to": "R"}',
    ],
)
def test_one_word_lands_a_conductor_at_both_ends(long: str) -> None:
    """``red: R`` is a conductor named and coloured red on R at both of its cable's places."""
    assert survey_of(changed(RED, f"      red: {long}\n")) == survey_of(GOOD)


@pytest.mark.parametrize(
    ("units", "length", "length_m"),
    [
        ("us", "40", 12.192),
        ("us", "40 ft", 12.192),
        ("us", "40ft", 12.192),
        ("us", "40. feet", 12.192),
        ("us", "12.192 m", 12.192),
        ("si", "12", 12.0),
        ("si", "'12 m'", 12.0),
        ("si", "40 ft", 12.192),
        ("si", ".5", 0.5),
    ],
)
def test_a_length_is_in_the_units_of_the_survey_or_its_own(units: str, length: str, length_m: float) -> None:
    """A bare number is in feet or metres as ``units`` says; 1 ft is 0.3048 m."""
    text = changed(LENGTH, f"length: {length}").replace("units: us", f"units: {units}")
    assert survey_of(text).cables["wall"].length_m == pytest.approx(length_m, rel=1e-15)


def test_feet_that_may_be_are_read_in_feet() -> None:
    """What a length may be is in the survey's units too."""
    found = survey_of(changed(LENGTH, "length: {either: [30, 12 m]}")).cables["wall"].length_m
    assert isinstance(found, Unknown)
    assert found.either == pytest.approx((30 * 0.3048, 12.0))


def test_how_a_value_is_known_changes_nothing_else() -> None:
    """``{value: 40, known: measured}`` is the value, and says of its field how it is known."""
    plain = survey_of(GOOD)
    told = survey_of(
        changed(LENGTH, "length: {value: 45 ft, known: measured}").replace(RED, "      red: {value: R, known: told}\n")
    )
    assert told.known == {"cables.wall.length": How.MEASURED, "cables.wall.conductors.red": How.TOLD}
    assert told.model_copy(update={"known": {}}) == plain
    listed = survey_of(f"{GOOD}known: {{cables.wall.length: measured, cables.wall.conductors.red: told}}\n")
    assert listed == told


def test_a_value_without_how_it_is_known_was_seen() -> None:
    """``{value: 18}`` says nothing but that the value was seen."""
    wrapped = survey_of(changed("year_built: 1986", "year_built: {value: 1986}"))
    assert wrapped.place == survey_of(GOOD).place
    assert wrapped.known == {"place.year_built": How.SEEN}


@pytest.mark.parametrize("written", ["unknown", "{from: unknown, to: unknown}", "'unknown'"])
def test_a_conductor_of_which_nothing_is_known_is_unknown_at_both_ends(written: str) -> None:
    """``blue: unknown`` leaves both ends open."""
    blue = survey_of(changed("blue: loose", f"blue: {written}")).cables["wall"].conductors["blue"]
    assert blue.from_ == blue.to == Unknown(unknown=True)


def test_what_a_landing_may_be_is_at_its_own_place() -> None:
    """``{either: [C, loose]}`` is C at the end's own place, or loose."""
    blue = survey_of(changed("blue: loose", "blue: {either: [C, loose]}")).cables["wall"].conductors["blue"]
    assert blue.from_ == Unknown(unknown=True, either=("hall.C", "loose"))
    assert blue.to == Unknown(unknown=True, either=("furnace.C", "loose"))


def test_a_pair_is_a_jumper() -> None:
    """A jumper is its two terminals, or named fields."""
    short = survey_of(f"{GOOD}jumpers: [[hall.R, hall.W]]\n")
    assert short == survey_of(f"{GOOD}jumpers: [{{between: [hall.R, hall.W], present: yes}}]\n")


@pytest.mark.parametrize("name", ["value", "either", "unknown", "known", "from", "at", "name"])
def test_words_of_the_format_are_good_names(name: str) -> None:
    """A conductor may be called by a word that means something elsewhere."""
    conductors = survey_of(changed("blue: loose", f"{name}: loose")).cables["wall"].conductors
    assert conductors[name].to == "loose"


def test_the_word_unknown_is_a_word_in_free_text() -> None:
    """Names and notes may hold the word; they are no facts of the circuit."""
    survey = survey_of(changed("at: hall, inside wall", "at: unknown") + "notes: unknown\n")
    assert (survey.controls["hall"].at, survey.notes) == ("unknown", "unknown")


@pytest.mark.parametrize("name", NAMES)
def test_every_landing_is_written_out_with_its_place(name: str) -> None:
    """After reading, a landing is PLACE.TERMINAL, loose, cut short, or unknown, in every example."""
    survey = example(name)
    for _, _, _, conductor in survey.conductors():
        for landing in (conductor.from_, conductor.to):
            for words in landing.either if isinstance(landing, Unknown) else (landing,):
                assert words in ("loose", "cut short") or str(words).partition(".")[0] in survey.places()


def test_a_survey_read_twice_is_the_same() -> None:
    """Reading has no memory: the same text gives an equal survey, and so do its fields in another order."""
    lines = json.dumps({"name": "x", "survey": 1, "controls": {"a": {"old": {"terminals": ["R", "W"]}}}})
    other = json.dumps({"controls": {"a": {"old": {"terminals": ["R", "W"]}}}, "survey": 1, "name": "x"})
    assert read_survey(lines.encode()) == read_survey(lines.encode()) == read_survey(other.encode())
