"""Signing in: what opens, what does not, what a wrong answer tells, how a session begins and ends."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from subbase.errors import InputError
from subbase.journal import accounts as who
from subbase.journal import passwords
from subbase.journal.database import run
from subbase.web.app import create_app
from subbase.web.settings import Settings
from subbase.web.sign_in import inside
from subbase.web.throttle import FREE_TRIES, LONGEST_WAIT_S, Goes, Rate, Tries
from tests.web_callers import PASSWORD, Browser, Firm, firm


@pytest.fixture
def people(tmp_path: Path) -> Iterator[Firm]:
    """The app with accounts."""
    with firm(tmp_path) as found:
        yield found


def _session(browser: Browser) -> str:
    return browser.client.cookies.get("subbase-session") or ""


def test_others_are_answered_only_when_somebody_can_sign_in(tmp_path: Path) -> None:
    """An address that others reach is refused while there is no account, and no journal is made for it."""
    place = tmp_path / "jobs.db"
    for settings in (
        Settings(place, host="0.0.0.0"), Settings(place, behind_proxy=True), Settings(place, accounts=True)
    ):  # fmt: skip
        with pytest.raises(InputError, match="no account yet"):
            create_app(settings)
    assert not list(tmp_path.iterdir())


def test_the_right_password_opens_and_no_other(people: Firm) -> None:
    """A page asks for the sign-in, and after it is the page that was asked for."""
    browser = people.browser()
    asked = browser.get("/?search=lilac")
    assert (asked.status_code, asked.headers["location"]) == (303, "/sign-in?next=/%3Fsearch%3Dlilac")
    assert browser.sign_in("bo", PASSWORD + "x").status_code == 401
    answer = browser.post("/sign-in", {"name": "bo", "password": PASSWORD, "next": "/?search=lilac"}, page="/sign-in")
    assert (answer.status_code, answer.headers["location"]) == (303, "/?search=lilac")
    assert browser.get("/").status_code == 200


def test_what_a_script_fetches_late_does_not_spoil_a_sign_in_page(people: Firm) -> None:
    """A worker that keeps pages is sent to the sign-in too; the secret of that answer must not replace the form's own."""
    browser = people.browser()
    form = browser.get("/sign-in").text
    kept = browser.client.cookies
    browser.client.cookies = type(kept)()
    by_script = {"Accept": "*/*", "Sec-Fetch-Dest": "empty"}
    late = browser.client.get("/unsent", headers=by_script, follow_redirects=True)
    assert "/sign-in" in str(late.url)
    assert not browser.client.cookies
    browser.client.cookies = kept
    token = re.findall(r'name="csrf" value="([^"]+)"', form)[0]
    sent = {"name": "bo", "password": PASSWORD, "next": "/", "csrf": token}
    assert browser.client.post("/sign-in", data=sent, follow_redirects=False).status_code == 303


@pytest.mark.parametrize(
    "wanted",
    ["https://elsewhere.example/", "//elsewhere.example", "/\\elsewhere.example", "javascript:1", "", "/\r\nX: y"],
)
def test_nobody_is_sent_to_another_site(wanted: str) -> None:
    """The page to go on to is one of ours, whatever the address says."""
    assert inside(wanted) == "/"


def test_wrong_names_and_wrong_passwords_are_told_alike(people: Firm) -> None:
    """Status and wording are the same for a name that is none, a closed account, and a wrong password."""
    who.set_active(people.journal, people.people["cy"].id, False)
    answers = []
    for name, password in (("nobody", PASSWORD), ("bo", "not the password"), ("cy", PASSWORD)):
        answer = people.browser().sign_in(name, password)
        text = re.sub(r'name="(csrf|key)" value="[^"]+"', "", answer.text)
        answers.append((answer.status_code, text, sorted(answer.headers)))
    assert answers[0] == answers[1] == answers[2]
    assert answers[0][0] == 401


def test_a_name_that_is_none_is_hashed_against_all_the_same(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each try costs one password hash of the same strength, whether there is such an account or not."""
    kept: list[str] = []
    fits = passwords.fits

    def counted(one: str, other: str) -> bool:
        kept.append(one)
        return fits(one, other)

    monkeypatch.setattr(passwords, "fits", counted)
    for name in ("nobody", "bo"):
        people.browser().sign_in(name, "not the password")
    assert len(kept) == 2
    settings = {one.rpartition("$")[0].rpartition("$")[0] for one in kept}
    assert settings == {"$argon2id$v=19$m=19456,t=2,p=1"}


def test_a_sign_in_begins_a_session_of_its_own(people: Firm) -> None:
    """Whoever put a session of their own into the browser beforehand has no part in the one that begins."""
    planted = _session(people.signed_in("cy"))
    browser = people.browser()
    browser.client.cookies.set("subbase-session", planted, domain="127.0.0.1", path="/")
    browser.sign_in("bo")
    mine = who.session_of(people.journal, _session(browser))
    assert mine is not None
    assert mine.account.name == "bo"
    assert _session(browser) != planted
    assert who.session_of(people.journal, planted) is None


def test_signing_out_ends_the_session_for_good(people: Firm) -> None:
    """The cookie goes, and so does what it stood for: a copy of it opens nothing."""
    browser = people.signed_in("bo")
    token = _session(browser)
    answer = browser.post("/sign-out")
    assert answer.headers["clear-site-data"] == '"cache"'
    assert not _session(browser)
    assert who.session_of(people.journal, token) is None


def test_signing_out_everywhere_ends_all_sessions_of_one(people: Firm) -> None:
    """Other machines of the same person are out, other people are not."""
    one, other, cy = people.signed_in("bo"), people.signed_in("bo"), people.signed_in("cy")
    one.post("/sign-out-everywhere")
    assert other.get("/").status_code == 303
    assert cy.get("/").status_code == 200


def test_a_new_password_ends_every_other_session(people: Firm) -> None:
    """Whoever changes the password stays signed in, with a new session; everybody else who knew the old one is out."""
    one, other = people.signed_in("bo"), people.signed_in("bo")
    before = _session(one)
    fields = {"current": PASSWORD, "new": "eight wet conductors", "again": "eight wet conductors"}
    assert one.post("/account/password", fields).status_code == 303
    assert one.get("/").status_code == 200
    assert _session(one) != before
    assert who.session_of(people.journal, before) is None
    assert other.get("/").status_code == 303
    assert people.browser().sign_in("bo").status_code == 401


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"current": "not the password"}, "present password is another"),
        ({"again": "eight wet conductor"}, "not the same both times"),
        ({"new": "short", "again": "short"}, "12 to 128 characters"),
        ({"new": "p" * 129, "again": "p" * 129}, "12 to 128 characters"),
        ({"new": "password1234", "again": "password1234"}, "first that are guessed"),
        ({"new": PASSWORD, "again": PASSWORD}, "present one"),
    ],
)
def test_a_password_that_will_not_do_is_told_why(people: Firm, fields: dict[str, str], says: str) -> None:
    """Nothing is changed, and the page says what would do."""
    browser = people.signed_in("bo")
    given = {"current": PASSWORD, "new": "eight wet conductors", "again": "eight wet conductors", **fields}
    answer = browser.post("/account/password", given)
    assert answer.status_code == 422
    assert says in answer.text
    assert people.browser().sign_in("bo").status_code == 303


@pytest.mark.parametrize("good", ["a sentence of words", "ﬁve blind mice ran", "пять сухих проводов", "x9kq7 pelican", "🔌" * 3 + "three plugs"])  # fmt: skip
def test_any_characters_will_do_in_a_password(good: str) -> None:
    """Length counts, composition does not; a letter typed as one code point or as two is the same."""
    kept = passwords.hashed(passwords.checked(good))
    assert passwords.fits(kept, good)
    assert not passwords.fits(kept, good + " ")
    assert passwords.fits(passwords.hashed("caf\u00e9 in the cellar"), "cafe\u0301 in the cellar")


@pytest.mark.parametrize("bad", ["aaaaaaaaaaaa", "abababababab", "abcdefghijklm", "987654321098", "PasswordPassword", "thermostat123", "margaret 2024", "correct horse battery staple", "liverpool1234", "Qwertz123456"])  # fmt: skip
def test_what_is_guessed_first_is_refused(bad: str) -> None:
    """Repetitions, runs, common passwords and the person's own name open nothing."""
    with pytest.raises(InputError, match="first that are guessed"):
        passwords.checked(bad, "Margaret")


def test_an_older_hash_is_made_anew_when_it_is_used(people: Firm) -> None:
    """A password that was kept with other settings is kept with those of now after the next sign-in."""
    from argon2 import PasswordHasher

    old = PasswordHasher(time_cost=1, memory_cost=8192, parallelism=1).hash(PASSWORD)
    with people.journal.database.write() as connection:
        run(connection, "UPDATE accounts SET password_hash = :old WHERE name = 'bo'", old=old)
    people.signed_in("bo")
    with people.journal.database.read() as connection:
        now = run(connection, "SELECT password_hash FROM accounts WHERE name = 'bo'").scalar_one()
    assert "m=19456,t=2,p=1" in now
    people.signed_in("bo")


def test_the_office_is_signed_out_sooner(people: Firm, monkeypatch: pytest.MonkeyPatch) -> None:
    """Idle and absolute limits hold on the server, and are shorter for those who see every job."""
    assert who.OFFICE_IDLE < who.SESSION_IDLE
    assert who.OFFICE_LASTS < who.SESSION_LASTS
    ann, bo = people.signed_in("ann"), people.signed_in("bo")
    monkeypatch.setattr(who, "OFFICE_IDLE", timedelta(seconds=-1))
    assert ann.get("/").status_code == 303
    assert bo.get("/").status_code == 200
    monkeypatch.undo()
    monkeypatch.setattr(who, "OFFICE_LASTS", timedelta(seconds=-1))
    browser = people.browser()
    browser.sign_in("ann")
    assert browser.get("/").status_code == 303


def test_waits_grow_and_end(people: Firm) -> None:
    """Some wrong tries are free; then each one costs twice the wait of the one before, told the same for any name."""
    clock = [0.0]
    people.app.state.tries.clock = people.app.state.goes.clock = lambda: clock[0]
    for name in ("bo", "nobody"):
        browser = people.browser(f"203.0.113.{len(name)}")
        codes = [browser.sign_in(name, "not the password").status_code for _ in range(FREE_TRIES + 1)]
        assert codes == [401] * FREE_TRIES + [429]
    waits = []
    for _ in range(12):
        answer = browser.sign_in("bo", "not the password")
        waits.append(int(answer.headers["retry-after"]))
        clock[0] += waits[-1]
        assert browser.sign_in("bo", "not the password").status_code == 401
    assert waits == sorted(waits)
    assert waits[1] > waits[0]
    assert max(waits) == LONGEST_WAIT_S
    clock[0] += LONGEST_WAIT_S + 1
    assert browser.sign_in("bo").status_code == 303


def test_wrong_tries_from_elsewhere_do_not_lock_the_account_s_own_person_out(people: Firm) -> None:
    """A browser that the account was opened from before has a count of its own; a stranger's cookie counts for nothing."""
    known = people.signed_in("bo")
    known.post("/sign-out")
    for at in range(FREE_TRIES + 3):
        people.browser(f"198.51.100.{at}").sign_in("bo", "not the password")
    assert people.browser("198.51.100.99").sign_in("bo").status_code == 429
    assert known.sign_in("bo").status_code == 303
    forged = people.browser("198.51.100.98")
    forged.client.cookies.set("subbase-known", "0" * 32 + "-x." + "0" * 64)
    assert forged.sign_in("bo").status_code == 429


def test_one_address_cannot_try_many_names(people: Firm) -> None:
    """Tries are counted by address too, and a right sign-in in between does not wipe them out."""
    browser = people.browser()
    codes = [browser.sign_in(f"name {at}", "not the password").status_code for at in range(20)]
    assert set(codes) == {401}
    assert browser.sign_in("cy").status_code == 429


def test_tries_sent_at_one_moment_are_not_all_free() -> None:
    """A try is counted before its password is looked at, and a right one gives back only what is its own."""
    tries = Tries(clock=lambda: 0.0)
    waits = [tries.begin(("account a", "address b")) for _ in range(FREE_TRIES + 3)]
    assert sum(wait == 0.0 for wait in waits) == FREE_TRIES
    assert all(wait > 0.0 for wait in waits[FREE_TRIES:])
    tries.right(("account a",))
    assert tries.begin(("account a",)) == 0.0


def test_memory_for_counting_is_bounded() -> None:
    """However many callers come, only so many are remembered."""
    goes, tries = Goes(clock=lambda: 0.0, most=50), Tries(clock=lambda: 0.0, most=50)
    for at in range(500):
        goes.wait_s(f"address {at}", Rate(2, 1.0))
        tries.begin((f"account {at}",))
    assert len(goes) == len(tries) == 50


def test_goes_come_back_with_time() -> None:
    """What was used up is there again after a while, and no more than that."""
    clock = [0.0]
    goes, rate = Goes(clock=lambda: clock[0]), Rate(3, 0.5)
    assert [goes.wait_s("a", rate) for _ in range(4)] == [0.0, 0.0, 0.0, 2.0]
    clock[0] = 2.0
    assert [goes.wait_s("a", rate), goes.wait_s("a", rate)] == [0.0, 2.0]
    clock[0] = 1000.0
    assert [goes.wait_s("a", rate) for _ in range(4)] == [0.0, 0.0, 0.0, 2.0]


def test_a_first_password_opens_one_page_only(people: Firm) -> None:
    """Who comes in with a password that somebody else has seen must choose another, and has seven days for it."""
    dee = who.add_account(people.journal, "dee", "office", "made up by another", first=True)
    browser = people.browser()
    assert browser.sign_in("dee", "made up by another").headers["location"] == "/account"
    for path in ("/", "/people", "/record"):
        assert browser.get(path).headers["location"] == "/account"
    sent = browser.post("/jobs", {"name": "House"})
    assert sent.status_code == 403
    assert "The password has to be changed first" in sent.text
    fields = {"current": "made up by another", "new": "eight wet conductors", "again": "eight wet conductors"}
    assert browser.post("/account/password", fields).status_code == 303
    assert browser.get("/people").status_code == 200
    who.set_password(people.journal, dee.id, "made up by another", first=True)
    with people.journal.database.write() as connection:
        run(connection, "UPDATE accounts SET first_until = '2020' WHERE name = 'dee'")
    assert people.browser().sign_in("dee", "made up by another").status_code == 401
