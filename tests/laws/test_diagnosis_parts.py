"""The parts of a diagnosis, each by what it must be: causes, doubles, tests on offer, bins, what a repair leaves."""

from __future__ import annotations

import re
from itertools import pairwise

import numpy as np
import pytest

from subbase.circuit import Source
from subbase.circuit.meters import GOOD_LEADS_OHM, SECONDARY_SHARE
from subbase.diagnose.belief import Likelihood, posterior
from subbase.diagnose.costs import (
    COLD_CAUTION,
    DEAD_CAUTION,
    LIVE_CAUTION,
    OUTDOOR_CAUTION,
    PANEL_CAUTION,
    Offer,
    Situation,
    cost_minutes,
    costs_table,
    held_back,
    offers,
)
from subbase.diagnose.dead import single_ohms
from subbase.diagnose.evidence_file import evidence_text, read_evidence
from subbase.diagnose.inseparable import features
from subbase.diagnose.likelihood import LINE
from subbase.diagnose.outcomes import AMP_EDGES, OHM_EDGES, VOLT_EDGES, bin_words
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import ANSWERS, Evidence, Probe, Reading
from subbase.diagnose.sights import air_calls
from subbase.diagnose.weigh import rows_without, weigh
from subbase.wiring import State
from tests.predicted import predictions_of

SMALL, PUMP, VALVES = "01-no-common-spare-blue", "12-heat-pump-with-strips", "05-two-motor-valves"


@pytest.fixture(scope="module")
def small() -> Predictions:
    """A furnace and a condensing unit with one control."""
    return predictions_of(SMALL)


@pytest.fixture(scope="module")
def pump() -> Predictions:
    """A heat pump with a defrost board, strips, and a float switch."""
    return predictions_of(PUMP)


def offer_of(predictions: Predictions, kind: str, **wanted: object) -> Offer:
    """Return the first test of a kind on offer."""
    return next(
        offer
        for offer in offers(predictions)
        if offer.probe.kind == kind and all(getattr(offer.probe, name) == value for name, value in wanted.items())
    )


def test_levels_and_none_add_up_and_shares_must() -> None:
    """The levels of the line are probabilities whatever was read; shares that add up to less are refused."""
    shares = np.array([0.25, 0.5, 0.25])
    good = np.array([[0.9, 0.1, 0.3], [0.2, 0.4, 0.1]])
    found = posterior(np.array([0.5, 0.4]), shares, [Likelihood(good, 0.05, 0.02)], none_prior=0.1)
    assert float(found.levels.sum()) == pytest.approx(1.0)
    assert float(found.joint.sum()) + found.none == pytest.approx(1.0)
    for wrong in (0.9 * shares, 1.1 * shares):
        with pytest.raises(ValueError, match="add up to 1"):
            posterior(np.array([0.5, 0.4]), wrong, [], none_prior=0.1)


def test_the_line_is_read_from_the_volts(small: Predictions) -> None:
    """29 V where 27 are expected make the line high; its mean and spread are those of the levels' probabilities."""
    belief = weigh(small, Evidence((Reading(Probe("volts", between=("hall.R", "hall.C")), 29.3),)))
    mean, spread = belief.line
    assert mean > 1.02
    levels = belief.posterior.levels
    assert mean == pytest.approx(float(np.average(LINE, weights=levels)))
    assert spread == pytest.approx(float(np.sqrt(np.average((LINE - mean) ** 2, weights=levels))))


def test_a_switch_is_a_safety_switch_or_a_condition(pump: Predictions) -> None:
    """Pressure and float switches stand open; the defrost board's own contacts stick either way."""
    kinds = {h.tags[0]: h.kind for h in pump.hypotheses if h.kind in {"safety switch open", "switch stuck"}}
    assert {tag for tag, kind in kinds.items() if kind == "safety switch open"} == {
        "outdoor/high-pressure", "outdoor/low-pressure", "pan switch/float",
    }  # fmt: skip
    assert {tag for tag, kind in kinds.items() if kind == "switch stuck"} == {
        "outdoor/valve-supply", "outdoor/defrost-valve", "outdoor/defrost-heat",
    }  # fmt: skip


@pytest.mark.parametrize("name", [SMALL, PUMP])
def test_every_two_causes_are_a_double_or_counted_as_left_out(name: str) -> None:
    """No double is told twice, none is of one cause with itself, and those that cannot be put together are counted."""
    rows = predictions_of(name).rows
    count = len(rows.hypotheses)
    singles, doubles = rows.causes[rows.causes[:, 1] < 0], rows.causes[rows.causes[:, 1] >= 0]
    assert sorted(singles[:, 0].tolist()) == list(range(count))
    assert (doubles[:, 0] != doubles[:, 1]).all()
    assert len({frozenset(pair) for pair in doubles.tolist()}) == len(doubles)
    assert len(doubles) + rows.left_out == count * (count - 1) // 2
    assert len(doubles) > 0.6 * count * (count - 1) / 2
    owners = rows.owner[rows.form[rows.single_count :]]
    assert (owners[:, 0] != owners[:, 1]).all()


def test_the_air_of_a_call_is_what_its_loads_make_it(small: Predictions, pump: Predictions) -> None:
    """Heat is warm by the furnace's own loads, cooling is cold by the compressor's; a pump's valve turns one into the other."""
    movers, makers = air_calls(small.house, "hall")
    assert movers == {"furnace/fan-relay"}
    assert [(what, "furnace/gas-valve" in loads, "outdoor/contactor" in loads) for what, loads in makers] == [
        ("warm", True, False), ("cold", False, True),
    ]  # fmt: skip
    _, of_pump = air_calls(pump.house, "hall")
    assert ("warm", frozenset({"outdoor/contactor"})) in of_pump
    assert ("cold", frozenset({"outdoor/contactor", "outdoor/reversing-valve"})) in of_pump


def test_each_test_bears_the_caution_of_where_it_is_made(small: Predictions) -> None:
    """Live readings at the wall, behind a panel and outdoors have each their own; ohms are for a house that is locked out.

    Whatever runs the compressor for cooling, be it only listened to, is not for a cold day.
    """
    site_of = {"hall": LIVE_CAUTION, "furnace": PANEL_CAUTION, "outdoor": OUTDOOR_CAUTION}
    for offer in offers(small):
        here = {"ohms": DEAD_CAUTION, "seen": ""}.get(offer.probe.kind, site_of[offer.site])
        assert offer.caution == f"{here} {COLD_CAUTION if offer.cools else ''}".strip()
        assert offer.cools == (offer.probe.state == State((("hall", frozenset({"cool 1"})),)))
        assert offer.panel == (offer.site != "hall") or offer.probe.kind == "seen"


def test_at_a_wall_only_its_own_calls_are_read() -> None:
    """Nobody at one control sets another: volts at a wall are offered with nothing called, or with its own call."""
    predictions = predictions_of(VALVES)
    for offer in offers(predictions):
        if offer.probe.kind == "volts" and offer.site in predictions.house.survey.controls and offer.probe.state.calls:
            assert offer.probe.state.calls[0][0] == offer.site


def test_loads_are_told_by_name_and_not_by_tag(small: Predictions) -> None:
    """Nobody knows what 'furnace/gas-valve' is."""
    words = offer_of(small, "seen", sight="acts", about="furnace/gas-valve").words
    assert "gas valve (furnace)" in words
    assert "/" not in words


def test_cold_keeps_the_compressor_off_and_a_licence_the_rest(pump: Predictions) -> None:
    """A test that cools waits for a warmer day; at the limit itself it may be made, and so may all others in the cold."""
    cools = next(offer for offer in offers(pump) if offer.cools)
    limit_c = costs_table().coolest_outdoors_c
    assert held_back(cools, Situation(outdoor_c=limit_c - 0.1))
    assert not held_back(cools, Situation(outdoor_c=limit_c))
    assert not held_back(cools, Situation())
    other = next(offer for offer in offers(pump) if not offer.cools)
    assert not held_back(other, Situation(outdoor_c=limit_c - 0.1))


def test_a_test_where_one_stands_is_cheaper(small: Predictions) -> None:
    """Walking, taking a panel off and calling anew each add their minutes, and only once."""
    wall, panel = (
        offer_of(small, "volts", between=pair) for pair in (("hall.R", "hall.C"), ("furnace.R", "furnace.C"))
    )
    there = Situation(stands="furnace", call=panel.probe.state, open_panels=frozenset({"furnace"}))
    minutes = costs_table().minutes
    far = cost_minutes(panel, small.house, Situation(stands="hall", call=panel.probe.state))
    near = cost_minutes(panel, small.house, there)
    assert far - near == pytest.approx(minutes["shared"] * (minutes["walk"] + minutes["panel_off"]))
    assert there.after(wall).stands == "hall"
    assert there.after(wall).open_panels == {"furnace"}


def test_a_dead_transformer_winding_is_what_joins_r_to_common(small: Predictions) -> None:
    """With nothing wrong, R to C of the supply reads its secondary, and OL once that is open."""
    source = next(small.house.netlist.of(Source))
    ohm = single_ohms(small, [(source.head, source.tail)])[:, 0]
    ids = [small.hypotheses[h].id for h in small.rows.owner.tolist()]
    assert ohm[ids.index("nothing wrong")] == pytest.approx(
        complex(source.z_ohm).real * SECONDARY_SHARE + GOOD_LEADS_OHM, rel=0.03
    )
    assert ohm[ids.index("supply dead: furnace/transformer")] > 5.0


def test_every_test_on_offer_may_part_two_causes(small: Predictions) -> None:
    """Causes are told apart by all that is on offer: a column for each reading, and one for each answer of what is seen."""
    wanted = sum(len(ANSWERS[o.probe.sight]) if o.probe.sight else 1 for o in offers(small))
    assert features(small).shape == (len(small.rows.forms), wanted)


@pytest.mark.parametrize(("kind", "edges"), [("volts", VOLT_EDGES), ("ohms", OHM_EDGES), ("amps", AMP_EDGES)])
def test_one_outcome_ends_where_the_next_begins(small: Predictions, kind: str, edges: np.ndarray) -> None:
    """Ranges leave no gap, whether told one by one or in a run, and the last is open."""
    offer = offer_of(small, kind)
    told = [bin_words(offer, i, i) for i in range(len(edges))]
    assert len(set(told)) == len(edges)
    ends = [re.findall(r"[\d.]+ ?[kM]?", words) for words in told]
    last = len(edges) - (kind == "ohms")  # OL begins nowhere
    for first, second in pairwise(ends[:last]):
        assert first[-1] == second[0]
    assert told[0].startswith("under ")
    assert bin_words(offer, 1, 3).split()[0] == told[1].split()[0]
    assert bin_words(offer, 1, 3).split()[-2:] == told[3].split()[-2:]
    assert told[-1] == {"volts": "over 45 V", "amps": "over 4 A", "ohms": "OL"}[kind]
    if kind == "ohms":
        assert told[-2] == "31.6 kohm to 100 Mohm"
        assert bin_words(offer, len(edges) - 2, len(edges) - 1) == "31.6 kohm to OL"


def test_evidence_without_readings_is_read_again(small: Predictions) -> None:
    """Nothing known yet is a file too."""
    assert read_evidence(evidence_text(Evidence()).encode(), "e.yaml", small.house).evidence == Evidence()


def test_a_repair_takes_its_cause_out_of_every_double_and_leaves_the_rest(small: Predictions) -> None:
    """A row of two faults becomes the row of the other, a row of the one becomes 'nothing wrong', all others stay."""
    rows, gone = small.rows, "output dead: hall/Y1"
    to = rows_without(small, frozenset({gone}))
    assert to is not None
    ids = [h.id for h in rows.hypotheses]
    for row, (first, second) in enumerate(rows.form.tolist()):
        owners = [ids[rows.owner[form]] for form in (first, second) if form >= 0]
        left = [name for name in owners if name != gone]
        became = [ids[rows.owner[form]] for form in rows.form[to[row]].tolist() if form >= 0]
        if gone not in owners:
            assert to[row] == row
        else:
            assert became == (left or ["nothing wrong"])
    assert rows_without(small, frozenset()) is None
