"""What the gate refuses before any page is made: foreign names, foreign sites, too much, too often, forged addresses."""

from __future__ import annotations

import io
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from subbase.journal import accounts as who
from subbase.web import gate
from subbase.web.app import create_app
from subbase.web.callers import network_of, shortened
from subbase.web.form_tokens import is_token, shown, signed, unsigned
from subbase.web.gate import MOST_BODY, MOST_STRANGE_BODY
from subbase.web.settings import Settings
from subbase.web.throttle import HEAVY, STRANGERS, WRITES, Rate
from tests.web_callers import AT_HOME, Browser, Firm, at_home, firm, form_token
from tests.web_jobs import put_job


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts; time stands still for whoever counts."""
    with firm(tmp_path) as found:
        found.app.state.goes.clock = lambda: 0.0
        yield found


@pytest.fixture
def proxied(tmp_path: Path) -> Iterator[Firm]:
    """The app behind a proxy."""
    with firm(tmp_path, accounts=False, behind_proxy=True, names=("jobs.example.org",)) as found:
        yield found


@pytest.fixture
def home(tmp_path: Path) -> Iterator[TestClient]:
    """The app at its own machine, without accounts."""
    app = create_app(Settings(journal=tmp_path / "jobs.db"))
    yield at_home(app)
    app.state.office.journal.close()


@pytest.mark.parametrize("host", ["rebound.example.org", "127.0.0.1.example.org", "localhost.example.org", "", "[::1", "evil@127.0.0.2", "192.168.0.4:8024"])  # fmt: skip
def test_a_foreign_name_that_points_here_is_refused(home: TestClient, host: str) -> None:
    """Without accounts only this machine's own names are answered: a rebound name reads nothing and changes nothing."""
    assert home.get("/", headers={"Host": host}).status_code == 421
    answer = home.post("/jobs", data={"name": "Planted"}, headers={"Host": host}, follow_redirects=False)
    assert answer.status_code == 421
    assert "Planted" not in home.get("/").text


@pytest.mark.parametrize("host", ["localhost", "localhost:9000", "127.0.0.1:8024", "[::1]:8024", "subbase.localhost", "LOCALHOST."])  # fmt: skip
def test_this_machine_s_own_names_are_answered(home: TestClient, host: str) -> None:
    """Whichever way somebody writes their own machine's name, the app answers."""
    assert home.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "http://127.0.0.1:3000"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:8024.elsewhere.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_from_another_site_is_refused(home: TestClient, headers: dict[str, str]) -> None:
    """Another site, or another program on this machine, sends nothing here, even with a token that is good."""
    answer = home.post("/jobs", data={"name": "Planted"}, headers=headers, follow_redirects=False)
    assert answer.status_code == 403
    assert "Planted" not in home.get("/").text


def test_no_token_no_change_at_home_too(home: TestClient) -> None:
    """On one's own machine nobody signs in, but a form still needs the token of a page, and it must be this browser's."""
    del home.headers["X-Form-Token"]
    stranger = TestClient(home.app, base_url=AT_HOME)
    for token in ("", "x", form_token(stranger)):
        answer = home.post("/jobs", data={"name": "Planted", "csrf": token}, follow_redirects=False)
        assert answer.status_code == 403
    answer = home.post("/jobs", data={"name": "Mine", "csrf": form_token(home)}, follow_redirects=False)
    assert answer.status_code == 303
    assert "Planted" not in home.get("/").text


def test_a_token_is_good_after_the_server_was_started_anew(tmp_path: Path) -> None:
    """A page that was loaded yesterday can be sent today, though the server was restarted in between."""
    settings = Settings(journal=tmp_path / "jobs.db")
    first = create_app(settings)
    client = TestClient(first, base_url=AT_HOME)
    token = form_token(client)
    first.state.office.journal.close()
    second = create_app(settings)
    later = TestClient(second, base_url=AT_HOME, cookies=dict(client.cookies))
    answer = later.post("/jobs", data={"name": "Kept", "csrf": token}, follow_redirects=False)
    assert answer.status_code == 303
    second.state.office.journal.close()


def test_a_stale_form_is_held_and_can_be_sent_again(people: Firm) -> None:
    """After a new sign-in an older page's form is held on a page, with its own key: sent again it is kept, once."""
    browser = people.signed_in("bo")
    own = {"Origin": AT_HOME}
    stale, key = form_token(browser.client, "/account"), str(uuid.uuid4())
    browser.sign_in("bo")
    fields = {"csrf": stale, "key": key, "name": 'Elm "Street" <4>'}
    refused = browser.client.post("/jobs", data=fields, headers=own, follow_redirects=False)
    assert refused.status_code == 403
    assert "nothing is lost" in refused.text
    assert "Elm &#34;Street&#34; &lt;4&gt;" in refused.text
    assert stale not in refused.text
    fresh = refused.headers["x-form-token"]
    for _ in range(2):
        again = browser.client.post("/jobs", data=fields | {"csrf": fresh}, headers=own, follow_redirects=False)
        assert again.headers["location"] == f"/jobs/{key}/survey"
    assert people.journal.job(key).events == 1


def test_another_site_s_form_is_not_held_for_sending(people: Firm) -> None:
    """What does not say that it came from a page of ours gets no token and no button."""
    browser = people.signed_in("bo")
    answer = browser.client.post("/jobs", data={"name": "Planted"}, follow_redirects=False)
    assert answer.status_code == 403
    assert "Planted" not in answer.text
    assert "x-form-token" not in answer.headers


def test_a_form_sent_while_signed_out_is_held(people: Firm) -> None:
    """Whoever was signed out in the cellar is told so, and what they sent stays on the page."""
    browser = people.browser()
    own = {"Origin": AT_HOME}
    answer = browser.client.post(
        "/jobs/made-up/work/result", data={"note": "26.4 V at R"}, headers=own, follow_redirects=False
    )
    assert answer.status_code == 401
    assert "26.4 V at R" in answer.text
    assert 'href="/sign-in"' in answer.text


def test_a_token_s_mask_changes_and_its_meaning_does_not() -> None:
    """A page shows the same token differently each time; a bit more or less of it is none."""
    plain = bytes(range(32))
    one, other = shown(plain), shown(plain)
    assert one != other
    assert is_token(plain, one)
    assert is_token(plain, other)
    for told in ("", one[:-4], "AAAA" + one, "ä", one.swapcase(), shown(bytes(32)), "\ud800"):
        assert not is_token(plain, told)


def test_a_signed_value_is_good_for_one_purpose() -> None:
    """A value that was signed for one thing is nothing for another, nor with a letter changed."""
    told = signed(b"secret", "known", "a-b.c")
    assert unsigned(b"secret", "known", told) == "a-b.c"
    for secret, purpose, value in (
        (b"other", "known", told),
        (b"secret", "form", told),
        (b"secret", "known", "x" + told),
    ):
        assert not unsigned(secret, purpose, value)


def test_a_body_that_is_too_large_is_refused_before_it_is_read(people: Firm) -> None:
    """A told size over the limit ends at once, with a page; a stranger's limit is small."""
    browser = people.signed_in("bo")
    answer = browser.client.post("/jobs", content=b"", headers={"Content-Length": str(MOST_BODY + 1)})
    assert answer.status_code == 413
    assert "too large" in answer.text
    assert browser.client.post("/jobs", content=b"", headers={"Content-Length": "a lot"}).status_code == 413
    stranger = people.browser()
    answer = stranger.client.post("/sign-in", content=b"", headers={"Content-Length": str(MOST_STRANGE_BODY + 1)})
    assert answer.status_code == 401


def test_a_body_that_goes_on_and_on_is_cut_off(people: Firm) -> None:
    """A body that tells no size is counted while it comes."""
    taken = 0

    def endless() -> Iterator[bytes]:
        nonlocal taken
        yield b"name="
        for _ in range(100):
            taken += 10_000
            yield b"x" * 10_000

    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    answer = people.browser().client.post("/sign-in", content=endless(), headers=headers)
    assert answer.status_code == 413
    assert "too large" in answer.text


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"<svg onload=alert(1)>", "no JPEG, PNG or WebP"),
        (b"\xff\xd8\xff" + b"not a picture" * 20, "cannot be decoded"),
        (b"%PDF-1.7 named as a photo", "no JPEG, PNG or WebP"),
    ],
)
def test_a_photo_is_known_by_its_content(people: Firm, data: bytes, says: str) -> None:
    """Whatever a file calls itself, only what decodes as a picture is kept."""
    browser, job = _with_job(people)
    token = form_token(browser.client, "/account")
    files = {"photo": ("photo.jpg", io.BytesIO(data), "image/jpeg")}
    fields = {"csrf": token, "key": str(uuid.uuid4())}
    answer = browser.client.post(f"/jobs/{job}/photos", data=fields, files=files)
    assert answer.status_code == 422
    assert says in answer.text
    assert not people.journal.photo_hashes(job)


@pytest.mark.parametrize(("side", "says"), [(9_000, "million are taken"), (20_000, "cannot be decoded")])
def test_a_picture_that_unpacks_to_far_too_much_is_not_unpacked(people: Firm, side: int, says: str) -> None:
    """A small file that says in its head how many million pixels it has is refused by that."""
    from PIL import Image

    held = io.BytesIO()
    Image.new("1", (side, side)).save(held, "PNG")
    browser, job = _with_job(people)
    fields = {"csrf": form_token(browser.client, "/account"), "key": str(uuid.uuid4())}
    answer = browser.client.post(
        f"/jobs/{job}/photos", data=fields, files={"photo": ("a.png", held.getvalue(), "image/png")}
    )
    assert len(held.getvalue()) < 100_000
    assert answer.status_code == 422
    assert says in answer.text


def _with_job(people: Firm) -> tuple[Browser, str]:
    job = put_job(people.journal)
    who.give_job(people.journal, job, people.people["bo"].id)
    return people.signed_in("bo"), job


def test_who_asks_too_often_has_to_wait(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """Strangers are counted by address, people by themselves; the answer says how long to wait, and another is not held up."""
    monkeypatch.setattr(gate, "HEAVY", heavy := Rate(5, HEAVY.per_s))
    monkeypatch.setattr(gate, "STRANGERS", strange := Rate(8, STRANGERS.per_s))
    stranger = people.browser("203.0.113.50").client
    codes = [stranger.get("/sign-in").status_code for _ in range(strange.in_hand + 1)]
    assert codes == [200] * strange.in_hand + [429]
    assert stranger.get("/sign-in").headers["retry-after"] == "1"
    assert people.browser("203.0.113.51").get("/sign-in").status_code == 200
    browser, job = _with_job(people)
    paper = f"/jobs/{job}/papers/landings.csv"
    codes = [browser.get(paper).status_code for _ in range(heavy.in_hand + 1)]
    assert codes == [200] * heavy.in_hand + [429]
    assert browser.get("/account").status_code == 200
    assert people.signed_in("ann").get(paper).status_code == 200


def test_a_phone_that_comes_back_may_send_all_that_it_has(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """So many forms in one go are taken, some hundred as the app is set; then they come in at a walking pace."""
    assert WRITES.in_hand >= 300
    monkeypatch.setattr(gate, "WRITES", rate := Rate(30, WRITES.per_s))
    browser = people.signed_in("bo")
    token = form_token(browser.client, "/account")
    codes = []
    for _ in range(rate.in_hand + 1):
        fields = {"csrf": token, "name": "", "days": "7"}
        codes.append(browser.client.post("/account/tokens", data=fields, follow_redirects=False).status_code)
    assert codes[-1] == 429
    assert set(codes[:-1]) == {422}


def test_over_tls_cookies_are_for_this_host_alone(proxied: Firm) -> None:
    """Behind a proxy that ends TLS every cookie is Secure, HttpOnly, SameSite, bound to the host; and so is the browser."""
    client = TestClient(proxied.app, base_url="https://jobs.example.org", client=("127.0.0.1", 5))
    client.headers.update({"X-Forwarded-Proto": "https", "X-Forwarded-For": "198.51.100.7"})
    answer = Browser(client).sign_in("bo")
    cookies = answer.headers.get_list("set-cookie")
    assert {cookie.partition("=")[0] for cookie in cookies} == {"__Host-subbase-session", "__Host-subbase-known"}
    for cookie in cookies:
        parts = {part.strip().lower() for part in cookie.split(";")[1:]}
        assert {"secure", "httponly", "samesite=lax", "path=/"} <= parts
        assert not any(part.startswith("domain") for part in parts)
    page = client.get("/")
    assert page.status_code == 200
    assert page.headers["strict-transport-security"] == "max-age=31536000"
    assert page.headers["cache-control"] == "no-cache, private"
    lines = who.recorded(proxied.journal)
    assert lines[0].address == "198.51.100.0/24"


def test_a_cookie_that_another_host_could_have_set_is_none(proxied: Firm) -> None:
    """Over TLS a session's token without the __Host- prefix is not looked at."""
    token = who.start_session(proxied.journal, proxied.people["bo"])
    client = TestClient(proxied.app, base_url="https://jobs.example.org", client=("127.0.0.1", 5))
    client.headers["X-Forwarded-Proto"] = "https"
    for name, status in (("subbase-session", 303), ("__Host-subbase-session", 200)):
        answer = client.get("/", headers={"Cookie": f"{name}={token}"}, follow_redirects=False)
        assert answer.status_code == status


@pytest.mark.parametrize("settings", [{"accounts": True}, {"host": "0.0.0.0"}])
def test_what_others_say_of_their_address_is_not_believed(tmp_path: Path, settings: dict[str, Any]) -> None:
    """Without a proxy, X-Forwarded-For and -Proto change neither the address nor whether it is TLS."""
    with firm(tmp_path, **{"accounts": False, **settings}) as found:
        browser = found.browser("203.0.113.9")
        browser.client.headers.update({"X-Forwarded-For": "198.51.100.7", "X-Forwarded-Proto": "https"})
        assert browser.sign_in("bo").status_code == 303
        assert "subbase-session" in browser.client.cookies
        assert who.recorded(found.journal)[0].address == "203.0.113.0/24"
        assert "strict-transport-security" not in browser.get("/").headers


def test_a_proxy_is_believed_only_in_what_it_added_itself(proxied: Firm) -> None:
    """Of a list of addresses the last one counts, and only from a proxy on this machine."""
    for peer, told, counted in (
        ("127.0.0.1", "10.0.0.1, 198.51.100.7", "198.51.100.0/24"),
        ("127.0.0.1", "198.51.100.7, made up", "127.0.0.0/24"),
        ("203.0.113.9", "198.51.100.7", "203.0.113.0/24"),
    ):
        browser = Browser(TestClient(proxied.app, base_url="http://jobs.example.org", client=(peer, 5)))
        browser.client.headers["X-Forwarded-For"] = told
        browser.sign_in("bo")
        assert who.recorded(proxied.journal)[0].address == counted


def test_only_the_named_hosts_are_answered(proxied: Firm) -> None:
    """With names given, a request for any other is refused."""
    assert proxied.browser(base="http://jobs.example.org").get("/sign-in").status_code == 200
    assert proxied.browser(base="http://other.example.org").get("/sign-in").status_code == 421


@pytest.mark.parametrize(
    ("address", "counted", "kept"),
    [
        ("198.51.100.77", "198.51.100.77", "198.51.100.0/24"),
        ("::ffff:198.51.100.77", "198.51.100.77", "198.51.100.0/24"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64", "2001:db8:1::/48"),
        ("no address", "", ""),
    ],
)
def test_addresses_are_counted_and_shortened(address: str, counted: str, kept: str) -> None:
    """One who may choose among 2**64 addresses is one caller; the record keeps less than the address."""
    assert network_of(address) == counted
    assert shortened(address) == kept


def test_every_answer_bears_the_headers_that_bind_a_browser(people: Firm) -> None:
    """Pages, refusals and redirects alike: nothing is sniffed, framed, shared or run but our own."""
    browser, job = _with_job(people)
    for path in (f"/jobs/{job}/survey", f"/jobs/{job}/papers/landings.csv", "/sign-in", "/made-up", "/account", "/"):
        headers = browser.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        assert headers["cross-origin-opener-policy"] == "same-origin"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert "camera=(self)" in headers["permissions-policy"]
        assert {"no-store", "no-cache, private"} & {headers["cache-control"]}
