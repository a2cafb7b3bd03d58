"""What drawings mark and name: one number for one conductor on every drawing, nothing told by colour alone, no conductor lost."""

from __future__ import annotations

import pytest

from subbase.catalog import load_catalog
from subbase.papers.drawing import INK, PAPER, Circle, Drawing, Line, Text, svg
from subbase.papers.insulation import insulation_of
from subbase.papers.ladder import ladder_sheets, live_ladder
from subbase.papers.ladder_narrow import WIDTH, narrow_ladder
from subbase.papers.map_grid import grid_of
from subbase.papers.map_improve import crossings_of
from subbase.papers.map_layout import Layout, laid_out, layout
from subbase.papers.map_model import End, Run, boxes_of, markings, runs_of
from subbase.papers.map_wires import change_mark, wire
from subbase.papers.rungs import ladder_of
from subbase.papers.strip_map import NARROW, strip_map
from subbase.papers.tables import changed_conductors, marks
from subbase.papers.wiring_map import wiring_map
from tests.houses import NAMES, plan_of

PLANNED = tuple(name for name in NAMES if plan_of(name).left is not None)


def words_of(drawing: Drawing) -> list[str]:
    """Return every text of a drawing."""
    return [text.text for text in drawing.texts()]


@pytest.mark.parametrize("name", PLANNED)
def test_a_conductor_bears_one_number_everywhere(name: str) -> None:
    """As found, as left and in the landing table, a conductor that moves has the same number; leads put in come after."""
    plan = plan_of(name)
    assert plan.left is not None
    before, after = markings(plan.survey, plan.left, changed_conductors(plan))
    found = {run.key: run.number for run in runs_of(plan.survey, before) if run.number}
    left = {run.key: run.number for run in runs_of(plan.left, after) if run.number}
    assert {key: left[key] for key in found} == found
    assert {key: left[key] for key in marks(plan)} == marks(plan)
    assert sorted(left.values()) == list(range(1, len(left) + 1))


def test_what_is_taken_away_is_crossed_and_named() -> None:
    """Undoing the second house's plan takes its leads out: each is crossed on the map as found, and listed below it."""
    plan = plan_of("02-four-conductors-all-used")
    assert plan.left is not None
    before, after = markings(plan.left, plan.survey, changed_conductors(plan))
    gone = [run for run in runs_of(plan.left, before) if run.gone]
    assert len(gone) == 6
    assert not [run for run in runs_of(plan.survey, after) if run.gone]
    words = words_of(wiring_map(plan.left, plan.catalog, title="t", changed=before))
    assert "Crossed: taken away" in words
    strips = words_of(strip_map(plan.left, plan.survey, title="t", changed=changed_conductors(plan)))
    assert strips.count("as found") > strips.count("as left")


def test_marks_differ_by_form() -> None:
    """A ring says where it was, a disc where it is, a crossed ring that it goes: all three read in black and white."""
    ends = (End("hall", "C", "", "A blue", "blue"), End("furnace", "C", "", "A blue", "blue"))
    was, now, gone = (
        list(change_mark(0, 0, Run("conductor", "wall", "blue", ends, number=n, before=b, gone=g)))
        for n, b, g in ((1, True, False), (1, False, False), (0, False, True))
    )
    assert [shape.fill for shape in (*was, *now) if isinstance(shape, Circle)] == [PAPER, INK]
    assert [shape.fill for shape in (*was, *now) if isinstance(shape, Text)] == [INK, PAPER]
    assert sum(isinstance(shape, Line) for shape in gone) == 2


def test_a_stripe_is_drawn_between_dark_bars() -> None:
    """A striped conductor has its base all along, dashes of the stripe on it, and dark dashes that reach beyond them."""
    ends = (End("a", "R", "", "A white-orange", "white-orange"), End("b", "R", "", "A white-orange", "white-orange"))
    lines = [s for s in wire(Run("conductor", "A", "white-orange", ends), ((0, 0), (90, 0))) if isinstance(s, Line)]
    look = insulation_of("white-orange")
    assert [line.stroke for line in lines] == [INK, look.base, INK, look.stripe]
    bars, dashes = ([float(part) for part in line.dash.split()] for line in lines[2:])
    assert sum(bars) == sum(dashes)
    start, length = dashes[1], dashes[2]
    assert dashes[0] == 0.0
    assert start > 0.0
    assert start + length < bars[0]


def test_colours_may_be_written_as_a_crew_says_them() -> None:
    """Spanish names, with and without accents, are drawn like the English ones."""
    assert insulation_of("marrón") == insulation_of("brown")
    assert insulation_of("blanco/naranja") == insulation_of("white-orange")


@pytest.mark.parametrize("name", PLANNED)
def test_strips_hold_every_conductor_at_phone_width(name: str) -> None:
    """The strips are as wide as a phone, and show every conductor of every cable with what it lands on."""
    plan = plan_of(name)
    assert plan.left is not None
    drawing = strip_map(plan.survey, plan.left, title="t", changed=changed_conductors(plan))
    assert drawing.width == NARROW
    words = words_of(drawing)
    for run in runs_of(plan.left, frozenset()):
        if run.kind == "conductor":
            assert {end.label for end in run.ends} <= set(words)
            assert {end.terminal for end in run.ends if end.terminal} <= set(words)


@pytest.mark.parametrize("name", PLANNED)
def test_the_phones_ladder_names_what_the_sheets_does(name: str) -> None:
    """Every load, terminal and element of the ladder stands in the narrow one, too."""
    plan = plan_of(name)
    assert plan.left is not None
    ladder = ladder_of(plan.left, plan.catalog)
    narrow = narrow_ladder(ladder, title="t", about="")
    assert narrow.width == WIDTH
    text = " ".join(words_of(narrow))
    for supply in ladder.supplies:
        for rung in supply.rungs:
            assert rung.load.words.split(" (")[0].split()[0] in text
    terminals = {
        w for w in words_of(ladder_sheets(plan.left, plan.catalog, title="t")[0]) if w.isupper() and len(w) < 4
    }
    assert terminals <= set(words_of(narrow))


def test_a_ladder_explains_its_symbols() -> None:
    """Below the ladder stand the symbols that it uses, and no others."""
    plan = plan_of("12-heat-pump-with-strips")
    assert plan.left is not None
    words = words_of(ladder_sheets(plan.left, plan.catalog, title="t")[0])
    assert "switch worked by a float" in words
    assert "switch worked by pressure" in words
    assert "motor" not in words


@pytest.mark.parametrize("name", [name for name in NAMES if plan_of(name).survey.cables])
def test_looking_for_a_better_order_never_makes_a_map_worse(name: str) -> None:
    """A map has no more crossings than in the survey's own order, keeps boxes of one kind in it, and is the same each time."""
    plan = plan_of(name)
    for survey in (plan.survey, plan.left):
        if survey is None:
            continue
        boxes, runs = boxes_of(survey, plan.catalog), runs_of(survey, frozenset())
        first, best = laid_out(grid_of(boxes, runs)), layout(boxes, runs)
        assert crossings(best) <= crossings(first)
        assert best == layout(boxes, runs)
        if crossings(first) == 0:
            assert best == first
        for column in {placed.area.left for placed in best.boxes}:
            down = sorted((p for p in best.boxes if p.area.left == column), key=lambda p: p.area.top)
            for kind in {(p.box.host, p.box.about[:1]) for p in down}:
                alike = [p.box.place for p in down if (p.box.host, p.box.about[:1]) == kind]
                assert alike == [box.place for box in boxes if box.place in alike]


def crossings(found: Layout) -> int:
    """Return how often the runs of a layout cross."""
    return crossings_of([run.points for run in found.runs])


def test_a_live_drawing_waits_for_its_script() -> None:
    """Where a script writes volts there is room and nothing yet: no made-up number may stand there without it."""
    plan = plan_of("01-no-common-spare-blue")
    assert plan.left is not None
    drawing = live_ladder(ladder_of(plan.left, load_catalog()), title="t", about="")
    assert any(text.part.startswith("v:") for text in drawing.texts())
    assert "00.0" not in svg(drawing, targets=True)
