"""Work, Check and the field file in a real Chromium: taps, no signal, and what comes back."""

from __future__ import annotations

import math
import random
import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from subbase.work.progress import DEEDS, Result, progress
from subbase.work.step_plan import work_plan
from subbase.work.steps import Step, WorkPlan
from tests.browser.conftest import Server
from tests.houses import plan_of
from tests.web_jobs import put_job

SCRIPT = (Path(__file__).parents[2] / "src/subbase/web/static/fold.js").read_text("utf-8")
SMALLEST_TARGET_PX = 44


def plain(step: Step) -> dict[str, Any]:
    """Return a step as the field file's script takes it, once it has turned OL into infinity."""
    expected = step.expected
    return {
        "id": step.id, "after": step.after, "needs": step.needs, "voids": step.voids, "renews": step.renews,
        "may_skip": step.may_skip, "may_do": step.may_do, "live": step.live, "unit": expected.unit if expected else "",
        "low": expected.low if expected else 0, "high": expected.high if expected else 0,
    }  # fmt: skip


def some_results(plan: WorkPlan, seed: int, count: int, slips: float) -> list[Result]:
    """Return results of which most fit and a share does not: wrong readings, too early, left out, taken back."""
    chance = random.Random(seed)
    results: list[Result] = []
    for _ in range(count):
        now = progress(plan, results)
        at_hand = now.open if now.open and chance.random() > slips else [step.id for step in plan.steps]
        step = plan.step(at_hand[0] if chance.random() < 0.8 else chance.choice(list(at_hand)))
        did: Any = "read" if step.expected is not None else "done"
        if chance.random() < slips:
            did = chance.choice(DEEDS)
        value = None
        if did == "read" and step.expected is not None:
            finite = [end for end in (step.expected.low, step.expected.high) if math.isfinite(end)]
            value = sum(finite) / len(finite) if finite else math.inf
            value = chance.choice([-1.0, 0.0, 500.0, math.inf]) if chance.random() < slips else value
        results.append(Result(step.id, did, value, chance.choice(["", "a reason", "a reason"])))
    return results


@pytest.mark.parametrize("name", ["01-no-common-spare-blue", "04-three-heat-motor-valves", "13-dual-fuel"])
def test_the_field_file_folds_results_as_the_program_does(page: Page, name: str) -> None:
    """The script's gates open and shut as work.progress says, over many results of every sort."""
    plan = work_plan(plan_of(name), season="heating", outdoor_c=20.0)
    page.goto("about:blank")
    page.evaluate(SCRIPT.replace("const subbaseFold", "window.subbaseFold", 1) + "null;")  # a function would be called
    reached = 0
    for seed, slips in enumerate((0.02, 0.02, 0.05, 0.1, 0.3)):
        results = some_results(plan, seed, 110, slips)
        now = progress(plan, results)
        told = [{"step": r.step, "did": r.did, "value": r.value, "reason": r.reason} for r in results]
        found = page.evaluate(
            "([steps, results]) => { const { states, reasons } = subbaseFold(steps, results);"
            " return [[...states].map(([id, s]) => [id, s.status, [...(s.waits || [])].sort()]), reasons.map(Boolean)]; }",
            [[plain(step) for step in plan.steps], told],
        )
        refused = {id(result) for result, _ in now.refused}
        assert found[0] == [[step, state.status, sorted(state.waits_for)] for step, state in now.states]
        assert found[1] == [id(result) in refused for result in results]
        reached = max(reached, now.count("done"))
    assert reached > 40  # supply is on by then, so that locks were renewed somewhere


def test_a_job_done_without_any_server_comes_back_whole(
    server: Server, phone: BrowserContext, tmp_path: Path, record_property: Any
) -> None:
    """The field file, opened from the phone's disk with no network: every step, every check, saved, and brought in."""
    job = put_job(server.journal)
    page = phone.new_page()
    file = tmp_path / "field.html"
    file.write_bytes(phone.request.get(f"{server.url}/jobs/{job}/field-file").body())
    phone.set_offline(True)
    page.goto(file.as_uri())
    page.get_by_label("Your name").fill("Anna")
    for _ in range(120):
        if page.locator("#all-met").is_visible():
            break
        current = page.locator("article.step:visible")
        must = current.locator(".must b")
        if must.count():
            ends = [float(number) for number in re.findall(r"\d+\.?\d*", must.inner_text())]
            value = sum(ends) / 2 if len(ends) > 1 else ends[0] + 1
            current.get_by_label("The display shows").fill(f"{value:.2f}")
            current.get_by_role("button", name="Enter").tap()
        else:
            current.locator("button.main.big").tap()
    expect(page.locator("#all-met")).to_be_visible()
    expect(page.locator("#waiting")).to_contain_text("on this phone only")
    page.screenshot(path=tmp_path / "field.png", full_page=True)

    page.reload()
    expect(page.locator("#all-met")).to_be_visible()
    with page.expect_download() as saving:
        page.get_by_role("button", name="Save what was entered").tap()
    saved = tmp_path / saving.value.suggested_filename
    saving.value.save_as(saved)
    page.close()

    phone.set_offline(False)
    desk = phone.new_page()
    desk.goto(f"{server.url}/jobs/{job}/hand-over")
    expect(desk.get_by_role("heading", name="Hand over", exact=True)).to_be_visible(timeout=30_000)
    desk.get_by_label("File of entries").set_input_files(saved)
    desk.get_by_role("button", name="Bring it in").tap()
    expect(desk.get_by_text("entries brought in")).to_be_visible()
    expect(desk.get_by_text("Nothing: every step is met and the wiring is proved.")).to_be_visible()
    state = server.journal.state(job)
    assert {record.event.actor for record in state.readings} == {"Anna"}
    record_property("entries", state.sequence)


def test_a_wrong_reading_in_the_field_file_is_said_and_survives_closing(
    server: Server, phone: BrowserContext, tmp_path: Path
) -> None:
    """Line voltage on a terminal shows the stop at once, and still after the page was closed and opened again."""
    job = put_job(server.journal)
    file = tmp_path / "field.html"
    file.write_bytes(phone.request.get(f"{server.url}/jobs/{job}/field-file").body())
    phone.set_offline(True)
    page = phone.new_page()
    page.goto(file.as_uri())
    line = page.locator(".sheet-line", has_text="hall.R to hall.C, at fan")
    line.locator("input").fill("26,4")
    line.get_by_role("button", name="Enter").tap()
    expect(line).to_contain_text("within its bounds")
    line.locator("input").fill("118")
    line.get_by_role("button", name="Enter").tap()
    expect(page.locator("#stop")).to_be_visible()
    page.close()
    again = phone.new_page()
    again.goto(file.as_uri())
    expect(again.locator("#stop")).to_be_visible()
    expect(again.locator("#waiting")).to_contain_text("2 entries")


def test_work_and_check_fit_a_phone_and_a_thumb(server: Server, page: Page) -> None:
    """On a phone nothing scrolls sideways, every button is as large as a thumb, and a tap on Done leads to the next step."""
    job = put_job(server.journal)
    page.goto(f"{server.url}/jobs/{job}/work")
    expect(page.get_by_text("Before you begin")).to_be_visible(timeout=30_000)
    page.get_by_label("Heating weather").check()
    page.get_by_role("button", name="Keep").tap()
    first = page.locator("#what").inner_text()
    page.get_by_role("button", name="It is so").tap()
    expect(page.locator("#what")).not_to_have_text(first)
    for path in ("work", "work/steps", "check", "check/fault", "tune", "hand-over"):
        page.goto(f"{server.url}/jobs/{job}/{path}")
        page.wait_for_url("**")
        expect(page.get_by_text("Being worked out")).to_have_count(0, timeout=60_000)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, path
        for target in page.locator("main button:visible, main a.button:visible").all():
            box = target.bounding_box()
            assert box is not None
            assert min(box["width"], box["height"]) >= SMALLEST_TARGET_PX, (path, target.inner_text())


def test_a_long_work_says_that_it_is_being_worked_out(server: Server, page: Page) -> None:
    """A house that takes seconds shows that it is on its way, looks again by itself, and is then there, without a script."""
    job = put_job(server.journal, "13-dual-fuel")
    answer = page.goto(f"{server.url}/jobs/{job}/check/fault")
    assert answer is not None
    assert answer.status in (200, 202)
    expect(page.get_by_role("heading", name="Likeliest causes")).to_be_visible(timeout=90_000)
