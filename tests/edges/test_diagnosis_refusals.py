"""Odds, probes and readings that cannot be are refused in a sentence; so is a look at what the house does not have."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from subbase.circuit.changes import opened
from subbase.diagnose.costs import offers, probe_words
from subbase.diagnose.hypotheses import hypotheses_of
from subbase.diagnose.hypothesis import Form, netlist_of
from subbase.diagnose.likelihood import good_and_wild
from subbase.diagnose.odds import Odds, load_odds
from subbase.diagnose.places import is_inside, node_words, place_of_node, site_of_node
from subbase.diagnose.probes import Probe, Reading
from subbase.diagnose.sights import answer_probabilities
from subbase.errors import InputError
from subbase.wiring import State
from tests.predicted import predictions_of

SMALL = "01-no-common-spare-blue"
BUILT_IN = Path("src/subbase/diagnose/odds.toml")


def odds_of(folder: Path, text: str) -> Odds:
    """Return the odds that a file of this text holds."""
    file = folder / "odds.toml"
    file.write_text(text, encoding="utf-8")
    return load_odds(file)


def refused(folder: Path, text: str) -> list[str]:
    """Return the faults of a file of odds."""
    with pytest.raises(InputError) as caught:
        odds_of(folder, text)
    return [str(fault) for fault in caught.value.faults]


def test_own_odds_are_read_and_change_the_order(tmp_path: Path) -> None:
    """A shop whose fuses never blow says so, and a blown fuse comes last of what else explains a dead board."""
    text = BUILT_IN.read_text(encoding="utf-8")
    assert odds_of(tmp_path, text) == load_odds()
    own = odds_of(tmp_path, text.replace('"fuse open" = 0.030', '"fuse open" = 1e-9'))
    assert own.of_kind["fuse open"] == 1e-9
    assert own.factor("conductor open", ["new work"]) == load_odds().factor("conductor open", ["new work"]) != 1.0
    assert own.factor("conductor open", ["never heard of"]) == 1.0
    house = predictions_of(SMALL).house
    usual, changed = ({h.id: h.odds for h in hypotheses_of(house, odds=odds)} for odds in (load_odds(), own))
    assert {name for name in usual if usual[name] != changed[name]} == {"fuse open: furnace/fuse"}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("[odds]", "[odds", "not readable TOML"),
        ('"fuse open" = 0.030', "", "odds.fuse open: This kind of fault has no odds"),
        ('"fuse open" = 0.030', '"fuse opn" = 0.03', "'fuse opn' is not known here; did you mean"),
        ('"fuse open" = 0.030', '"fuse open" = 0', "Expected a number above 0"),
        ('"fuse open" = 0.030', '"fuse open" = true', "Expected a number above 0"),
        ("doubles = 0.10", "doubles = 0.6", "at most 0.5"),
        ("[shares]", "[share]", "This table is missing"),
    ],
)
def test_a_file_of_odds_that_cannot_be_is_refused(tmp_path: Path, old: str, new: str, said: str) -> None:
    """The fault names the field, and what would put it right."""
    text = BUILT_IN.read_text(encoding="utf-8")
    assert text.count(old) == 1
    assert any(said in fault for fault in refused(tmp_path, text.replace(old, new)))


def test_a_probe_is_of_something() -> None:
    """Two different points, a conductor, or something that can be looked at."""
    with pytest.raises(ValueError, match="two different points"):
        Probe("volts", between=("hall.R", "hall.R"))
    for wrong in ({"kind": "amps"}, {"kind": "seen", "sight": "acts"}, {"kind": "seen", "about": "hall"}):
        with pytest.raises(ValueError, match="seen of something"):
            Probe(**wrong)  # type: ignore[arg-type]


@pytest.mark.parametrize("value", [math.nan, -0.1, "much"])
def test_a_reading_is_a_number_not_below_nought(value: float | str) -> None:
    """What no meter shows is refused; an open circuit is infinite ohms, and nothing known is None."""
    volts = Probe("volts", between=("hall.R", "hall.C"))
    with pytest.raises(ValueError, match="not a reading"):
        Reading(volts, value)
    assert Reading(volts, None).value is None
    with pytest.raises(ValueError, match="no answer to this"):
        Reading(Probe("seen", sight="display", about="hall"), "maybe")


@pytest.mark.parametrize(
    ("probe", "said"),
    [
        (Probe("seen", sight="acts", about="furnace/nothing"), "no load furnace/nothing"),
        (Probe("seen", sight="display", about="furnace"), "no control with a display"),
        (Probe("seen", sight="air", about="furnace"), "no control furnace whose air"),
        (Probe("seen", sight="lamp", about="outdoor"), "no board whose lamp"),
        (Probe("seen", sight="lamp", about="attic"), "nothing of this kind to look at"),
    ],
)
def test_what_is_not_there_cannot_be_looked_at(probe: Probe, said: str) -> None:
    """A load, a display, air or a lamp that this house does not have."""
    predictions = predictions_of(SMALL)
    with pytest.raises(ValueError, match=said):
        answer_probabilities(predictions, predictions.singles(State(())), probe)


def test_what_nobody_knows_has_no_likelihood() -> None:
    """A reading that says 'don't know' is left out of the weighing, not weighed."""
    predictions = predictions_of(SMALL)
    unknown = Reading(Probe("volts", between=("hall.R", "hall.C")), None)
    with pytest.raises(ValueError, match="not known has no likelihood"):
        good_and_wild(predictions, predictions.singles(State(())), unknown)


def test_a_survey_alone_has_no_causes() -> None:
    """Without the catalogue nobody knows what its equipment is made of."""
    house = predictions_of(SMALL).house
    with pytest.raises(ValueError, match="give the catalogue too"):
        hypotheses_of(house.survey)
    assert len(hypotheses_of(house.survey, house.catalog)) == len(predictions_of(SMALL).hypotheses)


def test_two_faults_of_one_shape_are_not_put_together() -> None:
    """Two wirings, or one branch changed in two ways, are no double."""
    house = predictions_of(SMALL).house
    with pytest.raises(ValueError, match="wiring's shape"):
        netlist_of(house, Form(survey=house.survey), Form(survey=house.survey))
    by_id = {h.id: h for h in predictions_of(SMALL).hypotheses}
    poor = by_id["poor joint: wall/red"].forms[0]
    with pytest.raises(ValueError, match="changed twice"):
        netlist_of(house, Form(changes=(opened("wall/red"),)), poor)


def test_points_without_a_terminal_s_name_are_told_by_what_lies_beside_them() -> None:
    """A point inside equipment by its neighbours, a loose end by its cable, a terminal by its own name."""
    predictions = predictions_of(SMALL)
    house = predictions.house
    assert node_words(house, "furnace.W") == "furnace.W"
    assert node_words(house, "furnace/after-limit").startswith("the point between high limit and")
    assert node_words(house, "furnace/far-away").startswith("the point far away in furnace")
    assert site_of_node(house.survey, "wall/blue end at furnace") == "furnace"


def test_a_terminal_with_a_stroke_in_its_name_is_a_terminal() -> None:
    """O/B is a screw at the wall, not a point inside equipment with its panel off."""
    assert (is_inside("hall.O/B"), place_of_node("hall.O/B")) == (False, "hall")
    assert (is_inside("furnace/after-limit"), place_of_node("furnace/after-limit")) == (True, "furnace")
    assert not is_inside("wall/blue end at furnace")
    predictions = predictions_of("12-heat-pump-with-strips")
    (offer, *_more) = [
        offer for offer in offers(predictions) if offer.probe.kind == "ohms" and "hall.O/B" in offer.probe.between
    ]
    assert offer.site == "hall"
    assert "hall.O/B" in probe_words(predictions.house, offer.probe)
