"""A phone that loses its network: pages go on opening, entries wait on the phone, and all of them arrive, once."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from subbase.journal.bodies import ReadingTaken, StepDone
from tests.browser.conftest import Door, Server
from tests.web_jobs import put_job

PATHS = ("survey", "plan", "work", "work/steps", "check", "tune", "hand-over", "history")
SLOW_MS = 90_000


def kept(phone: BrowserContext, door: Door, job: str, path: str = "plan") -> Page:
    """Return a page of a job that was opened with network until the phone had kept the job."""
    page = phone.new_page()
    page.goto(f"{door.url}/jobs/{job}/{path}")
    expect(page.locator("body")).to_have_attribute("data-job-kept", "yes", timeout=SLOW_MS)
    return page


def without_network(phone: BrowserContext, door: Door) -> None:
    """Cut the phone off."""
    door.shut()
    phone.set_offline(True)


def with_network(phone: BrowserContext, door: Door) -> None:
    """Bring the network back."""
    door.open()
    phone.set_offline(False)


def all_sent(page: Page) -> None:
    """Wait until nothing is on the phone only, and the page has been made anew by the server."""
    expect(page.locator("#shelf")).to_have_text("Everything is sent.", timeout=SLOW_MS)
    expect(page.locator("#as-of")).to_be_hidden(timeout=SLOW_MS)


def do_step(page: Page) -> str:
    """Do the step that the Work page shows, as it must be, and return its title."""
    title = page.locator("#what").inner_text()
    who = page.locator("#who")
    if who.is_visible():
        who.fill("A licensed person")
    must = page.locator(".step .must b")
    if must.count() and page.locator("#value").is_visible():
        if must.inner_text() == "OL":
            page.locator('.step button[value="ol"]').tap()
        else:
            ends = [float(number) for number in re.findall(r"\d+\.?\d*", must.inner_text())]
            page.locator("#value").fill(f"{sum(ends) / 2 if len(ends) > 1 else ends[0] + 1:.2f}")
            page.locator('.step button[value="read"]').tap()
    else:
        page.locator('.step button[value="done"]').tap()
    expect(page.locator("#what")).not_to_have_text(title)
    return title


def told_steps(server: Server, job: str) -> list[str]:
    """Return the steps told in the journal, in order: done, or met by a reading."""
    bodies = [line.event.body for line in server.journal.state(job).history]
    return [b.step for b in bodies if isinstance(b, StepDone) or (isinstance(b, ReadingTaken) and b.step)]


def test_after_one_visit_every_page_of_a_job_opens_without_network(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext], tmp_path: Path
) -> None:
    """Survey to history, papers and calls open from the phone, each saying as of when; a page never seen says so."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job)
    without_network(phone, door)
    for path in PATHS:
        page.goto(f"{door.url}/jobs/{job}/{path}")
        expect(page.locator("#as-of")).to_have_text(
            re.compile(r"^The server does not answer\. Shown as of \d\d:\d\d\.$")
        )
        expect(page.locator("nav.stages a")).to_have_count(6)
        page.screenshot(path=tmp_path / f"{path.replace('/', '-')}.png", full_page=True)
    page.goto(f"{door.url}/jobs/{job}/papers/wiring-left.svg")
    expect(page.locator("svg").first).to_be_visible()
    page.goto(f"{door.url}/jobs/{job}/check/call?of=hall%3A%20heat%201")
    expect(page.locator("h1")).to_contain_text("heat 1", ignore_case=True)
    page.goto(f"{door.url}/jobs/{job}/check/fault")
    expect(page.locator("h1")).to_have_text("No network, and this page is not on this phone")
    page.screenshot(path=tmp_path / "not-kept.png", full_page=True)


def test_the_work_is_walked_without_network_and_arrives_once(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext], tmp_path: Path
) -> None:
    """Each step done leads to the next, said not to be sent; what is too early is refused; back on the network all arrive."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job, "work")
    without_network(phone, door)
    page.goto(f"{door.url}/jobs/{job}/work")
    titles = [do_step(page) for _ in range(8)]
    assert len(set(titles)) == 8
    expect(page.locator("#shelf")).to_have_text("8 entries not yet sent.")
    expect(page.locator("#last")).to_contain_text(titles[-1])
    expect(page.locator("#last")).to_contain_text("Not yet sent.")
    expect(page.locator(".tally")).to_contain_text("8 of")
    page.screenshot(path=tmp_path / "work-waiting.png", full_page=True)
    page.goto(f"{door.url}/unsent")
    expect(page.locator("#entries > li")).to_have_count(8)
    expect(page.locator("#entries > li").first).to_contain_text(titles[0])
    page.screenshot(path=tmp_path / "unsent.png", full_page=True)
    assert told_steps(server, job) == []

    with_network(phone, door)
    expect(page.locator("#none-unsent")).to_be_visible(timeout=SLOW_MS)
    steps = told_steps(server, job)
    assert len(steps) == len(set(steps)) == 8
    page.goto(f"{door.url}/jobs/{job}/work")
    expect(page.locator(".tally")).to_contain_text("8 of")
    expect(page.locator("#as-of")).to_be_hidden()
    made = [line.event.made_at for line in server.journal.state(job).history if isinstance(line.event.body, StepDone)]
    assert made == sorted(made)


def test_a_step_that_waits_for_others_cannot_be_told_without_network(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext]
) -> None:
    """The gates hold on the phone: a later step shows what it waits for, and a step taken back opens what stood behind it."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job, "work/steps")
    without_network(phone, door)
    page.goto(f"{door.url}/jobs/{job}/work/steps")
    page.locator("ol.all a").nth(20).tap()
    expect(page.locator("#kept-step")).to_contain_text("It waits for")
    expect(
        page.locator('.step button[value="done"], .step button[value="read"]').locator("visible=true")
    ).to_have_count(0)
    page.goto(f"{door.url}/jobs/{job}/work")
    first, second = do_step(page), do_step(page)
    page.locator("#last button").tap()
    expect(page.locator("#what")).to_have_text(second)
    expect(page.locator("#kept-step")).to_be_empty()
    assert do_step(page) == second
    page.goto(f"{door.url}/jobs/{job}/work/steps")
    expect(page.locator("ol.all li.done")).to_have_count(2)
    expect(page.locator("ol.all li.done").first).to_contain_text(first)
    expect(page.locator("ol.all li.done").first).to_contain_text("Not yet sent.")
    with_network(phone, door)
    all_sent(page)
    expect(page.locator("ol.all li.done")).to_have_count(2)
    kinds = [line.event.body.kind for line in server.journal.state(job).history]
    assert kinds.count("step_done") == 3
    assert kinds.count("step_reopened") == 1


def test_readings_are_held_against_their_bounds_on_the_phone_and_by_the_server_later(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext], tmp_path: Path
) -> None:
    """Without network a reading is judged by its bounds, line voltage says power off, and no number is not taken at all."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job)
    without_network(phone, door)
    page.goto(f"{door.url}/jobs/{job}/check")

    def enter(line: str, value: str) -> None:
        row = page.locator(".sheet-line", has_text=line)
        row.locator("input").fill(value)
        row.get_by_role("button", name="Enter").tap()

    enter("hall.Y1 to hall.R", "twelve")
    expect(page.locator("#shelf")).to_have_text("Everything is sent.")
    expect(page.locator('input[aria-invalid="true"]')).to_have_count(1)
    page.locator('input[aria-invalid="true"]').fill("")
    enter("hall.Y1 to hall.R", "20,5")
    expect(page.locator(".sheet-line", has_text="hall.Y1 to hall.R")).to_contain_text("20.5 ohm: within its bounds")
    enter("hall.W1 to hall.R", "3")
    expect(page.locator(".sheet-line", has_text="hall.W1 to hall.R")).to_contain_text("fails")
    expect(page.locator("#kept-stop")).to_be_hidden()
    enter("hall.R to hall.C, at fan", "118")
    expect(page.locator("#kept-stop")).to_be_visible()
    expect(page.locator("#shelf")).to_have_text("3 entries not yet sent.")
    page.screenshot(path=tmp_path / "check-waiting.png", full_page=True)
    with_network(phone, door)
    all_sent(page)
    expect(page.locator("main")).to_contain_text("Power off now", timeout=SLOW_MS)
    values = [record.body.value for record in server.journal.state(job).readings]
    assert values == [20.5, 3.0, 118.0]


def test_the_survey_is_changed_without_network_and_merged_later(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext]
) -> None:
    """Edits wait, are there after the page was closed, and join what the desk changed meanwhile, with nothing said twice."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job, "survey")
    without_network(phone, door)
    cable = next(iter(server.journal.state(job).survey.text.split("cables:\n")[1].splitlines())).strip().rstrip(":")
    ends = page.locator(".wire", has_text="blue").first.locator(".end").nth(1)
    for terminal in ("C", "G", "loose", "C"):
        ends.locator(f'input[value="{terminal}"]').tap()
        expect(page.locator("#survey-body")).to_have_attribute("data-state", "kept")
    page.close()
    again = phone.new_page()
    again.goto(f"{door.url}/jobs/{job}/survey")
    expect(again.locator("#survey-body")).to_have_attribute("data-state", "kept")
    ends = again.locator(".wire", has_text="blue").first.locator(".end").nth(1)
    expect(ends.locator('input[value="C"]')).to_be_checked()
    again.locator("#notes").fill("Water in the cellar")
    again.locator("#notes").press("Tab")
    expect(again.locator("#survey-body")).to_have_attribute("data-state", "kept")
    # The desk, meanwhile, says how long the cable is.
    desk = new_phone().new_page()
    desk.goto(f"{server.url}/jobs/{job}/survey")
    length = desk.locator('input[name$="/length"]').first
    length.fill("77")
    length.press("Tab")
    expect(desk.locator("#survey-body")).to_have_attribute("data-state", "sent", timeout=SLOW_MS)
    with_network(phone, door)
    expect(again.locator("#survey-body")).to_have_attribute("data-state", "sent", timeout=SLOW_MS)
    expect(again.locator('input[name$="/length"]').first).to_have_value("77")
    state = server.journal.state(job)
    assert state.survey.conflicts == ()
    assert "Water in the cellar" in state.survey.text
    assert "77" in state.survey.text
    assert cable in state.survey.text
    expect(ends.locator('input[value="C"]')).to_be_checked()


def test_what_the_server_does_not_take_stays_on_the_phone_with_its_reason(
    server: Server, door: Door, new_phone: Callable[[], BrowserContext], tmp_path: Path
) -> None:
    """A reading of a wiring that was changed meanwhile is refused in words, stays in the list, and goes only when given up."""
    job, phone = put_job(server.journal), new_phone()
    page = kept(phone, door, job)
    without_network(phone, door)
    page.goto(f"{door.url}/jobs/{job}/check")
    row = page.locator(".sheet-line", has_text="hall.Y1 to hall.R")
    row.locator("input").fill("20.5")
    row.get_by_role("button", name="Enter").tap()
    expect(page.locator("#shelf")).to_have_text("1 entry not yet sent.")
    desk = new_phone().new_page()
    desk.goto(f"{server.url}/jobs/{job}/survey")
    desk.locator(".wire", has_text="blue").first.locator(".end").nth(1).locator('input[value="cut short"]').tap()
    expect(desk.locator("#survey-body")).to_have_attribute("data-state", "sent", timeout=SLOW_MS)
    with_network(phone, door)
    page.goto(f"{door.url}/unsent")
    expect(page.locator("#shelf")).to_have_text("1 entry was not taken.", timeout=SLOW_MS)
    expect(page.locator("#entries")).to_contain_text("The wiring in the survey was changed")
    expect(page.locator("#entries")).to_contain_text("20.5")
    page.screenshot(path=tmp_path / "refused.png", full_page=True)
    page.get_by_role("button", name="Send it again").tap()
    expect(page.locator("#shelf")).to_have_text("1 entry was not taken.", timeout=SLOW_MS)
    page.on("dialog", lambda dialog: dialog.accept())
    page.get_by_role("button", name="Give it up").tap()
    expect(page.locator("#none-unsent")).to_be_visible()
    assert server.journal.state(job).readings == ()


def test_a_new_job_without_network_is_refused_in_words(door: Door, new_phone: Callable[[], BrowserContext]) -> None:
    """What cannot be done without network says so, in a page of ours."""
    phone = new_phone()
    page = phone.new_page()
    page.goto(door.url)
    expect(page.locator("body")).to_have_attribute("data-keeper", "here")
    without_network(phone, door)
    page.locator("#name").fill("House 9")
    page.get_by_role("button", name="Begin").tap()
    expect(page.locator("h1")).to_have_text("No network, and this page is not on this phone")


def test_the_app_can_be_installed(door: Door, new_phone: Callable[[], BrowserContext]) -> None:
    """Chromium finds nothing in the way of installing it, under a name and an icon of its own."""
    phone = new_phone()
    page = phone.new_page()
    page.goto(door.url)
    expect(page.locator("body")).to_have_attribute("data-keeper", "here")
    asked = phone.new_cdp_session(page)
    manifest = asked.send("Page.getAppManifest")
    assert manifest["errors"] == []
    assert '"name": "subbase"' in manifest["data"]
    errors = asked.send("Page.getInstallabilityErrors")["installabilityErrors"]
    # A phone in a test is a private window, which is never asked to install.
    assert [error["errorId"] for error in errors if error["errorId"] != "in-incognito"] == []


def test_an_address_without_secure_connection_says_what_works_there(phone: BrowserContext, server: Server) -> None:
    """Where the browser gives no service worker, every page says so in one line, and the help says the rest."""
    phone.add_init_script("Object.defineProperty(window, 'isSecureContext', { value: false })")
    page = phone.new_page()
    page.goto(server.url)
    expect(page.locator("#shelf")).to_have_text(
        "No secure connection: nothing works here without network. What that means"
    )
    page.locator("#shelf a").tap()
    expect(page.locator("#plain + p")).to_contain_text("plain http address")


@pytest.mark.parametrize("path", ["", "unsent", "help/offline", "help/not-kept"])
def test_pages_of_being_offline_fit_a_phone(phone: BrowserContext, server: Server, path: str) -> None:
    """None is wider than the screen, and nothing to tap is smaller than a thumb."""
    page = phone.new_page()
    page.goto(f"{server.url}/{path}")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    for target in page.locator("main button:visible, main a.button:visible, #shelf a:visible").all():
        box = target.bounding_box()
        assert box is not None
        assert math.ceil(box["height"]) >= 44
