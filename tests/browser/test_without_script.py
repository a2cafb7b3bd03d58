"""A browser that runs no script: the job goes all the same, from its name to handing over."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from subbase.journal.bodies import ReadingTaken, StepDone
from tests.browser.conftest import PHONE, Server
from tests.web_forms import HOUSE

SLOW_MS = 60_000


@pytest.fixture
def bare(browser: Browser) -> Iterator[Page]:
    """A page on a phone that runs no script."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True, java_script_enabled=False)
    yield context.new_page()
    context.close()


def test_a_job_goes_from_name_to_handing_over_without_any_script(server: Server, bare: Page) -> None:
    """Begin, survey by form and as text, plan, a work step, a reading, handing over: every form is sent as a page."""
    bare.goto(server.url)
    expect(bare.locator("#shelf")).to_be_hidden()
    bare.locator("#name").fill("House without scripts")
    bare.get_by_role("button", name="Begin").tap()
    expect(bare.get_by_role("heading", name="Survey", exact=True)).to_be_visible()
    job = bare.url.split("/")[4].partition("?")[0]
    bare.locator("details.kinds summary", has_text="heating").tap()
    bare.locator('button[value="add-equipment/gas-furnace-1"]').tap()
    expect(bare.locator("#f-equipment\\.furnace h3")).to_have_text("furnace")
    bare.goto(f"{server.url}/jobs/{job}/survey/text")
    bare.locator("#text").fill(HOUSE)
    with bare.expect_navigation():
        bare.get_by_role("button", name="Save").tap()
    bare.goto(f"{server.url}/jobs/{job}/survey")
    bare.locator('input[name="w/hall%20to%20furnace/blue/to"][value="cut short"]').check()
    with bare.expect_navigation():
        bare.locator("p.save button").tap()
    expect(bare.locator('input[name="w/hall%20to%20furnace/blue/to"][value="cut short"]')).to_be_checked()
    bare.goto(f"{server.url}/jobs/{job}/plan")
    expect(bare.locator(".verdict .line").first).to_be_visible()
    bare.goto(f"{server.url}/jobs/{job}/survey/text")
    bare.locator("#text").fill(HOUSE)
    with bare.expect_navigation():
        bare.get_by_role("button", name="Save").tap()

    bare.goto(f"{server.url}/jobs/{job}/work")
    bare.get_by_role("button", name="Keep, and to the step").tap(timeout=SLOW_MS)
    title = bare.locator("#what").inner_text(timeout=SLOW_MS)
    bare.get_by_role("button", name="It is so").tap()
    expect(bare.locator("#what")).not_to_have_text(title, timeout=SLOW_MS)
    bare.goto(f"{server.url}/jobs/{job}/check")
    bare.locator(".sheet-line input").first.fill("OL", timeout=SLOW_MS)
    bare.locator(".sheet-line button.main").first.tap()
    expect(bare.locator(".sheet-line .mark").first).to_be_visible(timeout=SLOW_MS)
    bare.goto(f"{server.url}/jobs/{job}/hand-over")
    bare.locator("#to").fill("The owner", timeout=SLOW_MS)
    bare.get_by_role("button", name="Handed over").tap()
    expect(bare.locator("#handed")).to_be_visible(timeout=SLOW_MS)
    kinds = [type(line.event.body) for line in server.journal.state(job).history]
    assert kinds.count(StepDone) == 1
    assert kinds.count(ReadingTaken) == 1


def test_what_needs_scripts_is_said_without_them(server: Server, bare: Page) -> None:
    """The list of what is not sent says that nothing waits here, and the help says which addresses work without network."""
    bare.goto(f"{server.url}/unsent")
    expect(bare.get_by_text("Without scripts nothing is kept on this phone")).to_be_visible()
    bare.goto(f"{server.url}/help/offline")
    expect(bare.locator("main")).to_contain_text("A phone that reaches a laptop at a plain http address")
