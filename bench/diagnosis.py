"""Diagnosis: what is done once for a house, and what is done after each reading, from the smallest house to the largest."""

from __future__ import annotations

from functools import cache, partial
from itertools import count
from pathlib import Path

from bench.report import Result, Row, timed
from subbase.catalog import load_catalog
from subbase.diagnose.advice import next_test
from subbase.diagnose.costs import offers
from subbase.diagnose.predictions import Predictions
from subbase.diagnose.probes import Evidence, Reading
from subbase.diagnose.session import start
from subbase.diagnose.weigh import Belief, weigh
from subbase.plan import make_plan
from subbase.survey import Survey, load_survey

EXAMPLES = Path(__file__).parents[1] / "examples"
HOUSES = ("07-heat-only-pair", "01-no-common-spare-blue", "12-heat-pump-with-strips", "15-zone-panel-three-controls")
LARGEST = HOUSES[-1]


@cache
def house_of(name: str) -> Survey:
    """Return an example as its plan leaves it."""
    left = make_plan(load_survey(EXAMPLES / f"{name}.yaml"), load_catalog()).left
    if left is None:
        raise SystemExit(f"{name} is to be diagnosed as left, but its plan leaves no house.")
    return left


def run(docs: Path) -> Result:
    """Time the start, and one reading with its advice, by the number of single and double causes."""
    del docs
    rows: list[Row] = []
    notes = []
    for name in HOUSES:
        predictions = start(house_of(name), load_catalog())
        causes = len(predictions.rows.causes)
        rows.append(timed(f"start, {name}", causes, partial(start, house_of(name), load_catalog()), runs=3))
        rows.append(timed(f"a reading and its advice, {name}", causes, Readings(predictions).one_more, runs=7))
        rows.append(
            timed(
                f"the same, its call settled already, {name}", causes, Readings(predictions).one_in_a_known_call, runs=7
            )
        )
        notes.append(
            f"{name}: {len(predictions.hypotheses)} single and {causes - len(predictions.hypotheses):,} double causes in "
            f"{len(predictions.rows.share):,} rows, {len(offers(predictions)):,} tests on offer, {len(predictions.states)} calls; "
            f"{predictions.rows.left_out:,} pairs have no row."
        )
    return Result(
        title="Diagnosis",
        unit="causes",
        rows=rows,
        notes=(
            "Start is done once for a house; a reading is of a call that was not read before, so every cause is settled "
            "in it, weighed, and the next test chosen among all that are on offer. The call of the test that was asked for is "
            "settled while the person reads, so what they wait for afterwards is the time with the call settled already.",
            *notes,
        ),
    )


class Readings:
    """One reading after another, each in a call that must be settled anew."""

    def __init__(self, predictions: Predictions) -> None:
        self.predictions = predictions
        self.numbers = count()
        self.probes = [
            next(o.probe for o in offers(predictions) if o.probe.kind == "volts" and o.probe.state == state)
            for state in predictions.states
        ]

    def one_more(self) -> Belief:
        """Weigh a reading and choose the next test."""
        number = next(self.numbers)
        self.predictions.kept.clear()  # as if the call had not been read before
        probe = self.probes[number % len(self.probes)]
        belief = weigh(self.predictions, Evidence((Reading(probe, 20.0 + 0.01 * number),)))
        next_test(belief)
        return belief

    def one_in_a_known_call(self) -> Belief:
        """Weigh a reading of a call that is settled already, and choose the next test."""
        number = next(self.numbers)
        belief = weigh(self.predictions, Evidence((Reading(self.probes[0], 20.0 + 0.01 * number),)))
        next_test(belief)
        return belief


__all__ = ["LARGEST", "run"]
