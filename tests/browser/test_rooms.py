"""Rooms sketched by finger on a phone, from an empty sheet to a verdict."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page

from subbase.web.survey_document import at, read_document
from tests.browser.conftest import Server
from tests.web_jobs import put_job


def tap(page: Page, x: float, y: float) -> None:
    """Tap a point of the plan, in feet."""
    left, top, per = (
        float(page.locator("#sketch").get_attribute(name) or 0) for name in ("data-left", "data-top", "data-per-unit")
    )
    box = page.locator("#sketch").bounding_box()
    assert box is not None
    scale = box["width"] / float((page.locator("#sketch").get_attribute("viewBox") or "0 0 1 1").split()[2])
    page.locator("#sketch").click(position={"x": (x - left) * per * scale, "y": (top - y) * per * scale})


def choose(page: Page, tool: str) -> None:
    """Choose what the next tap puts down."""
    page.get_by_label(tool, exact=False).first.check()


def test_a_room_is_drawn_by_tapping_its_corners(server: Server, page: Page) -> None:
    """Corners snap to half a foot, the first one closes the room, and a window and a place go on its walls."""
    job = put_job(server.journal)
    page.goto(f"{server.url}/jobs/{job}/survey/rooms")
    page.get_by_label("Corners of a room").check()
    for corner in ((2.1, 2.0), (2.0, 16.2), (18.0, 16.0), (17.9, 2.1)):
        tap(page, *corner)
    with page.expect_navigation():
        tap(page, 2.2, 2.2)
    for tool, x, y in (("Window", 2.2, 9.0), ("Place for the control", 17.8, 10.0), ("Lamp", 10.0, 8.0)):
        choose(page, tool)
        with page.expect_navigation():
            tap(page, x, y)
    document = read_document(server.journal.state(job).survey.text)
    room = at(document, "site", "rooms", "room")
    assert room["at"] == ["2", "2"]
    assert [float(side) for side in room["size"]] == pytest.approx([16, 14], abs=0.5)
    assert room["windows"][0]["wall"] == "left"
    assert room["candidates"]["place"]["wall"] == "right"
    assert float(room["candidates"]["place"]["along"]) == pytest.approx(6.0, abs=1.0)
    page.get_by_role("link", name="Judge the places").click()
    page.get_by_role("heading", name="Places, best first").wait_for(timeout=60_000)
    assert page.locator(".drawings svg").count() > 0
