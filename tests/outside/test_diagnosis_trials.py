"""A seeded part of the blind trials: ngspice holds the faulty house, the tool diagnoses it, and both must agree often enough.

The whole of them, over two thousand, is ``python -m bench.diagnosis_trials``; docs/diagnosis-trials.md tells how they went. The
shares asked for here are what the whole run bears out less what chance takes in so few trials.
"""

from __future__ import annotations

import math
from functools import cache
from random import Random

import pytest

from subbase.catalog import load_catalog
from subbase.circuit import settle
from subbase.circuit.netlist import Impedance
from subbase.diagnose.costs import offers
from subbase.diagnose.hypothesis import Form
from subbase.diagnose.inseparable import inseparable_of
from subbase.wiring.states import operated_switches
from tests.outside.blind_faults import possible_faults
from tests.outside.blind_house import BlindHouse, Fault
from tests.outside.diagnosis_trials import FOUND, HOUSES, LEFT, Case, Trial, case_of, complaint, drawn_faults, run_trial

NGSPICE = "ngspice 39, a circuit simulator grown from Berkeley SPICE 3; .ac analysis at 60 Hz of decks written by the test itself"
SMALL = tuple(house for house in HOUSES if not house[0].startswith(("12", "13", "15")))
"""Houses small enough to try many faults in a minute."""
OF_EACH = 4


@cache
def tried() -> tuple[Trial, ...]:
    """Return single faults in the small houses, each diagnosed by the tool."""
    found = []
    for name, which in SMALL:
        case, rng = case_of(name, which), Random(f"part {name}")
        for number in range(OF_EACH):
            faults, _ = drawn_faults(case, rng, 1)
            found.append(run_trial(case, faults, f"part {name} {number}", "tool"))
    return tuple(trial for trial in found if trial is not None)


def least_hits(trials: int, share: float) -> int:
    """Return the hits that a tool which is right with this share misses by chance less than once in a thousand runs."""
    chance, hits = 0.0, -1
    while chance < 1e-3:
        hits += 1
        chance += math.comb(trials, hits) * share**hits * (1.0 - share) ** (trials - hits)
    return hits


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_the_true_cause_of_a_single_fault_comes_first() -> None:
    """Of single faults put into ngspice houses the true part and repair are first, ties counted, as the whole run bears out."""
    trials = tried()
    assert len(trials) >= 25
    hits = sum(trial.rank == 1 for trial in trials)
    missed = [(trial.house, trial.faults[0].words, trial.best) for trial in trials if trial.rank != 1]
    assert hits >= least_hits(len(trials), 0.93), missed


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_the_tool_asks_for_few_readings() -> None:
    """On average it decides within seven and a half readings, and it hardly ever needs all fifteen."""
    readings = [trial.readings for trial in tried()]
    assert sum(readings) / len(readings) <= 7.5
    assert sum(trial.gave_up for trial in tried()) <= 0.2 * len(readings)


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_the_tool_needs_fewer_readings_than_the_usual_order() -> None:
    """On the same faults, with the same belief and the same rule of when to stop, it asks less than the usual order does."""
    ours, theirs = 0, 0
    for name, which in SMALL[:2]:
        case, rng = case_of(name, which), Random(f"part {name}")
        for number in range(3):
            faults, _ = drawn_faults(case, rng, 1)
            pair = [run_trial(case, faults, f"part {name} {number}", way) for way in ("tool", "fixed order")]
            if pair[0] is not None and pair[1] is not None:
                ours, theirs = ours + pair[0].readings, theirs + pair[1].readings
    assert ours < 0.8 * theirs


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_two_faults_are_put_right_by_repairing_and_going_on() -> None:
    """Of two faults one is in the first entry nearly always; repaired, and told that it did not help, the tool finds the other."""
    found = []
    for name, which in (SMALL[0], SMALL[3]):
        case, rng = case_of(name, which), Random(f"two {name}")
        found += [run_trial(case, drawn_faults(case, rng, 2)[0], f"two {name} {number}", "tool") for number in range(4)]
    trials = [trial for trial in found if trial is not None]
    assert len(trials) >= 6
    assert sum(trial.one_of_them == 1 for trial in trials) >= least_hits(len(trials), 0.85)
    assert sum(trial.put_right for trial in trials) >= least_hits(len(trials), 0.85)
    assert all(trial.repairs >= 1 and trial.readings_in_all >= trial.readings for trial in trials)


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
@pytest.mark.parametrize(
    ("name", "which"), [("01-no-common-spare-blue", LEFT), ("06-colours-swapped-at-splice", FOUND)]
)
def test_causes_called_inseparable_read_the_same_in_ngspice(name: str, which: int) -> None:
    """Two causes that share an entry of the ranking give the same readings, test by test, when ngspice solves them."""
    case = case_of(name, which)
    group, hypotheses = inseparable_of(case.predictions), case.predictions.hypotheses
    checked = 0
    for number in sorted(set(group.tolist())):
        mates = [hypotheses[i] for i in (group == number).nonzero()[0] if hypotheses[i].kind != "nothing wrong"]
        if len(mates) < 2 or any(len(h.forms) > 1 for h in mates[:2]):
            continue
        one, other = (_as_blind(case, h.forms[0]) for h in mates[:2])
        if one is None or other is None:
            continue
        for offer in offers(case.predictions)[::5]:
            a, b = offer.probe.between
            if offer.probe.kind == "volts":
                volts = [house.in_call(offer.probe.state).between(a, b) for house in (one, other)]
                assert (volts[0] is None) == (volts[1] is None), f"{mates[0].id}, {mates[1].id}: {offer.words}"
                assert abs((volts[0] or 0.0) - (volts[1] or 0.0)) < 1.0, f"{mates[0].id}, {mates[1].id}: {offer.words}"
                checked += 1
    assert checked >= 10


def _as_blind(case: Case, form: Form) -> BlindHouse | None:
    """Return what the tool thinks of as one form of a cause, in ngspice; None where controls or wiring are otherwise."""
    if form.survey is not None or form.settings or form.silent or not form.changes:
        return None
    becomes = tuple((change.tag, change.becomes) for change in form.changes)
    return BlindHouse(case.house.survey, case.house.catalog, (Fault("form", "form", (), becomes),), Random(7))


@pytest.mark.outside(source=NGSPICE, how="ran ngspice")
def test_a_blind_house_without_a_fault_works_in_every_call() -> None:
    """Within its tolerances a sound house brings on in ngspice what it must, so that no complaint is one of the house itself."""
    for name, which in SMALL:
        case = case_of(name, which)
        for seed in range(3):
            blind = BlindHouse(case.house.survey, case.house.catalog, (), Random(seed))
            assert complaint(case, blind, Random(seed)) == ()
            assert blind.melted == ()
        for state, on in case.good:
            settled = settle(case.house.netlist, operated=operated_switches(case.house, state))
            seen = {tag for tag, load in case.house.loads.items() if not load.neutral}
            assert settled.coils_in & seen == on


def test_a_short_on_a_fused_supply_has_melted_the_fuse() -> None:
    """A dead short from a heating terminal to common leaves the fuse open and the display dark before anybody reads anything."""
    case = case_of("01-no-common-spare-blue", LEFT)
    short = Impedance("touch", "furnace.W", "furnace.C", 0.05)
    fault = Fault("short to common", "short", ("furnace.W", "furnace.C"), (("touch", short),))
    blind = BlindHouse(case.house.survey, load_catalog(), (fault,), Random(3))
    assert blind.melted == ("furnace/fuse",)
    assert blind.display("hall") is False


@pytest.mark.parametrize("house", SMALL, ids=[name for name, _ in SMALL])
def test_every_kind_of_fault_can_be_put_into_some_house(house: tuple[str, int]) -> None:
    """Each house offers at least fourteen kinds of fault, and each maker gives one of its kind that builds."""
    case = case_of(*house)
    kinds = possible_faults(case.house)
    assert len(kinds) >= 14
    for kind, makers in kinds.items():
        fault = makers[0](Random(1))
        assert fault.kind == kind
        BlindHouse(case.house.survey, case.house.catalog, (fault,), Random(1))
