"""Drawings by geometry, not by eye: no text is clipped, overlaps another or lies on a line, by the font's own metrics."""

from __future__ import annotations

import random

import pytest

from subbase.catalog import load_catalog
from subbase.papers.drawing import Circle, Drawing, Line, Text
from subbase.papers.ladder import ladder_sheets
from subbase.papers.tables import changed_conductors
from subbase.plan import make_plan
from tests.agreement.random_houses import random_house
from tests.drawn import clashes, drawings_for_a_page, drawings_of_house
from tests.edges.test_papers import hostile_plan
from tests.houses import NAMES, plan_of

HOUSES, PLANNED, BATCH = 500, 12, 100


@pytest.mark.parametrize("name", NAMES)
def test_every_drawing_of_an_example_is_clear(name: str) -> None:
    """As found and as left, on a sheet and for a phone, every text stands free inside the sheet."""
    plan = plan_of(name)
    if not plan.survey.cables:
        pytest.skip("a house without cables has no drawing")
    changed = changed_conductors(plan) if plan.left is not None else frozenset()
    drawings = drawings_of_house(plan.survey, plan.left, plan.catalog, changed)
    if plan.left is not None:
        # A4 and Letter less their margins, upright and on the side [pt].
        for room in ((527.0, 774.0), (774.0, 527.0), (544.0, 724.0), (724.0, 544.0)):
            drawings += ladder_sheets(plan.left, plan.catalog, title=f"ladder in {room}", room=room)
    assert [text for drawing in drawings for text in clashes(drawing)] == []


@pytest.mark.parametrize("batch", range(HOUSES // BATCH))
def test_the_drawings_of_random_houses_are_clear(batch: int) -> None:
    """Of 500 random houses, with a random share of the conductors marked as moved, every drawing is clear."""
    catalog = load_catalog()
    for seed in range(batch * BATCH, (batch + 1) * BATCH):
        rng = random.Random(seed)
        house = random_house(rng, most_conductors=rng.choice((4, 7, 7)))
        changed = frozenset((cable, name) for cable, _, name, _ in house.conductors() if rng.random() < 0.4)
        drawings = drawings_for_a_page(house, catalog, changed)
        found = [text for drawing in drawings for text in clashes(drawing)]
        assert found == [], seed


def test_the_drawings_of_random_houses_as_left_are_clear() -> None:
    """Random houses as their plans leave them, with adapters, leads and transformers put in, are drawn clearly, too."""
    catalog = load_catalog()
    planned = 0
    for seed in range(PLANNED):
        plan = make_plan(random_house(random.Random(seed)), catalog)
        if plan.left is not None:
            planned += 1
            drawings = drawings_of_house(plan.survey, plan.left, catalog, changed_conductors(plan))
            assert [text for drawing in drawings for text in clashes(drawing)] == [], seed
    assert planned > PLANNED / 2


def test_the_ruler_sees_what_is_wrong() -> None:
    """A text off the sheet, on another text, on a line or half in a disc is found; one in a disc over a line is not."""
    on_line = Drawing("t", "", 100, 50, (Text(10, 20, "Rc"), Line(((0, 17), (100, 17)))))
    on_text = Drawing("t", "", 100, 50, (Text(10, 20, "Rc"), Text(14, 22, "Rh")))
    off = Drawing("t", "", 100, 50, (Text(95, 20, "Rc"),))
    line = Line(((0, 20), (100, 20)))
    in_disc = Drawing("t", "", 100, 50, (line, Circle(50, 20, 9), Text(50, 23, "1", anchor="middle")))
    beyond = Drawing("t", "", 100, 50, (line, Circle(50, 20, 9), Text(57, 23, "1", anchor="middle")))
    assert [len(clashes(drawing)) for drawing in (on_line, on_text, off, in_disc, beyond)] == [1, 1, 1, 0, 1]


def test_names_that_try_to_break_a_drawing_do_not() -> None:
    """Names of forty letters without a space, markup and other alphabets stay inside the room that a drawing gives them."""
    plan = hostile_plan()
    assert plan.left is not None
    drawings = drawings_of_house(plan.survey, plan.left, plan.catalog, changed_conductors(plan))
    assert [text for drawing in drawings for text in clashes(drawing)] == []
