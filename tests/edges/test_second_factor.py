"""A code at sign-in: what opens, what does not, what is told, and what happens when the device is lost."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from httpx2 import Response

from subbase.cli import main
from subbase.journal import accounts as who
from subbase.journal.second_factor import SPARE_CODES, STEP_S, is_code, spare_codes_left
from subbase.journal.tokens import make_token
from subbase.web import sign_in
from subbase.web.throttle import FREE_TRIES
from tests.journal_sample import code_of
from tests.web_callers import PASSWORD, Browser, Firm, firm


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts."""
    with firm(tmp_path) as found:
        yield found


def set_up(people: Firm, name: str) -> tuple[Browser, list[str]]:
    """Turn the code on for somebody; return the browser and the spare codes."""
    browser = people.signed_in(name)
    browser.post("/account/codes", {"current": PASSWORD})
    answer = browser.post("/account/codes/on", {"code": code_of(people.journal, people.people[name].id)})
    spare = re.findall(r"(?:[a-z0-9]{5}-){4}[a-z0-9]{5}", answer.text)
    assert len(spare) == SPARE_CODES
    return browser, spare


def send_code(browser: Browser, asked: Response, code: str) -> Response:
    """Send the code that a page asks for."""
    half = re.search(r'name="half" value="([^"]+)"', asked.text)
    token = re.search(r'name="csrf" value="([^"]+)"', asked.text)
    assert half is not None
    assert token is not None
    sent = {"half": half[1], "code": code, "next": "/", "csrf": token[1]}
    return browser.client.post("/sign-in/code", data=sent, follow_redirects=False)


def is_in(browser: Browser) -> bool:
    """Return whether a browser reaches the list of jobs."""
    return browser.get("/").status_code == 200


def test_after_the_password_only_the_code_of_now_opens(people: Firm) -> None:
    """The right password alone opens nothing; neither does another code, nor one of an hour ago."""
    set_up(people, "bo")
    browser = people.browser()
    asked = browser.sign_in("bo")
    assert asked.status_code == 200
    assert not is_in(browser)
    now = code_of(people.journal, people.people["bo"].id, later_s=STEP_S)
    wrong = str((int(now) + 1) % 10**6).zfill(6)
    for code in (
        wrong,
        "",
        "abcdef",
        "\N{FULLWIDTH DIGIT ONE}" * 6,
        code_of(people.journal, people.people["bo"].id, later_s=-3600),
    ):
        asked = send_code(browser, asked, code)
        assert asked.status_code == 401 if code else 422
        assert not is_in(browser)
        asked = asked if code else browser.sign_in("bo")
    assert send_code(browser, asked, f"{now[:3]} {now[3:]}").status_code == 303
    assert is_in(browser)


def test_a_code_opens_once(people: Firm) -> None:
    """Whoever read a code along, over a shoulder or from the line, comes too late; so does an older one after it."""
    set_up(people, "bo")
    bo = people.people["bo"].id
    first, second = (people.browser() for _number in range(2))
    code = code_of(people.journal, bo, later_s=STEP_S)
    assert send_code(first, first.sign_in("bo"), code).status_code == 303
    assert send_code(second, second.sign_in("bo"), code).status_code == 401
    at = datetime.now(UTC) + timedelta(hours=1)
    later = code_of(people.journal, bo, later_s=3600)
    assert is_code(people.journal, bo, later, at) is not None
    assert is_code(people.journal, bo, code_of(people.journal, bo, later_s=3600 - STEP_S), at) is None


def test_a_spare_code_opens_once_and_however_it_is_typed(people: Firm) -> None:
    """For the day on which the device is lost."""
    _browser, spare = set_up(people, "bo")
    first, second = (people.browser() for _number in range(2))
    assert send_code(first, first.sign_in("bo"), spare[3].upper().replace("-", " ")).status_code == 303
    assert send_code(second, second.sign_in("bo"), spare[3]).status_code == 401
    assert spare_codes_left(people.journal, people.people["bo"].id) == SPARE_CODES - 1
    assert f"{SPARE_CODES - 1} spare codes are left" in first.get("/account").text


def test_a_spare_code_of_another_opens_nothing(people: Firm) -> None:
    """Codes belong to one account, whatever page they are typed into."""
    _bo, spare = set_up(people, "bo")
    set_up(people, "cy")
    browser = people.browser()
    assert send_code(browser, browser.sign_in("cy"), spare[0]).status_code == 401
    assert is_code(people.journal, people.people["bo"].id, spare[0]) is not None


def test_half_a_sign_in_is_good_for_a_while_and_for_nothing_else(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """What the page bears of the right password ends, cannot be made up, and opens no closed account."""
    set_up(people, "bo")
    bo = people.people["bo"]
    browser = people.browser()
    code = code_of(people.journal, bo.id, later_s=STEP_S)
    monkeypatch.setattr(sign_in, "CODE_WAIT_S", -1)
    late = send_code(browser, browser.sign_in("bo"), code)
    assert (late.status_code, "took too long" in late.text) == (401, True)
    monkeypatch.undo()
    fields = {"half": f"{bo.id} 99999999999.{'0' * 64}", "code": code, "next": "/"}
    assert browser.post("/sign-in/code", fields, page="/sign-in").status_code == 401
    asked = browser.sign_in("bo")
    who.set_active(people.journal, bo.id, False)
    assert send_code(browser, asked, code).status_code == 401
    assert not is_in(browser)


def test_wrong_codes_make_wait(people: Firm) -> None:
    """A million codes cannot be tried: each wrong one over a few costs twice the wait of the one before."""
    set_up(people, "bo")
    browser = people.browser()
    asked = browser.sign_in("bo")
    codes = []
    for _number in range(FREE_TRIES + 1):
        answer = send_code(browser, asked, "zzzzzz")
        codes.append(answer.status_code)
    assert codes == [401] * FREE_TRIES + [429]
    assert int(answer.headers["retry-after"]) >= 1
    right = code_of(people.journal, people.people["bo"].id, later_s=STEP_S)
    assert send_code(browser, asked, right).status_code == 429


def test_setting_up_and_turning_off_ask_for_the_password(people: Firm) -> None:
    """Whoever finds a phone unlocked changes nothing about how its owner signs in."""
    browser = people.signed_in("bo")
    assert browser.post("/account/codes", {"current": "not the password"}).status_code == 422
    assert browser.post("/account/codes/on", {"code": "123456"}).status_code == 422
    browser, _spare = set_up(people, "bo")
    assert browser.post("/account/codes/off", {"current": "not the password"}).status_code == 422
    asked = people.browser().sign_in("bo")
    assert asked.status_code == 200
    assert browser.post("/account/codes/off", {"current": PASSWORD}).status_code == 200
    assert people.browser().sign_in("bo").status_code == 303
    assert spare_codes_left(people.journal, people.people["bo"].id) == 0


def test_a_code_that_was_not_shown_yet_is_not_asked_for(people: Firm) -> None:
    """Somebody who begins and does not finish is not locked out; a wrong code shows the same key again."""
    browser = people.signed_in("bo")
    begun = browser.post("/account/codes", {"current": PASSWORD}).text
    key = re.search(r"(?:[A-Z2-7]{4} ){7}[A-Z2-7]{4}", begun)
    assert key is not None
    right = code_of(people.journal, people.people["bo"].id)
    again = browser.post("/account/codes/on", {"code": str((int(right) + 1) % 10**6).zfill(6)})
    assert again.status_code == 422
    assert key[0] in again.text
    assert people.browser().sign_in("bo").status_code == 303
    assert key[0] not in browser.get("/account").text


def test_a_lost_device_is_let_go_of_by_the_office(people: Firm, tmp_path: Path) -> None:
    """A person of the office turns the code off, on the page or by command; nobody else can, and it is on record."""
    set_up(people, "bo")
    ann, cy, bo = people.signed_in("ann"), people.signed_in("cy"), people.people["bo"].id
    assert "code at sign-in" in ann.get("/people").text
    assert cy.post("/people/codes-off", {"account": bo}).status_code == 404
    assert ann.post("/people/codes-off", {"account": bo}).status_code == 303
    assert "turned codes off: bo" in [line.what for line in who.recorded(people.journal)]
    browser = people.browser()
    assert browser.sign_in("bo").headers["location"].startswith("/account?since=")
    set_up(people, "cy")
    words = ["people", "codes-off", "cy", "--journal", str(tmp_path / "jobs.db"), "--json"]
    result = CliRunner().invoke(main, words)
    assert (result.exit_code, '"codes": false' in result.output) == (0, True)
    assert people.browser().sign_in("cy").status_code == 303


def test_an_app_that_asks_for_codes_opens_nothing_without(tmp_path: Path) -> None:
    """Where the office has to have a code, its account opens one page until it has, and so do its tokens; others go on."""
    with firm(tmp_path, codes="office") as people:
        token = make_token(people.journal, people.people["ann"].id, "script")
        ann, bo = people.signed_in("ann"), people.signed_in("bo")
        assert is_in(bo)
        assert ann.get("/").headers["location"] == "/account"
        assert ann.get("/people").headers["location"] == "/account"
        sent = ann.post("/jobs", {"name": "House"})
        assert (sent.status_code, "has to be set up first" in sent.text) == (403, True)
        script = people.browser().client
        script.headers["Authorization"] = f"Bearer {token}"
        assert script.get("/api/v1/jobs").status_code == 403
        ann.post("/account/codes", {"current": PASSWORD})
        ann.post("/account/codes/on", {"code": code_of(people.journal, people.people["ann"].id)})
        assert is_in(ann)
        assert script.get("/api/v1/jobs").status_code == 200


def test_what_was_done_with_an_account_is_told_at_the_next_sign_in(people: Firm) -> None:
    """Tries from elsewhere and changes by the office are shown before anything else, and once; one's own slips are not."""
    people.signed_in("bo")
    people.browser("198.51.100.4").sign_in("bo", "not the password")
    again = people.browser()
    told = again.sign_in("bo").headers["location"]
    shown = again.get(told).text
    assert "Since you last signed in" in shown
    assert "198.51.100.0/24" in shown
    assert people.browser().sign_in("bo").headers["location"] == "/"
    slip = people.browser()
    slip.sign_in("bo", "not the password")
    assert slip.sign_in("bo").headers["location"] == "/"
    assert "wrong name or password" in slip.get("/account").text
    people.signed_in("cy")
    ann = people.signed_in("ann")
    for active in ("no", "yes"):
        ann.post("/people/active", {"account": people.people["cy"].id, "active": active})
    cy = people.browser()
    asked = cy.sign_in("cy")
    assert "opened an account again" in cy.get(asked.headers["location"]).text


def test_news_lead_to_no_other_site(people: Firm) -> None:
    """The page to go on to from the news is one of ours, whatever the address says."""
    browser = people.signed_in("bo")
    people.browser("198.51.100.4").sign_in("bo", "not the password")
    shown = browser.get("/account?since=1&next=https://elsewhere.example/").text
    assert "Since you last signed in" in shown
    assert "elsewhere" not in shown
