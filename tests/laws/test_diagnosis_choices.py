"""What is chosen: the next test and those beside it, when to hand over, what three faults fit, which reading proves a repair."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from subbase.circuit import Coil, Impedance, settle
from subbase.circuit.changes import with_impedance
from subbase.diagnose.advice import Options, next_test
from subbase.diagnose.beyond import three_faults
from subbase.diagnose.costs import COLD_CAUTION, LIVE_CAUTION, Offer, Situation, offers
from subbase.diagnose.dead import scale
from subbase.diagnose.evidence_file import evidence_text
from subbase.diagnose.hypothesis import Form, Hypothesis, netlist_of, operated_in
from subbase.diagnose.likelihood import good_and_wild, wild_volts
from subbase.diagnose.outcomes import BINS, OHM_EDGES, Crowd, bin_words, outcome_table
from subbase.diagnose.predictions import Predictions, predict
from subbase.diagnose.probes import Evidence, Probe, Reading
from subbase.diagnose.repair import repair_for
from subbase.diagnose.weigh import Belief, weigh
from subbase.wiring import OFF, State
from tests.predicted import predictions_of

SMALL = "01-no-common-spare-blue"
HEAT, COOL, FAN = (State((("hall", frozenset({call})),)) for call in ("heat 1", "cool 1", "fan"))
COLD = Situation(outdoor_c=2.0)


@pytest.fixture(scope="module")
def small() -> Predictions:
    """A furnace and a condensing unit with one control."""
    return predictions_of(SMALL)


@pytest.fixture(scope="module")
def dark(small: Predictions) -> Belief:
    """What is believed of it when its control is dark."""
    return weigh(small, Evidence((Reading(Probe("seen", sight="display", about="hall"), "dark"),)))


def test_what_comes_next_to_the_best_test_is_another(dark: Belief) -> None:
    """Beside the test that is advised stand others, each once, none worth more for its time."""
    advice = next_test(dark)
    assert advice.offer is not None
    beside = [offer.probe for offer, _, _ in advice.others]
    assert len({advice.offer.probe, *beside}) == 1 + len(beside) == 4
    for _, bits, minutes in advice.others:
        assert bits / minutes <= advice.bits / advice.minutes


def test_in_the_cold_nothing_that_cools_is_advised_and_the_reason_is_told(dark: Belief) -> None:
    """What may be made is advised all the same; where only cooling would tell, it is kept back for a warmer day."""
    either = next_test(dark, Options(COLD))
    assert either.offer is not None
    assert not either.offer.cools
    only = next_test(dark, Options(COLD, allowed=lambda offer: offer.cools))
    assert only.offer is None
    assert only.kept_back
    for offer, why in only.kept_back:
        assert offer.cools
        assert "cold outdoors" in why


def test_handing_over_says_whether_nothing_fits_or_nothing_stands_out(small: Predictions) -> None:
    """Over 50 V where 27 are the most is nothing that was thought of; with nothing read at all no cause stands out."""
    probes = [o.probe for o in offers(small) if o.probe.kind == "volts" and not o.probe.state.calls][:8]
    odd = weigh(small, Evidence(tuple(Reading(probe, 50.0 + i) for i, probe in enumerate(probes))))
    unfit, open_ = next_test(odd, Options(most_tests=8)), next_test(weigh(small, Evidence()), Options(most_tests=0))
    assert (unfit.action, open_.action) == ("hand over", "hand over")
    assert unfit.why.startswith("nothing that was thought of fits")
    assert open_.why.startswith("no cause stands out")


def test_where_no_test_may_be_made_the_advice_is_to_hand_over(small: Predictions) -> None:
    """Nothing may be read: no test is named, and nothing is repaired by guess."""
    advice = next_test(weigh(small, Evidence()), Options(allowed=lambda _offer: False))
    assert (advice.action, advice.offer) == ("hand over", None)


def test_the_outcomes_of_every_test_are_probabilities(small: Predictions) -> None:
    """Under every cause the outcomes of each test add up to one."""
    crowd = Crowd(small, np.arange(0, small.rows.single_count, 7), {}, (1.0, 0.05))
    table = outcome_table(crowd, offers(small))
    assert table.shape[2] == BINS
    assert table.min() >= 0.0
    np.testing.assert_allclose(table.sum(axis=2), 1.0, atol=1e-9)


def test_ohms_lie_in_the_range_that_is_told_for_them(small: Predictions) -> None:
    """'0.41 to 2.2 ohm' holds what a meter shows between the two, and nothing else."""
    offer = next(o for o in offers(small) if o.probe.kind == "ohms")
    for place in range(len(OHM_EDGES) - 1):
        told = bin_words(offer, place, place)
        figures = [
            float(n) * {"": 1.0, "k": 1e3, "M": 1e6}[unit] for n, unit in re.findall(r"([\d.]+) ([kM]?)ohm", told)
        ]
        assert len(figures) == (1 if place == 0 else 2), told
        low, high = (0.0, *figures) if place == 0 else figures
        for share in (0.02, 0.5, 0.98):
            shown = low + share * (high - low)
            assert np.searchsorted(OHM_EDGES, scale(np.array([shown]))[0], side="right") - 1 == place, (told, shown)


def test_a_mistaken_reading_of_volts_is_somewhere_up_to_its_reach() -> None:
    """Its density adds up to one, most of it near nought: leads that did not touch."""
    reach = 35.0
    volts = np.linspace(0.0, reach, 70_001)
    density = np.array([wild_volts(value, reach) for value in volts.tolist()])
    assert np.trapezoid(density, volts) == pytest.approx(1.0, abs=1e-4)
    assert density[0] > 10.0 * density[-1] > 0.0


def test_dead_volts_are_explained_by_three_dead_outputs(small: Predictions) -> None:
    """Nothing on any of three outputs against common: 0 V is as good a reading as 27, and three faults fit it."""
    names = [f"output dead: hall/{output}" for output in ("W1", "Y1", "G")]
    by_id = {h.id: h for h in small.hypotheses}
    netlist = netlist_of(small.house, *(by_id[name].forms[0] for name in names))
    readings = []
    for state, output in ((HEAT, "W1"), (COOL, "Y1"), (FAN, "G")):
        forms = [by_id[name].forms[0] for name in names]
        settled = settle(netlist, operated=operated_in(small.house, state, *forms)).solution
        for other in ("C", "R"):
            volts = abs(settled.between(f"hall.{output}", f"hall.{other}") or 0.0)
            # The line at its lowest.
            readings.append(Reading(Probe("volts", state, (f"hall.{output}", f"hall.{other}")), round(0.9 * volts, 1)))
    found = [
        frozenset(fault.id for fault in item.faults)
        for item in three_faults(weigh(small, Evidence(tuple(readings))), most=40)
    ]
    assert frozenset(names) in found


def test_a_relay_just_short_of_its_pull_in_may_act_all_the_same(small: Predictions) -> None:
    """At 95 % of it the click is not ruled out; at half of it, it is."""
    house = small.house
    wire = house.netlist.by_tag["wall/white"]
    coil = house.netlist.by_tag["furnace/heat-input"]
    assert isinstance(wire, Impedance)
    assert isinstance(coil, Coil)

    def fed_share(ohm: float) -> float:
        netlist = netlist_of(house, Form(changes=(with_impedance(wire, ohm),)))
        settled = settle(netlist, operated=operated_in(house, HEAT))
        volts = abs(settled.solution.between(coil.tail, coil.head) or 0.0)
        return volts / coil.pull_in_v if coil.tag not in settled.coils_in else math.inf

    shares = {ohm: fed_share(ohm) for ohm in np.geomspace(10.0, 20_000.0, 400).tolist()}
    near = next(ohm for ohm, share in shares.items() if 0.93 < share < 0.97)
    far = next(ohm for ohm, share in shares.items() if share < 0.5)
    forms = tuple(Form(share=0.5, changes=(with_impedance(wire, ohm),)) for ohm in (near, far))
    well = small.hypotheses[0]
    poor = Hypothesis("poor", "poor joint", "a poor joint", ("wall/white",), "hall", 1.0, forms)
    mine = predict(house, (well, poor), doubles=False)
    click = Reading(Probe("seen", HEAT, sight="acts", about=coil.tag), "yes")
    good, _ = good_and_wild(mine, mine.singles(HEAT), click)
    of_well, of_near, of_far = good[:, 0].tolist()
    assert of_well > 0.9
    assert of_near > 0.2
    assert of_far < 0.1


@pytest.mark.parametrize(
    ("cause", "proof"),
    [
        ("fuse open: furnace/fuse", "Then see the fault lamp of furnace"),
        ("output welded: hall/G", "Then read volts from hall.G to hall.C with nothing called: it must be under 1 V"),
        ("coil open: furnace/gas-valve", "with heat 1 called: it must be 'warm'"),
    ],
)
def test_a_repair_is_proven_where_one_stands_by_what_it_changes(small: Predictions, cause: str, proof: str) -> None:
    """A fuse at the furnace by the furnace's lamp, an output at the wall by the volts there, not by a walk."""
    hypothesis = next(h for h in small.hypotheses if h.id == cause)
    assert proof in repair_for(hypothesis, small).proof


@pytest.mark.parametrize(
    ("cause", "caution"),
    [
        ("output welded: hall/G", LIVE_CAUTION),
        ("coil open: outdoor/contactor", COLD_CAUTION),
        ("fuse open: furnace/fuse", ""),
    ],
)
def test_the_reading_that_proves_a_repair_bears_its_caution(small: Predictions, cause: str, caution: str) -> None:
    """Live volts are read with care after the repair as before it, and a compressor is no more for a cold day then."""
    proof = repair_for(next(h for h in small.hypotheses if h.id == cause), small).proof
    assert caution in proof
    assert proof.endswith("Then try every call once more.")
    assert caution or not any(other in proof for other in (LIVE_CAUTION, COLD_CAUTION))


def test_a_reading_is_written_with_what_it_is_about_and_no_more(small: Predictions) -> None:
    """Volts name two points, amperes a conductor, a lamp its equipment: a file that a person can read."""
    wanted = {"volts": "between", "ohms": "between", "amps": "through", "acts": "load", "runs": "load",
              "lamp": "equipment", "display": "control", "air": "control"}  # fmt: skip
    firsts: dict[str, Offer] = {}
    for offer in offers(small):
        if offer.probe.state == OFF or offer.probe.kind == "amps":
            firsts.setdefault(offer.probe.sight or offer.probe.kind, offer)
    assert firsts.keys() >= wanted.keys() - {"air"}
    for key, offer in firsts.items():
        text = evidence_text(Evidence((Reading(offer.probe, None),)))
        fields = set(re.findall(r'"([a-z_]+)":', text)) - {"call"}
        assert fields - {"control"} == {key, wanted[key]} - {"control"}, text
