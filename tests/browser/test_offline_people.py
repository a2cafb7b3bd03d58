"""A phone without network that several people use: nobody's entry goes under another's name, nobody sees another's pages."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from subbase.journal import accounts as who
from subbase.journal.store import open_journal
from subbase.web.settings import Settings
from tests.browser.conftest import PHONE, Door, Server, serving
from tests.browser.test_offline import SLOW_MS, kept, with_network, without_network
from tests.web_callers import PASSWORD
from tests.web_jobs import put_job


@pytest.fixture(scope="module")
def firm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """The app with two people who may see every job."""
    place: Path = tmp_path_factory.mktemp("firm") / "jobs.db"
    with open_journal(place) as journal:
        for name in ("bo", "cy"):
            who.add_account(journal, name, "office", PASSWORD)
    with serving(Settings(journal=place, accounts=True)) as found:
        yield found


@pytest.fixture
def way(firm: Server) -> Iterator[Door]:
    """A door to the firm's app."""
    made = Door(int(firm.url.rpartition(":")[2]))
    made.begin()
    yield made
    made.end()


def sign_in(page: Page, way: Door, name: str) -> None:
    """Sign in, after whoever was."""
    page.context.clear_cookies()
    page.goto(f"{way.url}/sign-in")
    page.locator('input[name="name"]').fill(name)
    page.locator('input[name="password"]').fill(PASSWORD)
    with page.expect_navigation():
        page.locator("main form button").first.tap()
    expect(page.locator("body")).to_have_attribute("data-person", name)


def nothing_of_jobs_is_kept(page: Page) -> None:
    """Wait until the phone has let go of every page of a job, and has the page that says so instead."""
    page.wait_for_function(
        """async () => {
            const kept = [];
            for (const name of await caches.keys())
                for (const found of await (await caches.open(name)).keys()) kept.push(new URL(found.url).pathname);
            return kept.includes("/help/not-kept") && !kept.some((path) => path.startsWith("/jobs/"));
        }""",
        timeout=SLOW_MS,
    )


def test_an_entry_waits_for_the_person_who_made_it(
    firm: Server, way: Door, new_phone: Callable[[], BrowserContext]
) -> None:
    """Signed out meanwhile, the entry stays; with another signed in it stays; it goes under the name of who made it."""
    job, phone = put_job(firm.journal), new_phone()
    page = phone.new_page()
    sign_in(page, way, "bo")
    page.close()
    page = kept(phone, way, job)
    without_network(phone, way)
    page.goto(f"{way.url}/jobs/{job}/check")
    row = page.locator(".sheet-line", has_text="hall.Y1 to hall.R")
    row.locator("input").fill("20.5")
    row.get_by_role("button", name="Enter").tap()
    expect(page.locator("#shelf")).to_have_text("1 entry not yet sent.")
    page.goto(f"{way.url}/unsent")
    phone.clear_cookies()
    with_network(phone, way)
    expect(page.locator("#signed-out")).to_be_visible(timeout=SLOW_MS)
    assert firm.journal.state(job).readings == ()

    sign_in(page, way, "cy")
    page.goto(f"{way.url}/unsent")
    expect(page.locator("#entries")).to_contain_text("It waits until bo signs in on this phone")
    nothing_of_jobs_is_kept(page)
    without_network(phone, way)
    page.goto(f"{way.url}/jobs/{job}/plan")
    expect(page.locator("h1")).to_have_text("No network, and this page is not on this phone")
    with_network(phone, way)
    assert firm.journal.state(job).readings == ()

    sign_in(page, way, "bo")
    page.goto(f"{way.url}/unsent")
    expect(page.locator("#none-unsent")).to_be_visible(timeout=SLOW_MS)
    assert [(r.event.actor, r.body.value) for r in firm.journal.state(job).readings] == [("bo", 20.5)]


def test_signing_out_takes_the_pages_off_the_phone(
    firm: Server, way: Door, new_phone: Callable[[], BrowserContext]
) -> None:
    """Whoever finds the phone afterwards reads nothing of the jobs, with network or without."""
    job, phone = put_job(firm.journal), new_phone()
    page = phone.new_page()
    sign_in(page, way, "bo")
    page.close()
    page = kept(phone, way, job)
    page.goto(f"{way.url}/account")
    page.get_by_role("button", name="Sign out here").tap()
    page.wait_for_url(re.compile("/sign-in"))
    nothing_of_jobs_is_kept(page)
    without_network(phone, way)
    page.goto(f"{way.url}/jobs/{job}/plan")
    expect(page.locator("h1")).to_have_text("No network, and this page is not on this phone")


def test_a_job_that_was_erased_is_not_kept_on_a_phone(firm: Server, way: Door, browser: Browser) -> None:
    """The first page of it that the server no longer has takes every kept page of the job along."""
    job = put_job(firm.journal)
    phone = browser.new_context(viewport=PHONE, has_touch=True)
    page = phone.new_page()
    sign_in(page, way, "bo")
    page.close()
    page = kept(phone, way, job)
    firm.journal.forget_job(job)
    answer = page.goto(f"{way.url}/jobs/{job}/plan")
    assert answer is not None
    assert answer.status == 404
    nothing_of_jobs_is_kept(page)
    phone.close()
