"""Survey entry by thumb: an eight-conductor, two-cable house on a phone, counted and timed; the map as an input; no signal."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from subbase.catalog import load_catalog
from subbase.plan import make_plan
from subbase.survey import read_survey
from subbase.web.survey_document import joined, read_document
from tests.browser.conftest import PHONE, Server
from tests.web_forms import HOUSE, LANDED

CATALOG = load_catalog()
POINT_S, PRESS_S, KEY_S, MENTAL_S = 1.1, 0.1, 0.28, 1.35
"""Operators of the keystroke-level model: Card, Moran and Newell, CACM 23 (1980) 396-410, doi 10.1145/358886.358895 (values
from memory). A tap is P and a button press; the hand never leaves the phone, so that H is not spent."""
SWIPE_S = POINT_S + PRESS_S
SWIPE_PX, BAR_PX = 600.0, 64.0
"""A swipe is taken for one pointing, and for two thirds of a screen (judgement): the model is older than the gesture."""


@dataclass
class Thumb:
    """A person who enters a survey, and what it cost."""

    page: Page
    taps: int = 0
    keys: int = 0
    swipes: int = 0
    thoughts: int = 0

    def tap(self, target: Locator, *, think: bool = True) -> None:
        """Tap, after a look and a decision unless told otherwise; what is out of sight costs a swipe."""
        target.wait_for(state="attached")
        box = target.bounding_box()
        assert box is not None
        beyond = max(0.0, -box["y"], box["y"] + box["height"] - (PHONE["height"] - BAR_PX))
        self.swipes += ceil(beyond / SWIPE_PX)
        target.scroll_into_view_if_needed()
        target.tap()
        self.taps += 1
        self.thoughts += think

    def button(self, *do: str, think: bool = True) -> None:
        """Tap a button of the survey, and wait for the page to be up to date."""
        self.tap(self.page.locator(f'button[name="do"][value="{joined(*do)}"]').first, think=think)
        settled(self.page)

    def type(self, name: str, text: str) -> None:
        """Tap a field and type."""
        field = self.page.locator(f'input[name="{name}"]')
        self.tap(field)
        field.press_sequentially(text)
        self.keys += len(text)

    @property
    def seconds(self) -> float:
        """Return the model's estimate."""
        tapping = self.taps * (POINT_S + PRESS_S) + self.swipes * SWIPE_S
        return tapping + self.keys * KEY_S + self.thoughts * MENTAL_S


def settled(page: Page) -> None:
    """Wait until everything that was tapped is kept."""
    expect(page.locator("#survey-body")).to_have_attribute("data-state", "sent", timeout=30_000)


def begin(page: Page, server: Server, name: str = "House 1") -> str:
    """Begin a job and return its id."""
    page.goto(server.url)
    page.locator("#name").fill(name)
    page.get_by_role("button", name="Begin").tap()
    page.wait_for_url("**/survey")
    return page.url.split("/")[4]


def written(page: Page, server: Server, text: str = HOUSE) -> str:
    """Begin a job with a survey in it, and return its id."""
    job = begin(page, server)
    page.goto(f"{server.url}/jobs/{job}/survey/text")
    page.locator("#text").fill(text)
    with page.expect_navigation():
        page.get_by_role("button", name="Save").tap()
    page.goto(f"{server.url}/jobs/{job}/survey")
    return job


def enter_house(page: Page) -> Thumb:
    """Enter the house by taps."""
    thumb = Thumb(page)
    thumb.tap(page.locator('input[value="none of these"]'))
    for group, kind in (("heating", "gas-furnace-1"), ("cooling", "condensing-unit-1")):
        thumb.tap(page.locator("details.kinds summary").filter(has_text=group).first)
        thumb.button("add-equipment", kind)
    thumb.button("add-control", "hall")
    thumb.button("terminals", "hall", "old", "R", "W", "Y", "G")
    thumb.tap(page.locator('input[name="f/controls/hall/old/power"][value="battery"]'))
    thumb.button("terminals", "hall", "new", "R", "C", "W1", "W2", "Y1", "Y2", "G", "O/B")
    for cable, wires in LANDED.items():
        thumb.button("add-cable", *cable.split(" to "))
        thumb.type(joined("f", "cables", cable, "length"), "38" if "hall" in cable else "24")
        for wire in wires:
            thumb.button("add-conductor", cable, wire)
        # All ends at one place, then all at the other: as one stands there.
        for number, end in enumerate(("from", "to")):
            for wire, landed in wires.items():
                name = joined("w", cable, wire, end)
                thumb.tap(page.locator(f'input[name="{name}"][value="{landed[number]}"]'))
    settled(page)
    return thumb


def test_a_house_of_eight_conductors_takes_under_two_minutes_by_thumb(
    page: Page, server: Server, tmp_path: Path
) -> None:
    """By taps alone the house gives the plan of the same survey as text, and the model's time is under two minutes."""
    job = begin(page, server)
    thumb = enter_house(page)
    text = server.journal.state(job).survey.text
    assert make_plan(read_survey(text.encode(), "", CATALOG)) == make_plan(read_survey(HOUSE.encode(), "", CATALOG))
    expect(page.locator(".bar")).to_contain_text("Planned")
    counted = (
        f"{thumb.taps} taps, {thumb.keys} keys, {thumb.swipes} swipes, {thumb.thoughts} thoughts: {thumb.seconds:.0f} s"
    )
    (tmp_path / "entry.txt").write_text(counted)
    assert thumb.taps <= 45
    assert thumb.keys == 4
    assert thumb.seconds < 120


def test_quick_taps_lose_nothing(page: Page, server: Server) -> None:
    """Taps faster than the server answers are all kept, in their order."""
    job = written(page, server)
    for colour in ("black", "brown", "orange"):
        page.locator(f'button[value="{joined("add-conductor", "furnace to outdoor", colour)}"]').tap(no_wait_after=True)
    page.locator('input[name="w/furnace%20to%20outdoor/red/to"][value="cut short"]').tap()
    settled(page)
    wires = (read_document(server.journal.state(job).survey.text) or {})["cables"]["furnace to outdoor"]["conductors"]
    assert list(wires) == ["yellow", "blue", "red", "black", "brown", "orange"]
    assert wires["red"] == {"from": "loose", "to": "cut short"}


def test_the_finder_leaves_only_the_kinds_that_hold_its_words(page: Page, server: Server) -> None:
    """Typing part of a kind's name opens its group and hides every other kind."""
    begin(page, server)
    page.locator("#find-kind").fill("heat motor")
    expect(page.locator("details.kinds button:visible")).to_have_text(["Zone valve, heat motor, with end switch"])
    page.locator("#find-kind").fill("")
    expect(page.locator("details.kinds button:visible")).to_have_count(0)


def test_the_next_open_end_comes_to_the_thumb(page: Page, server: Server) -> None:
    """After an end is landed, the next open end at the same place is marked and in sight."""
    written(page, server, HOUSE.replace("{red: R, white: W,", "{red: unknown, white: unknown,"))
    page.locator('input[name="w/hall%20to%20furnace/red/from"][value="R"]').tap()
    marked = page.locator(".end.next")
    expect(marked).to_have_attribute("id", "f-cables.hall_to_furnace.conductors.white.from")
    expect(marked).to_be_in_viewport()


def spot(page: Page, selector: str) -> tuple[float, float]:
    """Return a point of the screen at which a finger meets a target of the map."""
    found = page.evaluate(
        """selector => {
            const target = document.querySelector(selector);
            target.scrollIntoView({block: "center", inline: "center"});
            const matrix = target.getScreenCTM();
            for (let step = 0; step <= 96; step += 2) {
                const part = (50 + (step % 4 ? step / 2 : -step / 2)) / 100;
                const at = target.getPointAtLength(target.getTotalLength() * part).matrixTransform(matrix);
                if (document.elementFromPoint(at.x, at.y) === target) return [at.x, at.y];
            }
            return null;
        }""",
        selector,
    )
    assert found is not None, f"nothing of {selector} can be touched"
    return found[0], found[1]


@pytest.mark.parametrize("by", ["finger", "keyboard"])
def test_the_map_lands_a_conductor(page: Page, server: Server, by: str) -> None:
    """A conductor tapped and then a terminal: it lands there, in the form and in the journal; so by Enter."""
    job = written(page, server)
    targets = ('[data-conductor="hall%20to%20furnace/blue"]', '[data-terminal="furnace.C"]')
    for selector in targets:
        if by == "finger":
            page.touchscreen.tap(*spot(page, selector))
        else:
            page.locator(selector).focus()
            page.keyboard.press("Enter")
    settled(page)
    expect(page.locator('input[name="w/hall%20to%20furnace/blue/to"][value="C"]')).to_be_checked()
    assert "blue: {from: loose, to: C}" in server.journal.state(job).survey.text
    assert page.locator('[data-conductor="hall%20to%20furnace/blue"]').get_attribute("aria-pressed") == "true"


def test_without_signal_it_says_so_and_sends_later(page: Page, server: Server) -> None:
    """What is tapped without signal is said not to be sent; with the signal back it goes, once."""
    job = written(page, server)
    before = server.journal.state(job).sequence
    page.route("**/survey", lambda route: route.abort())
    page.locator('input[name="w/hall%20to%20furnace/blue/to"][value="C"]').tap()
    expect(page.locator("#survey-body")).to_have_attribute("data-state", "waiting")
    expect(page.locator(".bar .sent")).to_have_text("not sent yet")
    page.unroute("**/survey")
    page.evaluate("window.dispatchEvent(new Event('online'))")
    settled(page)
    state = server.journal.state(job)
    assert "to: C" in state.survey.text
    assert state.sequence == before + 1


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("width", [390, 1100])
def test_no_page_of_the_survey_is_wider_than_the_screen(
    browser: Browser, server: Server, tmp_path: Path, width: int, dark: bool
) -> None:
    """Form, text and history fit the screen, phone and desk, light and dark; nothing to tap is smaller than 44 px."""
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme="dark" if dark else "light")
    page = context.new_page()
    page.goto(server.url)
    page.locator("#name").fill("House 1")
    page.get_by_role("button", name="Begin").click()
    page.wait_for_url("**/survey")
    job = page.url.split("/")[4]
    page.goto(f"{server.url}/jobs/{job}/survey/text")
    page.locator("#text").fill(HOUSE)
    with page.expect_navigation():
        page.get_by_role("button", name="Save").click()
    for path in ("survey", "survey/text", "history"):
        page.goto(f"{server.url}/jobs/{job}/{path}")
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        small = page.evaluate(
            """() => [...document.querySelectorAll("main button:not(.first), main .pick, main select, main summary")]
                .filter(part => part.checkVisibility()).map(part => [part.textContent.trim().slice(0, 30), part.getBoundingClientRect().height])
                .filter(([, height]) => height < 44)"""
        )
        assert small == []
        page.screenshot(path=tmp_path / f"{path.replace('/', '-')}-{width}-{dark}.png", full_page=True)
    context.close()
