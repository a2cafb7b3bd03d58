"""The packet with and without a job's record: forms to fill in, or what was read, done, seen and left open."""

from __future__ import annotations

import datetime
import io
from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from PIL import Image
from pypdf import PdfReader

from subbase.papers.job_record import JobRecord, Photo, Read, Stepped
from subbase.papers.owner_page import FED_WORDS, owner_pdf
from subbase.papers.packet import packet_data, packet_pdf
from subbase.papers.settings_page import settings_blocks, tunings_of
from subbase.work.checks import checks_for
from subbase.work.meter_words import bounds_words, temperature_words
from subbase.work.step_plan import work_plan
from subbase.work.steps import WorkPlan
from tests.houses import NAMES, plan_of

DATE = datetime.date(2026, 3, 5)
NAME = "01-no-common-spare-blue"
PLANNED = tuple(name for name in NAMES if plan_of(name).verdict == "planned")


@cache
def work() -> WorkPlan:
    """Return the work steps of the example."""
    plan = plan_of(NAME)
    return work_plan(plan, checks=checks_for(plan))


def photo(width: int, height: int, caption: str) -> Photo:
    """Return a plain photo."""
    held = io.BytesIO()
    Image.new("RGB", (width, height), "grey").save(held, "JPEG")
    return Photo(held.getvalue(), "image/jpeg", width, height, caption, ("hall",), "A. Fitter", "5 March 2026")


def record() -> JobRecord:
    """Return a job with readings, steps, photos, notes and open points."""
    first, second, *_rest = work().checks.checks
    steps = work().steps
    return JobRecord(
        readings=(
            Read("first", "", "OL", within=True, who="A. Fitter", when="5 March 2026", check=1),
            Read("second", "", "3.1 ohm", within=first is second, who="A. Fitter", when="5 March 2026", check=2),
            Read("supply air", "10 to 15 °C", "12 °C", within=True),
        ),
        steps={
            steps[0].id: Stepped("done", who="A. Fitter", when="5 March 2026"),
            steps[1].id: Stepped("skipped", note="no gas in this house"),
        },
        photos=(photo(80, 60, "Wall plate as found"), photo(60, 80, "Board as left")),
        people=("A. Fitter, installer", "B. Owner, owner"),
        notes=("Showed the schedule.",),
        open_points=("One label is missing.",),
        settings=(("hall: schedule", "as agreed"),),
    )


def blocks_of(with_record: bool) -> list[dict[str, Any]]:
    """Return the blocks of the packet, in order."""
    data = packet_data(plan_of(NAME), date=DATE, record=record() if with_record else None, work=work())
    return [block for sheet in data["pages"] for block in sheet["blocks"]]


def headings(blocks: list[dict[str, Any]]) -> list[str]:
    """Return the headings of sections."""
    return [block["text"] for block in blocks if block["kind"] == "heading" and block["look"] == "section"]


def test_sections_come_in_the_order_of_need() -> None:
    """As found, as left, ladder, landings, proof, readings, checks, hazards, steps, settings, photos, open points, sources."""
    found = [text.partition(", sheet ")[0] for text in headings(blocks_of(with_record=False))]
    assert list(dict.fromkeys(found)) == [
        "Wiring as found", "Wiring as left", "Ladder diagram as left",
        "Landings", "Proof", "What the meter must read", "Check sheet: readings to take", "What a wrong landing would do",
        "The work, step by step", "Settings and schedule", "Photos", "Open points", "Parts, tools, rules and sources",
        "Every way looked at", "Labels", "For the people who live here",
    ]  # fmt: skip


def test_without_a_record_pages_are_forms() -> None:
    """The last column of the check sheet is empty in every row, and lines wait for photos and open points."""
    found = blocks_of(with_record=False)
    sheets = [block for block in found if block["kind"] == "table" and block["look"] == "sheet"]
    assert sheets
    assert {row[-1] for block in sheets for row in block["rows"]} == {""}
    fields = [name for block in found if block["kind"] == "fields" for name in block["items"]]
    assert {"As found, at the wall", "Left open", "Agreed with the owner", "Telephone"} <= set(fields)


def test_with_a_record_readings_stand_against_what_is_expected() -> None:
    """A reading stands in the row of its check; one outside its bounds says so; others have a table of their own."""
    found = blocks_of(with_record=True)
    sheets = [block for block in found if block["kind"] == "table" and block["look"] == "sheet"]
    rows = {row[0]: row for block in sheets for row in block["rows"] if len(row) == 6}
    check = work().checks.checks[0].check
    assert rows["1"][4] == bounds_words(check.low, check.high, check.unit)
    assert rows["1"][5] == "OL\nA. Fitter, 5 March 2026"
    assert rows["2"][5].startswith("3.1 ohm: NOT as it must be")
    assert ["supply air", "10 to 15 °C", "12 °C"] in [row for block in sheets for row in block["rows"]]


def test_with_a_record_steps_say_what_came_of_them() -> None:
    """Done by whom, left out why, or open."""
    found = blocks_of(with_record=True)
    steps = next(block for block in found if block["kind"] == "table" and block["look"] == "record")
    rows = [row for row in steps["rows"] if len(row) > 1]
    assert len(rows) == len(work().steps)
    assert rows[0][3] == "done, A. Fitter, 5 March 2026"
    assert rows[1][3] == "left out\nno gas in this house"
    assert {row[3] for row in rows[2:]} == {"open"}


def test_with_a_record_photos_notes_and_open_points_are_there() -> None:
    """Both photos with their captions as words for those who hear the paper; notes, people, open points, settings."""
    found = blocks_of(with_record=True)
    photos = next(block for block in found if block["kind"] == "photos")
    assert [item["alt"] for item in photos["items"]] == ["Wall plate as found", "Board as left"]
    said = [item for block in found if block["kind"] == "list" for item in block["items"]]
    assert {"One label is missing.", "Showed the schedule.", "A. Fitter, installer"} <= set(said)
    rows = [row for block in found if block["kind"] == "table" for row in block["rows"]]
    assert ["hall: schedule", "as agreed"] in rows


def test_the_packet_with_photos_is_the_same_every_time() -> None:
    """The same record gives the same bytes, and both photos are in them."""
    once = packet_pdf(plan_of(NAME), date=DATE, record=record(), work=work())
    assert once == packet_pdf(plan_of(NAME), date=DATE, record=record(), work=work())
    images = [image for page in PdfReader(io.BytesIO(once)).pages for image in page.images]
    assert {(80, 60), (60, 80)} <= {image.image.size for image in images if image.image is not None}


@pytest.mark.parametrize("name", NAMES)
def test_the_owners_page_is_one_page(name: str) -> None:
    """Whatever the verdict, the owner has one page, and it says how the control is fed or that nothing was changed."""
    plan = plan_of(name)
    pages = PdfReader(io.BytesIO(owner_pdf(plan, date=DATE))).pages
    assert len(pages) == 1
    text = squeezed(pages[0].extract_text())
    if plan.verdict == "planned":
        assert all(squeezed(FED_WORDS[item.chosen.name]) in text for item in plan.controls)
    else:
        assert squeezed("Nothing was changed. The old control stays in service.") in text


@pytest.mark.parametrize("name", PLANNED)
def test_settings_stand_in_the_packet(name: str) -> None:
    """Every setting of every control has its row with value, reason and source, controls set alike together."""
    tunings = tunings_of(plan_of(name))
    found = settings_blocks(plan_of(name), tunings, None)
    rows = [tuple(row) for block in found if block["kind"] == "table" for row in block["rows"]]
    for tuning in tunings:
        for setting in tuning.settings:
            assert any(row[:2] == (setting.name, setting.value) and setting.source in row[2] for row in rows), setting


def test_units_of_the_survey_are_those_of_the_schedule() -> None:
    """°F and am/pm in a survey in US units, °C and 24 hours in one in SI."""
    us = squeezed(PdfReader(io.BytesIO(owner_pdf(plan_of(NAME), date=DATE))).pages[0].extract_text())
    assert "6:00am" in us
    assert "70°F" in us
    plan = plan_of(NAME)
    metric = replace(plan, survey=plan.survey.model_copy(update={"units": "si"}))
    si = squeezed(PdfReader(io.BytesIO(owner_pdf(metric, date=DATE))).pages[0].extract_text())
    assert "06:00" in si
    assert "21°C" in si
    assert "°F" not in si


@pytest.mark.parametrize(
    ("low", "high", "unit", "words"),
    [
        (22.04, 26.4, "V", "22.0 to 26.4 V"),
        (40.0, float("inf"), "ohm", "40.0 ohm to OL"),
        (float("inf"), float("inf"), "ohm", "OL"),
        (20.4, float("inf"), "V", "20.4 V or more"),
        (float("-inf"), 0.5, "A", "0.5 A or less"),
    ],
)
def test_bounds_are_told_as_a_meter_shows_them(low: float, high: float, unit: str, words: str) -> None:
    """One wording of bounds, for papers, pages, terminal and verdicts."""
    assert bounds_words(low, high, unit) == words


def test_bounds_of_a_temperature_are_whole_degrees() -> None:
    """An open end is said as such."""
    assert temperature_words(10.2, 15.0, "°C") == "10 to 15 °C"
    assert temperature_words(60.0, float("inf"), "°F") == "60 °F or more"
    assert temperature_words(float("-inf"), 60.0, "°F") == "60 °F or less"


def squeezed(text: str) -> str:
    """Return a text without spaces, so that line breaks do not matter."""
    return "".join(text.replace("\N{ZERO WIDTH SPACE}", "").split())
