"""The survey by keyboard alone: Tab goes down the page, what has the focus is seen, an end is landed by arrow keys."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from subbase.web.survey_document import read_document
from tests.browser.conftest import Server
from tests.browser.test_survey_entry import settled
from tests.web_jobs import put_job

WHERE = """() => {
    const at = document.activeElement;
    const box = at.getBoundingClientRect();
    const style = getComputedStyle(at);
    const near = at.closest("label") ? getComputedStyle(at.closest("label")) : style;
    return {
        tag: at.tagName, name: at.name || at.id || at.getAttribute("aria-label") || at.textContent.trim().slice(0, 30), section: at.closest("section")?.querySelector("h2")?.id || "",
        top: box.top + scrollY, left: box.left, seen: at.matches(":focus-visible") && (style.outlineStyle !== "none" || near.outlineStyle !== "none" || (at instanceof SVGElement && style.strokeOpacity !== "0")),
        onscreen: box.bottom > 0 && box.top < innerHeight,
    };
}"""


def tabbed(page: Page, most: int) -> list[dict[str, Any]]:
    """Return what Tab reaches, from the top of the page until it leaves."""
    found = []
    for _ in range(most):
        page.keyboard.press("Tab")
        at = page.evaluate(WHERE)
        if at["tag"] == "BODY":
            break
        found.append(at)
    return found


@pytest.fixture
def desk(browser: Browser) -> Any:
    """A page on a desk's screen."""
    context = browser.new_context(viewport={"width": 1100, "height": 900}, service_workers="block")
    yield context.new_page()
    context.close()


def opened(page: Page, server: Server) -> str:
    """Open the survey of a job, and return the job's id."""
    job = put_job(server.journal)
    page.goto(f"{server.url}/jobs/{job}/survey")
    return job


def test_tab_goes_down_the_survey_and_the_focus_is_always_seen(server: Server, desk: Page) -> None:
    """The link to the content first; then section after section in the order of the page, each stop outlined and on screen."""
    desk.set_default_timeout(60_000)
    opened(desk, server)
    found = tabbed(desk, 400)
    assert found[0]["name"] == "To the content"
    assert [at["name"] for at in found if not at["seen"]] == []
    assert [at["name"] for at in found if not at["onscreen"]] == []
    sections = list(dict.fromkeys(at["section"] for at in found if at["section"]))
    assert sections[:7] == ["signs", "equipment", "controls", "cables", "jumpers", "readings", "house"]
    # Nothing is gone back to: the sections come one after the other.
    runs = [
        at["section"]
        for before, at in zip([{"section": ""}, *found], found, strict=False)
        if before["section"] != at["section"]
    ]
    assert len([section for section in runs if section]) == len(sections)


def test_an_end_is_landed_by_the_keyboard(server: Server, desk: Page) -> None:
    """An arrow key lands the conductor on the next terminal, it is kept, and the focus stays where it was."""
    job = opened(desk, server)
    end = desk.locator(".wire", has_text="blue").first.locator(".end").nth(1)
    end.locator("input:checked").focus()
    before = end.locator("input:checked").get_attribute("value")
    desk.keyboard.press("ArrowUp")
    settled(desk)
    after = end.locator("input:checked").get_attribute("value")
    assert after != before
    assert desk.evaluate("document.activeElement.value") == after
    document = read_document(server.journal.state(job).survey.text) or {}
    assert document["cables"]["wall"]["conductors"]["blue"]["to"] == after
