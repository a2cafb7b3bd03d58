"""Two phones on one job, both without network; a server that dies while it is being told: nothing lost, nothing twice."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Page, expect

from subbase.journal.bodies import NoteMade, PhotoAdded, ReadingTaken
from tests.browser.conftest import Door, Server
from tests.browser.test_offline import SLOW_MS, all_sent, do_step, kept, told_steps, with_network, without_network
from tests.web_jobs import put_job


def picture() -> bytes:
    """Return a small JPEG."""
    held = io.BytesIO()
    Image.new("RGB", (640, 480), "#806040").save(held, "JPEG")
    return held.getvalue()


def read(page: Page, line: str, value: str) -> None:
    """Enter one reading on the Check page."""
    row = page.locator(".sheet-line", has_text=line)
    row.locator("input").fill(value)
    row.get_by_role("button", name="Enter").tap()
    expect(page.locator(".sheet-line", has_text=line)).to_contain_text(value)


def test_two_phones_without_network_bring_everything_back_once(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext]
) -> None:
    """Both walk steps and read, one takes a photo; the journal has all of it once, and its history shows both."""
    job = put_job(server.journal)
    first, second = new_phone(), new_phone()
    one, other = kept(first, door, job), kept(second, door, job)
    for phone in (first, second):
        without_network(phone, door)
    one.goto(f"{door.url}/jobs/{job}/work")
    other.goto(f"{door.url}/jobs/{job}/work")
    walked = [do_step(one) for _ in range(3)]
    assert [do_step(other) for _ in range(5)][:3] == walked
    for page, line, value in ((one, "hall.Y1 to hall.R", "20.5"), (other, "hall.Y1 to hall.C", "20.7")):
        page.goto(f"{door.url}/jobs/{job}/check")
        read(page, line, value)
    one.goto(f"{door.url}/jobs/{job}/survey")
    one.locator("#photo").set_input_files({"name": "wall.jpg", "mimeType": "image/jpeg", "buffer": picture()})
    one.get_by_role("button", name="Add photo").tap()
    expect(one.locator("ul.photos.unsent img")).to_be_visible()
    expect(one.locator("#shelf")).to_have_text("5 entries not yet sent.")
    expect(other.locator("#shelf")).to_have_text("6 entries not yet sent.")

    for phone, page in ((second, other), (first, one)):
        with_network(phone, door)
        expect(page.locator("#shelf")).to_have_text("Everything is sent.", timeout=SLOW_MS)
    state = server.journal.state(job)
    steps = told_steps(server, job)
    assert len(steps) == len(set(steps)) == 5
    assert [r.body.value for r in state.readings if r.body.check and not r.body.step] == [20.7, 20.5]
    assert len(state.photos) == 1
    assert max(Counter(line.event.key for line in state.history).values()) == 1
    one.goto(f"{door.url}/jobs/{job}/history")
    for value in ("20.5 ohm", "20.7 ohm", "Photo added"):
        expect(one.locator("ol.history li", has_text=value)).to_have_count(1)


@pytest.mark.parametrize("times", [1, 2])
def test_a_server_that_dies_after_it_stored_is_told_again_and_keeps_one(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext], times: int
) -> None:
    """The answer is lost on the way, once or twice: the entry waits, goes again under its key, and is in the journal once."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job)
    page.goto(f"{door.url}/jobs/{job}/check")
    row = page.locator(".sheet-line", has_text="hall.Y1 to hall.R")
    row.locator("input").fill("20.5")
    door.lose_answers()
    row.get_by_role("button", name="Enter").tap()
    expect(page.locator("#shelf")).to_have_text("1 entry not yet sent.", timeout=30_000)
    assert door.lost.is_set()
    assert [r.body.value for r in server.journal.state(job).readings] == [20.5]
    for _ in range(times - 1):
        door.lose_answers()
        page.evaluate("dispatchEvent(new Event('online'))")
        assert door.lost.wait(30)
    door.open()
    page.evaluate("dispatchEvent(new Event('online'))")
    all_sent(page)
    assert [r.body.value for r in server.journal.state(job).readings] == [20.5]
    kinds = [type(line.event.body) for line in server.journal.state(job).history]
    assert kinds.count(ReadingTaken) == 1
    assert PhotoAdded not in kinds
    assert NoteMade not in kinds
