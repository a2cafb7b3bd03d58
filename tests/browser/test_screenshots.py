"""The pictures in the docs are of the app as it is: each is made by this test, and none outlives the page that it shows.

A picture's bytes differ from machine to machine, so beside the pictures stands what each page said when its picture was made
(``docs/img/screens.json``). A page that says something else now fails; ``make screens`` makes the pictures anew.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ViewportSize

from tests.browser.conftest import PHONE, Server
from tests.web_jobs import put_job

IMAGES = Path(__file__).parents[2] / "docs" / "img"
TOLD = IMAGES / "screens.json"
MAKE = os.environ.get("SUBBASE_SCREENS") == "make"
DESK: ViewportSize = {"width": 1200, "height": 800}
SCREENS: dict[str, tuple[str, ViewportSize, str]] = {
    "screen-survey": ("survey", PHONE, "en-US"),
    "screen-plan": ("plan", PHONE, "en-US"),
    "screen-check": ("check", PHONE, "en-US"),
    "screen-plan-spanish": ("plan", PHONE, "es-MX"),
    "screen-live": ("plan/live", DESK, "en-US"),
}
"""Picture -> the page of a job, the size of the window, the language."""


@pytest.mark.parametrize("name", SCREENS)
def test_a_picture_shows_the_page_as_it_is(browser: Browser, server: Server, name: str) -> None:
    """What the page says is what it said when the picture was made, and every picture is used in a page of the docs."""
    path, size, locale = SCREENS[name]
    job = put_job(server.journal, "01-no-common-spare-blue")
    context = browser.new_context(viewport=size, locale=locale, service_workers="block")
    page = context.new_page()
    answer = page.goto(f"{server.url}/jobs/{job}/{path}")
    while answer is not None and answer.status == 202:
        answer = page.goto(f"{server.url}/jobs/{job}/{path}")
    assert answer is not None
    assert answer.status == 200
    said = re.sub(r"\s+", " ", page.locator("main").inner_text())
    told = json.loads(TOLD.read_text("utf-8")) if TOLD.exists() else {}
    checksum = hashlib.sha256(said.encode()).hexdigest()[:16]
    if MAKE:
        for drawing in page.locator(".figure.wide svg").all()[:1] if path == "plan/live" else ():
            drawing.scroll_into_view_if_needed()
        page.screenshot(path=IMAGES / f"{name}.png")
        TOLD.write_text(json.dumps({**told, name: checksum}, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    else:
        assert told.get(name) == checksum, f"The page says something else than docs/img/{name}.png: make screens"
        assert (IMAGES / f"{name}.png").stat().st_size < 200_000
    context.close()


def test_every_picture_is_used() -> None:
    """No picture lies about that no page shows, and no page asks for one that is not there."""
    pages = [path.read_text("utf-8") for path in IMAGES.parents[1].glob("*.md")]
    pages += [path.read_text("utf-8") for path in IMAGES.parent.rglob("*.md")]
    asked = {name for text in pages for name in re.findall(r"img/([\w-]+\.(?:png|svg))", text)}
    there = {path.name for path in IMAGES.iterdir() if path.suffix in (".png", ".svg")}
    assert there == asked
