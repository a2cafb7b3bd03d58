"""What axe-core finds on every page: nothing serious, in light and dark, at phone and desk width; each is photographed."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize, expect

from tests.browser.conftest import PHONE, Server
from tests.browser.every_page import every_page, routes, slug

ROOT = Path(__file__).parents[2]
AXE = ROOT / ".venv/browser/axe-core-4.11.0/axe.min.js"
PICTURES = ROOT / "out/screens"
"""Kept to be looked at; git does not."""
DESK: ViewportSize = {"width": 1100, "height": 900}
GRAVE = ("serious", "critical")
SLOW_MS = 60_000


def looked_at(page: Page) -> list[str]:
    """Return what axe-core finds grave on a page as it stands."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(AXE.read_text("utf-8"))
    found: list[dict[str, Any]] = page.evaluate("async () => (await axe.run(document)).violations")
    return [
        f"{item['id']} ({item['impact']}): {node['html'][:160]} {node.get('failureSummary', '')[:200]}"
        for item in found
        if item["impact"] in GRAVE
        for node in item["nodes"][:3]
    ]


def to(page: Page, url: str) -> None:
    """Open a page, and wait for what is worked out."""
    page.goto(url)
    expect(page.get_by_role("heading", name="Being worked out")).to_have_count(0, timeout=SLOW_MS)


def test_every_page_is_in_the_list(server: Server) -> None:
    """A page that is added to the app is looked at too."""
    assert {shown.route for shown in every_page(server)} == routes()


@pytest.mark.parametrize("width", ["phone", "desk"])
def test_axe_finds_nothing_grave_on_any_page(server: Server, browser: Browser, width: str) -> None:
    """In light and dark no page has a fault that axe-core calls serious or critical, and none is wider than its screen."""
    assert AXE.exists(), "the accessibility checker is not here: run tools/browser-packages.sh"
    size = PHONE if width == "phone" else DESK
    shutil.rmtree(PICTURES / width, ignore_errors=True)
    (PICTURES / width).mkdir(parents=True)
    context = browser.new_context(viewport=size, service_workers="block")
    page = context.new_page()
    grave: dict[str, list[str]] = {}
    for shown in every_page(server):
        to(page, f"{server.url}{shown.path}")
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            found = looked_at(page)
            wide = page.evaluate("document.documentElement.scrollWidth")
            found += [f"it is {wide} px wide"] if wide > size["width"] else []
            if found:
                grave[f"{shown.name} {scheme}"] = found
            page.screenshot(path=PICTURES / width / f"{slug(shown)}-{scheme}.png", full_page=True)
    context.close()
    assert grave == {}


def test_axe_would_find_a_fault(phone: BrowserContext, server: Server) -> None:
    """The checker itself works: an input without a name is found."""
    page = phone.new_page()
    page.goto(server.url)
    page.evaluate("document.querySelector('main').append(document.createElement('input'))")
    assert any(line.startswith("label ") for line in looked_at(page))
