"""The live drawing in a real Chromium: a call chosen, two points tapped, the volts shown, with and without the server."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from subbase.papers.live_calls import LiveCall, live_calls
from subbase.papers.rungs import ladder_of
from tests.browser.conftest import Server
from tests.houses import plan_of
from tests.web_jobs import put_job


def call_of(name: str, words: str) -> LiveCall:
    """Return a call of an example as left, as the circuit gives it."""
    plan = plan_of(name)
    assert plan.left is not None
    calls = live_calls(plan.left, plan.catalog, ladder_of(plan.left, plan.catalog))
    return next(call for call in calls if call.words == words)


def tap(page: Page, figure: str, point: str) -> None:
    """Tap the first drawing of a terminal, on the spot, as a finger does."""
    target = page.locator(f'.figure.{figure} [data-point="{point}"]').first
    target.evaluate("shape => shape.scrollIntoView({ block: 'center' })")
    box = target.evaluate(
        "shape => { const r = shape.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] }"
    )
    page.mouse.click(*box)


def shown_of(page: Page) -> tuple[float, float, float]:
    """Return the volts and bounds that the page shows."""
    numbers = re.findall(r"\d+\.\d", page.locator("#live-reading").inner_text())
    assert len(numbers) == 3
    return float(numbers[0]), float(numbers[1]), float(numbers[2])


@pytest.mark.parametrize(("words", "a", "b"), [("heat 1", "hall.W1", "hall.C"), ("cool 1", "hall.R", "hall.W1")])
def test_tapping_two_points_shows_what_the_circuit_gives(
    server: Server, page: Page, words: str, a: str, b: str
) -> None:
    """On the phone's drawing, the display shows the engine's volts and bounds for the two terminals that were tapped."""
    job = put_job(server.journal)
    page.goto(f"{server.url}/jobs/{job}/plan/live")
    page.get_by_label("Call").select_option(label=words)
    tap(page, "narrow", a)
    expect(page.locator("#live-reading")).to_contain_text("second point")
    tap(page, "narrow", b)
    reading = call_of("01-no-common-spare-blue", words).reading(a, b)
    assert reading is not None
    assert shown_of(page) == pytest.approx((reading.nominal, reading.low, reading.high), abs=0.051)
    expect(page.locator("#live-reading")).to_contain_text("meter on AC volts")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_hot_path_follows_the_call(server: Server, page: Page) -> None:
    """A call makes its pieces thick with an arrow and its contact 'made'; with nothing called they are thin again."""
    job = put_job(server.journal)
    page.goto(f"{server.url}/jobs/{job}/plan/live")
    state = page.locator('.figure.narrow [data-part="e:hall/W1"]').first
    calls = page.get_by_label("Call")
    for words, said in (("heat 1", "made"), ("off", "open")):
        calls.select_option(label=words)
        expect(state).to_have_text(said)
        call = call_of("01-no-common-spare-blue", words)
        for kind in ("p", "a"):
            drawn = page.locator(f'.figure.narrow [data-part^="{kind}:"].flows').evaluate_all(
                "all => all.map(s => s.dataset.part.slice(2))"
            )
            assert drawn
            assert set(drawn) <= set(call.flowing)
        loads = page.locator('.figure.narrow [data-part^="o:"]').evaluate_all(
            "all => all.map(s => [s.dataset.part.slice(2), s.textContent])"
        )
        assert {tag for tag, text in loads if text == "ON"} == call.on
    widths = page.evaluate(
        "() => ['flows', 'waits', ''].map(name => { const s = document.querySelector('.figure.narrow [data-part^=\"p:\"]' +"
        " (name ? '.' + name : ':not(.flows):not(.waits)')); return parseFloat(getComputedStyle(s).strokeWidth) })"
    )
    assert widths[0] > widths[1] > widths[2]


def test_the_field_file_measures_without_any_server(server: Server, phone: BrowserContext, tmp_path: Path) -> None:
    """Opened from the phone's disk with no network, the drawing is live, and a probe can be put by list as by finger."""
    job = put_job(server.journal, "12-heat-pump-with-strips")
    file = tmp_path / "field.html"
    answer = phone.request.get(f"{server.url}/jobs/{job}/field-file")
    while answer.status == 202:
        answer = phone.request.get(f"{server.url}/jobs/{job}/field-file")
    file.write_bytes(answer.body())
    phone.set_offline(True)
    page = phone.new_page()
    page.goto(file.as_uri())
    page.get_by_label("Call").select_option(label="cool 1")
    page.get_by_label("One probe on").select_option(label="outdoor Y")
    tap(page, "narrow", "outdoor.C")
    reading = call_of("12-heat-pump-with-strips", "cool 1").reading("outdoor.Y", "outdoor.C")
    assert reading is not None
    assert shown_of(page) == pytest.approx((reading.nominal, reading.low, reading.high), abs=0.051)
    tap(page, "narrow", "outdoor.C")
    expect(page.locator("#live-reading")).to_contain_text("second point")
    page.get_by_label("The other on").select_option(label="handler W1")
    expect(page.locator("#live-reading b")).to_be_visible()


def test_a_keyboard_can_put_the_probes(server: Server, page: Page) -> None:
    """Enter on a terminal that has the focus does what a tap does."""
    job = put_job(server.journal)
    page.set_viewport_size({"width": 1200, "height": 900})
    page.goto(f"{server.url}/jobs/{job}/plan/live")
    for point in ("hall.R", "hall.C"):
        target = page.locator(f'.figure.wide [data-point="{point}"]').first
        target.focus()
        target.press("Enter")
    reading = call_of("01-no-common-spare-blue", "heat 1").reading("hall.R", "hall.C")
    assert reading is not None
    assert shown_of(page)[0] == pytest.approx(reading.nominal, abs=0.051)
