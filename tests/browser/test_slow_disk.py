"""A phone whose server has a disk that hangs: the work goes on, what was told waits on the phone, and arrives once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import BrowserContext, expect

from subbase.journal.bodies import StepDone
from subbase.journal.store import open_journal
from tests.slow_disk import new_job, slow_disk

SLOW_MS = 90_000


def test_a_step_told_while_the_disk_hangs_waits_on_the_phone_and_is_kept_once(
    new_phone: Callable[[], BrowserContext], tmp_path: Path
) -> None:
    """After ten seconds the next step is shown and the entry said not to be sent; with the disk back it is kept, once."""
    job = new_job(tmp_path)
    with slow_disk(tmp_path) as disk:
        page = new_phone().new_page()
        page.goto(f"{disk.url}/jobs/{job}/work?step=look/stops")
        expect(page.locator("#what")).to_be_visible(timeout=SLOW_MS)
        expect(page.locator("body")).to_have_attribute("data-job-kept", "yes", timeout=SLOW_MS)
        title = page.locator("#what").inner_text()
        disk.shut()
        page.locator('.step button[value="done"]').tap(no_wait_after=True)
        disk.wait_until_one_waits()
        expect(page.locator("#what")).not_to_have_text(title, timeout=SLOW_MS)
        expect(page.locator("#shelf")).to_have_text("1 entry not yet sent.")
        page.screenshot(path=tmp_path / "waits.png", full_page=True)
        page.goto(f"{disk.url}/unsent")
        expect(page.locator("#entries > li")).to_contain_text(title)
        disk.open()
        page.goto(f"{disk.url}/jobs/{job}/work")
        expect(page.locator("#shelf")).to_have_text("Everything is sent.", timeout=SLOW_MS)
    with open_journal(tmp_path / "disk" / "jobs.db") as journal:
        assert sum(isinstance(event.body, StepDone) for event in journal.events(job)) == 1
