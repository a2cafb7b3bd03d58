"""What is offered to be read: by one person, at one place, of what there is to see."""

from __future__ import annotations

import pytest

from subbase.diagnose.costs import offers
from subbase.diagnose.places import place_of_node
from tests.predicted import predictions_of

SMALL, THREE, TWO = "01-no-common-spare-blue", "04-three-heat-motor-valves", "05-two-motor-valves"


@pytest.mark.parametrize("name", [SMALL, TWO])
def test_both_probes_are_held_at_one_place(name: str) -> None:
    """No lead reaches from the wall to the basement, and no screw is named whose wire lies loose somewhere else."""
    predictions = predictions_of(name)
    places = set(predictions.house.survey.places())
    pairs = {offer.probe.between for offer in offers(predictions) if offer.probe.kind in {"volts", "ohms"}}
    assert pairs
    for one, other in pairs:
        assert place_of_node(one) == place_of_node(other), (one, other)
        assert place_of_node(one) in places


def test_at_every_wall_each_of_its_own_calls_is_read() -> None:
    """With nothing called and in every call of that control, and of no other."""
    predictions = predictions_of(TWO)
    for wall in predictions.house.survey.controls:
        read = {o.probe.state for o in offers(predictions) if o.probe.kind == "volts" and o.site == wall}
        own = {state for state in predictions.states if all(name == wall for name, _ in state.calls)}
        assert len(own) > 1
        assert read == own


def test_a_display_is_looked_at_where_there_is_one_and_one_stands() -> None:
    """Mechanical controls show nothing; while another control calls, nobody is at this one."""
    predictions = predictions_of(THREE)
    looked = [(o.probe.about, o.probe.state) for o in offers(predictions) if o.probe.sight == "display"]
    expected = [s for s in predictions.states if all(name == "ground" for name, _ in s.calls)]
    assert len(expected) < len(predictions.states)
    assert looked == [("ground", state) for state in expected]
