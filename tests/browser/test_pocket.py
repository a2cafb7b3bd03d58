"""The pocket in a real Chromium: one visit, then the network is cut, and a house is planned, worked and handed over."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Literal

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from subbase.catalog import load_catalog
from subbase.journal.bodies import ReadingTaken, StepDone
from subbase.plan import Plan, make_plan
from subbase.survey import load_survey
from subbase.web.field_file import read_entries_file
from subbase.web.pocket import build as building
from subbase.web.pocket.build import Pocket
from tests.browser.conftest import ARGUMENTS, CHROMIUM, Server
from tests.browser.test_axe import AXE, looked_at
from tests.houses import EXAMPLES
from tests.pocket_host import Host, built, hosting

ROOT = Path(__file__).parents[2]
PICTURES = ROOT / "out/screens/pocket"
LONG_MS = 240_000
"""Python starts in seconds on a machine with nothing else to do, and in a minute on one that is crowded."""
SCHEMES: tuple[Literal["light", "dark"], ...] = ("light", "dark")
PLANNED = ["01-no-common-spare-blue", "05-two-motor-valves", "12-heat-pump-with-strips"]


@pytest.fixture(scope="session")
def pocket(tmp_path_factory: pytest.TempPathFactory) -> Pocket:
    """The folder, as 'subbase pocket' writes it."""
    return built(tmp_path_factory.mktemp("pocket"))


@pytest.fixture
def host(pocket: Pocket) -> Iterator[Host]:
    """A host for it."""
    with hosting(pocket.folder) as found:
        yield found


def visit(page: Page, url: str) -> None:
    """Open the pocket and wait until all of it is kept and Python answers."""
    page.goto(url)
    expect(page.locator("body")).to_have_attribute("data-kept", "yes", timeout=LONG_MS)
    expect(page.locator("body")).to_have_attribute("data-awake", "yes", timeout=LONG_MS)


def begin(page: Page, text: str) -> None:
    """Paste a survey and have it planned."""
    page.locator("#survey-text").fill(text)
    page.get_by_role("button", name="Begin and plan").click()
    shown(page, "plan")


def shown(page: Page, part: str) -> None:
    """Wait until a part of the job is shown in full."""
    expect(page.locator("body")).to_have_attribute("data-shown", re.compile(f" {part} "), timeout=LONG_MS)


def part(page: Page, name: str, slug: str) -> None:
    """Go to a part of the job."""
    page.get_by_role("link", name=name, exact=True).click()
    shown(page, slug)


def asked(page: Page, texts: list[str]) -> list[dict[str, Any]]:
    """Return what the pocket's own Python says of surveys, as exactly as it computes: the page rounds."""
    found: list[dict[str, Any]] = page.evaluate(
        """async (texts) => {
          const worker = new Worker("worker.js", { type: "module" });
          const job = "00000000-0000-4000-8000-000000000000";
          let number = 0;
          const ask = (request) => new Promise((resolve, reject) => {
            number += 1;
            worker.onmessage = ({ data }) => data.number && (data.trouble ? reject(data.trouble) : resolve(data.answer));
            worker.postMessage({ number, request: { language: "en", job, ...request } });
          });
          const plans = [];
          for (const text of texts) {
            const { entries } = await ask({ ask: "act", entries: [], act: "begin", fields: { text } });
            plans.push((await ask({ ask: "plan", entries })).plan);
          }
          worker.terminate();
          return plans;
        }""",
        texts,
    )
    return found


def desk_plan(name: str) -> tuple[str, Plan]:
    """Return an example's text and its plan as a desk makes it."""
    catalog = load_catalog(())
    file = EXAMPLES / f"{name}.yaml"
    return file.read_text("utf-8"), make_plan(load_survey(file, catalog), catalog)


def landings(plan: Plan) -> list[list[list[str]]]:
    """Return the landings of every control of a plan."""
    return [
        [
            [x.cable, x.conductor, x.carries, x.wall_found, x.wall_left, x.far_found, x.far_left]
            for x in item.chosen.landings
        ]
        for item in plan.controls
    ]


def test_with_the_network_cut_the_plan_is_the_desks(new_phone: Callable[[], BrowserContext], pocket: Pocket) -> None:
    """After one visit, with no network and no host, verdict, landings and the proof's margin are those of the desk."""
    context = new_phone()
    page = context.new_page()
    with hosting(pocket.folder) as host:
        visit(page, host.url)
        done, everything = map(int, (page.locator("body").get_attribute("data-fetched") or "").split())
        assert done == everything == pocket.download_bytes
    context.set_offline(True)
    page.reload()
    expect(page.locator("body")).to_have_attribute("data-awake", "yes", timeout=LONG_MS)
    desks = [desk_plan(name) for name in PLANNED]
    for found, (_text, desk) in zip(asked(page, [text for text, _desk in desks]), desks, strict=True):
        assert desk.proof is not None
        assert found["verdict"] == desk.verdict == "planned"
        assert found["margin"] == pytest.approx(desk.proof.margin, abs=1e-9)
        assert [item["moved"] for item in found["controls"]] == landings(desk)


def test_an_open_question_is_answered_and_the_house_planned_again(
    new_phone: Callable[[], BrowserContext], pocket: Pocket
) -> None:
    """Offline, a tap on an answer writes it into the survey, and the plan that follows is the desk's for that survey."""
    context = new_phone()
    page = context.new_page()
    with hosting(pocket.folder) as host:
        visit(page, host.url)
    context.set_offline(True)
    begin(page, (EXAMPLES / "08-changeover-not-known.yaml").read_text("utf-8"))
    expect(page.locator("#page .verdict.question")).to_contain_text("Answer first: What kind of equipment is outdoor?")
    page.get_by_role("button", name="outdoor.B").click()
    expect(page.locator("#page .verdict.planned")).to_be_visible(timeout=LONG_MS)
    assert page.locator("dl.facts", has_text="Changeover (O/B) energised in").locator("dd", has_text="heating").count()
    page.get_by_role("link", name="Survey", exact=True).click()
    shown(page, "survey")
    assert "to: outdoor.B" in page.locator("#survey-text").input_value()


def test_a_job_is_worked_offline_and_its_file_taken_in_by_the_office(
    new_phone: Callable[[], BrowserContext], pocket: Pocket, server: Server
) -> None:
    """Steps and readings are judged on the phone, outlive the page, and the saved file begins the same job at the office."""
    context = new_phone()
    page = context.new_page()
    text = (EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8")
    with hosting(pocket.folder) as host:
        visit(page, host.url)
    context.set_offline(True)
    begin(page, text)
    part(page, "Work", "work")
    page.get_by_role("button", name="It is so").click()
    expect(page.locator(".tally")).to_contain_text("1 of", timeout=LONG_MS)
    part(page, "Check", "check")
    page.locator(".sheet-line input").first.fill("0.2")
    page.locator(".sheet-line button.main").first.click()
    expect(page.locator(".sheet-line .mark.fail")).to_have_text("0.2 ohm: fails.", timeout=LONG_MS)
    page.reload()  # nothing is held by the page alone
    shown(page, "check")
    expect(page.locator(".sheet-line .mark.fail")).to_have_text("0.2 ohm: fails.")
    part(page, "Hand over", "hand_over")
    expect(page.locator("#waiting")).to_contain_text("4 entries are on this phone only")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the entries as a file").click()
    raw = download.value.path().read_bytes()
    job = json.loads(raw)["job"]
    entries, bad = read_entries_file(raw, job)
    assert not bad
    assert [entry.body.kind for entry in entries] == ["named", "survey_edited", "step_done", "reading_taken"]
    context.set_offline(False)
    office = context.new_page()
    for _ in range(2):  # the second time changes nothing
        office.goto(server.url)
        office.get_by_label("Entries that a phone saved as a file").set_input_files(
            {"name": "saved.json", "mimeType": "application/json", "buffer": raw}
        )
        office.get_by_role("button", name="Bring in").click()
        office.wait_for_url(re.compile(f"/jobs/{job}/plan"))
    state = server.journal.state(job)
    assert state.survey.text == text
    assert state.sequence == 5  # the office's own naming, then the phone's four
    assert [record.body.value for record in state.readings] == [0.2]
    assert [type(line.event.body) for line in state.history][-2:] == [StepDone, ReadingTaken]
    office.goto(f"{server.url}/jobs/{job}/check")
    expect(office.get_by_text("0.2 ohm: fails.").first).to_be_visible(timeout=LONG_MS)


def test_a_new_version_comes_whole_or_not_at_all(
    new_phone: Callable[[], BrowserContext], pocket: Pocket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While a host holds half of a new version the old one stays in use; the whole of it waits until it is wanted."""
    folder = tmp_path / "host"
    built(folder)
    static = building._static

    def newer(name: str) -> bytes:
        more = b'\ndocument.documentElement.dataset.edition = "second";\n' if name == "draw.js" else b""
        return static(name) + more

    context = new_phone()
    page = context.new_page()
    with hosting(folder) as host:
        visit(page, host.url)
        old = (folder / "draw.js").read_bytes()
        monkeypatch.setattr(building, "_static", newer)
        assert built(folder).version != pocket.version
        new = (folder / "draw.js").read_bytes()
        (folder / "draw.js").write_bytes(old)
        failed = "navigator.serviceWorker.ready.then((r) => r.update()).then(() => navigator.serviceWorker.ready).then(async (r) => { const f = r.installing; if (!f) return r.waiting ? 'waiting' : 'none'; return new Promise((done) => f.addEventListener('statechange', () => done(f.state))); })"
        assert page.evaluate(failed) in ("redundant", "none")  # it failed, perhaps before this looked
        page.reload()
        expect(page.locator("body")).to_have_attribute("data-kept", "yes")
        assert page.evaluate("document.documentElement.dataset.edition || 'first'") == "first"
        (folder / "draw.js").write_bytes(new)
        # The reload may have begun a fetch of its own, which met the half version: asked again until the whole is there.
        page.wait_for_function(
            """async () => {
                const registration = await navigator.serviceWorker.ready;
                if (!registration.waiting && !registration.installing) await registration.update().catch(() => {});
                return Boolean(registration.waiting);
            }""",
            timeout=LONG_MS,
            polling=500,
        )
        expect(page.locator("#newer")).to_be_visible(timeout=LONG_MS)
        assert page.evaluate("document.documentElement.dataset.edition || 'first'") == "first"
        with page.expect_navigation():
            page.get_by_role("button", name="Use it now").click()
        expect(page.locator("html")).to_have_attribute("data-edition", "second", timeout=LONG_MS)
    context.set_offline(True)
    page.reload()
    expect(page.locator("html")).to_have_attribute("data-edition", "second")
    assert (
        page.evaluate("caches.keys().then((names) => names.filter((name) => name.startsWith('subbase-pocket')).length)")
        == 1
    )


def test_without_tls_the_page_says_what_works_and_plans(browser: Browser, host: Host) -> None:
    """From a phone to a laptop over plain HTTP nothing can be kept; the page says so, and plans as long as it is reached."""
    rule = f"--host-resolver-rules=MAP pocket.test 127.0.0.1:{host.port}"
    other = browser.browser_type.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, rule])
    page = other.new_page()
    page.goto("http://pocket.test/")
    expect(page.locator("#plain")).to_contain_text("This address is not secure", timeout=LONG_MS)
    assert page.evaluate("window.isSecureContext") is False
    expect(page.locator("body")).to_have_attribute("data-awake", "yes", timeout=LONG_MS)
    begin(page, (EXAMPLES / "07-heat-only-pair.yaml").read_text("utf-8"))
    expect(page.locator("#page .verdict.planned")).to_be_visible()
    other.close()


def test_under_the_offices_own_address_entries_are_sent_once(
    new_phone: Callable[[], BrowserContext], pocket: Pocket, server: Server
) -> None:
    """Where the pocket lies beside the app, one tap begins the job there; a second tap sends nothing twice."""
    page = new_phone().new_page()
    with hosting(pocket.folder, beside=server.url) as host:
        visit(page, f"{host.url}pocket/")
        begin(page, (EXAMPLES / "07-heat-only-pair.yaml").read_text("utf-8"))
        part(page, "Hand over", "hand_over")
        page.get_by_role("button", name="Send to the office").click()
        expect(page.locator("#sent")).to_contain_text("The office has taken 2 entries; 0 were there already.")
        expect(page.locator("#waiting")).to_have_text("Every entry was handed to the office.")
        page.get_by_role("button", name="Send to the office").click()
        expect(page.locator("#sent")).to_contain_text("The office has taken 0 entries")
        job = page.url.partition("#job/")[2].partition("/")[0]
    state = server.journal.state(job)
    assert [line.event.body.kind for line in state.history] == ["named", "named", "survey_edited"]


def test_axe_finds_nothing_grave_in_the_pocket(browser: Browser, host: Host) -> None:
    """In light and dark no part of a job has a fault that axe-core calls serious or critical, nor is wider than a phone."""
    assert AXE.exists(), "the accessibility checker is not here: run tools/browser-packages.sh"
    PICTURES.mkdir(parents=True, exist_ok=True)
    # The pocket's own policy lets no script in but its own; the checker is one that comes from outside.
    context = browser.new_context(viewport={"width": 390, "height": 844}, bypass_csp=True, service_workers="block")
    page = context.new_page()
    page.goto(host.url)
    expect(page.locator("body")).to_have_attribute("data-awake", "yes", timeout=LONG_MS)
    grave: dict[str, list[str]] = {}

    def look(name: str) -> None:
        for scheme in SCHEMES:
            page.emulate_media(color_scheme=scheme)
            found = looked_at(page)
            wide = page.evaluate("document.documentElement.scrollWidth")
            found += [f"it is {wide} px wide"] if wide > 390 else []
            if found:
                grave[f"{name} {scheme}"] = found
            page.screenshot(path=PICTURES / f"{name}-{scheme}.png", full_page=True)

    look("start")
    begin(page, (EXAMPLES / "01-no-common-spare-blue.yaml").read_text("utf-8"))
    look("plan")
    for name, slug in (("Work", "work"), ("Check", "check"), ("Hand over", "hand_over"), ("Survey", "survey")):
        part(page, name, slug)
        look(slug)
    context.close()
    assert grave == {}
