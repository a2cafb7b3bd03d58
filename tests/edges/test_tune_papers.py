"""Charts and pages of a study: nothing lies on anything else, both units, and the packet's engine takes them."""

from __future__ import annotations

import datetime
from functools import cache
from itertools import combinations
from xml.etree import ElementTree as Xml

import numpy as np
import pytest

from subbase.comfort.answers import Units, read_answers
from subbase.comfort.equipment_settings import tuning
from subbase.comfort.made_weather import made_weather
from subbase.comfort.served import Wired
from subbase.comfort.setting_records import Heat
from subbase.comfort.study import Study, house_of, place_of, study
from subbase.papers import blocks
from subbase.papers.tune_charts import DARK, NARROW, WIDTH, chart_svg
from subbase.papers.tune_pages import charts_of, settings_pdf
from subbase.papers.tune_tables import house_rows, outcome_table, owner_words, setback_words
from tests.houses import plan_of

DATE = datetime.date(2026, 3, 2)
UNITS: tuple[Units, ...] = ("us", "si")


@cache
def found(second_fuel: bool = False) -> Study:
    """Return a study of a heat pump with strips or with a burner beside it."""
    answers = read_answers({"area": "1900", "built": "1970", "peak": "0.4"}, "us")
    place = place_of(made_weather(answers.winter, answers.summer, answers.latitude), made_up=True)
    wired = (
        Wired(Heat.HEAT_PUMP, 1, 1, 0, True, 0.0, 0.0) if second_fuel else Wired(Heat.HEAT_PUMP, 1, 1, 2, False, 2.0)
    )
    return study("hall", answers, house_of(answers, place), place, wired)


@pytest.mark.parametrize("width", [WIDTH, NARROW])
@pytest.mark.parametrize("second_fuel", [False, True])
@pytest.mark.parametrize("units", UNITS)
def test_no_text_of_a_chart_lies_on_another(units: Units, second_fuel: bool, width: float) -> None:
    """Each text has its own room inside the drawing, on paper and on a phone, and is large enough to read on paper."""
    for name, drawing in charts_of(found(second_fuel), units, width).items():
        areas = [text.area() for text in drawing.texts()]
        assert len(areas) > 5
        for one, other in combinations(areas, 2):
            assert not one.overlaps(other), (name, one, other)
        for area in areas:
            assert area.left >= 0.0, name
            assert area.right <= drawing.width + 6.0, (name, area)
            assert area.bottom <= drawing.height, name
        assert drawing.least_text() * blocks.scale_on_page(drawing, flipped=False) >= 6.0


def test_charts_stand_alone_and_are_the_same_twice() -> None:
    """Well-formed, with title and description, dark rules inside, nothing fetched; equal input gives equal bytes."""
    for drawing in charts_of(found(), "us").values():
        text = chart_svg(drawing)
        root = Xml.fromstring(text)
        assert root.find("{http://www.w3.org/2000/svg}title") is not None
        assert "prefers-color-scheme: dark" in text
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
        assert text == chart_svg(drawing)
        colours = {v for e in root.iter() for k, v in e.attrib.items() if k in ("fill", "stroke")} - {"none"}
        assert colours <= set(DARK), colours - set(DARK)


def test_the_year_chart_shows_every_hour_that_heats() -> None:
    """A year of one hour of heat a day is one band; a year of nothing is an empty field."""
    from subbase.papers.tune_charts import HEATS, year_chart

    net = np.zeros(8760, dtype=np.float32)
    net[6::24] = 5000.0
    drawing = year_chart(net, "hall")
    bands = [s for s in drawing.shapes if getattr(s, "fill", "") == HEATS[-1]]
    assert len(bands) == 182 + 1
    assert year_chart(np.zeros(8760, dtype=np.float32), "hall").texts()


@pytest.mark.parametrize("units", UNITS)
def test_tables_say_one_thing_in_both_units(units: Units) -> None:
    """Rows have as many cells as the head; sentences have no gaps."""
    table = outcome_table(found())
    assert all(len(row) == len(table.head) == len(table.weights) for row in table.rows)
    for words in (*setback_words(found(), units), *(value for _name, value in house_rows(found(), units))):
        assert words
        assert "{" not in words
    assert any("°F" in w for w in setback_words(found(), "us"))
    assert not any("°F" in w for w in setback_words(found(), "si"))


@pytest.mark.parametrize("units", UNITS)
def test_pages_are_set_by_the_packets_engine(units: Units) -> None:
    """Settings, schedule, year and charts make a PDF, the same bytes twice; the owner's words are among them."""
    plan = plan_of("12-heat-pump-with-strips")
    assert plan.left is not None
    item = plan.controls[0]
    settled = tuning(plan.left, plan.catalog, item.control, item.wanted)
    made = [settings_pdf(plan, [(settled, found())], date=DATE) for _again in range(2)]
    assert made[0] == made[1]
    assert len(made[0]) > 20_000
    words = owner_words(settled, found(), units)
    assert any("strips" in line for line in words)
    assert any("dear at some hours" in line for line in words)
